"""Shared fixtures: batches of invented vehicles as plain arrays."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from gearrec.api import Advisor
from gearrec.batches import collect
from gearrec.lanes import Lanes, field_names, field_shape

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from gearrec.batches import Batch

KM = 1000.0

# Preferences that outweigh all others together: whichever is added to a rule set, the pick is the
# deepest ratio that no limit rules out, or the tallest, or the one that comes closest to acting
# like 9 % more than the factory's gearing.
TOY_CATALOG = """\
kind: catalog
format: 1
namespace: toy
title: Rules that force the pick (invented)
about: Invented for tests.
version: "1"
source: {kind: invented, citation: invented for tests, confidence: low}
"""
TOY_RULE = """\
  - id: toy/NAME
    title: NAME is better
    since: "0.1.0"
    verdict: preference
    metric: gearing_change
    shape: SHAPE
    weight: 100000
    what: Asks for gears as NAME as there are.
    why: Invented for tests.
    when_to_doubt: Always.
    example: {words: Gears halfway., value: "50 %", attributes: {}, expect: {score: 0.5}}
    says: {good: "{ratio} is NAME ({value}).", poor: "{ratio} is not NAME ({value})."}
"""
TOY_RULES = "kind: rule\nformat: 1\nrecords:\n" + "".join(
    TOY_RULE.replace("NAME", name).replace("SHAPE", shape)
    for name, shape in (
        ("deeper", '{at_least: {zero: "-50 %", full: "150 %"}}'),
        ("taller", '{at_most: {full: "-50 %", zero: "150 %"}}'),
        ("nine", '{near: {target: "9 %", full_within: "0 %", zero_beyond: "82 %"}}'),
    )
)
TOY_RULE_SETS = "kind: rule-set\nformat: 1\nrecords:\n" + "".join(
    f"  - {{id: toy/{name}-wins, title: {name} wins, purpose: tests, extends: core/default, "
    f"add: [toy/{name}]}}\n"
    for name in ("deeper", "taller", "nine")
)

# Invented: no real vehicle. Numbers are of a size that such a vehicle could have.
GASOLINE_PICKUP: dict[str, Any] = {
    "axle_ratio": [47 / 15, 47 / 14, 47 / 13, 50 / 13, 46 / 11],
    "factory_ratio": 47 / 14,
    "diameter_m": 0.80,
    "gear_ratio": [4.92, 3.05, 2.14, 1.62, 1.26, 1.0, 0.82, 0.64],
    "lockup_from_gear": 3,
    "torque_nm": [200, 300, 340, 355, 360, 370, 380, 375, 360, 340, 300, 260],
    "torque_start_rpm": 500.0,
    "torque_step_rpm": 500.0,
    "idle_rpm": 600.0,
    "lug_rpm": 1200.0,
    "governed_rpm": 5800.0,
    "displacement_m3": 3.4e-3,
    "friction_0_pa": 87.0e3,
    "friction_1_pa_per_rpm": 13.5,
    "friction_2_pa_per_rpm2": 4.5e-3,
    "indicated_efficiency": 0.42,
    "lower_heating_value_j_per_kg": 41.5e6,
    "fuel_density_kg_per_m3": 745.0,
    "idle_fuel_kg_per_s": 2.4e-4,
    "vehicle_kg": 2200.0,
    "drag_area_m2": 1.35,
}
LEGS: dict[str, list[float]] = {
    "leg_share": [0.35, 0.2, 0.2, 0.15, 0.1],
    "leg_speed_mps": [28.0, 24.0, 12.5, 27.0, 20.0],
    "leg_grade_deviation": [0.012, 0.02, 0.015, 0.015, 0.035],
    "leg_grade_correlation_m": [400.0, 300.0, 200.0, 400.0, 500.0],
    "leg_stops_per_m": [0.0, 0.0, 0.8 / KM, 0.0, 0.0],
    "leg_standing_share": [0.0, 0.0, 0.15, 0.0, 0.0],
    "trailer_kg": [0.0, 0.0, 0.0, 2000.0, 2000.0],
}


def _build(size: int = 1, **changes: Any) -> Lanes:
    """A batch of equal lanes; `changes` replace entries above or, by field name, whole arrays."""
    vehicle = GASOLINE_PICKUP | {
        name: changes.pop(name) for name in GASOLINE_PICKUP if name in changes
    }
    legs = LEGS | {name: changes.pop(name) for name in LEGS if name in changes}
    gears = np.array(vehicle["gear_ratio"])
    locked = np.arange(1, gears.size + 1) >= vehicle["lockup_from_gear"]
    trailer = np.array(legs["trailer_kg"])
    mass = vehicle["vehicle_kg"] + trailer
    diameter = vehicle["diameter_m"]
    values: dict[str, Any] = {
        "axle_ratio": vehicle["axle_ratio"],
        "candidate_known": True,
        "front_ratio": vehicle["axle_ratio"],
        "diameter_factory_m": diameter,
        "diameter_now_m": diameter,
        "diameter_planned_m": diameter,
        "circumference_factory_m": 3.05 * diameter,
        "circumference_planned_m": 3.05 * diameter,
        "tire_capacity_front_kg": 2200.0,
        "tire_capacity_rear_kg": 2200.0,
        "axle_load_front_kg": 1200.0,
        "axle_load_rear_kg": 1300.0,
        "gear_efficiency": np.where(gears == 1.0, 0.98, 0.96),
        "gear_locked": locked,
        "reverse_ratio": gears[0],
        "low_range_ratio": 2.7,
        "transfer_high_efficiency": 0.99,
        "transfer_low_efficiency": 0.96,
        "axle_efficiency": 0.96,
        "drag_torque_nm": 40.0,
        "is_automatic": not locked[0],
        "stall_torque_ratio": 1.0 if locked[0] else 1.9,
        "stall_speed_rpm": 1250.0 if locked[0] else 2200.0,
        "torque_reserve": 0.1,
        "speed_sensor_before_axle": True,
        "driveshaft_critical_rpm": 6500.0,
        "axle_torque_rating_nm": 7000.0,
        "torque_factor": 1.0,
        "light_lug_rpm": 0.8 * vehicle["lug_rpm"],
        "fuel_factor_low": 0.9,
        "fuel_factor_high": 1.1,
        "engine_inertia_kg_m2": 0.25,
        "wheel_inertia_kg_m2": 6.0,
        "leg_known": True,
        "leg_low_range": False,
        "leg_towing": trailer > 0.0,
        "leg_air_density_kg_per_m3": 1.2,
        "mass_kg": mass,
        "force_constant_n": 0.011 * 9.80665 * mass,
        "force_linear_n_per_mps": 0.0,
        "force_square_n_per_mps2": 0.6 * (vehicle["drag_area_m2"] + 1.5 * (trailer > 0.0)),
        "driven_load_kg": 1300.0,
        "friction_coefficient": 0.8,
        "reference_grade": 0.06,
        "passing_margin_mps": 4.5,
    }
    values |= {
        name: vehicle[name] for name in field_names() if name in vehicle and name not in values
    }
    values |= {name: legs[name] for name in field_names() if name in legs}
    values |= changes
    shape = {
        "candidates": len(vehicle["axle_ratio"]),
        "legs": len(legs["leg_share"]),
        "gears": gears.size,
        "grid": len(vehicle["torque_nm"]),
        "size": size,
    }
    arrays = {}
    for name in field_names():
        kind = np.bool_ if np.asarray(values[name]).dtype == np.bool_ else np.float64
        array = np.asarray(values[name], dtype=kind)
        wanted = field_shape(name, **shape)
        if array.ndim == 1 and len(wanted) == 2:
            array = array[:, None]
        arrays[name] = np.ascontiguousarray(np.broadcast_to(array, wanted))
    return Lanes(**arrays)


@pytest.fixture(scope="session")
def build_lanes() -> Callable[..., Lanes]:
    """Builder of batches: `build_lanes(size, name=value)`; invented gasoline pickup by default."""
    return _build


@pytest.fixture(scope="session")
def example_lanes() -> Lanes:
    """Sixty-four invented vehicles that differ in tires, mass, speed, engine and gearbox."""
    random = np.random.default_rng(20)
    size = 64
    growth = 1.0 + 0.15 * random.random(size)
    return _build(
        size,
        diameter_planned_m=0.80 * growth,
        circumference_planned_m=3.05 * 0.80 * growth,
        mass_kg=np.array([[2200.0], [2200.0], [2200.0], [4200.0], [4200.0]])
        * (0.9 + 0.4 * random.random(size)),
        leg_speed_mps=np.array([[28.0], [24.0], [12.5], [27.0], [20.0]])
        * (0.9 + 0.2 * random.random(size)),
        displacement_m3=3.4e-3 * (0.8 + 0.5 * random.random(size)),
        torque_factor=0.8 + 0.3 * random.random((5, size)),
        axle_efficiency=0.94 + 0.03 * random.random(size),
    )


@pytest.fixture(scope="session")
def make_batch() -> Callable[..., Batch]:
    """The batch of some jobs, given as mappings, with the shipped catalogs."""
    advisor = Advisor(plugins=())

    def make(*jobs: dict[str, Any]) -> Batch:
        return collect([advisor._workshop.resolve(advisor.job(job)) for job in jobs])

    return make


@pytest.fixture(scope="session")
def towing_job() -> dict[str, Any]:
    """A demo truck that tows, with a load."""
    return {
        "vehicle": "demo/fell",
        "use": "core/some-towing",
        "trailer": "demo/horses",
        "load": {"payload": "300 lb", "added": "100 lb"},
    }


@pytest.fixture(scope="session")
def toy_rules(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A catalog with the rules toy/deeper, toy/taller and toy/nine that force the pick, and a rule
    set with each besides the default rules: toy/deeper-wins, toy/taller-wins, toy/nine-wins."""
    folder = tmp_path_factory.mktemp("toy")
    (folder / "catalog.yaml").write_text(TOY_CATALOG)
    (folder / "rules.yaml").write_text(TOY_RULES)
    (folder / "rule-sets.yaml").write_text(TOY_RULE_SETS)
    return folder
