"""A vehicle made ready for the arrays: its records turned into plain numbers, defaults named.

What does not depend on a job's tires, load and use is worked out once and shared by every job about
the same vehicle. Each default taken is kept by name, for the advice to report.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from gearrec import driveline, engine, fuel, fuel_fit
from gearrec import transmission as gearboxes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gearrec.candidates import Candidate
    from gearrec.catalog.powertrain_records import (
        AxleData,
        ConsumptionMap,
        CruiseBand,
        EngineClass,
        EngineData,
        TransferCaseData,
        TransmissionData,
    )
    from gearrec.catalog.use_records import Defaults
    from gearrec.catalog.vehicle_records import PlatformData, TireData, TireType

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Assumption:
    """A value that was taken because no input gave it."""

    name: str
    value: float
    dimension: str
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedTire:
    """A tire of the job: SI, capacity in kg, NaN where the size tells no load index."""

    text: str
    diameter_m: float
    circumference_m: float
    section_width_m: float
    capacity_kg: float
    capacity_dual_kg: float
    rolling_coefficient: float
    friction_coefficient: float
    mass_kg: float
    inertia_kg_m2: float
    passenger: bool
    measured_revs: bool
    assumptions: tuple[Assumption, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Vehicle:
    """One vehicle with its candidates; arrays as in `lanes.Lanes`, without the lane axis."""

    title: str
    platform: PlatformData
    engine: EngineData
    engine_class: EngineClass
    transmission: TransmissionData
    transfer_case: TransferCaseData | None
    rear_axle: AxleData
    front_axle: AxleData | None
    factory_tire: FittedTire
    cruise: CruiseBand

    candidates: tuple[Candidate, ...]
    factory_ratio: float
    fitted_ratio: float
    scalars: dict[str, float]
    gear_ratio: Floats
    gear_efficiency: Floats
    gear_locked: npt.NDArray[np.bool_]
    torque_nm: Floats
    assumptions: tuple[Assumption, ...]

    @property
    def peak_torque_nm(self) -> float:
        """Highest point of the torque curve [N m]."""
        return max(point.torque for point in self.engine.torque_curve)

    @property
    def wheels(self) -> int:
        """Number of wheels on the ground."""
        return 6 if self.platform.dual_rear_wheels else 4


def prepare(
    *,
    title: str,
    platform: PlatformData,
    engine_record: EngineData,
    engine_class: EngineClass,
    transmission: TransmissionData,
    transfer_case: TransferCaseData | None,
    rear_axle: AxleData,
    front_axle: AxleData | None,
    factory_tire: FittedTire,
    factory_ratio: float,
    fitted_ratio: float,
    candidates: Sequence[Candidate],
    defaults: Defaults,
) -> Vehicle:
    """Work out everything about a vehicle that no tire, load or use changes."""
    taken = _Taken(defaults)
    gearbox = defaults.automatic if transmission.type == "automatic" else defaults.manual
    kind = transmission.type
    points = engine_record.torque_curve
    peak = max(point.torque for point in points)
    lug = engine_record.lug_speed or engine_class.lug_speed
    curve = engine.uniform_curve(
        curve_speed_rpm=[point.speed for point in points],
        curve_torque_nm=[point.torque for point in points],
    )
    gears = np.array(transmission.gears)
    losses = transmission.efficiency
    direct = losses.direct if losses else taken.of(f"{kind}.direct", gearbox.direct, "share")
    other = losses.other if losses else taken.of(f"{kind}.other", gearbox.other, "share")
    gearbox_drag = losses.drag_torque if losses else None
    if gearbox_drag is None:
        gearbox_drag = peak * taken.of(f"{kind}.drag_share", gearbox.drag_share, "share")
    axle_drag = rear_axle.drag_torque
    if axle_drag is None:
        axle_drag = taken.of(
            "axle_drag_constant", defaults.axle_drag_constant, "torque"
        ) + factory_ratio * taken.of("axle_drag_per_ratio", defaults.axle_drag_per_ratio, "torque")
    # The coast-down coefficients already hold what the driveline drags in neutral.
    measured = platform.road_load is not None and platform.road_load.includes_driveline
    drag = gearbox_drag * float(gears[-1]) * factory_ratio + (0.0 if measured else axle_drag)
    converter = transmission.converter
    front_share = taken.known("front_share", platform.front_share, defaults.front_share, "share")
    overhang_share = (
        platform.hitch_overhang / platform.wheelbase
        if platform.hitch_overhang is not None and platform.wheelbase is not None
        else taken.of("hitch_overhang_share", defaults.hitch_overhang_share, "share")
    )
    case = transfer_case
    reserve = taken.known(
        f"{kind}.torque_reserve", transmission.torque_reserve, gearbox.torque_reserve, "share"
    )
    road_load = platform.road_load
    scalars = {
        "factory_ratio": factory_ratio,
        "fitted_ratio": fitted_ratio,
        "reverse_ratio": math.nan if transmission.reverse is None else transmission.reverse,
        "low_range_ratio": case.low_range if case else 1.0,
        "transfer_high_efficiency": taken.known(
            "transfer_efficiency_high",
            case.efficiency_high,
            defaults.transfer_efficiency_high,
            "share",
        )
        if case
        else 1.0,
        "transfer_low_efficiency": taken.known(
            "transfer_efficiency_low",
            case.efficiency_low,
            defaults.transfer_efficiency_low,
            "share",
        )
        if case
        else 1.0,
        "axle_efficiency": taken.known(
            "axle_efficiency", rear_axle.efficiency, defaults.axle_efficiency, "share"
        ),
        "drag_torque_nm": drag,
        "is_automatic": float(kind == "automatic"),
        "stall_torque_ratio": converter.stall_torque_ratio if converter else 1.0,
        "stall_speed_rpm": converter.stall_speed
        if converter
        else taken.of("clutch_start_speed", defaults.clutch_start_speed, "engine_speed"),
        "torque_reserve": reserve,
        "speed_sensor_before_axle": float(platform.speed_sensor == "before-axle"),
        "driveshaft_critical_rpm": _critical_rpm(platform),
        "axle_torque_rating_nm": math.nan
        if rear_axle.torque_rating is None
        else rear_axle.torque_rating,
        "torque_start_rpm": curve.start_rpm,
        "torque_step_rpm": curve.step_rpm,
        "idle_rpm": engine_record.idle_speed,
        "governed_rpm": engine_record.governed_speed,
        "lug_rpm": lug,
        "light_lug_rpm": lug * taken.of("light_lug_share", defaults.light_lug_share, "share"),
        "displacement_m3": engine_record.displacement,
        **_fuel_model(engine_record, engine_class, taken),
        "lower_heating_value_j_per_kg": engine_class.fuel.lower_heating_value,
        "fuel_density_kg_per_m3": engine_class.fuel.density,
        "idle_fuel_kg_per_s": engine_class.idle_fuel_pressure
        * engine_record.displacement
        * engine_record.idle_speed
        / 60.0
        / engine_class.fuel.lower_heating_value,
        "engine_inertia_kg_m2": engine_record.inertia
        if engine_record.inertia is not None
        else taken.of("engine_inertia_per_liter", defaults.engine_inertia_per_liter, "inertia")
        * engine_record.displacement
        * 1e3,
        "reference_grade": taken.of("reference_grade", defaults.reference_grade, "grade"),
        "passing_margin_mps": taken.of("passing_margin", defaults.passing_margin, "speed"),
        "boosted": float(engine_class.aspiration == "boosted"),
        "altitude_flat_to_m": engine_class.altitude.flat_to,
        "altitude_loss_per_m": math.nan
        if engine_class.altitude.loss_per_100m is None
        else engine_class.altitude.loss_per_100m / 100.0,
        "curb_mass_kg": platform.curb_mass,
        "front_share": front_share,
        "overhang_share": overhang_share,
        "payload_on_rear": taken.known(
            "payload_on_rear", platform.payload_on_rear, defaults.payload_on_rear, "share"
        ),
        "driver_kg": taken.of("driver_and_tools", defaults.driver_and_tools, "mass"),
        "all_driven": float(platform.drive == "full-time-four"),
        "constant_per_kg": road_load.a / road_load.test_mass if road_load else math.nan,
        "linear_n_per_mps": road_load.b if road_load else 0.0,
        "drag_square": math.nan if platform.drag_area is not None else road_load.c,  # type: ignore[union-attr]
        "drag_area_m2": platform.drag_area if platform.drag_area is not None else math.nan,
    }
    return Vehicle(
        title=title,
        platform=platform,
        engine=engine_record,
        engine_class=engine_class,
        transmission=transmission,
        transfer_case=transfer_case,
        rear_axle=rear_axle,
        front_axle=front_axle,
        factory_tire=factory_tire,
        cruise=engine_record.cruise or engine_class.cruise,
        candidates=tuple(candidates),
        factory_ratio=factory_ratio,
        fitted_ratio=fitted_ratio,
        scalars=scalars,
        gear_ratio=gears,
        gear_efficiency=np.where(np.abs(gears - 1.0) < 0.005, direct, other),
        gear_locked=gearboxes.locked_gears(
            gears=gears.size, lockup_from_gear=converter.lockup_from_gear if converter else None
        ),
        torque_nm=np.asarray(curve.torque_nm, dtype=np.float64),
        assumptions=tuple(taken.assumptions),
    )


def consumption_map(record: ConsumptionMap) -> fuel.ConsumptionMap:
    """The arrays of a consumption map's record."""
    return fuel.ConsumptionMap(
        speed_rpm=np.array(record.speeds),
        torque_nm=np.array(record.torques),
        specific_kg_per_j=np.array(record.consumption),
    )


