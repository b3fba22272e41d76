"""The values of the attributes that rules ask for, for all lanes of a batch."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from gearrec.axle_loads import Masses, Reading, axle_loads, masses
from gearrec.batches import ROW

if TYPE_CHECKING:
    from gearrec.batches import Batch

Floats = npt.NDArray[np.float64]

SMALL_GROWTH = 0.03
"""Tire growth that recalibration answers, about what separates a new from a worn tire [1]."""
_TALL_AT_MPS = 100.0 / 3.6


def job_attributes(batch: Batch) -> dict[str, Floats]:
    """The attributes of each lane by name, (N,), encoded as `attributes` says."""
    table = batch.vehicle_table
    scalars = np.take(table.scalars, batch.vehicle, axis=1)
    shares = np.take(batch.use_table.shares, batch.use, axis=1)

    def of_vehicle(name: str) -> Floats:
        row: Floats = scalars[table.rows[name]]
        return row

    def of_lane(name: str) -> Floats:
        row: Floats = batch.columns[ROW[name]]
        return row

    found = {name: shares[row] for name, row in batch.use_table.share_rows.items()}
    mass = masses(of_vehicle, of_lane)
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
    """Where in its comfortable band the engine turns at 100 km/h in top gear; 1: lower end."""
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


def _rated_load_share(of_vehicle: Reading, of_lane: Reading, mass: Masses) -> Floats:
    load = axle_loads(of_vehicle, of_lane, mass)
    whole = (load.front + load.rear) / of_vehicle("gross_rating")
    front = load.front / of_vehicle("axle_rating_front_kg")
    rear = load.rear / of_vehicle("axle_rating_rear_kg")
    return np.asarray(np.fmax(whole, np.fmax(front, rear)))
