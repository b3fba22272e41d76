"""One vehicle in round figures, so that a number can be checked by hand, and advisors."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import gearrec_towing
import numpy as np
import pytest

from gearrec import Advisor
from gearrec.lanes import Lanes, field_names
from gearrec.metrics import Evaluation
from gearrec.testing import check_plugin, sample_lanes

if TYPE_CHECKING:
    from collections.abc import Callable

# Imported rather than named in `pytest_plugins`, which pytest allows in a top-level conftest only.
__all__ = ["check_plugin"]

ROUND: dict[str, Any] = {
    "axle_ratio": 4.0,
    "factory_ratio": 4.0,
    "circumference_factory_m": 2.0 * math.pi * 0.4,
    "circumference_planned_m": 2.0 * math.pi * 0.4,
    "gear_ratio": (4.0, 2.0, 1.0, 0.0, 0.0),
    "gear_efficiency": (0.95, 0.95, 0.95, 1.0, 1.0),
    "gear_locked": True,
    "reverse_ratio": 3.0,
    "transfer_high_efficiency": 1.0,
    "axle_efficiency": 0.96,
    "drag_torque_nm": 40.0,
    "stall_torque_ratio": 2.0,
    "stall_speed_rpm": 2000.0,
    "torque_nm": 500.0,
    "torque_start_rpm": 500.0,
    "torque_step_rpm": 100.0,
    "torque_factor": 1.0,
    "idle_rpm": 600.0,
    "governed_rpm": 4000.0,
    "lug_rpm": 1200.0,
    "light_lug_rpm": 1000.0,
    "displacement_m3": 7.05e-3,
    "friction_0_pa": 64.0e3,
    "friction_1_pa_per_rpm": 40.8,
    "friction_2_pa_per_rpm2": 3.5e-3,
    "engine_inertia_kg_m2": 0.0,
    "wheel_inertia_kg_m2": 0.0,
    "leg_speed_mps": 40.0 * 0.44704,
    "mass_kg": (4000.0, 10000.0),
    "force_constant_n": 1000.0,
    "force_linear_n_per_mps": 0.0,
    "force_square_n_per_mps2": 1.0,
    "driven_load_kg": 6000.0,
    "friction_coefficient": 0.8,
    "reference_grade": 0.06,
}
"""An invented truck on wheels of 0.4 m rolling radius; 10 t with the trailer on its second leg."""


def lanes_of(**changes: Any) -> Lanes:
    """One lane of `ROUND` with some fields changed; all three candidates are alike."""
    lanes = sample_lanes(size=1)
    arrays = {name: getattr(lanes, name) for name in field_names()}
    for name, value in (ROUND | changes).items():
        shape, kind = arrays[name].shape, arrays[name].dtype
        column = np.asarray(value, dtype=kind).reshape(-1, 1)
        arrays[name] = np.broadcast_to(column[:, 0] if len(shape) == 1 else column, shape).copy()
    return Lanes(**arrays)


@pytest.fixture
def truck() -> Callable[..., Evaluation]:
    return lambda **changes: Evaluation(lanes_of(**changes))


@pytest.fixture(scope="session")
def towing_advisor() -> Advisor:
    """With this plugin alone and its rules; any fault raises."""
    return Advisor(
        plugins=(),
        extra={"towing": gearrec_towing},
        strict=True,
        rule_set="towing/heavy-towing",
        cache="off",
    )
