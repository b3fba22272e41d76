"""Operating points: engine speed, holdable grades, choice of gear."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gearrec import engine, operating
from gearrec.lanes import take


def test_engine_speed_by_hand(build_lanes):
    # 27 m/s on a 2.44 m circumference: 60 x 27 / 2.44 turns a minute, x axle ratio x top gear.
    lanes = build_lanes(1)
    points = operating.solve(lanes)
    expected = 60.0 * 27.0 / 2.44 * lanes.axle_ratio[3, 0] * lanes.gear_ratio[-1, 0]
    assert points.speed_rpm[-1, 3, 3, 0] == pytest.approx(expected, rel=1e-12)


def test_torque_is_that_of_the_engines_own_look_up(example_lanes):
    random = np.random.default_rng(1)
    lanes = dataclasses.replace(
        example_lanes, torque_nm=example_lanes.torque_nm * (0.8 + 0.4 * random.random(64))
    )
    speed = random.uniform(600.0, 5800.0, (3, 2, 64))
    speed[0, 0, :3] = (500.0, 6000.0, 1500.0)
    expected = engine.grid_torque_nm(
        engine_speed_rpm=speed,
        torque_nm=lanes.torque_nm,
        start_rpm=lanes.torque_start_rpm,
        step_rpm=lanes.torque_step_rpm,
    )
    np.testing.assert_allclose(operating._torque_nm(lanes, speed), expected, rtol=1e-11)


def test_top_gear_grade_balances_forces(build_lanes):
    # Independent: power at the wheels with 10 % in reserve = level load + weight x sine.
    lanes = build_lanes(1)
    points = operating.solve(lanes)
    rpm = 60.0 * 28.0 / 2.44 * lanes.axle_ratio[4, 0] * lanes.gear_ratio[-1, 0]
    torque = np.interp(rpm, [1500.0, 2000.0], [340.0, 355.0])
    power = 0.9 * torque * rpm * math.pi / 30.0 * 0.96 * 0.99 * 0.96
    level = 0.011 * 9.80665 * 2200.0 + 0.6 * 1.35 * 28.0**2 + 40.0 * 2.0 * math.pi / 2.44
    expected = (power / 28.0 - level) / (2200.0 * 9.80665)
    assert 1500.0 < rpm < 2000.0
    assert points.top_held_grade[4, 0, 0] == pytest.approx(expected, rel=1e-12)


def test_thresholds_never_rise_with_the_gear(example_lanes):
    points = operating.solve(example_lanes)
    assert np.all(np.diff(points.threshold, axis=0) <= 0.0)
    assert np.all(points.threshold[0] > 0.5 * operating.ALWAYS)


def test_cruise_gear_is_the_highest_that_holds_level_ground(example_lanes):
    points = operating.solve(example_lanes)
    cruise = points.in_gear(points.threshold, points.cruise)
    assert np.all(cruise >= 0.0)
    above = np.minimum(points.cruise + 1, example_lanes.gears - 1)
    higher = points.in_gear(points.threshold, above)
    assert np.all((higher < 0.0) | (points.cruise == example_lanes.gears - 1))
    assert np.all(points.highest >= points.cruise)


def test_no_gear_above_the_governed_speed_is_chosen(build_lanes):
    lanes = build_lanes(1, governed_rpm=2300.0)
    points = operating.solve(lanes)
    speed = points.in_gear(points.speed_rpm, points.cruise)
    assert np.all(speed <= 2300.0)
    assert np.all(points.speed_rpm[0] > 2300.0)


def test_over_the_governed_speed_in_every_gear_the_top_gear_is_taken(build_lanes):
    lanes = build_lanes(1, governed_rpm=1500.0, gear_ratio=[4.0, 2.0, 1.0, 0.0])
    points = operating.solve(lanes)
    hopeless = points.speed_rpm[2] > 1500.0
    assert hopeless.any()
    assert np.all(points.cruise[hopeless] == 2)
    assert np.all(points.highest[hopeless] == 2)


def test_padded_gears_change_nothing(build_lanes):
    gears = [4.0, 2.4, 1.5, 1.0]
    plain = operating.solve(build_lanes(1, gear_ratio=gears))
    padded = operating.solve(
        build_lanes(
            1,
            gear_ratio=[*gears, 0.0, 0.0],
            gear_efficiency=np.array([0.96, 0.96, 0.96, 0.98, 1.0, 1.0]),
            gear_locked=np.array([False, False, True, True, True, True]),
        )
    )
    np.testing.assert_array_equal(padded.threshold[:4], plain.threshold)
    np.testing.assert_array_equal(padded.cruise, plain.cruise)
    np.testing.assert_array_equal(padded.top_held_grade, plain.top_held_grade)


def test_lanes_with_fewer_gears_stand_beside_others(build_lanes):
    short = [4.0, 2.4, 1.5, 1.0, 0.0, 0.0]
    long = [4.0, 2.4, 1.5, 1.0, 0.8, 0.65]
    both = np.stack([short, long], axis=1)
    lanes = dataclasses.replace(
        build_lanes(2, gear_ratio=long, gear_efficiency=np.full(6, 0.96)), gear_ratio=both
    )
    together = operating.solve(lanes)
    for lane in (0, 1):
        alone = operating.solve(take(lanes, [lane]))
        np.testing.assert_array_equal(together.threshold[..., [lane]], alone.threshold)
        np.testing.assert_array_equal(together.top_held_grade[..., [lane]], alone.top_held_grade)


def test_no_gear_but_the_lowest_is_used_below_the_light_lug_speed(example_lanes):
    points = operating.solve(example_lanes)
    speed = points.in_gear(points.speed_rpm, points.highest)
    assert np.all((speed > operating.light_lug_rpm(example_lanes)[:, None]) | (points.highest == 0))


@settings(max_examples=50)
@given(st.floats(1.0, 1.5), st.floats(0.6, 1.0))
def test_more_weight_or_less_torque_never_holds_a_steeper_grade(build_lanes, weight, torque):
    lanes = build_lanes(1)
    worse = dataclasses.replace(
        lanes, mass_kg=lanes.mass_kg * weight, torque_factor=lanes.torque_factor * torque
    )
    before, after = operating.solve(lanes), operating.solve(worse)
    # What is held downhill may well rise with weight.
    uphill = before.top_held_grade >= 0.0
    assert np.all(after.top_held_grade[uphill] <= before.top_held_grade[uphill] + 1e-12)
    assert np.all(after.cruise <= before.cruise)


def test_a_numerically_higher_axle_holds_steeper_grades_in_top_gear(build_lanes):
    # While torque does not fall with engine speed faster than speed rises, which is power rising.
    grades = operating.solve(build_lanes(1)).top_held_grade[:, [0, 1, 3], 0]
    assert np.all(np.diff(grades, axis=0) > 0.0)


def test_an_open_converter_multiplies_torque(build_lanes):
    legs = {"leg_speed_mps": [4.0] * 5}
    converter = operating.solve(build_lanes(1, **legs))
    clutch = operating.solve(build_lanes(1, lockup_from_gear=1, **legs))
    assert np.all(converter.usable_grade[0] > clutch.usable_grade[0])
    np.testing.assert_array_equal(converter.usable_grade[2:], clutch.usable_grade[2:])


def test_grade_of_a_sine():
    # A slope of 30 degrees: sine 1/2, tangent 1/sqrt(3).
    assert float(operating.grade_of_sine(np.float64(0.5))) == pytest.approx(1.0 / math.sqrt(3.0))
