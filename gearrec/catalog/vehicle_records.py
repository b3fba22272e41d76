"""Records of the vehicle around its powertrain: tires, trailer, platform."""

from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator
from pydantic_core import PydanticCustomError

from gearrec.catalog.consistency import inconsistent
from gearrec.catalog.quantities import Quantity
from gearrec.catalog.record_base import (
    NOT_A_FLAG,
    AxleRatio,
    Coefficient,
    DragArea,
    Factor,
    Flag,
    Friction,
    Identifier,
    Inertia,
    Mass,
    Record,
    Strict,
)
from gearrec.errors import TireSizeError

VehicleMass = Annotated[float, Quantity("mass", "400 kg", "20000 kg", "4380 lb")]
TireMass = Annotated[float, Quantity("mass", "4 kg", "150 kg", "46 lb")]
RevsPerDistance = Annotated[
    float, Quantity("revs_per_distance", "200 1/mi", "1500 1/mi", "705 1/mi")
]
ShaftLength = Annotated[float, Quantity("length", "0.2 m", "3.5 m", "58 in")]
ShaftDiameter = Annotated[float, Quantity("length", "30 mm", "250 mm", "3.5 in")]
ShaftWall = Annotated[float, Quantity("length", "0.8 mm", "15 mm", "0.083 in")]


def _tire_size(text: str) -> str:
    from gearrec import tires

    try:
        tires.parse_size(text)
    except TireSizeError as error:
        raise PydanticCustomError("tire-size", "{reason}", {"reason": str(error)}) from None
    return text


TireSizeText = Annotated[
    str,
    Field(
        min_length=3,
        max_length=60,
        description="designation as on the sidewall",
        examples=["LT215/85R16 115/112Q E"],
    ),
    AfterValidator(_tire_size),
]


class TireTypeData(Strict):
    """What tires of one tread type have in common."""

    rolling_coefficient: Coefficient = Field(
        description="rolling resistance force / load on the road, warm [1]", examples=[0.010]
    )
    friction_coefficient: Friction = Field(
        description="largest traction force / load on dry pavement [1]", examples=[0.85]
    )
    tread_depth: Annotated[float, Quantity("length", "3 mm", "30 mm", "10 mm")] | None = Field(
        default=None, description="tread depth of a new tire [mm]", examples=["10 mm"]
    )
    mass_factor: Factor | None = Field(
        default=None,
        description="mass against a highway tire of the same size [1]; left out: 1",
        examples=[1.15],
    )


class TireType(Record, TireTypeData):
    """A tread type, such as all-terrain."""


class TireData(Strict):
    """A tire as the catalog or a job describes it."""

    size: TireSizeText
    type: Identifier | None = Field(
        default=None, description="id of the tire type", examples=["core/all-terrain"]
    )
    revs_per_mile: RevsPerDistance | None = Field(
        default=None, description="published or measured turns per distance [1/mi, 1/km]"
    )
    diameter: Annotated[float, Quantity("length", "0.4 m", "1.6 m", "28.7 in")] | None = Field(
        default=None, description="measured free diameter, new, where it differs from the size [in]"
    )
    mass: TireMass | None = Field(default=None, description="mass of one tire and wheel [kg]")
    inertia: Inertia | None = Field(
        default=None, description="rotating inertia of one tire and wheel [kg*m^2]"
    )
    rolling_coefficient: Coefficient | None = Field(
        default=None, description="where it differs from the type's [1]"
    )


class Tire(Record, TireData):
    """A tire that can be fitted."""


class TrailerData(Strict):
    """A trailer as the catalog or a job describes it."""

    mass: Annotated[float, Quantity("mass", "50 kg", "20000 kg", "6500 lb")] = Field(
        description="mass as towed, load included [kg]"
    )
    drag_area: DragArea = Field(
        description="drag coefficient x frontal area that it adds behind the vehicle [m^2]"
    )
    rolling_coefficient: Coefficient = Field(
        description="rolling resistance force / load of its tires [1]", examples=[0.010]
    )
    tongue_share: Annotated[float, Quantity("share", "0 %", "35 %", "12 %")] = Field(
        description="share of its mass that rests on the hitch"
    )


class Trailer(Record, TrailerData):
    """A trailer with its load."""


class RoadLoad(Strict):
    """Coast-down coefficients on level road: force = a + b v + c v^2."""

    a: Annotated[float, Quantity("force", "-200 N", "3000 N", "41.5 lbf")] = Field(
        description="constant part [N, lbf]"
    )
    b: Annotated[float, Quantity("force_per_speed", "-60 N*s/m", "120 N*s/m", "0.68 lbf/mph")] = (
        Field(description="part in proportion to speed [N*s/m, lbf/mph]")
    )
    c: Annotated[
        float, Quantity("force_per_speed2", "0 N*s^2/m^2", "15 N*s^2/m^2", "0.0185 lbf/mph^2")
    ] = Field(description="part with the square of speed [N*s^2/m^2, lbf/mph^2]")
    test_mass: VehicleMass = Field(description="mass of the vehicle in the coast-down test [kg]")
    includes_driveline: Flag = Field(
        default=True,
        description="whether the drag of axle and gearbox in neutral is in the coefficients",
    )


