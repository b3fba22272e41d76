"""The advice as a document: versioned JSON with a JSON Schema, for other software to read."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from gearrec import __version__, story_sentences, wording
from gearrec.document_models import (
    AdviceDocument,
    AssumptionModel,
    CandidateModel,
    Edges,
    EngineSpeedModel,
    ExplanationModel,
    FaultModel,
    FuelModel,
    Generator,
    MetricModel,
    ReachModel,
    RecordModel,
    RuleLine,
    SectionModel,
    StoryModel,
    Words,
)

if TYPE_CHECKING:
    from gearrec.advice import Advice, CandidateAdvice, TraceLine
    from gearrec.catalog.store import RecordUse
    from gearrec.sensitivity import Reach
    from gearrec.story import EngineSpeedCheck, FuelCheck, Story

__all__ = ["AdviceDocument", "document"]

_INCH_M = 0.0254


def document(advice: Advice) -> AdviceDocument:
    """The whole advice as a document."""
    pick, second = advice.pick, advice.runner_up
    job = advice.job
    return AdviceDocument(
        kind="advice",
        format=1,
        generator=Generator(name="gearrec", version=__version__),
        title=job.title,
        owner=job.owner,
        question=job.question,
        vehicle=advice.vehicle,
        rule_set=advice.rule_set,
        legs=list(advice.legs),
        pick=pick.axle_ratio if pick else None,
        runner_up=second.axle_ratio if second else None,
        fitted=advice.fitted.axle_ratio,
        keeps=advice.keeps,
        margin=advice.margin,
        tied=advice.tied,
        confidence=advice.confidence,
        borderline=advice.borderline,
        invented=any(record.invented for record in advice.records),
        candidates=[_candidate(advice, item) for item in advice.candidates],
        metrics=_metrics(advice),
        reach=[_reach(span) for span in advice.reach],
        assumptions=_assumptions(advice),
        records=[_record(record) for record in advice.records],
        story=_story(advice.story),
        sentences=_words(advice.sentences("us"), advice.sentences("metric")),
        cautions=_words(advice.cautions("us"), advice.cautions("metric")),
        sections=[
            SectionModel(name=item.name, title=item.title, lines=list(item.lines))
            for item in advice.sections
        ],
        faults=[
            FaultModel(plugin=item.plugin, hook=item.hook, expected=item.expected, found=item.found)
            for item in advice.faults
        ],
        notices=list(advice.notices),
    )


def _words(us: tuple[str, ...], metric: tuple[str, ...]) -> list[Words]:
    return [Words(us=first, metric=second) for first, second in zip(us, metric, strict=True)]


def _candidate(advice: Advice, item: CandidateAdvice) -> CandidateModel:
    teeth = item.candidate
    us = advice.traced(item.axle_ratio, "us")
    metric = advice.traced(item.axle_ratio, "metric")
    return CandidateModel(
        axle_ratio=item.axle_ratio,
        name=item.name,
        ring_teeth=teeth.ring_teeth,
        pinion_teeth=teeth.pinion_teeth,
        carrier=teeth.carrier,
        front_ratio=teeth.front_ratio,
        fitted=teeth.fitted,
        factory=teeth.factory,
        added_by=teeth.added_by,
        verdict=item.verdict,
        score=item.score,
        ruled_out_by=list(item.ruled_out_by),
        unknown_limits=list(item.unknown_limits),
        metrics=dict(item.metrics),
        leg_metrics={name: list(values) for name, values in item.leg_metrics.items()},
        trace=[_line(advice, *pair) for pair in zip(us, metric, strict=True)],
    )


def _line(advice: Advice, us: TraceLine, metric: TraceLine) -> RuleLine:
    trace = us.trace
    rule = trace.rule
    edges = trace.edges
    return RuleLine(
        rule=rule.id,
        title=rule.title,
        verdict=rule.verdict,
        state=trace.state,
        reason=trace.reason,
        metric=rule.metric,
        unit=advice.judgement.judge.units_of.get(rule.metric or "", ""),
        value=trace.value,
        leg=None if trace.leg is None else advice.legs[trace.leg],
        edges=None
        if edges is None
        else Edges(zero_below=edges[0], full_from=edges[1], full_to=edges[2], zero_above=edges[3]),
        limit=trace.limit,
        score=trace.score,
        weight=trace.weight,
        contribution=trace.contribution,
        passed=trace.passed,
        fired=trace.fired,
        sentence=Words(us=us.sentence, metric=metric.sentence),
        source=rule.source.citation if rule.source else "",
    )


def _metrics(advice: Advice) -> dict[str, MetricModel]:
    judgement = advice.judgement
    reasons = judgement.measured.columns.unknown_reason
    return {
        item.name: MetricModel(
            unit=item.unit,
            definition=item.definition,
            per_leg=item.per_leg,
            source=item.source,
            unknown_reason=reasons.get(item.name),
        )
        for item in judgement.judge.metrics
    }


def _reach(span: Reach) -> ReachModel:
    return ReachModel(
        axle_ratio=span.axle_ratio,
        name=f"{span.axle_ratio:.2f}",
        from_m=span.from_m,
        to_m=span.to_m,
        from_in=span.from_m / _INCH_M,
        to_in=span.to_m / _INCH_M,
        open_below=span.open_below,
        open_above=span.open_above,
    )


def _assumptions(advice: Advice) -> list[AssumptionModel]:
    return [
        AssumptionModel(
            name=item.name,
            value=None if math.isnan(item.value) else item.value,
            dimension=item.dimension,
            why=item.why,
            text=Words(
                us=wording.assumption_text(item, "us"),
                metric=wording.assumption_text(item, "metric"),
            ),
        )
        for item in advice.assumptions
    ]


def _record(record: RecordUse) -> RecordModel:
    source = record.source
    return RecordModel(
        kind=record.kind,
        id=record.id,
        title=record.title,
        source_kind=source.kind if source else None,
        citation=source.citation if source else None,
        confidence=source.confidence if source else None,
        invented=record.invented,
        overridden_by=list(record.overridden_by),
    )


def _story(story: Story) -> StoryModel:
    return StoryModel(
        agrees=story.agrees,
        speedometer_error=story.speedometer_error,
        speedometer_set=story.speedometer_set,
        engine_speed=_engine_speed(story.engine_speed),
        fuel=_fuel(story.fuel),
        sentences=_words(
            story_sentences.sentences(story, "us"), story_sentences.sentences(story, "metric")
        ),
    )


def _engine_speed(check: EngineSpeedCheck | None) -> EngineSpeedModel | None:
    if check is None:
        return None
    return EngineSpeedModel(
        reported_rpm=check.reported_rpm,
        at_mps=check.at_mps,
        gear=check.gear,
        gear_named=check.gear_named,
        expected_rpm=check.expected_rpm,
        deviation=check.deviation,
        implied_ratio=check.implied_ratio,
        agrees=check.agrees,
        explanations=[
            ExplanationModel(
                kind=item.kind,
                engine_speed_rpm=item.engine_speed_rpm,
                deviation=item.deviation,
                gear=item.gear,
                axle_ratio=item.axle_ratio,
                diameter_m=item.diameter_m,
            )
            for item in check.explanations
        ],
    )


def _fuel(check: FuelCheck | None) -> FuelModel | None:
    if check is None:
        return None
    return FuelModel(
        reported=check.reported,
        corrected=check.corrected,
        by=check.by,
        towing=check.towing,
        model_low=check.model.low,
        model_mid=check.model.mid,
        model_high=check.model.high,
        deviation=check.deviation,
        agrees=check.agrees,
    )
