"""Records of how a vehicle is used: terrain and use profile; and the catalog's named defaults."""

import math
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from gearrec.catalog.consistency import inconsistent
from gearrec.catalog.quantities import Quantity
from gearrec.catalog.record_base import (
    ID_FORM,
    ID_OR_INLINE,
    INLINE_FORM,
    WHOLE,
    Altitude,
    Distance,
    Flag,
    Friction,
    Grade,
    Identifier,
    Inertia,
    Mass,
    Record,
    Share,
    Speed,
    Strict,
    Temperature,
    Text,
    Torque,
    Word,
)

Efficiency = Annotated[float, Quantity("share", "50 %", "100 %", "96 %")]
Tolerance = Annotated[float, Quantity("share", "0 %", "30 %", "2 %")]


class TerrainData(Strict):
    """Terrain as a distribution of grades."""

    grade_deviation: Annotated[float, Quantity("grade", "0 %", "20 %", "2.5 %")] = Field(
        description="standard deviation of the grade; 0 % is level"
    )
    correlation_length: Distance = Field(
        description="distance over which the grade stays alike; sets how often it changes [m]",
        examples=["400 m"],
    )


class Terrain(Record, TerrainData):
    """A kind of terrain, such as rolling or mountain."""


class Leg(Strict):
    """One part of a use."""

    name: Word = Field(description="name of the leg, unique in the use", examples=["highway"])
    share: Share = Field(description="share of the distance; the legs make up 100 %")
    speed: Speed = Field(description="speed while moving [mph, km/h]")
    terrain: Annotated[
        Annotated[Identifier, ID_FORM] | Annotated[TerrainData, INLINE_FORM], ID_OR_INLINE
    ] = Field(description="id of the terrain, or the terrain itself", examples=["core/rolling"])
    altitude: Altitude | None = Field(default=None, description="above the sea [m, ft]")
    temperature: Temperature | None = Field(
        default=None, description="of the air; left out: standard air for the altitude [degC]"
    )
    towing: Flag = Field(default=False, description="whether the trailer is towed on this leg")
    range: Literal["high", "low"] = Field(
        default="high", description="range of the transfer case", examples=["high"]
    )
    stops: (
        Annotated[float, Quantity("revs_per_distance", "0 1/km", "30 1/km", "1.5 1/mi")] | None
    ) = Field(default=None, description="full stops per distance; left out: none [1/mi, 1/km]")
    standing: Annotated[float, Quantity("share", "0 %", "90 %", "20 %")] | None = Field(
        default=None, description="share of the time standing with the engine idling"
    )


class UseData(Strict):
    """A use as the catalog or a job describes it."""

    legs: tuple[Leg, ...] = Field(min_length=1, max_length=24, description="parts of the use")

    @model_validator(mode="after")
    def _legs(self) -> Self:
        names: set[str] = set()
        for place, leg in enumerate(self.legs):
            if leg.name in names:
                raise inconsistent(f"two legs are called {leg.name!r}", at=("legs", place, "name"))
            names.add(leg.name)
        total = math.fsum(leg.share for leg in self.legs)
        if abs(total - 1.0) > 0.005:
            raise inconsistent(
                f"the legs' shares make up {total:.1%}; allowed: 100 % (within 0.5 %)",
                at=("legs",),
            )
        return self


class UseProfile(Record, UseData):
    """A named use: legs with their shares of the distance."""


class GearboxDefaults(Strict):
    """Losses and choice of gears where a transmission gives none."""

    direct: Efficiency = Field(description="efficiency in a gear of ratio 1")
    other: Efficiency = Field(description="efficiency in the other gears")
    drag_share: Annotated[float, Quantity("share", "0 %", "5 %", "0.5 %")] = Field(
        description="constant drag at the input / the engine's peak torque"
    )
    torque_reserve: Annotated[float, Quantity("share", "0 %", "40 %", "10 %")] = Field(
        description="share of torque kept in hand when a gear is chosen"
    )
    shift_time: Annotated[float, Quantity("time", "0 s", "3 s", "0.4 s")] = Field(
        description="time without drive for each gear change"
    )


class Tolerances(Strict):
    """How far inputs may be off: half-width of the range that is sampled for the confidence."""

    tire_diameter: Tolerance = Field(description="of the tire diameter")
    mass: Tolerance = Field(description="of all masses")
    drag: Tolerance = Field(description="of the drag area")
    rolling: Tolerance = Field(description="of the rolling coefficient")
    torque: Tolerance = Field(description="of the engine's torque")
    speed: Tolerance = Field(description="of the legs' speeds")


