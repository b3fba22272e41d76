"""Starts, climbs and 0 to 30 mph against arithmetic by hand on round figures."""

from __future__ import annotations

import numpy as np
import pytest
from gearrec_towing import pull

from gearrec import lanes as lane_arrays
from gearrec.metrics import Evaluation, evaluate
from gearrec.testing import sample_lanes

FORTY = 40.0 * pull.MPH_MPS


def test_start_by_torque(truck):
    # By hand: 500 N m x 2 (converter) x 4 x 0.95 x 4 x 0.96 / 0.4 m = 36,480 N; less 1,000 N of
    # rolling and 40 N m / 0.4 m of drag: 35,380 N on 98,066.5 N: sine 0.36077, tangent 0.38683.
    assert pull.startability(truck())[:, 0] == pytest.approx([0.38683] * 3, rel=1e-4)


def test_start_by_grip(truck):
    # By hand: 0.8 x 4,000 kg x 9.80665 = 31,381 N, less 1,000 N, on 98,066.5 N.
    assert pull.startability(truck(driven_load_kg=4000.0))[0, 0] == pytest.approx(0.30980, rel=1e-4)


def test_start_with_a_clutch_at_its_start_speed(truck):
    # By hand: no converter, half of 36,480 N: 17,140 N on 98,066.5 N: sine 0.17478.
    clutch = truck(is_automatic=False, stall_torque_ratio=1.0, stall_speed_rpm=1200.0)
    assert pull.startability(clutch)[0, 0] == pytest.approx(0.17751, rel=1e-4)


def test_start_in_thin_air(truck):
    # By hand: 0.8 x 36,480 N - 1,100 N = 28,084 N: sine 0.28638, tangent 0.29890.
    thin = truck(torque_factor=(1.0, 0.8))
    assert pull.startability(thin)[0, 0] == pytest.approx(0.29890, rel=1e-4)


def test_start_in_reverse(truck):
    # By hand: 3 / 4 of 36,480 N less 1,100 N: 26,260 N: sine 0.26778, tangent 0.27793.
    assert pull.startability_reverse(truck())[0, 0] == pytest.approx(0.27793, rel=1e-4)
    assert np.isnan(pull.startability_reverse(truck(reverse_ratio=np.nan))).all()


def test_a_start_that_takes_a_descent_is_negative(truck):
    # By hand: 20 / 500 of 36,480 N is 1,459 N; 2,500 N + 100 N are needed: -1,141 N: -0.01163.
    weak = truck(torque_nm=20.0, force_constant_n=2500.0)
    assert pull.startability(weak)[0, 0] == pytest.approx(-0.01163, rel=1e-3)


def test_the_start_agrees_with_the_library_on_invented_vehicles():
    lanes = sample_lanes(size=40)
    built_in = evaluate(lanes)["launch_grade"]
    np.testing.assert_allclose(pull.startability(Evaluation(lanes)), built_in, rtol=1e-12)


def test_grade_held_at_40_mph(truck):
    # By hand: 17.8816 m/s is 1,707.6 rpm at the driveshaft; first gear would turn 6,830 rpm, above
    # 4,000; second pulls 500 x 2 x 0.95 x 4 x 0.96 / 0.4 = 9,120 N; less 1,000 N + 319.75 N of air
    # + 100 N of drag: 7,700.2 N on 98,066.5 N: sine 0.078521, tangent 0.078764.
    grade = pull.gradeability(truck(), FORTY)
    assert grade[:, 0] == pytest.approx([0.078764] * 3, rel=1e-4)
    assert pull.gradeability_gear(truck(), FORTY)[0, 0] == 2.0


def test_grade_held_is_limited_by_grip(truck):
    # By hand: 0.8 x 1,000 kg x 9.80665 = 7,845.3 N, less 1,319.75 N, on 98,066.5 N.
    slick = truck(driven_load_kg=1000.0)
    assert pull.gradeability(slick, FORTY)[0, 0] == pytest.approx(0.066542, rel=1e-4)


def test_no_gear_at_all_is_unknown_and_not_zero(truck):
    # Third gear turns 1,708 rpm at 40 mph: above a governor of 1,500.
    fast = truck(governed_rpm=1500.0)
    assert np.isnan(pull.gradeability(fast, FORTY)).all()
    assert np.isnan(pull.gradeability_gear(fast, FORTY)).all()


