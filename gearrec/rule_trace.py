"""Why a candidate got its score: one line per rule, built when somebody asks.

Batches return columns; these lines are made from the columns of one lane and one candidate, with
the same leg choice and edges that the scores came from.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from gearrec.rule_legs import Floats, LegChoice, Legs, leg_mask

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import numpy.typing as npt

    from gearrec.catalog.rule_records import Rule
    from gearrec.rules import Scores

State = Literal["known", "unknown", "does-not-apply"]
Voice = Literal["good", "poor", "limit", "caution", ""]

GOOD_FROM = 0.8
"""Score from which a preference speaks its good sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleTrace:
    """What one rule says of one candidate.

    value: of the metric [SI, rpm], on the leg that decides or the average of the legs; where the
    average would be good but the score is not, on the leg that costs most; None unknown. leg: index
    of that leg, None for an average or a job metric. edges: zero below, full from, full to, zero
    above; None where the shape has no such side. limit: of a limit or caution. score, weight,
    contribution: of a preference; contribution = weight x score / sum of weights. passed: of a
    limit; fired: of a caution. reason: why it is unknown, or does not apply.
    """

    rule: Rule
    dimension: str
    state: State
    value: float | None = None
    leg: int | None = None
    edges: tuple[float | None, float | None, float | None, float | None] | None = None
    limit: float | None = None
    score: float | None = None
    weight: float | None = None
    contribution: float | None = None
    passed: bool | None = None
    fired: bool | None = None
    reason: str = ""

    @property
    def voice(self) -> Voice:
        """Which sentence of the rule fits; "" when it has nothing to say."""
        if self.state != "known":
            return ""
        if self.rule.verdict == "preference":
            return "good" if (self.score or 0.0) >= GOOD_FROM else "poor"
        if self.rule.verdict == "limit":
            return "" if self.passed else "limit"
        return "caution" if self.fired else ""

    @property
    def template(self) -> str:
        """The sentence of `voice` with its placeholders, or ""."""
        return (getattr(self.rule.says, self.voice) or "") if self.voice else ""

    @property
    def edge(self) -> float | None:
        """The limit; or, of a preference, the full-score edge that the value is beyond or nearest
        to."""
        if self.limit is not None or self.edges is None or self.value is None:
            return self.limit
        ends = [edge for edge in self.edges[1:3] if edge is not None]
        value = self.value
        return min(ends, key=lambda edge: abs(edge - value), default=None)


def trace_rules(
    scores: Scores,
    *,
    candidate: int,
    lane: int,
    columns: Mapping[str, Floats],
    attributes: Mapping[str, npt.ArrayLike],
    legs: Legs,
    total_weight: float | None = None,
    reasons: Mapping[str, str] | None = None,
    places: Sequence[int] | None = None,
) -> tuple[RuleTrace, ...]:
    """The trace of every rule, in compiled order, for one candidate of one lane.

    `places`: only the rules at these places of the compiled order.

    `columns`, `attributes` and `legs` are those the scores were computed from. total_weight: sum
    of the weights of the aggregate, extras included; default: the known rules' own. reasons: metric
    name -> why it is unknown.
    """
    compiled = scores.compiled
    if total_weight is None:
        counted = scores.known[: compiled.preferences, candidate, lane]
        total_weight = float(scores.weight[counted, lane].sum()) if counted.any() else 0.0
    return tuple(
        _trace(
            scores,
            place,
            candidate,
            lane,
            columns=columns,
            attributes=attributes,
            legs=legs,
            total_weight=total_weight,
            reasons=reasons or {},
        )
        for place in (range(len(compiled.rules)) if places is None else places)
    )


def fill(template: str, values: Mapping[str, str]) -> str:
    """A sentence with its placeholders replaced; one without a value becomes "not known"."""
    return re.sub(r"\{([a-z_]+)\}", lambda found: values.get(found[1], "not known"), template)


def _trace(
    scores: Scores,
    place: int,
    candidate: int,
    lane: int,
    *,
    columns: Mapping[str, Floats],
    attributes: Mapping[str, npt.ArrayLike],
    legs: Legs,
    total_weight: float,
    reasons: Mapping[str, str],
) -> RuleTrace:
    compiled = scores.compiled
    rule = compiled.rules[place]
    value, leg, any_leg = _value(scores, place, candidate, lane, columns, legs)
    known = bool(scores.known[place, candidate, lane])
    applies = bool(scores.applies[place, lane])
    shared = {
        "rule": rule,
        "dimension": compiled.dimensions.get(rule.id, ""),
        "state": "known" if known else "unknown" if applies else "does-not-apply",
        "value": value,
        "leg": leg,
        "reason": "",
    }
    if not applies:
        shared["reason"] = "no leg of the use fits" if not any_leg else "its conditions do not hold"
    elif not known:
        shared["reason"] = _unknown(scores, place, lane, attributes, reasons)
    number = compiled.preferences
    if rule.verdict != "preference":
        limit = None if rule.shape.form == "none" else _finite(scores.limit[place - number, lane])
        row = place - number
        passed = fired = None
        if rule.verdict == "limit" and known:
            passed = not scores.failed[row, candidate, lane]
        elif known:
            fired = bool(scores.fired[row - compiled.limits, candidate, lane])
        return RuleTrace(**shared, limit=limit, passed=passed, fired=fired)  # type: ignore[arg-type]
    edges = [float(edge) for edge in scores.edges[:, place, lane]]
    if compiled.near_is_ratio[place]:
        edges = [float(np.exp(edge)) for edge in edges]
    score = float(scores.score[place, candidate, lane]) if known else None
    weight = _finite(scores.weight[place, lane])
    contribution = None
    if score is not None and weight is not None and total_weight > 0.0:
        contribution = score * weight / total_weight
    return RuleTrace(
        **shared,  # type: ignore[arg-type]
        edges=tuple(_finite(edge) for edge in edges),  # type: ignore[arg-type]
        score=score,
        weight=weight,
        contribution=contribution,
    )


