"""Models of the advice as a document, from which its JSON Schema is generated.

Numbers are SI unless the unit field beside them, or their description, says otherwise. What is not
known is null; there is no NaN. Sentences come in both systems of units.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, defer_build=True)


class Words(_Part):
    """One sentence, in both systems of units."""

    us: str = Field(description="with US units")
    metric: str = Field(description="with metric units")


class Generator(_Part):
    """What made the document."""

    name: Literal["gearrec"] = Field(description="name of the library")
    version: str = Field(description="version of the library")


class Edges(_Part):
    """Score over the metric's value: 0 below the first, full between second and third, 0 above the
    fourth."""

    zero_below: float | None = Field(description="unit of the metric; null: no such side")
    full_from: float | None = Field(description="unit of the metric; null: no such side")
    full_to: float | None = Field(description="unit of the metric; null: no such side")
    zero_above: float | None = Field(description="unit of the metric; null: no such side")


class RuleLine(_Part):
    """What one rule says of one candidate."""

    rule: str = Field(description="id of the rule")
    title: str = Field(description="title of the rule")
    verdict: Literal["limit", "preference", "caution"] = Field(description="sort of rule")
    state: Literal["known", "unknown", "does-not-apply"] = Field(
        description="unknown is neither passed nor failed, neither 0 nor 1"
    )
    reason: str = Field(description="why it is unknown or does not apply, else empty")
    metric: str | None = Field(description="name of the metric that is judged")
    unit: str = Field(description="unit of `value`, `edges` and `limit`; 1 is a fraction")
    value: float | None = Field(description="value of the metric, in `unit`")
    leg: str | None = Field(description="leg that decides; null: none, or an average of several")
    edges: Edges | None = Field(description="of a preference")
    limit: float | None = Field(description="of a limit or a caution, in `unit`")
    score: float | None = Field(description="of a preference, 0 (worst) to 1 (best)")
    weight: float | None = Field(description="of a preference, on the scale of the rule set")
    contribution: float | None = Field(description="weight x score / sum of all weights")
    passed: bool | None = Field(description="of a limit; null: not known or not a limit")
    fired: bool | None = Field(description="of a caution; null: not known or not a caution")
    sentence: Words = Field(description="the rule's sentence with its numbers")
    source: str = Field(description="where the rule comes from")


class CandidateModel(_Part):
    """One axle ratio that was judged."""

    axle_ratio: float = Field(description="tooth ratio [1]")
    name: str = Field(description="ratio as the trade writes it, two decimals")
    ring_teeth: int | None = Field(description="teeth of the ring gear; null: not known")
    pinion_teeth: int | None = Field(description="teeth of the pinion; null: not known")
    carrier: str | None = Field(description="carrier that the set needs")
    front_ratio: float | None = Field(
        description="tooth ratio of the nearest set of the driven front axle [1]"
    )
    fitted: bool = Field(description="whether it is in the truck now")
    factory: bool = Field(description="whether the truck left the factory with it")
    added_by: str = Field(description="plugin that brought it, else empty")
    verdict: Literal["pick", "runner-up", "possible", "ruled-out", "unknown"]
    score: float | None = Field(description="aggregate score, 0 to 1; null: none is known")
    ruled_out_by: list[str] = Field(description="reasons, as sentences")
    unknown_limits: list[str] = Field(description="limits that could not be checked, with reasons")
    metrics: dict[str, float | None] = Field(
        description="metric: number in the unit that the document's `metrics` names"
    )
    leg_metrics: dict[str, list[float | None]] = Field(
        description="metric: one number for each of the document's `legs`"
    )
    trace: list[RuleLine] = Field(description="what every rule says of it")


class MetricModel(_Part):
    """A metric that the candidates were measured by."""

    unit: str = Field(description="unit of its numbers; 1 is a plain number or fraction")
    definition: str = Field(description="what it is")
    per_leg: bool = Field(description="whether it has one number for each leg")
    source: str = Field(description="where definition or method come from")
    unknown_reason: str | None = Field(description="why some of its numbers are null")


class ReachModel(_Part):
    """The tires over which a ratio is the pick, everything else as in the job."""

    axle_ratio: float = Field(description="tooth ratio [1]")
    name: str = Field(description="ratio, two decimals")
    from_m: float = Field(description="smallest tire diameter [m]")
    to_m: float = Field(description="largest tire diameter [m]")
    from_in: float = Field(description="smallest tire diameter [in]")
    to_in: float = Field(description="largest tire diameter [in]")
    open_below: bool = Field(description="whether the range looked at ends here, not the reach")
    open_above: bool = Field(description="whether the range looked at ends here, not the reach")


class AssumptionModel(_Part):
    """A value taken because nothing gave it."""

    name: str
    value: float | None = Field(description="SI; null where it is no number")
    dimension: str = Field(description="dimension of the value, or 'text'")
    why: str = Field(description="the reason, or the text that was taken")
    text: Words = Field(description="the same for a person")


class RecordModel(_Part):
    """A catalog record that the advice stands on."""

    kind: str
    id: str
    title: str
    source_kind: str | None = Field(
        description="published, measured, common-practice or invented; null: none is given"
    )
    citation: str | None
    confidence: str | None = Field(description="high, medium or low")
    invented: bool = Field(description="whether its figures are made up for a demonstration")
    overridden_by: list[str] = Field(description="catalogs that changed it")


class ExplanationModel(_Part):
    """One thing that would make the report true."""

    kind: Literal[
        "speedometer-not-set", "other-gear", "other-ratio", "other-tires", "converter-unlocked"
    ]
    engine_speed_rpm: float = Field(description="what the engine would have turned then [rpm]")
    deviation: float = Field(description="reported / that - 1 [1]")
    gear: int | None
    axle_ratio: float | None = Field(description="[1]")
    diameter_m: float | None = Field(description="tire diameter [m]")


class EngineSpeedModel(_Part):
    """Reported beside computed engine speed."""

    reported_rpm: float = Field(description="[rpm]")
    at_mps: float = Field(description="true road speed [m/s]")
    gear: int
    gear_named: bool = Field(description="false: the top gear is supposed")
    expected_rpm: float = Field(description="for the ratio and tires now fitted [rpm]")
    deviation: float = Field(description="reported / expected - 1 [1]")
    implied_ratio: float = Field(description="axle ratio that the report speaks for [1]")
    agrees: bool
    explanations: list[ExplanationModel] = Field(description="most fitting first")


class FuelModel(_Part):
    """Reported fuel use beside the model's range; never mixed into it."""

    reported: float = Field(description="as it was read [L/100km]")
    corrected: float = Field(description="with the odometer's error taken out [L/100km]")
    by: Literal["display", "pump"]
    towing: bool
    model_low: float = Field(description="[L/100km]")
    model_mid: float = Field(description="[L/100km]")
    model_high: float = Field(description="[L/100km]")
    deviation: float = Field(description="how far outside the range, 0 inside [1]")
    agrees: bool | None = Field(description="null: the use has no leg of the sort reported on")