def _fuel_model(record: EngineData, engine_class: EngineClass, taken: _Taken) -> dict[str, float]:
    """The class's fuel model, or the one that fits the engine's own consumption map."""
    measured = record.consumption_map
    if measured is None:
        friction, efficiency = engine_class.friction, engine_class.indicated_efficiency
        return {
            "friction_0_pa": friction.constant,
            "friction_1_pa_per_rpm": friction.linear_per_1000rpm / 1e3,
            "friction_2_pa_per_rpm2": friction.square_per_1000rpm / 1e6,
            "indicated_efficiency": efficiency.mid,
            "fuel_factor_low": efficiency.mid / efficiency.high,
            "fuel_factor_high": efficiency.mid / efficiency.low,
        }
    fit = fuel_fit.fit_map(
        consumption_map=consumption_map(measured),
        displacement_m3=record.displacement,
        lower_heating_value_j_per_kg=engine_class.fuel.lower_heating_value,
    )
    taken.of("consumption_map_fit_error", fit.relative_error, "share")
    return {
        "friction_0_pa": fit.constant_pa,
        "friction_1_pa_per_rpm": fit.linear_pa_per_rpm,
        "friction_2_pa_per_rpm2": fit.square_pa_per_rpm2,
        "indicated_efficiency": fit.indicated_efficiency,
        "fuel_factor_low": 1.0 - fit.spread,
        "fuel_factor_high": 1.0 + fit.spread,
    }