class Defaults(Record):
    """Named values taken where an input gives none; each one taken is reported as an assumption."""

    use: Identifier = Field(description="use profile taken where a job gives none")
    rule_set: Identifier = Field(description="rule set taken where none is asked for")
    tire_type: Identifier = Field(description="tire type taken where a tire gives none")
    driver_and_tools: Mass = Field(description="mass of the driver and what is always in the cab")
    payload: Mass = Field(description="payload taken where a job gives none")
    altitude: Altitude = Field(description="altitude of a leg that gives none")
    temperature_above_standard: Annotated[
        float, Quantity("temperature_difference", "-40 K", "40 K", "0 K")
    ] = Field(description="air temperature of a leg that gives none, above the standard atmosphere")
    stops: Annotated[float, Quantity("revs_per_distance", "0 1/km", "30 1/km", "0 1/km")] = Field(
        description="full stops per distance of a leg that gives none"
    )
    standing: Annotated[float, Quantity("share", "0 %", "90 %", "0 %")] = Field(
        description="share of the time standing of a leg that gives none"
    )
    front_share: Annotated[float, Quantity("share", "30 %", "70 %", "56 %")] = Field(
        description="share of the curb mass on the front axle"
    )
    payload_on_rear: Annotated[float, Quantity("share", "0 %", "130 %", "85 %")] = Field(
        description="share of payload that rests on the rear axle"
    )
    hitch_overhang_share: Annotated[float, Quantity("share", "0 %", "80 %", "38 %")] = Field(
        description="from the rear axle back to the hitch ball / wheelbase"
    )
    automatic: GearboxDefaults = Field(description="for automatic transmissions")
    manual: GearboxDefaults = Field(description="for manual transmissions")
    clutch_start_speed: Annotated[
        float, Quantity("engine_speed", "500 rpm", "4000 rpm", "1200 rpm")
    ] = Field(description="engine speed at which a clutch is let in for a hard start")
    transfer_efficiency_high: Efficiency = Field(description="of a transfer case in high range")
    transfer_efficiency_low: Efficiency = Field(description="of a transfer case in low range")
    axle_efficiency: Efficiency = Field(description="proportional part of an axle's losses")
    axle_drag_constant: Torque = Field(description="constant drag of an axle at the wheels")
    axle_drag_per_ratio: Torque = Field(description="further drag per unit of axle ratio")
    wheel_mass: Annotated[float, Quantity("mass", "4 kg", "150 kg", "27 kg")] = Field(
        description="mass of one tire and wheel of 31.5 in; other diameters by the cube"
    )
    wheel_radius_share: Annotated[float, Quantity("share", "40 %", "100 %", "78 %")] = Field(
        description="radius of gyration of tire and wheel / outer radius"
    )
    engine_inertia_per_liter: Inertia = Field(
        description="engine's rotating inertia per liter, with flywheel or converter"
    )
    light_lug_share: Annotated[float, Quantity("share", "50 %", "100 %", "80 %")] = Field(
        description="speed below which a gear is not used at all / lug speed"
    )
    friction_coefficient: Friction = Field(
        description="largest traction force / load on dry pavement [1]", examples=[0.8]
    )
    tread_depth: Annotated[float, Quantity("length", "3 mm", "30 mm", "9 mm")] = Field(
        description="tread depth of a new tire"
    )
    reference_grade: Grade = Field(description="grade of the long climb")
    passing_margin: Annotated[float, Quantity("speed", "0 km/h", "60 km/h", "10 mph")] = Field(
        description="above the fastest leg, for the highest engine speed"
    )
    match_tolerance: Annotated[float, Quantity("share", "0 %", "2 %", "0.5 %")] = Field(
        description="largest difference of front and rear tooth ratio"
    )
    ratio_name_tolerance: Annotated[float, Quantity("share", "0 %", "2 %", "0.6 %")] = Field(
        description="how far a ratio's name may be from the tooth ratio it stands for"
    )
    reported_speed_tolerance: Tolerance = Field(
        description="how far a reported engine speed may be from the computed one"
    )
    reported_fuel_tolerance: Tolerance = Field(
        description="how far a reported fuel use may be outside the computed range"
    )
    tolerances: Tolerances = Field(description="how far inputs may be off")
    samples: Annotated[int, Field(strict=True, ge=16, le=4096), WHOLE] = Field(
        description="number of disturbed lanes behind the confidence", examples=[256]
    )
    tie: Annotated[float, Quantity("share", "0 %", "5 %", "0.2 %")] = Field(
        description="difference of aggregate scores that is still a tie"
    )
    borderline: Annotated[float, Quantity("share", "50 %", "100 %", "80 %")] = Field(
        description="confidence below which a pick is flagged as borderline"
    )
    reasons: dict[str, Text] = Field(
        default={}, description="why each value was chosen, by its name"
    )
