"""Records of what makes and carries torque: engine class, engine, transmission, axle."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from gearrec.catalog.consistency import inconsistent, rising
from gearrec.catalog.quantities import Quantity
from gearrec.catalog.record_base import (
    WHOLE,
    EngineSpeed,
    Identifier,
    Inertia,
    Pressure,
    Record,
    Strict,
    Torque,
    Word,
)

Displacement = Annotated[float, Quantity("volume", "0.3 L", "30 L", "1.72 L")]
GearRatio = Annotated[float, Field(strict=True, ge=0.3, le=25.0)]
Efficiency = Annotated[float, Quantity("share", "50 %", "100 %", "96 %")]


class Fuel(Strict):
    """The fuel, as the fuel model needs it."""

    name: Literal["diesel", "gasoline"] = Field(description="name of the fuel", examples=["diesel"])
    lower_heating_value: Annotated[
        float, Quantity("specific_energy", "20 MJ/kg", "60 MJ/kg", "42.7 MJ/kg")
    ] = Field(description="energy set free per mass, water as vapor [MJ/kg]")
    density: Annotated[float, Quantity("density", "500 kg/m^3", "1100 kg/m^3", "836 kg/m^3")] = (
        Field(description="mass per volume at the pump [kg/m^3]")
    )


class FrictionPressure(Strict):
    """Friction mean effective pressure: constant + linear x n + square x n^2, n in 1000 rpm."""

    constant: Pressure = Field(description="part that does not depend on engine speed [kPa]")
    linear_per_1000rpm: Pressure = Field(description="part per 1000 rpm [kPa]")
    square_per_1000rpm: Pressure = Field(description="part per (1000 rpm) squared [kPa]")


class EfficiencyRange(Strict):
    """Indicated efficiency of the fuel model as a range; the range becomes the fuel range."""

    low: Annotated[float, Quantity("share", "15 %", "60 %", "38 %")] = Field(
        description="least efficient engine of the class"
    )
    mid: Annotated[float, Quantity("share", "15 %", "60 %", "42 %")] = Field(
        description="typical engine of the class"
    )
    high: Annotated[float, Quantity("share", "15 %", "60 %", "46 %")] = Field(
        description="most efficient engine of the class"
    )

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if not self.low <= self.mid <= self.high:
            raise inconsistent("low, mid and high must rise", at=("mid",))
        return self


class CruiseBand(Strict):
    """Engine speeds in steady cruise that suit engines of this class."""

    low: EngineSpeed = Field(description="below this the class is unhappy at cruise [rpm]")
    comfortable_low: EngineSpeed = Field(description="lower end of the comfortable band [rpm]")
    comfortable_high: EngineSpeed = Field(description="upper end of the comfortable band [rpm]")
    high: EngineSpeed = Field(description="above this it is too loud and thirsty [rpm]")

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if not self.low <= self.comfortable_low <= self.comfortable_high <= self.high:
            raise inconsistent("low, comfortable_low, comfortable_high and high must rise")
        return self


class AltitudeLoss(Strict):
    """How full-load torque falls with altitude."""

    flat_to: Annotated[float, Quantity("length", "0 m", "5000 m", "2300 m")] = Field(
        description="altitude up to which torque is kept; 0 m for a natural aspiration engine"
    )
    loss_per_100m: Annotated[float, Quantity("share", "0 %", "3 %", "1 %")] | None = Field(
        default=None,
        description="torque lost per 100 m above it; left out: computed from air density",
    )


class EngineClassData(Strict):
    """What engines of one kind have in common: the trade's judgement and the fuel model."""

    aspiration: Literal["natural", "boosted"] = Field(
        description="whether a compressor feeds the engine", examples=["boosted"]
    )
    fuel: Fuel = Field(description="fuel burnt")
    friction: FrictionPressure = Field(description="friction of the fuel model")
    indicated_efficiency: EfficiencyRange = Field(description="efficiency of the fuel model")
    lug_speed: EngineSpeed = Field(description="below this speed high load is lugging [rpm]")
    cruise: CruiseBand = Field(description="engine speeds that suit steady cruise")
    idle_fuel_pressure: Annotated[float, Quantity("pressure", "20 kPa", "800 kPa", "200 kPa")] = (
        Field(
            description="fuel energy burnt at idle per turn of the engine and displacement "
            "[kPa = J/L per turn]"
        )
    )
    altitude: AltitudeLoss = Field(description="torque at altitude")


class EngineClass(Record, EngineClassData):
    """A kind of engine, such as 'small turbo-diesel'."""


