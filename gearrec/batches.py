"""A batch in short: a few numbers for each lane, and the vehicles and uses that lanes share.

The wide arrays are made from it a chunk at a time. Disturbed copies of a job (for its confidence)
and copies with other tires (for the reach of a ratio) are further lanes of the same kind.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from gearrec import attributes

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gearrec.jobs import ResolvedJob
    from gearrec.uses import Use
    from gearrec.vehicles import Vehicle

Floats = npt.NDArray[np.float64]
Indices = npt.NDArray[np.intp]

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
ROW = {name: row for row, name in enumerate(FIELDS)}


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
            columns[ROW[name]] *= factor
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
