"""Runs the cases of catalogs: does each job come out as its catalog says it must, and if not, why?

A pick passes when it is the expected one or one of those that would do as well. A limit fires where
it rules out any candidate of the job; a caution where it speaks of the pick (of the fitted ratio
where there is no pick).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from gearrec import units
from gearrec.errors import InputError, Place, Problem, QuantityError, allowed_words
from gearrec.score_gaps import gap_lines
from gearrec.wording import listed, points, value_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from gearrec.advice import Advice, CandidateAdvice, TraceLine
    from gearrec.api import Advisor
    from gearrec.catalog.case_records import Amount, Case, ExpectedMetric
    from gearrec.metrics import Metric


@dataclass(frozen=True, slots=True)
class Miss:
    """One expectation that was not met: its key below `expect`, what was due and found, and why."""

    key: str
    message: str
    trace: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CaseResult:
    """What came of one case. `problems` holds an error for each miss, placed in the case's file."""

    id: str
    title: str
    misses: tuple[Miss, ...]
    problems: tuple[Problem, ...]

    @property
    def passed(self) -> bool:
        """Whether everything came out as expected."""
        return not self.problems

    def __str__(self) -> str:
        if self.passed:
            return f"{self.id}: as expected"
        lines = [f"{self.id}: {self.title}"]
        for miss in self.misses:
            lines.append(f"  {miss.key}: {miss.message}")
            lines += [f"    {line}" for line in miss.trace]
        return "\n".join(lines)


def run_cases(advisor: Advisor, *, only: Iterable[str] | None = None) -> tuple[CaseResult, ...]:
    """Run the cases of the advisor's catalogs, in the order of the files.

    only: ids of the cases to run; None for all. Raises UnknownRecordError for an id that is no
    case's. What is wrong with a case's job is a problem of that case.
    """
    ids = advisor.catalog.ids("case") if only is None else tuple(only)
    cases: list[Case] = [advisor.catalog.get("case", name) for name in ids]
    return tuple(_run(advisor, case) for case in cases)


def case_job(advisor: Advisor, case: Case) -> str | object:
    """The job of a case as an advisor takes it: the record, or the path of its file."""
    if not isinstance(case.job, str):
        return case.job
    return str(Path(advisor.catalog.place("case", case.id).file).parent / case.job)


def _run(advisor: Advisor, case: Case) -> CaseResult:
    try:
        advice = advisor.advise(case_job(advisor, case))  # type: ignore[arg-type]
    except InputError as error:
        problems = tuple(_in_case(advisor, case, problem) for problem in error.problems)
        misses = tuple(Miss("job", str(problem)) for problem in error.problems)
        return CaseResult(case.id, case.title, misses, problems)
    misses = tuple(_Checking(advisor, case, advice).misses())
    return CaseResult(
        case.id, case.title, misses, tuple(_problem(advisor, case, miss) for miss in misses)
    )


def _in_case(advisor: Advisor, case: Case, problem: Problem) -> Problem:
    """A problem of the case's job; one without a file stands in the case itself."""
    at = problem.place
    if not at.file:
        dotted = f"job.{at.dotted}" if at.dotted else "job"
        at = advisor.catalog.place("case", case.id, dotted)
    return Problem(at, problem.message, problem.code, problem.warning)


def _problem(advisor: Advisor, case: Case, miss: Miss) -> Problem:
    place: Place = advisor.catalog.place("case", case.id, f"expect.{miss.key}")
    return Problem(place, "; ".join([miss.message, *miss.trace]), "case")


