"""From resolved jobs to arrays: the lanes of a batch, and the attributes that rules ask for.

A `Batch` keeps a few numbers per lane and points to vehicles and uses that many lanes share; the
wide arrays are made from it a chunk at a time. Disturbed copies of a job (for its confidence) and
copies with other tires (for the reach of a ratio) are further lanes of the same kind.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from gearrec import attributes
from gearrec.lanes import Lanes

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gearrec.jobs import ResolvedJob
    from gearrec.uses import Use
    from gearrec.vehicles import Vehicle

Floats = npt.NDArray[np.float64]
Indices = npt.NDArray[np.intp]
Reading = Callable[[str], Floats]
"""Gives a row or rows of a table by name."""

STANDARD_GRAVITY = 9.80665
COAST_DOWN_DENSITY = 1.167
"""Air at 20 degC and 98.2 kPa, to which coast-down results are corrected (SAE J1263) [kg/m3]."""
_DRIVER_ON_REAR = 0.5
_TALL_AT_MPS = 62.0 * 0.44704
SMALL_GROWTH = 0.03
"""Tire growth that recalibration answers, about what separates a new from a worn tire [1]."""

# What each lane has of its own; the last five are factors that samples disturb.
FIELDS = (
    "diameter_now_m",
    "diameter_planned_m",
    "circumference_planned_m",
    "rolling_coefficient",
    "friction_coefficient",
    "capacity_kg",
    "capacity_dual_kg",
    "tires_added_kg",
    "wheel_inertia_kg_m2",
    "payload_kg",
    "added_kg",
    "added_on_rear",
    "trailer_kg",
    "trailer_drag_area_m2",
    "trailer_rolling_coefficient",
    "tongue_share",
    "goal_economy",
    "goal_towing",
    "goal_trail",
    "goal_performance",
    "mass_factor",
    "drag_factor",
    "rolling_factor",
    "torque_factor",
    "speed_factor",
)
_ROW = {name: row for row, name in enumerate(FIELDS)}


@dataclass(frozen=True, slots=True)
class VehicleTable:
    """Vehicles side by side, the vehicle axis last; padded as `lanes` asks for."""

    vehicles: tuple[Vehicle, ...]
    scalars: Floats
    rows: Mapping[str, int]
    axle_ratio: Floats
    candidate_known: npt.NDArray[np.bool_]
    front_ratio: Floats
    gear_ratio: Floats
    gear_efficiency: Floats
    gear_locked: npt.NDArray[np.bool_]
    torque_nm: Floats


@dataclass(frozen=True, slots=True)
class UseTable:
    """Uses side by side, the use axis last; padded as `lanes` asks for."""

    uses: tuple[Use, ...]
    arrays: Floats
    rows: Mapping[str, int]
    shares: Floats
    share_rows: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class Batch:
    """Lanes in short: `columns` has the shape (fields, N) with the rows of `FIELDS`."""

    vehicle_table: VehicleTable
    use_table: UseTable
    vehicle: Indices
    use: Indices
    columns: Floats

    @property
    def size(self) -> int:
        """Number of lanes N."""
        return int(self.vehicle.size)

    def part(self, lanes: slice) -> Batch:
        """Some of the lanes."""
        return replace(
            self,
            vehicle=self.vehicle[lanes],
            use=self.use[lanes],
            columns=self.columns[:, lanes],
        )

    def repeated(self, times: int) -> Batch:
        """Every lane `times` times in a row."""
        return replace(
            self,
            vehicle=np.repeat(self.vehicle, times),
            use=np.repeat(self.use, times),
            columns=np.repeat(self.columns, times, axis=1),
        )

    def changed(self, **factors: Floats) -> Batch:
        """The batch with some of its fields multiplied."""
        columns = self.columns.copy()
        for name, factor in factors.items():
            columns[_ROW[name]] *= factor
        return replace(self, columns=columns)


def collect(jobs: Sequence[ResolvedJob]) -> Batch:
    """The batch of some jobs, in their order."""
    vehicle_at: dict[int, int] = {}
    use_at: dict[int, int] = {}
    vehicles: list[Vehicle] = []
    uses: list[Use] = []
    vehicle_index, use_index, rows = [], [], []
    for job in jobs:
        vehicle, use = job.vehicle, job.use
        key = id(vehicle)
        if key not in vehicle_at:
            vehicle_at[key] = len(vehicles)
            vehicles.append(vehicle)
        vehicle_index.append(vehicle_at[key])
        key = id(use)
        if key not in use_at:
            use_at[key] = len(uses)
            uses.append(use)
        use_index.append(use_at[key])
        rows.append(_row(job))
    return Batch(
        vehicle_table=_vehicle_table(vehicles),
        use_table=_use_table(uses),
        vehicle=np.array(vehicle_index, dtype=np.intp),
        use=np.array(use_index, dtype=np.intp),
        columns=np.array(rows, dtype=np.float64).T.copy(),
    )


def _row(job: ResolvedJob) -> tuple[float, ...]:
    planned, vehicle, trailer, goals = job.tire_planned, job.vehicle, job.trailer, job.job.goals
    dual = vehicle.platform.dual_rear_wheels
    return (
        job.tire_now.diameter_m,
        planned.diameter_m,
        planned.circumference_m,
        planned.rolling_coefficient,
        planned.friction_coefficient,
        2.0 * planned.capacity_kg,
        4.0 * planned.capacity_dual_kg if dual else 2.0 * planned.capacity_kg,
        vehicle.wheels * (planned.mass_kg - vehicle.factory_tire.mass_kg),
        vehicle.wheels * planned.inertia_kg_m2,
        job.payload_kg,
        job.added_kg,
        job.added_on_rear,
        trailer.mass if trailer else 0.0,
        trailer.drag_area if trailer else 0.0,
        trailer.rolling_coefficient if trailer else 0.0,
        trailer.tongue_share if trailer else 0.0,
        goals.economy,
        goals.towing,
        goals.trail,
        goals.performance,
        1.0,
        1.0,
        1.0,
        1.0,
        1.0,
    )


def lanes(batch: Batch) -> Lanes:
    """The wide arrays of a batch (usually of one chunk of it)."""
    table = batch.vehicle_table
    scalars = np.take(table.scalars, batch.vehicle, axis=1)
    legs = np.take(batch.use_table.arrays, batch.use, axis=2)

    def of_vehicle(name: str) -> Floats:
        row: Floats = scalars[table.rows[name]]
        return row

    def of_leg(name: str) -> Floats:
        rows: Floats = legs[batch.use_table.rows[name]]
        return rows

    def of_lane(name: str) -> Floats:
        row: Floats = batch.columns[_ROW[name]]
        return row

    mass = _masses(of_vehicle, of_lane)
    towing = of_leg("leg_towing")
    rolling = of_lane("rolling_coefficient") * of_lane("rolling_factor")
    per_kg = of_vehicle("constant_per_kg")
    own_rolling = np.where(
        np.isnan(per_kg),
        rolling * STANDARD_GRAVITY,
        per_kg * rolling / of_vehicle("factory_rolling_coefficient"),
    )
    trailer_rolling = (
        of_lane("trailer_rolling_coefficient")
        * of_lane("rolling_factor")
        * STANDARD_GRAVITY
        * mass.trailer
    )
    # Half the density goes with a drag area; coast-down coefficients hold theirs already.
    area = np.where(
        np.isnan(of_vehicle("drag_area_m2")),
        of_vehicle("drag_square") * (2.0 / COAST_DOWN_DENSITY),
        of_vehicle("drag_area_m2"),
    )
    density = of_leg("leg_air_density_kg_per_m3")
    drag_areas = area + towing * of_lane("trailer_drag_area_m2")
    loss = of_vehicle("altitude_loss_per_m")
    above = np.maximum(of_leg("altitude_m") - of_vehicle("altitude_flat_to_m"), 0.0)
    altitude = np.where(
        np.isnan(loss), of_leg("natural_torque_factor"), np.maximum(1.0 - loss * above, 0.2)
    )
    load = _axle_loads(of_vehicle, of_lane, mass)
    return Lanes(
        axle_ratio=np.take(table.axle_ratio, batch.vehicle, axis=1),
        candidate_known=np.take(table.candidate_known, batch.vehicle, axis=1),
        front_ratio=np.take(table.front_ratio, batch.vehicle, axis=1),
        factory_ratio=of_vehicle("factory_ratio"),
        diameter_factory_m=of_vehicle("diameter_factory_m"),
        diameter_now_m=of_lane("diameter_now_m"),
        diameter_planned_m=of_lane("diameter_planned_m"),
        circumference_factory_m=of_vehicle("circumference_factory_m"),
        circumference_planned_m=of_lane("circumference_planned_m"),
        tire_capacity_front_kg=of_lane("capacity_kg"),
        tire_capacity_rear_kg=of_lane("capacity_dual_kg"),
        axle_load_front_kg=load.front,
        axle_load_rear_kg=load.rear,
        gear_ratio=np.take(table.gear_ratio, batch.vehicle, axis=1),
        gear_efficiency=np.take(table.gear_efficiency, batch.vehicle, axis=1),
        gear_locked=np.take(table.gear_locked, batch.vehicle, axis=1),
        reverse_ratio=of_vehicle("reverse_ratio"),
        low_range_ratio=of_vehicle("low_range_ratio"),
        transfer_high_efficiency=of_vehicle("transfer_high_efficiency"),
        transfer_low_efficiency=of_vehicle("transfer_low_efficiency"),
        axle_efficiency=of_vehicle("axle_efficiency"),
        drag_torque_nm=of_vehicle("drag_torque_nm"),
        is_automatic=of_vehicle("is_automatic") > 0.5,
        stall_torque_ratio=of_vehicle("stall_torque_ratio"),
        stall_speed_rpm=of_vehicle("stall_speed_rpm"),
        torque_reserve=of_vehicle("torque_reserve"),
        speed_sensor_before_axle=of_vehicle("speed_sensor_before_axle") > 0.5,
        driveshaft_critical_rpm=of_vehicle("driveshaft_critical_rpm"),
        axle_torque_rating_nm=of_vehicle("axle_torque_rating_nm"),
        torque_nm=np.take(table.torque_nm, batch.vehicle, axis=1),
        torque_start_rpm=of_vehicle("torque_start_rpm"),
        torque_step_rpm=of_vehicle("torque_step_rpm"),
        torque_factor=altitude * of_lane("torque_factor"),
        idle_rpm=of_vehicle("idle_rpm"),
        governed_rpm=of_vehicle("governed_rpm"),
        lug_rpm=of_vehicle("lug_rpm"),
        light_lug_rpm=of_vehicle("light_lug_rpm"),
        displacement_m3=of_vehicle("displacement_m3"),
        friction_0_pa=of_vehicle("friction_0_pa"),
        friction_1_pa_per_rpm=of_vehicle("friction_1_pa_per_rpm"),
        friction_2_pa_per_rpm2=of_vehicle("friction_2_pa_per_rpm2"),
        indicated_efficiency=of_vehicle("indicated_efficiency"),
        fuel_factor_low=of_vehicle("fuel_factor_low"),
        fuel_factor_high=of_vehicle("fuel_factor_high"),
        lower_heating_value_j_per_kg=of_vehicle("lower_heating_value_j_per_kg"),
        fuel_density_kg_per_m3=of_vehicle("fuel_density_kg_per_m3"),
        idle_fuel_kg_per_s=of_vehicle("idle_fuel_kg_per_s"),
        engine_inertia_kg_m2=of_vehicle("engine_inertia_kg_m2"),
        wheel_inertia_kg_m2=of_lane("wheel_inertia_kg_m2"),
        leg_known=of_leg("leg_known") > 0.5,
        leg_share=of_leg("leg_share"),
        leg_speed_mps=of_leg("leg_speed_mps") * of_lane("speed_factor"),
        leg_grade_deviation=of_leg("leg_grade_deviation"),
        leg_grade_correlation_m=of_leg("leg_grade_correlation_m"),
        leg_stops_per_m=of_leg("leg_stops_per_m"),
        leg_standing_share=of_leg("leg_standing_share"),
        leg_low_range=of_leg("leg_low_range") * of_vehicle("has_low_range") > 0.5,
        leg_towing=towing > 0.5,
        leg_air_density_kg_per_m3=density,
        mass_kg=mass.vehicle + towing * mass.trailer,
        force_constant_n=own_rolling * mass.vehicle + towing * trailer_rolling,
        force_linear_n_per_mps=np.broadcast_to(
            of_vehicle("linear_n_per_mps"), density.shape
        ).copy(),
        force_square_n_per_mps2=0.5 * density * drag_areas * of_lane("drag_factor"),
        driven_load_kg=load.rear + of_vehicle("all_driven") * load.front,
        friction_coefficient=of_lane("friction_coefficient"),
        reference_grade=of_vehicle("reference_grade"),
        passing_margin_mps=of_vehicle("passing_margin_mps"),
    )


@dataclass(frozen=True, slots=True)
class _Masses:
    vehicle: Floats
    trailer: Floats
    payload: Floats
    empty: Floats


@dataclass(frozen=True, slots=True)
class _AxleLoads:
    front: Floats
    rear: Floats


def _masses(of_vehicle: Reading, of_lane: Reading) -> _Masses:
    factor = of_lane("mass_factor")
    empty = of_vehicle("curb_mass_kg") + of_vehicle("driver_kg")
    own = empty + of_lane("tires_added_kg") + of_lane("payload_kg") + of_lane("added_kg")
    return _Masses(
        vehicle=own * factor,
        trailer=of_lane("trailer_kg") * factor,
        payload=of_lane("payload_kg") + of_lane("added_kg"),
        empty=of_vehicle("curb_mass_kg"),
    )


def _axle_loads(of_vehicle: Reading, of_lane: Reading, mass: _Masses) -> _AxleLoads:
    tongue = mass.trailer * of_lane("tongue_share")
    factor = of_lane("mass_factor")
    shared = of_lane("tires_added_kg") * 0.5 + of_vehicle("driver_kg") * _DRIVER_ON_REAR
    rear_share = 1.0 - of_vehicle("front_share")
    payload, added = of_lane("payload_kg"), of_lane("added_kg")
    payload_rear, added_rear = of_vehicle("payload_on_rear"), of_lane("added_on_rear")
    over = of_vehicle("overhang_share")
    rear = of_vehicle("curb_mass_kg") * rear_share + payload * payload_rear + added * added_rear
    front = (
        of_vehicle("curb_mass_kg") * of_vehicle("front_share")
        + payload * (1.0 - payload_rear)
        + added * (1.0 - added_rear)
    )
    return _AxleLoads(
        front=(front + shared) * factor - tongue * over,
        rear=(rear + shared) * factor + tongue * (1.0 + over),
    )


def _rated_load_share(of_vehicle: Reading, of_lane: Reading, mass: _Masses) -> Floats:
    load = _axle_loads(of_vehicle, of_lane, mass)
    whole = (load.front + load.rear) / of_vehicle("gross_rating")
    front = load.front / of_vehicle("axle_rating_front_kg")
    rear = load.rear / of_vehicle("axle_rating_rear_kg")
    return np.asarray(np.fmax(whole, np.fmax(front, rear)))


def job_attributes(batch: Batch) -> dict[str, Floats]:
    """The attributes of each lane by name, (N,), encoded as `attributes` says."""
    table = batch.vehicle_table
    scalars = np.take(table.scalars, batch.vehicle, axis=1)
    shares = np.take(batch.use_table.shares, batch.use, axis=1)

    def of_vehicle(name: str) -> Floats:
        row: Floats = scalars[table.rows[name]]
        return row

    def of_lane(name: str) -> Floats:
        row: Floats = batch.columns[_ROW[name]]
        return row

    found = {name: shares[row] for name, row in batch.use_table.share_rows.items()}
    mass = _masses(of_vehicle, of_lane)
    growth = of_lane("diameter_planned_m") / of_vehicle("diameter_factory_m") - 1.0
    tonnes = (mass.vehicle + mass.trailer) / 1e3
    found |= {name: of_vehicle(name) for name in _VEHICLE_ATTRIBUTES}
    tall = _factory_gearing_tall(of_vehicle)
    found["use_low_range"] = found["use_low_range"] * of_vehicle("has_low_range")
    found |= {
        "towing_mass_share": mass.trailer / mass.vehicle,
        "load_share": mass.payload / mass.empty,
        "rated_load_share": _rated_load_share(of_vehicle, of_lane, mass),
        "tire_growth": growth,
        "tire_growth_beyond_small": np.maximum(growth - SMALL_GROWTH, 0.0),
        "factory_gearing_tall": tall,
        "use_towing_on_tall_gearing": found["use_towing"] * tall,
        "tires_grow": (growth >= 0.01).astype(np.float64),
        "goal_economy": of_lane("goal_economy"),
        "goal_towing": of_lane("goal_towing"),
        "goal_trail": of_lane("goal_trail"),
        "goal_performance": of_lane("goal_performance"),
        "engine_lug_speed": of_vehicle("lug_rpm"),
        "engine_idle": of_vehicle("idle_rpm"),
        "engine_governed": of_vehicle("governed_rpm"),
        "engine_displacement": of_vehicle("displacement_m3"),
        "power_per_mass": of_vehicle("peak_power_w") / 1e3 / tonnes,
        "torque_per_mass": of_vehicle("peak_torque_nm") / tonnes,
        "displacement_per_mass": of_vehicle("displacement_m3") * 1e3 / tonnes,
        "vehicle_mass": mass.vehicle,
        "trailer_mass": mass.trailer,
        "tire_diameter_planned": of_lane("diameter_planned_m"),
    }
    return found


def _factory_gearing_tall(of_vehicle: Reading) -> Floats:
    """Where the engine turns at 62 mph in top gear in its comfortable band; 1 is the lower end."""
    wheel_rpm = 60.0 * _TALL_AT_MPS / of_vehicle("circumference_factory_m")
    engine_rpm = wheel_rpm * of_vehicle("factory_ratio") * of_vehicle("top_gear_ratio")
    high = of_vehicle("engine_cruise_comfortable_high")
    width = np.maximum(high - of_vehicle("engine_cruise_comfortable_low"), 1.0)
    return np.asarray(np.clip((high - engine_rpm) / width, 0.0, 1.0))


_VEHICLE_ATTRIBUTES = (
    "engine_cruise_low",
    "engine_cruise_comfortable_low",
    "engine_cruise_comfortable_high",
    "engine_cruise_high",
    "engine_peak_torque_speed",
    "engine_peak_power_speed",
    "engine_fuel",
    "engine_aspiration",
    "drive",
    "has_low_range",
    "transmission_type",
    "gear_count",
    "top_gear_ratio",
    "first_gear_ratio",
    "dual_rear_wheels",
    "speed_sensor",
    "gross_rating",
    "factory_ratio",
    "fitted_ratio",
)


def _vehicle_scalars(vehicle: Vehicle) -> dict[str, float]:
    curve = vehicle.engine.torque_curve
    peak = max(curve, key=lambda point: (point.torque, -point.speed))
    power = max(curve, key=lambda point: point.torque * point.speed)
    cruise = vehicle.cruise
    gears = vehicle.transmission.gears
    case = vehicle.transfer_case

    def word(name: str, value: object) -> float:
        return attributes.encode(attributes.BUILT_IN[name], value)

    return vehicle.scalars | {
        "diameter_factory_m": vehicle.factory_tire.diameter_m,
        "circumference_factory_m": vehicle.factory_tire.circumference_m,
        "factory_rolling_coefficient": vehicle.factory_tire.rolling_coefficient,
        "peak_torque_nm": peak.torque,
        "peak_power_w": power.torque * power.speed * math.pi / 30.0,
        "engine_cruise_low": cruise.low,
        "engine_cruise_comfortable_low": cruise.comfortable_low,
        "engine_cruise_comfortable_high": cruise.comfortable_high,
        "engine_cruise_high": cruise.high,
        "engine_peak_torque_speed": peak.speed,
        "engine_peak_power_speed": power.speed,
        "engine_fuel": word("engine_fuel", vehicle.engine_class.fuel.name),
        "engine_aspiration": word("engine_aspiration", vehicle.engine_class.aspiration),
        "drive": word("drive", vehicle.platform.drive),
        "has_low_range": float(case is not None and case.low_range > 1.0),
        "transmission_type": word("transmission_type", vehicle.transmission.type),
        "gear_count": float(len(gears)),
        "top_gear_ratio": gears[-1],
        "first_gear_ratio": gears[0],
        "dual_rear_wheels": float(vehicle.platform.dual_rear_wheels),
        "speed_sensor": word("speed_sensor", vehicle.platform.speed_sensor),
        "gross_rating": vehicle.platform.gross_rating,
        "axle_rating_front_kg": _or_nan(vehicle.platform.axle_rating_front),
        "axle_rating_rear_kg": _or_nan(vehicle.platform.axle_rating_rear),
    }


def _vehicle_table(vehicles: Sequence[Vehicle]) -> VehicleTable:
    scalars = [_vehicle_scalars(vehicle) for vehicle in vehicles]
    names = list(scalars[0])
    ratios = [[item.ratio for item in vehicle.candidates] for vehicle in vehicles]
    fronts = [[_or_nan(item.front_ratio) for item in vehicle.candidates] for vehicle in vehicles]
    known = [[not item.taken_out for item in vehicle.candidates] for vehicle in vehicles]
    return VehicleTable(
        vehicles=tuple(vehicles),
        scalars=np.array([[one[name] for name in names] for one in scalars]).T.copy(),
        rows={name: row for row, name in enumerate(names)},
        axle_ratio=_stacked(ratios, None),
        candidate_known=_stacked(known, 0.0) > 0.5,
        front_ratio=_stacked(fronts, math.nan),
        gear_ratio=_stacked([vehicle.gear_ratio for vehicle in vehicles], 0.0),
        gear_efficiency=_stacked([vehicle.gear_efficiency for vehicle in vehicles], 1.0),
        gear_locked=_stacked([vehicle.gear_locked for vehicle in vehicles], 1.0) > 0.5,
        torque_nm=_stacked([vehicle.torque_nm for vehicle in vehicles], None),
    )


def _or_nan(value: float | None) -> float:
    return math.nan if value is None else value


def _use_table(uses: Sequence[Use]) -> UseTable:
    names = list(uses[0].arrays)
    # A padded leg repeats the last one, but is not known and has no share.
    padding: dict[str, float | None] = {"leg_known": 0.0, "leg_share": 0.0}
    return UseTable(
        uses=tuple(uses),
        arrays=np.array(
            [_stacked([use.arrays[name] for use in uses], padding.get(name)) for name in names]
        ),
        rows={name: row for row, name in enumerate(names)},
        shares=np.array([[use.shares[name] for use in uses] for name in uses[0].shares]),
        share_rows={name: row for row, name in enumerate(uses[0].shares)},
    )


def _stacked(
    rows: Sequence[Sequence[float] | npt.NDArray[np.generic]], pad: float | None
) -> Floats:
    """Rows of unequal length as columns; short ones end in `pad`, or repeat their last value."""
    longest = max(len(row) for row in rows)
    stacked = np.empty((longest, len(rows)))
    for column, row in enumerate(rows):
        stacked[: len(row), column] = row
        stacked[len(row) :, column] = row[-1] if pad is None else pad
    return stacked