class StoryModel(_Part):
    """The owner's report beside the model's figures."""

    agrees: bool | None = Field(description="null: nothing is reported")
    speedometer_error: float = Field(
        description="shown / true - 1 now, if the instrument is as it left the factory [1]"
    )
    speedometer_set: bool | None = Field(description="as the job says; null: it does not")
    engine_speed: EngineSpeedModel | None
    fuel: FuelModel | None
    sentences: list[Words]


class SectionModel(_Part):
    """A section of a plugin."""

    name: str
    title: str
    lines: list[str]


class FaultModel(_Part):
    """What a plugin did wrong."""

    plugin: str
    hook: str
    expected: str
    found: str


Share = Annotated[float, Field(ge=0.0, le=1.0)]


class AdviceDocument(_Part):
    """The answer to one job: an axle ratio, and everything the answer rests on."""

    kind: Literal["advice"] = Field(description="says what the document is")
    format: Literal[1] = Field(description="format of the document")
    generator: Generator
    title: str | None = Field(description="title of the job")
    owner: str | None = Field(description="who asks")
    question: str | None = Field(description="the question in the owner's words")
    vehicle: str = Field(description="title of the vehicle")
    rule_set: str = Field(description="id of the rule set")
    legs: list[str] = Field(description="names of the legs of the use, in the order of leg metrics")
    pick: float | None = Field(description="axle ratio of the pick [1]; null: none can be fitted")
    runner_up: float | None = Field(description="axle ratio of the second best [1]")
    fitted: float = Field(description="axle ratio now fitted [1]")
    keeps: bool = Field(description="whether the pick is what is fitted: keep what you have")
    margin: float | None = Field(description="score of the pick - score of the runner-up")
    tied: bool = Field(description="whether the smaller change from the factory broke a tie")
    confidence: Share | None = Field(
        description="share of slightly changed copies of the job in which the pick stays the pick"
    )
    borderline: bool | None = Field(description="whether the confidence is below the threshold")
    invented: bool = Field(description="whether any record has invented figures")
    candidates: list[CandidateModel] = Field(description="best first; those without rank last")
    metrics: dict[str, MetricModel] = Field(description="the metrics by name")
    reach: list[ReachModel] = Field(description="rising in diameter")
    assumptions: list[AssumptionModel]
    records: list[RecordModel]
    story: StoryModel
    sentences: list[Words] = Field(description="plain sentences for the owner")
    cautions: list[Words] = Field(description="to be shown with the answer, always")
    sections: list[SectionModel] = Field(description="sections of plugins")
    faults: list[FaultModel] = Field(description="what plugins did wrong")
    notices: list[str] = Field(description="records that are deprecated or were renamed")