class _Checking:
    """One case against the advice that came out."""

    def __init__(self, advisor: Advisor, case: Case, advice: Advice) -> None:
        self.expect = case.expect
        self.advice = advice
        self.metrics: dict[str, Metric] = {metric.name: metric for metric in advisor.metrics}
        self.tolerance = advisor.defaults.ratio_name_tolerance

    def misses(self) -> Iterable[Miss]:
        expect = self.expect
        if expect.pick is not None:
            yield from self._ranked("pick", self.advice.pick, (expect.pick, *expect.acceptable))
        if expect.runner_up is not None:
            yield from self._ranked("runner_up", self.advice.runner_up, (expect.runner_up,))
        for number, ratio in enumerate(expect.ruled_out):
            yield from self._ruled_out(f"ruled_out[{number}]", ratio)
        if expect.borderline is not None:
            yield from self._borderline(expect.borderline)
        for number, rule in enumerate(expect.rules_fired):
            yield from self._fired(f"rules_fired[{number}]", rule)
        for number, metric in enumerate(expect.metrics):
            yield from self._metric(f"metrics[{number}]", metric)

    def _named(self, ratio: float) -> CandidateAdvice | None:
        """The candidate that a ratio's name stands for."""

        def distance(item: CandidateAdvice) -> float:
            return abs(math.log(item.axle_ratio / ratio))

        best = min(self.advice.candidates, key=distance)
        return best if distance(best) <= self.tolerance else None

    def _no_candidate(self, key: str, ratio: float) -> Miss:
        rising = sorted(item.axle_ratio for item in self.advice.candidates)
        names = [f"{one:.2f}" for one in rising]
        return Miss(key, f"{ratio:.2f} is no candidate of this job; {allowed_words(names)}")

    def _ranked(
        self, key: str, found: CandidateAdvice | None, wanted: Sequence[float]
    ) -> Iterable[Miss]:
        due = [self._named(ratio) for ratio in wanted]
        for ratio, item in zip(wanted, due, strict=True):
            if item is None:
                yield self._no_candidate(key if ratio == wanted[0] else "acceptable", ratio)
        if due[0] is None or found in due:
            return
        names = listed([f"{ratio:.2f}" for ratio in wanted], "or")
        came = "there is none" if found is None else f"found {found.name}{_score(found)}"
        words = key.replace("_", "-")
        message = f"the {words} must be {names}{_score(due[0])}; {came}"
        yield Miss(key, message, self._gap(found, due[0]))

    def _gap(self, found: CandidateAdvice | None, due: CandidateAdvice) -> tuple[str, ...]:
        """Why one candidate stands before another: what rules it out, or where the points are."""
        out = tuple(f"{due.name} is ruled out: {words}" for words in due.ruled_out_by)
        if out or found is None:
            return out
        return gap_lines(self.advice, found, due)

    def _ruled_out(self, key: str, ratio: float) -> Iterable[Miss]:
        item = self._named(ratio)
        if item is None:
            yield self._no_candidate(key, ratio)
        elif item.verdict != "ruled-out":
            lines = [
                line.sentence
                for line in self.advice.traces[item.axle_ratio]
                if line.trace.rule.verdict == "limit" and line.trace.state != "does-not-apply"
            ]
            message = f"{item.name} must be ruled out; no limit does: its verdict is {item.verdict}"
            yield Miss(key, message, tuple(lines))

    def _borderline(self, wanted: bool) -> Iterable[Miss]:
        confidence = self.advice.confidence
        if confidence is None:
            yield Miss("borderline", "there is no pick that could be borderline or not")
        elif self.advice.borderline is not wanted:
            least = self.advice.judgement.defaults.borderline
            due = "must be borderline" if wanted else "must not be borderline"
            message = (
                f"the pick {due}; it stays the pick in {confidence:.0%} of the disturbed copies of "
                f"the job, and borderline is below {least:.0%}"
            )
            pick, second = self.advice.pick, self.advice.runner_up
            near = gap_lines(self.advice, pick, second) if pick and second else ()
            yield Miss("borderline", message, near)

    def _fired(self, key: str, rule: str) -> Iterable[Miss]:
        try:
            lines = self.advice.trace(rule)
        except KeyError:
            yield Miss(key, f"{rule} is not in the rule set {self.advice.rule_set}")
            return
        verdict = lines[0].trace.rule.verdict
        if verdict == "preference":
            message = f"{rule} is a preference, which does not fire; allowed: limits and cautions"
            yield Miss(key, message)
        elif verdict == "limit":
            if all(line.trace.passed is not False for line in lines):
                yield Miss(key, f"{rule} must rule out a ratio; it rules out none", _said(lines))
        else:
            about = self.advice.pick or self.advice.fitted
            line = next(line for line in lines if line.axle_ratio == about.axle_ratio)
            if not line.trace.fired:
                message = f"{rule} must warn of {about.name}; it does not"
                yield Miss(key, message, (line.sentence,))

    def _metric(self, key: str, wanted: ExpectedMetric) -> Iterable[Miss]:
        metric = self.metrics.get(wanted.metric)
        if metric is None:
            words = allowed_words(sorted(self.metrics), wanted.metric)
            yield Miss(f"{key}.metric", f"no metric is called {wanted.metric!r}; {words}")
            return
        item = self.advice.pick if wanted.ratio is None else self._named(wanted.ratio)
        if item is None:
            if wanted.ratio is None:
                yield Miss(key, "there is no pick to look at; give `ratio`")
            else:
                yield self._no_candidate(f"{key}.ratio", wanted.ratio)
            return
        try:
            due = _amount(wanted.value, metric)
            tolerance = _tolerance(wanted.tolerance, due, metric)
        except QuantityError as error:
            yield Miss(key, f"{metric.name}: {error}")
            return
        leg_fault = self._leg_fault(metric, wanted.leg)
        if leg_fault:
            yield Miss(f"{key}.leg", leg_fault)
            return
        found = (
            item.leg_metrics[metric.name][self.advice.legs.index(wanted.leg or self.advice.legs[0])]
            if metric.per_leg
            else item.metrics[metric.name]
        )
        place = f" ({wanted.leg})" if wanted.leg else ""
        due_text = f"{metric.name} of {item.name}{place} must be {wanted.value}"
        within = f" within {wanted.tolerance}"
        if found is None:
            reason = self.advice.judgement.measured.columns.unknown_reason.get(metric.name)
            yield Miss(key, f"{due_text}; it is unknown: {reason or metric.unknown}")
        elif not abs(found - due) <= tolerance + 1e-9 * abs(due):
            shown = _shown(found, wanted.value, metric)
            yield Miss(key, f"{due_text}{within}; found {shown}", self._others(metric, wanted.leg))

    def _leg_fault(self, metric: Metric, leg: str | None) -> str:
        legs = self.advice.legs
        if not metric.per_leg:
            return (
                "" if leg is None else f"{metric.name} is one number for all legs; leave `leg` out"
            )
        if leg is None:
            many = f"{metric.name} has a number for each leg; give `leg`; {allowed_words(legs)}"
            return many if len(legs) > 1 else ""
        return "" if leg in legs else f"no leg is called {leg!r}; {allowed_words(legs, leg)}"

    def _others(self, metric: Metric, leg: str | None) -> tuple[str, ...]:
        """The metric of all candidates: a miss of all alike has its cause in the vehicle."""
        texts = []
        for item in sorted(self.advice.candidates, key=lambda one: one.axle_ratio):
            values = item.leg_metrics[metric.name] if metric.per_leg else ()
            value = (
                values[self.advice.legs.index(leg or self.advice.legs[0])]
                if metric.per_leg
                else item.metrics[metric.name]
            )
            texts.append(f"{item.name}: {'unknown' if value is None else _text(value, metric)}")
        return (f"of all candidates: {', '.join(texts)}",)


