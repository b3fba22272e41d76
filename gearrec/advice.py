"""The advice: a pick with everything it rests on. Explanations are made when asked for."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Literal

from gearrec import assembly, batches, metrics, rule_trace, scoring, sensitivity, wording

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gearrec.batches import Batch
    from gearrec.candidates import Candidate
    from gearrec.catalog.job_records import Job
    from gearrec.catalog.store import Catalog, RecordUse
    from gearrec.catalog.use_records import Defaults
    from gearrec.document import AdviceDocument
    from gearrec.extension import Caution, Preference, ReportSection
    from gearrec.jobs import ResolvedJob
    from gearrec.judging import Judge, Measured, Verdicts
    from gearrec.metrics import Columns
    from gearrec.plugin_calls import Contribution, Fault
    from gearrec.rule_trace import RuleTrace
    from gearrec.sensitivity import Reach
    from gearrec.story import Story
    from gearrec.vehicles import Assumption

Verdict = Literal["pick", "runner-up", "possible", "ruled-out", "unknown"]
System = Literal["us", "metric"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """What the advice is made from: one job measured and ordered. Lane 0 is the job."""

    judge: Judge
    resolved: ResolvedJob
    batch: Batch
    measured: Measured
    verdicts: Verdicts
    extra: tuple[scoring.ExtraPreference, ...]
    preferences: tuple[Contribution[Preference], ...]
    defaults: Defaults
    catalog: Catalog
    rule_set: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceLine:
    """What one rule says of one candidate; see `rule_trace.RuleTrace` for `trace`."""

    axle_ratio: float
    trace: RuleTrace
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CandidateAdvice:
    """One candidate: its verdict and its numbers.

    `metrics` holds one number per metric, `leg_metrics` one per leg of the use, SI as the metric's
    definition says, None unknown. `score` is the aggregate score, None where none is known.
    `ruled_out_by` are sentences.
    """

    candidate: Candidate
    verdict: Verdict
    score: float | None
    metrics: Mapping[str, float | None]
    leg_metrics: Mapping[str, tuple[float | None, ...]]
    ruled_out_by: tuple[str, ...]
    unknown_limits: tuple[str, ...]

    @property
    def axle_ratio(self) -> float:
        """Tooth ratio [1]."""
        return self.candidate.ratio

    @property
    def name(self) -> str:
        """The ratio to two decimals."""
        return self.candidate.name

    @property
    def teeth(self) -> str:
        """'50/13', or ''."""
        return self.candidate.teeth


class Advice:
    """The answer to one job.

    Cheap to make: candidates, traces, confidence, reach and texts are worked out when first asked
    for. Nothing it gives out can be changed.
    """

    def __init__(
        self,
        judgement: Judgement,
        *,
        cautions: tuple[Contribution[Caution], ...] = (),
        sections: tuple[Contribution[ReportSection], ...] = (),
        faults: tuple[Fault, ...] = (),
    ) -> None:
        self._judgement = judgement
        self.plugin_cautions = tuple(item.record for item in cautions)
        self.sections = tuple(item.record for item in sections)
        self.faults = faults
        self._traced: dict[tuple[float, System], tuple[TraceLine, ...]] = {}

    def __repr__(self) -> str:
        pick = self.pick
        return f"<Advice {self.vehicle!r}: {pick.name if pick else 'no pick'}>"

    @property
    def judgement(self) -> Judgement:
        """The job measured and ordered, from which everything here is made."""
        return self._judgement

    @property
    def job(self) -> Job:
        """The job as it was given."""
        return self._judgement.resolved.job

    @property
    def vehicle(self) -> str:
        """Title of the vehicle."""
        return self._judgement.resolved.vehicle.title

    @property
    def legs(self) -> tuple[str, ...]:
        """Names of the legs of the use, in the order of `leg_metrics`."""
        return self._judgement.resolved.use.names

    @property
    def rule_set(self) -> str:
        """Id of the rule set that was used."""
        return self._judgement.rule_set

    @cached_property
    def candidates(self) -> tuple[CandidateAdvice, ...]:
        """All candidates, best first; those that cannot be ranked come last, rising."""
        at = self._judgement
        order = [int(place) for place in at.verdicts.order.candidate[:, 0] if place >= 0]
        rest = [
            place for place in range(len(at.resolved.vehicle.candidates)) if place not in set(order)
        ]
        return tuple(self._candidate(place, order) for place in [*order, *rest])

    @property
    def pick(self) -> CandidateAdvice | None:
        """The best candidate; None where every one is ruled out or unknown."""
        return self._of("pick")

    @property
    def runner_up(self) -> CandidateAdvice | None:
        """The second best."""
        return self._of("runner-up")

    @property
    def fitted(self) -> CandidateAdvice:
        """The ratio now in the truck."""
        return next(item for item in self.candidates if item.candidate.fitted)

    @property
    def margin(self) -> float | None:
        """Score of the pick - score of the runner-up."""
        pick, second = self.pick, self.runner_up
        if pick is None or second is None or pick.score is None or second.score is None:
            return None
        return pick.score - second.score

    @property
    def tied(self) -> bool:
        """Whether the pick won a tie by the smaller change from the factory ratio."""
        return self.pick is not None and bool(self._judgement.verdicts.order.tied[0, 0])

    @property
    def keeps(self) -> bool:
        """Whether the pick is what is fitted: keep what you have."""
        return self.pick is not None and self.pick.candidate.fitted

    @cached_property
    def confidence(self) -> float | None:
        """Share of disturbed copies of the job in which the pick stays the pick [0 to 1]."""
        at = self._judgement
        pick = int(at.verdicts.order.pick[0])
        if pick < 0:
            return None
        return sensitivity.confidence(
            at.judge,
            at.batch,
            pick=pick,
            tolerances=at.defaults.tolerances,
            samples=at.defaults.samples,
            extra=at.extra,
        )

    @property
    def borderline(self) -> bool | None:
        """Whether the pick would change within the input tolerances too often."""
        found = self.confidence
        return None if found is None else found < self._judgement.defaults.borderline

    @cached_property
    def reach(self) -> tuple[Reach, ...]:
        """Span of planned tire diameters over which each ratio is the pick, rising."""
        at = self._judgement
        return sensitivity.reach(at.judge, at.batch, at.extra)

    @cached_property
    def traces(self) -> Mapping[float, tuple[TraceLine, ...]]:
        """Axle ratio -> what every rule says of it, in compiled order."""
        candidates = self._judgement.resolved.vehicle.candidates
        return {item.ratio: self.traced(item.ratio) for item in candidates}

    def trace(self, rule: str) -> tuple[TraceLine, ...]:
        """What one rule says of each candidate, best candidate first.

        `rule` is the rule's id; the namespace may be left out. Raises KeyError.
        """
        place = self._judgement.judge.compiled.index(rule)
        return tuple(self.traces[item.axle_ratio][place] for item in self.candidates)

    @property
    def assumptions(self) -> tuple[Assumption, ...]:
        """Values that were taken because nothing gave them."""
        return self._judgement.resolved.assumptions

    @cached_property
    def records(self) -> tuple[RecordUse, ...]:
        """Catalog records and rules that the advice stands on."""
        return self._judgement.catalog.records_used(self._used())

    @cached_property
    def notices(self) -> tuple[str, ...]:
        """Sentences about records that are deprecated or were renamed."""
        return self._judgement.catalog.deprecations(self._used())

    @cached_property
    def present(self) -> Columns:
        """The built-in metrics of every candidate on the tires now fitted."""
        resolved = self._judgement.resolved
        if resolved.tire_planned == resolved.tire_now:
            return self._judgement.measured.columns
        today = replace(resolved, tire_planned=resolved.tire_now)
        return metrics.evaluate(assembly.lanes(batches.collect([today])))

    @cached_property
    def story(self) -> Story:
        """The owner's report beside the model's figures."""
        from gearrec import story

        return story.check(self)

    def cautions(self, units: System = "us") -> tuple[str, ...]:
        """Cautions of the rules about the pick, of plugins, and those every advice carries."""
        return wording.cautions(self, units)

    def sentences(self, units: System = "us") -> tuple[str, ...]:
        """Plain sentences for the owner."""
        from gearrec import owner_sentences

        return owner_sentences.sentences(self, units)

    def document(self) -> AdviceDocument:
        """The advice as a document with a JSON Schema."""
        from gearrec import document

        return document.document(self)

    def to_json(self, *, indent: int | None = None) -> str:
        """The document as JSON text; versioned, see `gearrec schema advice`."""
        return self.document().model_dump_json(indent=indent, by_alias=True)

    def text(self, units: System = "us") -> str:
        """The report for a person."""
        from gearrec import report

        return report.text(self, units)

    def _used(self) -> tuple[tuple[str, str], ...]:
        at = self._judgement
        rules = (("rule", rule.id) for rule in at.judge.compiled.rules)
        return (*at.resolved.records, ("rule-set", at.rule_set), *rules)

    def _of(self, verdict: Verdict) -> CandidateAdvice | None:
        return next((item for item in self.candidates if item.verdict == verdict), None)

    def _candidate(self, place: int, order: Sequence[int]) -> CandidateAdvice:
        at = self._judgement
        candidate = at.resolved.vehicle.candidates[place]
        legs = len(self.legs)
        columns = at.measured.columns
        jobs: dict[str, float | None] = {}
        by_leg: dict[str, tuple[float | None, ...]] = {}
        for metric in at.judge.metrics:
            numbers = columns[metric.name]
            if metric.per_leg:
                by_leg[metric.name] = tuple(_known(x) for x in numbers[place, :legs, 0])
            else:
                jobs[metric.name] = _known(numbers[place, 0])
        out = self._ruled_out(place, candidate)
        verdict: Verdict
        if out:
            verdict = "ruled-out"
        elif place not in order:
            verdict = "unknown"
        else:
            rank = order.index(place)
            verdict = "pick" if rank == 0 else "runner-up" if rank == 1 else "possible"
        return CandidateAdvice(
            candidate=candidate,
            verdict=verdict,
            score=_known(at.verdicts.aggregate.score[place, 0]),
            metrics=jobs,
            leg_metrics=by_leg,
            ruled_out_by=out,
            unknown_limits=self._unknown_limits(place),
        )

    def _ruled_out(self, place: int, candidate: Candidate) -> tuple[str, ...]:
        if candidate.taken_out:
            return (candidate.taken_out,)
        scores = self._judgement.measured.scores
        if not scores.ruled_out[place, 0]:
            return ()
        return tuple(
            line.sentence
            for line in self._trace(place, candidate.ratio, rules=self._limits)
            if line.trace.passed is False
        )

    def _unknown_limits(self, place: int) -> tuple[str, ...]:
        if not self._judgement.measured.scores.limits_unknown[place, 0]:
            return ()
        candidate = self._judgement.resolved.vehicle.candidates[place]
        return tuple(
            f"{line.trace.rule.title}: {line.trace.reason}"
            for line in self._trace(place, candidate.ratio, rules=self._limits)
            if line.trace.state == "unknown"
        )

    @property
    def _limits(self) -> range:
        compiled = self._judgement.judge.compiled
        return range(compiled.preferences, compiled.preferences + compiled.limits)

    def _trace(
        self,
        place: int,
        ratio: float,
        *,
        units: System = "us",
        rules: Sequence[int] | None = None,
    ) -> tuple[TraceLine, ...]:
        at = self._judgement
        traces = rule_trace.trace_rules(
            at.measured.scores,
            candidate=place,
            lane=0,
            columns=at.measured.columns,
            attributes=at.measured.attributes,
            legs=at.measured.lanes,
            total_weight=float(at.verdicts.aggregate.weight[place, 0]),
            reasons=at.measured.columns.unknown_reason,
            places=rules,
        )
        return tuple(
            TraceLine(
                axle_ratio=ratio,
                trace=line,
                sentence=wording.rule_sentence(
                    line,
                    candidate=at.resolved.vehicle.candidates[place],
                    legs=self.legs,
                    factory_ratio=at.resolved.vehicle.factory_ratio,
                    units_of=at.judge.units_of,
                    system=units,
                ),
            )
            for line in traces
        )

    def traced(self, axle_ratio: float, units: System = "us") -> tuple[TraceLine, ...]:
        """What every rule says of one candidate, with sentences in the units asked for."""
        found = self._traced.get((axle_ratio, units))
        if found is not None:
            return found
        for place, candidate in enumerate(self._judgement.resolved.vehicle.candidates):
            if candidate.ratio == axle_ratio:
                lines = self._trace(place, axle_ratio, units=units)
                return self._traced.setdefault((axle_ratio, units), lines)
        raise KeyError(axle_ratio)


def _known(value: float) -> float | None:
    return None if math.isnan(value) else float(value)
