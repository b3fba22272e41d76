"""Where the points are that put one candidate before another, rule by rule."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gearrec.wording import value_text

if TYPE_CHECKING:
    from gearrec.advice import Advice, CandidateAdvice
    from gearrec.rule_trace import RuleTrace

MOST_LINES = 4
_LEAST_POINTS = 0.0005


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """What one preference gives two candidates: contribution = weight x score / sum of weights."""

    rule: str
    first: RuleTrace
    second: RuleTrace

    @property
    def difference(self) -> float:
        """Contribution to the first - contribution to the second."""
        return (self.first.contribution or 0.0) - (self.second.contribution or 0.0)


def gaps(advice: Advice, first: CandidateAdvice, second: CandidateAdvice) -> tuple[Gap, ...]:
    """What each preference gives the two, the largest difference first."""
    pairs = zip(advice.traces[first.axle_ratio], advice.traces[second.axle_ratio], strict=True)
    found = [
        Gap(rule=one.trace.rule.id, first=one.trace, second=other.trace)
        for one, other in pairs
        if one.trace.rule.verdict == "preference"
    ]
    return tuple(sorted(found, key=lambda gap: (-abs(gap.difference), gap.rule)))


def gap_lines(advice: Advice, first: CandidateAdvice, second: CandidateAdvice) -> tuple[str, ...]:
    """The largest of those, one line each: what each of the two has, and gets for it."""
    lines = []
    for gap in gaps(advice, first, second)[:MOST_LINES]:
        if abs(gap.difference) < _LEAST_POINTS:
            break
        better = first if gap.difference > 0.0 else second
        lines.append(
            f"{gap.rule} favors {better.name} by {100.0 * abs(gap.difference):.1f} points: "
            f"{first.name} gets {_part(gap.first, advice)}, "
            f"{second.name} gets {_part(gap.second, advice)}"
        )
    return tuple(lines) or (f"no rule tells {first.name} and {second.name} apart",)


def _part(trace: RuleTrace, advice: Advice) -> str:
    if trace.contribution is None:
        return f"nothing ({trace.reason or trace.state})"
    words = f"{100.0 * trace.contribution:.1f}"
    if trace.value is None:
        return words
    metric = trace.rule.metric or ""
    unit = advice.judgement.judge.units_of.get(metric, "")
    value = value_text(trace.value, metric=metric, dimension=trace.dimension, unit=unit)
    return f"{words} for {value}"