def _score(item: CandidateAdvice) -> str:
    return "" if item.score is None else f" ({points(item.score)} points of 100)"


def _said(lines: Sequence[TraceLine]) -> tuple[str, ...]:
    rising = sorted(lines, key=lambda line: line.axle_ratio)
    return tuple(f"{line.axle_ratio:.2f}: {line.sentence}" for line in rising)


def _text(value: float, metric: Metric) -> str:
    return value_text(value, metric=metric.name, dimension=metric.dimension, unit=metric.unit)


def _amount(given: Amount, metric: Metric) -> float:
    if metric.dimension:
        return units.parse(given, metric.dimension)
    if isinstance(given, str):
        raise QuantityError(
            f"found {given!r}; {metric.name} has the unit {metric.unit!r}: write the bare number"
        )
    return given


def _tolerance(given: Amount, due: float, metric: Metric) -> float:
    """The largest difference; a percentage is a share of the value unless the metric is one."""
    if (
        isinstance(given, str)
        and given.endswith("%")
        and metric.dimension not in ("share", "grade")
    ):
        return abs(units.parse(given, "share") * due)
    tolerance = _amount(given, metric)
    if metric.dimension == "fuel_use" and isinstance(given, str) and "mpg" in given:
        raise QuantityError(
            f"found {given!r}; a difference in mpg is no fixed amount of fuel: write L/100km or a "
            "share such as '3 %'"
        )
    if metric.dimension == "temperature":
        raise QuantityError("write the tolerance of a temperature as a share such as '3 %'")
    return abs(tolerance)


def _shown(found: float, given: Amount, metric: Metric) -> str:
    """What was found, in the unit of what was expected."""
    unit = given.lstrip("-+0123456789. ") if isinstance(given, str) else ""
    if not unit:
        return f"{found:.4g}"
    return f"{units.to(found, metric.dimension, unit):.4g} {unit}"