class Driveshaft(Strict):
    """The shaft into the rear axle, for its critical speed."""

    length: ShaftLength = Field(description="longest piece between joint centers [in]")
    outer_diameter: ShaftDiameter = Field(description="outer diameter of the tube [in]")
    wall: ShaftWall = Field(description="wall thickness of the tube [in]")
    material: Literal["steel", "aluminum"] = Field(
        description="material of the tube", examples=["steel"]
    )
    pieces: Annotated[Literal[1, 2], NOT_A_FLAG] = Field(
        default=1, description="1, or 2 with a center bearing; `length` is one piece's"
    )

    @model_validator(mode="after")
    def _tube(self) -> Self:
        if self.wall * 2.0 >= self.outer_diameter:
            raise inconsistent("the walls leave no tube", at=("wall",))
        return self


class Powertrain(Strict):
    """An engine and a transmission that the platform was built with."""

    engine: Identifier = Field(description="id of the engine", examples=["demo/skep-diesel"])
    transmission: Identifier = Field(
        description="id of the transmission", examples=["demo/fell-seven"]
    )


class Factory(Strict):
    """What the vehicle left the factory with."""

    tire: Identifier = Field(description="id of the tire", examples=["demo/fell-road"])
    axle_ratio: AxleRatio = Field(
        description="axle ratio by its name or tooth ratio [1]", examples=[3.36]
    )


class Axles(Strict):
    """The driven axles."""

    rear: Identifier = Field(description="id of the rear axle", examples=["demo/fell-rear"])
    front: Identifier | None = Field(
        default=None, description="id of the front axle; due where the front wheels are driven"
    )


class PlatformData(Strict):
    """The vehicle but for the records that it refers to."""

    curb_mass: VehicleMass = Field(
        description="mass ready to drive, fuel full, nobody and nothing in it [kg]"
    )
    gross_rating: VehicleMass = Field(description="gross vehicle mass rating on the label [kg]")
    gross_combined_rating: Mass | None = Field(
        default=None, description="gross mass rating with trailer [kg]"
    )
    axle_rating_front: VehicleMass | None = Field(
        default=None, description="front gross axle mass rating [kg]"
    )
    axle_rating_rear: VehicleMass | None = Field(
        default=None, description="rear gross axle mass rating [kg]"
    )
    front_share: Annotated[float, Quantity("share", "30 %", "70 %", "56 %")] | None = Field(
        default=None, description="share of the curb mass on the front axle"
    )
    payload_on_rear: Annotated[float, Quantity("share", "0 %", "130 %", "85 %")] | None = Field(
        default=None, description="share of payload that rests on the rear axle"
    )
    wheelbase: Annotated[float, Quantity("length", "1.5 m", "6 m", "126 in")] | None = Field(
        default=None, description="distance between the axles [in]"
    )
    hitch_overhang: Annotated[float, Quantity("length", "0 m", "3 m", "47 in")] | None = Field(
        default=None, description="from the rear axle back to the hitch ball [in]"
    )
    drive: Literal["rear", "part-time-four", "full-time-four"] = Field(
        description="which wheels are driven", examples=["part-time-four"]
    )
    dual_rear_wheels: Flag = Field(
        default=False, description="whether the rear axle has two wheels on each side"
    )
    speed_sensor: Literal["before-axle", "after-axle"] = Field(
        description="where road speed is sensed: transmission output, or at the wheels",
        examples=["after-axle"],
    )
    drag_area: DragArea | None = Field(
        default=None, description="drag coefficient x frontal area [m^2]; or give `road_load`"
    )
    road_load: RoadLoad | None = Field(
        default=None, description="coast-down coefficients; or give `drag_area`"
    )
    driveshaft: Driveshaft | None = Field(
        default=None, description="left out: the driveshaft's margin is unknown"
    )

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        if self.gross_rating < self.curb_mass:
            raise inconsistent(
                "the gross rating must not be below the curb mass", at=("gross_rating",)
            )
        if (self.drag_area is None) == (self.road_load is None):
            raise inconsistent("give either drag_area or road_load, and only one of them")
        return self


class Platform(Record, PlatformData):
    """A vehicle as built: its powertrains, axles and what it left the factory with."""

    powertrains: tuple[Powertrain, ...] = Field(
        min_length=1,
        max_length=40,
        description="engines with their transmissions; the first is taken where a job names none",
    )
    axles: Axles = Field(description="the driven axles")
    transfer_case: Identifier | None = Field(
        default=None, description="id of the transfer case; left out: none"
    )
    factory: Factory = Field(description="tires and axle ratio it left the factory with")

    @model_validator(mode="after")
    def _driven(self) -> Self:
        if self.drive != "rear" and self.axles.front is None:
            raise inconsistent("a driven front axle is due for this drive", at=("axles",))
        return self


__all__ = [
    "Axles",
    "Driveshaft",
    "Factory",
    "Platform",
    "PlatformData",
    "Powertrain",
    "RoadLoad",
    "Tire",
    "TireData",
    "TireSizeText",
    "TireType",
    "TireTypeData",
    "Trailer",
    "TrailerData",
]