def fitted_tire(
    *,
    record: TireData,
    tire_type: TireType,
    type_assumed: bool,
    defaults: Defaults,
) -> FittedTire:
    """Work out a tire: geometry from its size or its measured figures, capacity, mass."""
    from gearrec import tires

    size = tires.parse_size(record.size)
    assumptions = []
    if type_assumed:
        assumptions.append(Assumption("tire_type", math.nan, "text", tire_type.title))
    diameter = record.diameter or size.diameter_m
    circumference = (
        tires.rolling_circumference_from_revs(revs_per_m=record.revs_per_mile)
        if record.revs_per_mile is not None
        else tires.rolling_circumference_m(diameter_m=diameter, construction=size.construction)
    )
    mass = record.mass
    if mass is None:
        mass = defaults.wheel_mass * (diameter / _REFERENCE_DIAMETER_M) ** 3
        mass *= tire_type.mass_factor or 1.0
        assumptions.append(Assumption("wheel_mass", mass, "mass", "by the cube of the diameter"))
    gyration = defaults.wheel_radius_share * diameter / 2.0
    inertia = record.inertia if record.inertia is not None else mass * gyration**2
    passenger = size.service_type == "passenger"
    derate = tires.PASSENGER_DERATE if passenger else 1.0
    single = math.nan if size.capacity_kg is None else size.capacity_kg / derate
    dual = math.nan if size.capacity_dual_kg is None else size.capacity_dual_kg / derate
    return FittedTire(
        text=record.size,
        diameter_m=diameter,
        circumference_m=circumference,
        section_width_m=size.section_width_m,
        capacity_kg=single,
        capacity_dual_kg=dual,
        rolling_coefficient=record.rolling_coefficient or tire_type.rolling_coefficient,
        friction_coefficient=tire_type.friction_coefficient,
        mass_kg=mass,
        inertia_kg_m2=inertia,
        passenger=passenger,
        measured_revs=record.revs_per_mile is not None,
        assumptions=tuple(assumptions),
    )


_REFERENCE_DIAMETER_M = 31.5 * 0.0254


class _Taken:
    """Keeps which defaults were taken."""

    def __init__(self, defaults: Defaults) -> None:
        self.reasons = defaults.reasons
        self.assumptions: list[Assumption] = []

    def of(self, name: str, value: float, dimension: str) -> float:
        why = self.reasons.get(name) or self.reasons.get(name.split(".")[0], "")
        self.assumptions.append(Assumption(name, value, dimension, why))
        return value

    def known(self, name: str, given: float | None, value: float, dimension: str) -> float:
        return self.of(name, value, dimension) if given is None else given


def _critical_rpm(platform: PlatformData) -> float:
    shaft = platform.driveshaft
    if shaft is None:
        return math.nan
    return float(
        driveline.critical_speed_limit_rpm(
            length_m=shaft.length,
            outer_diameter_m=shaft.outer_diameter,
            inner_diameter_m=shaft.outer_diameter - 2.0 * shaft.wall,
            material=shaft.material,
        )
    )
