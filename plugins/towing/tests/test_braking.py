"""Engine braking against arithmetic by hand; friction as in `core/diesel-large`."""

from __future__ import annotations

import numpy as np
import pytest
from gearrec_towing import braking

from gearrec.metrics import Evaluation
from gearrec.testing import sample_lanes


def test_descent_held_by_friction_and_road_load(truck):
    # By hand, 40 mph: 426.89 rpm at the wheels x 4 x 2 (second gear) = 3,415.1 rpm. Friction
    # 64 + 40.8 x 3.4151 + 3.5 x 3.4151^2 = 244.16 kPa; x 7.05 L / (4 pi) = 136.98 N m; x 8 / 0.4 m
    # / (0.95 x 0.96) = 3,003.9 N. Road 1,000 + 319.75 + 100 N. Sum 4,423.7 N on 98,066.5 N: sine
    # 0.045109, tangent 0.045155; without the trailer on 39,226.6 N: sine 0.112772, tan 0.113496.
    at = truck()
    grade = braking.engine_braking_grade(at)
    assert grade.shape == (3, 2, 1)
    assert grade[0, :, 0] == pytest.approx([0.113496, 0.045155], rel=1e-4)
    assert braking.engine_braking_gear(at)[:, :, 0].tolist() == [[2.0, 2.0]] * 3


def test_a_gear_in_which_the_converter_cannot_lock_does_not_count(truck):
    # By hand, third gear: 1,707.6 rpm; 64 + 69.67 + 10.21 = 143.87 kPa; 80.72 N m x 4 / 0.4 /
    # 0.912 = 885.0 N; with the road 2,304.8 N: sine 0.023502.
    at = truck(gear_locked=(False, False, True, True, True))
    assert braking.engine_braking_grade(at)[0, 1, 0] == pytest.approx(0.023509, rel=1e-4)
    assert braking.engine_braking_gear(at)[0, 1, 0] == 3.0


def test_slower_a_lower_gear_holds_more(truck):
    # At 20 mph first gear turns 3,415 rpm, as second does at 40: twice the force at the wheels.
    # By hand: 6,007.8 N + 1,000 + 79.94 + 100 N = 7,187.7 N: sine 0.073295, tangent 0.073492.
    at = truck(leg_speed_mps=20.0 * 0.44704)
    assert braking.engine_braking_gear(at)[0, 1, 0] == 1.0
    assert braking.engine_braking_grade(at)[0, 1, 0] == pytest.approx(0.073492, rel=1e-4)


def test_low_range_holds_more(truck):
    # With a low range of 2 second gear at 20 mph turns what first does in high range.
    low = truck(
        leg_speed_mps=20.0 * 0.44704,
        leg_low_range=True,
        low_range_ratio=2.0,
        transfer_low_efficiency=1.0,
    )
    assert braking.engine_braking_gear(low)[0, 1, 0] == 2.0
    assert braking.engine_braking_grade(low)[0, 1, 0] == pytest.approx(0.073492, rel=1e-4)


def test_every_gear_too_fast_is_unknown_and_not_zero(truck):
    at = truck(governed_rpm=1500.0)
    assert np.isnan(braking.engine_braking_grade(at)).all()
    assert np.isnan(braking.engine_braking_gear(at)).all()


def test_friction_that_the_polynomial_makes_negative_is_none(truck):
    # By hand: the road alone, 1,419.75 N on 98,066.5 N.
    at = truck(friction_0_pa=1.0, friction_1_pa_per_rpm=-50.0, friction_2_pa_per_rpm2=0.0)
    assert braking.engine_braking_grade(at)[0, 1, 0] == pytest.approx(0.014479, rel=1e-3)


def test_in_one_gear_a_higher_axle_holds_more():
    lanes = sample_lanes(size=12)
    at = Evaluation(lanes)
    grade, gear = braking.engine_braking_grade(at), braking.engine_braking_gear(at)
    same = gear[:-1] == gear[1:]
    assert same.any()
    assert np.all(np.diff(grade, axis=0)[same] > 0.0)