def test_no_gear_but_the_lowest_is_used_below_the_light_lug_speed(truck):
    # At 40 mph the gears turn 6,830, 3,415 and 1,708 rpm; a governor of 3,000 leaves the third.
    third = truck(governed_rpm=3000.0)
    assert pull.gradeability_gear(third, FORTY)[0, 0] == 3.0
    lugging = truck(governed_rpm=3000.0, light_lug_rpm=1800.0, lug_rpm=1900.0)
    assert np.isnan(pull.gradeability(lugging, FORTY)).all()
    # At 10 mph first turns 1,708 rpm: it may slip.
    assert pull.gradeability_gear(lugging, 10.0 * pull.MPH_MPS)[0, 0] == 1.0


@pytest.mark.parametrize("open_gears", [1, 5])
def test_the_grade_held_agrees_with_the_librarys_climb_speed(open_gears):
    # Another method: it looks for the speed on a grade, this one for the grade at a speed.
    lanes = sample_lanes(size=60, seed=3)
    lanes.gear_locked[:open_gears] = False
    lanes.reference_grade[:] = np.linspace(0.03, 0.12, 60)
    speed = evaluate(lanes)["climb_speed"]
    inside = speed < 46.0
    assert inside.sum() > 100
    slower = pull.gradeability(Evaluation(lanes), 0.99 * speed)
    faster = pull.gradeability(Evaluation(lanes), 1.01 * speed)
    wanted = np.broadcast_to(lanes.reference_grade, speed.shape)
    assert np.all(slower[inside] >= 0.985 * wanted[inside])
    assert np.all((faster[inside] <= 1.015 * wanted[inside]) | np.isnan(faster[inside]))


def test_time_to_30_mph_at_constant_force(truck):
    # By hand: grip 0.5 x 4,000 kg x 9.80665 = 19,613.3 N, less 1,100 N: 13.4112 m/s x 10,000 kg /
    # 18,513.3 N = 7.2441 s, all in first gear below 20,000 rpm.
    constant = {
        "torque_nm": 5000.0,
        "friction_coefficient": 0.5,
        "driven_load_kg": 4000.0,
        "force_square_n_per_mps2": 0.0,
        "governed_rpm": 20000.0,
    }
    assert pull.time_0_30mph(truck(**constant))[0, 0] == pytest.approx(7.2441, rel=1e-4)
    # Wheels of 16 kg m2 at 0.4 m are as 100 kg more: 1 percent.
    heavy_wheels = truck(**constant, wheel_inertia_kg_m2=16.0)
    assert pull.time_0_30mph(heavy_wheels)[0, 0] == pytest.approx(7.3165, rel=1e-4)
    # First gear ends at 4,000 rpm or 10.5 m/s: one shift of 0.25 s, or 0.7 s by hand
    # (common practice, no source).
    shifting = constant | {"governed_rpm": 4000.0}
    assert pull.time_0_30mph(truck(**shifting))[0, 0] == pytest.approx(7.4941, rel=1e-4)
    manual = truck(**shifting, is_automatic=False)
    assert pull.time_0_30mph(manual)[0, 0] == pytest.approx(7.9441, rel=1e-4)


def test_time_to_30_mph_is_unknown_where_it_is_never_reached(truck):
    assert np.isnan(pull.time_0_30mph(truck(force_constant_n=40000.0))).all()


def test_time_to_30_mph_is_shorter_than_to_60():
    lanes = sample_lanes(size=20)
    sixty = evaluate(lanes)["time_0_60mph"]
    thirty = pull.time_0_30mph(Evaluation(lanes))
    # The slower half of the way takes less than half of the time, by far: the force falls.
    assert np.all(thirty < 0.5 * sixty)


def test_the_heaviest_leg_counts_and_not_the_first(truck):
    heavy_first = truck(mass_kg=(10000.0, 4000.0))
    assert pull.startability(heavy_first)[0, 0] == pytest.approx(0.38683, rel=1e-4)


def test_inputs_are_those_of_the_contract(truck):
    assert lane_arrays.validate(truck().lanes) == ()
