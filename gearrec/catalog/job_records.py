"""The job: one vehicle, its tires, load and use, and the question asked.

A job names catalog records by id, or carries the things themselves, so that an application needs
no catalog file of its own. It is frozen: what is worked out from it never changes it.
"""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from gearrec.catalog.consistency import inconsistent
from gearrec.catalog.powertrain_records import (
    AxleData,
    EngineData,
    TransferCaseData,
    TransmissionData,
)
from gearrec.catalog.quantities import Quantity
from gearrec.catalog.record_base import (
    ID_FORM,
    ID_OR_INLINE,
    INLINE_FORM,
    WHOLE,
    AxleRatio,
    EngineSpeed,
    Flag,
    Format,
    Identifier,
    Mass,
    Share,
    Speed,
    Strict,
    Text,
    Title,
    Word,
)
from gearrec.catalog.use_records import UseData
from gearrec.catalog.vehicle_records import PlatformData, TireData, TrailerData

EngineChoice = Annotated[
    Annotated[Identifier, ID_FORM] | Annotated[EngineData, INLINE_FORM], ID_OR_INLINE
]
TransmissionChoice = Annotated[
    Annotated[Identifier, ID_FORM] | Annotated[TransmissionData, INLINE_FORM], ID_OR_INLINE
]
TransferCaseChoice = Annotated[
    Annotated[Identifier, ID_FORM] | Annotated[TransferCaseData, INLINE_FORM], ID_OR_INLINE
]
AxleChoice = Annotated[
    Annotated[Identifier, ID_FORM] | Annotated[AxleData, INLINE_FORM], ID_OR_INLINE
]
TrailerChoice = Annotated[
    Annotated[Identifier, ID_FORM] | Annotated[TrailerData, INLINE_FORM], ID_OR_INLINE
]
UseChoice = Annotated[
    Annotated[Identifier, ID_FORM] | Annotated[UseData, INLINE_FORM], ID_OR_INLINE
]
# A tire's size looks much like an id, so any text is taken; it is an id where the catalog has one.
TireChoice = Annotated[
    Annotated[Annotated[str, Field(min_length=3, max_length=100)], ID_FORM]
    | Annotated[TireData, INLINE_FORM],
    ID_OR_INLINE,
]


class InlineAxles(Strict):
    """The driven axles of a vehicle that the job describes."""

    rear: AxleChoice = Field(description="id of the rear axle, or the axle itself")
    front: AxleChoice | None = Field(
        default=None, description="front axle; due where the front wheels are driven"
    )


class InlineFactory(Strict):
    """What a vehicle that the job describes left the factory with."""

    tire: TireChoice = Field(
        description="id of the tire, its size, or the tire itself", examples=["235/70R16 109T"]
    )
    axle_ratio: AxleRatio = Field(
        description="axle ratio by its name or tooth ratio [1]", examples=[3.36]
    )


class InlinePlatform(PlatformData):
    """A whole vehicle inside a job; each part may still be the id of a catalog record."""

    title: Title
    engine: EngineChoice = Field(description="id of the engine, or the engine itself")
    transmission: TransmissionChoice = Field(
        description="id of the transmission, or the transmission itself"
    )
    axles: InlineAxles = Field(description="the driven axles")
    transfer_case: TransferCaseChoice | None = Field(
        default=None, description="id of the transfer case, or the thing itself; left out: none"
    )
    factory: InlineFactory = Field(description="tires and axle ratio it left the factory with")

    @model_validator(mode="after")
    def _driven(self) -> Self:
        if self.drive != "rear" and self.axles.front is None:
            raise inconsistent("a driven front axle is due for this drive", at=("axles",))
        return self


class BuildSheet(Strict):
    """What this one vehicle left the factory with, where it differs from the platform."""

    tire: TireChoice | None = Field(
        default=None, description="id of the tire, its size, or the tire itself"
    )
    axle_ratio: AxleRatio | None = Field(default=None, description="axle ratio [1]")


class JobTires(Strict):
    """Tires now and planned: an id, a size as on the sidewall, or the tire itself."""

    now: TireChoice | None = Field(
        default=None, description="tires now fitted; left out: the factory's"
    )
    planned: TireChoice | None = Field(
        default=None,
        description="tires the ratio is chosen for; left out: those now fitted",
        examples=["LT215/85R16 E"],
    )
    speedometer_set: Flag | None = Field(
        default=None,
        description="whether the speedometer was set to the tires now fitted; left out: unknown",
    )


