"""Cases: jobs with what must come out, so that a catalog carries its own expectations."""

from typing import Annotated, Self

from pydantic import Field, model_validator

from gearrec.catalog.consistency import inconsistent
from gearrec.catalog.job_records import Job
from gearrec.catalog.record_base import (
    ID_FORM,
    ID_OR_INLINE,
    INLINE_FORM,
    AxleRatio,
    Flag,
    Identifier,
    Record,
    Strict,
    Text,
    Word,
)

Number = Annotated[float, Field(strict=True, ge=-1e9, le=1e9)]
MetricName = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=60)]
JobPath = Annotated[str, Field(pattern=r"^[^/\\:].*\.yaml$", max_length=200)]
Amount = Word | Number


class ExpectedMetric(Strict):
    """The value that a metric must have, within a tolerance."""

    metric: MetricName = Field(description="name of the metric", examples=["cruise_engine_speed"])
    ratio: AxleRatio | None = Field(
        default=None, description="candidate it is about; left out: the pick [1]"
    )
    leg: Word | None = Field(default=None, description="leg, for a metric that has one per leg")
    value: Amount = Field(
        description="text with the metric's unit; a bare number where it has none",
        examples=["1720 rpm"],
    )
    tolerance: Amount = Field(
        description="largest difference either way, like `value`; or a share of it such as '3 %'",
        examples=["25 rpm"],
    )


class Expectation(Strict):
    """What must come out; what is left out is not checked."""

    pick: AxleRatio | None = Field(default=None, description="the pick [1]", examples=[3.85])
    acceptable: tuple[AxleRatio, ...] = Field(
        default=(), max_length=20, description="other ratios that would do as the pick [1]"
    )
    runner_up: AxleRatio | None = Field(default=None, description="the runner-up [1]")
    ruled_out: tuple[AxleRatio, ...] = Field(
        default=(), max_length=40, description="ratios that a limit must rule out [1]"
    )
    borderline: Flag | None = Field(
        default=None, description="whether the pick must be flagged as borderline"
    )
    rules_fired: tuple[Identifier, ...] = Field(
        default=(), max_length=60, description="limits and cautions that must fire"
    )
    metrics: tuple[ExpectedMetric, ...] = Field(
        default=(), max_length=60, description="values of metrics"
    )

    @model_validator(mode="after")
    def _something(self) -> Self:
        if not self.model_fields_set:
            raise inconsistent("a case must expect something")
        if self.acceptable and self.pick is None:
            raise inconsistent("acceptable ratios belong to a pick", at=("acceptable",))
        return self


class Case(Record):
    """A job and what must come out of it."""

    why: Text = Field(
        description="why this must come out: the practice or the source behind it",
        examples=["Common practice: keep what you have on factory tires."],
    )
    job: Annotated[Annotated[JobPath, ID_FORM] | Annotated[Job, INLINE_FORM], ID_OR_INLINE] = Field(
        description="the job, or the path of its file from this one's folder"
    )
    expect: Expectation = Field(description="what must come out")