class TorquePoint(Strict):
    """One point of a full-load curve."""

    speed: EngineSpeed = Field(description="engine speed [rpm]")
    torque: Torque = Field(description="net torque at full load, sea level [N*m]")


class ConsumptionMap(Strict):
    """Specific fuel consumption over engine speed and torque, on a full grid."""

    speeds: tuple[EngineSpeed, ...] = Field(
        min_length=2,
        max_length=60,
        description="engine speeds of the columns, rising [rpm]",
    )
    torques: tuple[Torque, ...] = Field(
        min_length=2, max_length=60, description="torques of the rows, rising [N*m]"
    )
    consumption: tuple[
        tuple[
            Annotated[
                float, Quantity("specific_consumption", "150 g/kWh", "3000 g/kWh", "215 g/kWh")
            ],
            ...,
        ],
        ...,
    ] = Field(description="one row per torque, one figure per speed [g/kWh]")

    @model_validator(mode="after")
    def _grid(self) -> Self:
        rising(self.speeds, at=("speeds",))
        rising(self.torques, at=("torques",))
        if len(self.consumption) != len(self.torques):
            raise inconsistent("one row is due for each torque", at=("consumption",))
        for row, figures in enumerate(self.consumption):
            if len(figures) != len(self.speeds):
                raise inconsistent("one figure is due for each speed", at=("consumption", row))
        return self


class EngineData(Strict):
    """An engine as the catalog or a job describes it."""

    engine_class: Identifier = Field(
        description="id of the engine's class", examples=["core/diesel-small"]
    )
    displacement: Displacement = Field(description="swept volume of all cylinders [L]")
    torque_curve: tuple[TorquePoint, ...] = Field(
        min_length=3,
        max_length=100,
        description="full-load torque by rising engine speed; nothing is assumed outside it",
    )
    idle_speed: EngineSpeed = Field(description="warm idle speed [rpm]", examples=["680 rpm"])
    governed_speed: EngineSpeed = Field(
        description="highest speed that the governor or limiter allows [rpm]"
    )
    inertia: Inertia | None = Field(
        default=None, description="rotating inertia with flywheel or converter [kg*m^2]"
    )
    lug_speed: EngineSpeed | None = Field(
        default=None, description="where it differs from the class [rpm]"
    )
    cruise: CruiseBand | None = Field(default=None, description="where it differs from the class")
    consumption_map: ConsumptionMap | None = Field(
        default=None, description="measured fuel consumption; left out: the class's fuel model"
    )

    @model_validator(mode="after")
    def _curve(self) -> Self:
        speeds = [point.speed for point in self.torque_curve]
        rising(speeds, at=("torque_curve",), item="speed")
        if self.idle_speed >= self.governed_speed:
            raise inconsistent("the governed speed must be above idle", at=("governed_speed",))
        if speeds[0] > 2.0 * self.idle_speed or speeds[-1] < 0.6 * self.governed_speed:
            raise inconsistent(
                "the curve must reach from near idle (at most twice idle) to near the governed "
                "speed (at least 60 % of it)",
                at=("torque_curve",),
            )
        return self


class Engine(Record, EngineData):
    """An engine with its full-load torque curve."""


class Converter(Strict):
    """The torque converter of an automatic transmission."""

    stall_speed: EngineSpeed = Field(description="engine speed at stall and full torque [rpm]")
    stall_torque_ratio: Annotated[float, Field(strict=True, ge=1.0, le=4.0)] = Field(
        description="torque out / torque in at stall", examples=[1.9]
    )
    lockup_from_gear: Annotated[int, Field(strict=True, ge=1, le=12), WHOLE] | Literal["never"] = (
        Field(description="lowest gear in which the converter can lock, or never", examples=[2])
    )


class GearboxEfficiency(Strict):
    """Losses of the gearbox: a part in proportion to torque, and a constant drag."""

    direct: Efficiency = Field(description="efficiency in a gear of ratio 1")
    other: Efficiency = Field(description="efficiency in the other gears")
    drag_torque: Torque | None = Field(
        default=None, description="constant drag at the input [N*m]", examples=["6 N*m"]
    )


