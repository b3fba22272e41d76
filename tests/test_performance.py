"""Start on a grade, steady climb and acceleration as arrays over candidates and lanes."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gearrec import performance
from gearrec.lanes import Lanes, concatenate, take

if TYPE_CHECKING:
    from collections.abc import Callable

    Build = Callable[..., Lanes]

NAMES = ("launch_grade", "climb_speed", "time_0_60mph", "time_40_60mph")
GRAVITY = 9.80665
# One gear, one torque, no slip: every figure can be had with pencil and paper.
PLAIN: dict[str, Any] = {
    "axle_ratio": [4.0, 5.0],
    "gear_ratio": [1.0],
    "gear_efficiency": 1.0,
    "lockup_from_gear": 1,
    "torque_nm": [400.0] * 12,
    "transfer_high_efficiency": 1.0,
    "axle_efficiency": 1.0,
    "drag_torque_nm": 0.0,
    "force_constant_n": 0.0,
    "force_linear_n_per_mps": 0.0,
    "force_square_n_per_mps2": 0.0,
    "engine_inertia_kg_m2": 0.0,
    "wheel_inertia_kg_m2": 0.0,
    "circumference_planned_m": 0.4 * 2.0 * math.pi,
    "mass_kg": 2500.0,
    "trailer_kg": [0.0] * 5,
    "driven_load_kg": 1e6,
}


def test_plain_vehicle_by_hand(build_lanes: Build) -> None:
    found = performance.full_load_metrics(build_lanes(**PLAIN))
    # Force = 400 x 4 / 0.4 = 4 kN on 2.5 t: 1.6 m/s2; 60 mph = 26.8224 m/s.
    assert found["time_0_60mph"][:, 0] == pytest.approx([26.8224 / 1.6, 26.8224 / 2.0], rel=1e-6)
    assert found["time_40_60mph"][:, 0] == pytest.approx([26.8224 / 4.8, 26.8224 / 6.0], rel=1e-6)
    sine = 4000.0 / (2500.0 * GRAVITY)
    assert found["launch_grade"][0, 0] == pytest.approx(math.tan(math.asin(sine)))
    # On 6 % the drive wins up to the governed speed; beyond 105 mph nothing is told apart.
    assert found["climb_speed"][:, 0] == pytest.approx([105.0 * 0.44704] * 2)


def test_inertia_adds_to_the_mass(build_lanes: Build) -> None:
    changes = PLAIN | {"wheel_inertia_kg_m2": 16.0, "engine_inertia_kg_m2": 0.25}
    # The clutch is home from the start, so that the engine takes part in all of the run.
    lanes = build_lanes(**changes | {"stall_speed_rpm": 1e-3})
    # By hand: 16 / 0.16 = 100 kg and 0.25 x 16 / 0.16 = 25 kg.
    assert performance.acceleration_times(lanes)["time_0_60mph"][0, 0] == pytest.approx(
        2625.0 * 26.8224 / 4000.0, rel=1e-4
    )


def test_traction_limits_start_and_acceleration(build_lanes: Build) -> None:
    lanes = build_lanes(**PLAIN | {"driven_load_kg": 500.0, "friction_coefficient": 0.5})
    found = performance.full_load_metrics(lanes)
    # By hand: 0.5 x 500 kg of 2500 kg is a grade of 10 %, and 0.1 g on the level.
    assert found["launch_grade"][:, 0] == pytest.approx([0.1, 0.1])
    assert found["time_0_60mph"][:, 0] == pytest.approx([26.8224 / (0.1 * GRAVITY)] * 2, rel=1e-6)


def test_converter_multiplies_torque_at_the_start(build_lanes: Build) -> None:
    grip = {"stall_speed_rpm": 2500.0, "driven_load_kg": 1e6}
    clutch = performance.launch_grade(build_lanes(lockup_from_gear=1, **grip))
    converter = performance.launch_grade(build_lanes(stall_torque_ratio=1.0, **grip))
    assert clutch == pytest.approx(converter)
    assert (performance.launch_grade(build_lanes(**grip)) > converter).all()


def test_air_drag_ends_the_climb_where_forces_meet(build_lanes: Build) -> None:
    lanes = build_lanes(**PLAIN | {"force_square_n_per_mps2": 2.0})
    hill = 2500.0 * GRAVITY * math.sin(math.atan(0.06))
    # By hand: 2 v2 = drive - hill.
    expected = [math.sqrt((force - hill) / 2.0) for force in (4000.0, 5000.0)]
    assert performance.climb_speed(lanes)[:, 0] == pytest.approx(expected, rel=2e-3)


def test_what_is_never_reached_is_nan_with_a_reason(build_lanes: Build) -> None:
    weak = performance.full_load_metrics(build_lanes(torque_nm=[1.0] * 12))
    for name in NAMES:
        assert np.isnan(weak[name]).all(), name
        assert len(performance.NEVER[name]) > 20
    governed = PLAIN | {"governed_rpm": 2500.0}
    # By hand: 2500 rpm / 4 is 26.18 m/s, short of 60 mph; on the hill it is the climbing speed.
    found = performance.full_load_metrics(build_lanes(**governed))
    assert np.isnan(found["time_0_60mph"]).all()
    assert np.isnan(found["time_40_60mph"]).all()
    assert found["climb_speed"][0, 0] == pytest.approx(26.18, rel=1e-3)


def test_padded_candidates_are_nan_and_change_nothing(build_lanes: Build) -> None:
    known = np.array([True, True, True, True, False])
    ratios = [3.13, 3.36, 3.62, 3.85]
    lanes = build_lanes(axle_ratio=[*ratios, 9.0], candidate_known=known)
    plain = build_lanes(axle_ratio=ratios)
    found, full = (performance.full_load_metrics(each) for each in (lanes, plain))
    for name in NAMES:
        assert np.isnan(found[name][4]).all()
        assert found[name][:4].tolist() == full[name].tolist()


def test_padded_gears_change_nothing(build_lanes: Build) -> None:
    lanes = build_lanes()
    plain = performance.full_load_metrics(lanes)
    padded = build_lanes(
        gear_ratio=[*lanes.gear_ratio[:, 0], 0.0, 0.0],
        gear_efficiency=np.array([*lanes.gear_efficiency[:, 0], 1.0, 1.0]),
    )
    for name, found in performance.full_load_metrics(padded).items():
        assert found.tolist() == plain[name].tolist()


def test_the_heaviest_leg_counts_and_of_equals_the_thinnest_air(build_lanes: Build) -> None:
    plain = performance.full_load_metrics(build_lanes())
    lighter = performance.full_load_metrics(build_lanes(trailer_kg=[0.0, 0.0, 0.0, 2000.0, 0.0]))
    none = performance.full_load_metrics(build_lanes(trailer_kg=[0.0] * 5))
    thin = np.array([0.5, 0.5, 0.5, 1.0, 0.8])[:, None]
    high = performance.full_load_metrics(build_lanes(torque_factor=thin))
    low = performance.full_load_metrics(build_lanes(torque_factor=0.8))
    assert plain["time_0_60mph"].tolist() == lighter["time_0_60mph"].tolist()
    assert (none["time_0_60mph"] < plain["time_0_60mph"]).all()
    assert high["time_0_60mph"].tolist() == low["time_0_60mph"].tolist()


def test_a_lane_has_the_same_numbers_alone_and_in_a_batch(
    build_lanes: Build, example_lanes: Lanes
) -> None:
    manual = build_lanes(2, lockup_from_gear=1, governed_rpm=4800.0)
    batch = concatenate([example_lanes, manual, example_lanes, example_lanes, example_lanes])
    whole = performance.full_load_metrics(batch)
    for lane in (0, 17, 63, 64, 65, 100):
        alone = performance.full_load_metrics(take(batch, [lane]))
        for name in NAMES:
            # A running sum over a batch may round differently in the last place.
            assert alone[name][:, 0].tolist() == whole[name][:, lane].tolist()


def test_single_metrics_are_those_of_the_whole(example_lanes: Lanes) -> None:
    whole = performance.full_load_metrics(example_lanes)
    assert sorted(whole) == sorted(NAMES)
    single = performance.acceleration_times(example_lanes) | {
        "launch_grade": performance.launch_grade(example_lanes),
        "climb_speed": performance.climb_speed(example_lanes),
    }
    for name in NAMES:
        assert whole[name].shape == example_lanes.axle_ratio.shape
        assert single[name].tolist() == whole[name].tolist()


@given(more=st.floats(1.01, 1.6), axle=st.floats(3.0, 4.5), automatic=st.booleans())
@settings(max_examples=40, deadline=None)
def test_more_torque_never_hurts(
    build_lanes: Build, more: float, axle: float, automatic: bool
) -> None:
    changes = {"axle_ratio": [axle], "lockup_from_gear": 3 if automatic else 1}
    weak = performance.full_load_metrics(build_lanes(**changes))
    strong = performance.full_load_metrics(build_lanes(torque_factor=more, **changes))
    assert strong["launch_grade"] >= weak["launch_grade"]
    assert strong["climb_speed"] >= weak["climb_speed"] - 1e-6
    assert strong["time_0_60mph"] <= weak["time_0_60mph"]
    assert strong["time_40_60mph"] <= weak["time_40_60mph"]


@given(axle=st.floats(2.6, 4.0), step=st.floats(1.01, 1.4), load=st.floats(1.0, 2.0))
@settings(max_examples=40, deadline=None)
def test_a_numerically_higher_axle_starts_on_a_steeper_grade(
    build_lanes: Build, axle: float, step: float, load: float
) -> None:
    grade = performance.launch_grade(
        build_lanes(axle_ratio=[axle, axle * step], mass_kg=4000.0 * load, driven_load_kg=1e5)
    )
    assert grade[1, 0] > grade[0, 0]


@given(load=st.floats(1.02, 1.8))
@settings(max_examples=30, deadline=None)
def test_more_mass_is_slower_everywhere(build_lanes: Build, load: float) -> None:
    light = performance.full_load_metrics(build_lanes(mass_kg=3000.0))
    heavy = performance.full_load_metrics(build_lanes(mass_kg=3000.0 * load))
    assert (heavy["launch_grade"] <= light["launch_grade"]).all()
    assert (heavy["climb_speed"] <= light["climb_speed"] + 1e-6).all()
    assert (heavy["time_0_60mph"] > light["time_0_60mph"]).all()