class Load(Strict):
    """What the vehicle carries."""

    payload: Mass | None = Field(
        default=None, description="people but the driver, goods; left out: the catalog's default"
    )
    added: Mass | None = Field(
        default=None, description="mass added for good, such as bumpers or a winch [kg]"
    )
    added_on_rear: Annotated[float, Quantity("share", "-50 %", "150 %", "30 %")] | None = Field(
        default=None, description="share of the added mass on the rear axle; left out: as payload"
    )


class Goals(Strict):
    """What the owner wants most, each from 0 to 100 %."""

    economy: Share = Field(default=0.0, description="low fuel use")
    towing: Share = Field(default=0.0, description="ease of towing")
    trail: Share = Field(default=0.0, description="control off the road")
    performance: Share = Field(default=0.0, description="acceleration")


class Reported(Strict):
    """What the owner says; shown beside the model's figures, never mixed into them."""

    engine_speed: EngineSpeed | None = Field(
        default=None, description="engine speed at `road_speed` [rpm]"
    )
    road_speed: Speed | None = Field(default=None, description="road speed [mph, km/h]")
    road_speed_by: Literal["speedometer", "satellite"] = Field(
        default="speedometer", description="what the road speed was read from"
    )
    gear: Annotated[int, Field(strict=True, ge=1, le=12), WHOLE] | None = Field(
        default=None, description="gear it was in; left out: the highest", examples=[6]
    )
    fuel_use: (
        Annotated[float, Quantity("fuel_use", "2 L/100km", "150 L/100km", "21.5 mpg (US)")] | None
    ) = Field(default=None, description="fuel use [L/100km, mpg]")
    fuel_use_by: Literal["display", "pump"] = Field(
        default="display", description="what it was read from: the dash, or fills and odometer"
    )
    towing: Flag = Field(default=False, description="whether the report is about towing")

    @model_validator(mode="after")
    def _pair(self) -> Self:
        if self.engine_speed is not None and self.road_speed is None:
            raise inconsistent(
                "an engine speed says nothing without its road speed", at=("engine_speed",)
            )
        return self


class Job(Strict):
    """One vehicle, its tires, load and use, and the question asked."""

    kind: Literal["job"] = Field(default="job", description="says what the file is")
    format: Format = Field(default=1, description="format of the file")
    title: Title | None = Field(
        default=None, description="name of the job", examples=["Taller tires, some towing"]
    )
    owner: Word | None = Field(default=None, description="who asks", examples=["A. Invented"])
    vehicle: Annotated[
        Annotated[Identifier, ID_FORM] | Annotated[InlinePlatform, INLINE_FORM], ID_OR_INLINE
    ] = Field(
        description="id of the platform, or the whole vehicle",
        examples=["demo/fell"],
    )
    engine: EngineChoice | None = Field(
        default=None, description="engine, where the platform has several or it was swapped"
    )
    transmission: TransmissionChoice | None = Field(
        default=None, description="transmission, where there are several or it was swapped"
    )
    transfer_case: TransferCaseChoice | None = Field(
        default=None, description="transfer case, where it was swapped"
    )
    axles: InlineAxles | None = Field(default=None, description="axles, where they were swapped")
    factory: BuildSheet | None = Field(
        default=None, description="what it left the factory with, where that is not the platform's"
    )
    axle_ratio: AxleRatio | None = Field(
        default=None,
        description="axle ratio now fitted, by name or tooth ratio; left out: the factory's [1]",
        examples=[3.36],
    )
    tires: JobTires = Field(default_factory=JobTires, description="tires now and planned")
    load: Load = Field(default_factory=Load, description="what the vehicle carries")
    trailer: TrailerChoice | None = Field(
        default=None, description="id of the trailer, or the trailer itself"
    )
    use: UseChoice | None = Field(
        default=None, description="id of the use profile, or its legs; left out: the default"
    )
    goals: Goals = Field(default_factory=Goals, description="what the owner wants most")
    reported: Reported = Field(default_factory=Reported, description="what the owner says")
    candidates: tuple[AxleRatio, ...] = Field(
        default=(),
        max_length=40,
        description="axle ratios to look at, and no others; left out: all that can be fitted [1]",
        examples=[[3.62, 3.85, 4.18]],
    )
    rule_set: Identifier | None = Field(
        default=None, description="rule set to judge by; left out: the default"
    )
    question: Text | None = Field(default=None, description="the question in the owner's words")