class TransmissionData(Strict):
    """A transmission as the catalog or a job describes it."""

    type: Literal["automatic", "manual"] = Field(
        description="automatic with torque converter, or manual with clutch", examples=["automatic"]
    )
    gears: tuple[GearRatio, ...] = Field(
        min_length=2,
        max_length=12,
        description="ratios from first gear to the highest, falling [1]",
        examples=[[4.64, 2.97, 2.03, 1.42, 1.0, 0.81, 0.68]],
    )
    reverse: GearRatio | None = Field(default=None, description="ratio of reverse [1]")
    converter: Converter | None = Field(
        default=None, description="the torque converter; due for an automatic"
    )
    efficiency: GearboxEfficiency | None = Field(
        default=None, description="losses; left out: the catalog's defaults"
    )
    torque_reserve: Annotated[float, Quantity("share", "0 %", "40 %", "10 %")] | None = Field(
        default=None, description="share of torque kept in hand when a gear is chosen"
    )
    torque_rating: Torque | None = Field(default=None, description="rated input torque [N*m]")

    @model_validator(mode="after")
    def _sense(self) -> Self:
        for place in range(1, len(self.gears)):
            if self.gears[place] >= self.gears[place - 1]:
                raise inconsistent(
                    "each gear must have a lower ratio than the one before", at=("gears", place)
                )
        if self.type == "automatic" and self.converter is None:
            raise inconsistent("an automatic needs its converter", at=("type",))
        if self.type == "manual" and self.converter is not None:
            raise inconsistent("a manual has no converter", at=("converter",))
        locked_from = None if self.converter is None else self.converter.lockup_from_gear
        if isinstance(locked_from, int) and locked_from > len(self.gears):
            raise inconsistent("there is no such gear", at=("converter", "lockup_from_gear"))
        return self


class Transmission(Record, TransmissionData):
    """A gearbox with its ratios."""


class TransferCaseData(Strict):
    """A transfer case as the catalog or a job describes it."""

    low_range: Annotated[float, Field(strict=True, ge=1.0, le=8.0)] = Field(
        description="ratio of low range [1]; 1 where there is none", examples=[2.51]
    )
    efficiency_high: Efficiency | None = Field(default=None, description="efficiency, high range")
    efficiency_low: Efficiency | None = Field(default=None, description="efficiency, low range")


class TransferCase(Record, TransferCaseData):
    """A transfer case with its low range."""


class GearSet(Strict):
    """A ring and pinion that can be bought for an axle."""

    ring_teeth: Annotated[int, Field(strict=True, ge=20, le=90), WHOLE] = Field(
        description="teeth of the ring gear", examples=[47]
    )
    pinion_teeth: Annotated[int, Field(strict=True, ge=4, le=30), WHOLE] = Field(
        description="teeth of the pinion", examples=[13]
    )
    carrier: Word | None = Field(
        default=None,
        description="carrier that the set needs, where the axle has more than one",
        examples=["deep"],
    )

    @property
    def ratio(self) -> float:
        """Tooth ratio [1]."""
        return self.ring_teeth / self.pinion_teeth


class AxleData(Strict):
    """A driven axle as the catalog or a job describes it."""

    position: Literal["front", "rear"] = Field(description="where it sits", examples=["rear"])
    ring_gear: Annotated[float, Quantity("length", "4 in", "20 in", "217 mm")] = Field(
        description="outer diameter of the ring gear [in]"
    )
    gear_sets: tuple[GearSet, ...] = Field(
        min_length=1, max_length=40, description="gear sets that exist for the axle"
    )
    torque_rating: Torque | None = Field(
        default=None, description="largest rated torque at the wheels, both together [N*m]"
    )
    efficiency: Efficiency | None = Field(default=None, description="proportional part of losses")
    drag_torque: Torque | None = Field(
        default=None, description="constant drag at the wheels [N*m]", examples=["40 N*m"]
    )

    @model_validator(mode="after")
    def _distinct(self) -> Self:
        seen: set[tuple[int, int]] = set()
        for place, gear_set in enumerate(self.gear_sets):
            teeth = (gear_set.ring_teeth, gear_set.pinion_teeth)
            if teeth in seen:
                raise inconsistent("this gear set is listed twice", at=("gear_sets", place))
            if not 2.0 <= gear_set.ratio <= 9.0:
                raise inconsistent(
                    f"tooth ratio {gear_set.ratio:.3f} is outside the sane limits; allowed: 2 to 9",
                    at=("gear_sets", place, "ring_teeth"),
                )
            seen.add(teeth)
        return self


class Axle(Record, AxleData):
    """A driven axle and the gear sets that exist for it."""


__all__ = [
    "AltitudeLoss",
    "Axle",
    "AxleData",
    "ConsumptionMap",
    "Converter",
    "CruiseBand",
    "EfficiencyRange",
    "Engine",
    "EngineClass",
    "EngineClassData",
    "EngineData",
    "FrictionPressure",
    "Fuel",
    "GearSet",
    "GearboxEfficiency",
    "TorquePoint",
    "TransferCase",
    "TransferCaseData",
    "Transmission",
    "TransmissionData",
]