def _finite(value: float) -> float | None:
    """None for NaN and for the far edges of a missing side."""
    return float(value) if abs(value) < 1e290 else None


def _value(
    scores: Scores,
    place: int,
    candidate: int,
    lane: int,
    columns: Mapping[str, Floats],
    legs: Legs,
) -> tuple[float | None, int | None, bool]:
    """Value, index of the leg that decides, and whether any leg is looked at."""
    compiled = scores.compiled
    rule = compiled.rules[place]
    source = int(compiled.values.source[place])
    if source == len(compiled.values.leg_sources):
        if rule.metric is None or columns[rule.metric].ndim != 2:
            return None, None, True
        return _finite(columns[rule.metric][candidate, lane]), None, True
    name, choice = compiled.values.leg_sources[source]
    looked_at = np.flatnonzero(_lane_mask(choice, legs, lane))
    if not looked_at.size:
        return None, None, False
    values = columns[name][candidate, looked_at, lane]
    if choice.role == "weighted":
        share = legs.leg_share[looked_at, lane]
        total = share.sum()
        mean = float((values * share).sum() / total) if total > 0.0 else float("nan")
        worst = _worst_leg(scores, place, candidate, lane, mean, values, share)
        if worst is not None:
            return float(values[worst]), int(looked_at[worst]), True
        return _finite(mean), None, True
    usable = np.flatnonzero(~np.isnan(values))
    if not usable.size:
        return None, None, True
    best = usable[int(np.argmin(_badness(scores, place, lane, values[usable])))]
    return float(values[best]), int(looked_at[best]), True


def _worst_leg(
    scores: Scores,
    place: int,
    candidate: int,
    lane: int,
    mean: float,
    values: Floats,
    share: Floats,
) -> int | None:
    """The leg that costs most, where the average itself is in the full range and would explain
    nothing: legs that are well off lift an average, but not the score of the others."""
    compiled = scores.compiled
    if place >= compiled.preferences or not scores.score[place, candidate, lane] < GOOD_FROM:
        return None
    _, full_from, full_to, _ = scores.edges[:, place, lane]
    as_scaled = np.log if compiled.near_is_ratio[place] else np.asarray
    if not full_from <= as_scaled(mean) <= full_to:
        return None
    lost = share * (1.0 - _leg_scores(scores, place, lane, as_scaled(values)))
    return int(np.argmax(lost))


def _leg_scores(scores: Scores, place: int, lane: int, scaled: Floats) -> Floats:
    a, b, c, d = scores.edges[:, place, lane]
    inside = np.minimum((scaled - a) / (b - a), (d - scaled) / (d - c))
    return np.asarray(np.clip(inside, 0.0, 1.0))


def _lane_mask(choice: LegChoice, legs: Legs, lane: int) -> npt.NDArray[np.bool_]:
    return leg_mask(choice, legs)[:, lane]


def _badness(scores: Scores, place: int, lane: int, values: Floats) -> Floats:
    """Smallest where the rule's outcome is decided."""
    compiled = scores.compiled
    number = compiled.preferences
    if place >= number:
        signs = compiled.limit_signs[place - number, 0, 0]
        verdict = 1.0 if compiled.rules[place].verdict == "limit" else -1.0
        return np.asarray(verdict * signs * values)
    a, b, c, d = scores.edges[:, place, lane]
    scaled = np.log(values) if compiled.near_is_ratio[place] else values
    score = _leg_scores(scores, place, lane, scaled)
    # Among legs of equal score, the one farthest from the middle of the full range.
    middle = min(max(0.5 * (b + c), a), d)
    return np.asarray(score - 1e-12 * np.abs(scaled - middle) / (1.0 + abs(middle)))


def _unknown(
    scores: Scores,
    place: int,
    lane: int,
    attributes: Mapping[str, npt.ArrayLike],
    reasons: Mapping[str, str],
) -> str:
    compiled = scores.compiled
    rule = compiled.rules[place]
    start = compiled.dependency_starts
    stop = start[place + 1] if place + 1 < len(start) else len(compiled.dependency_attributes)
    rows = {int(row) for row in compiled.dependency_attributes[start[place] : stop]}
    names = {compiled.attribute_names[row - 1] for row in rows if row}
    names |= {condition.attribute for condition in rule.when}
    absent = [
        name
        for name in sorted(names)
        if name not in attributes or np.isnan(np.atleast_1d(attributes[name])[..., lane])
    ]
    if absent:
        return f"not known: {', '.join(absent)}"
    if place < compiled.preferences and scores.disordered[place, lane]:
        return "its edges are out of order for this job"
    metric = rule.metric or ""
    return reasons.get(metric, f"{metric} cannot be computed")
