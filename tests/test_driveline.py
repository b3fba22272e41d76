from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gearrec import driveline, gearing
from gearrec.errors import InputError

ratios = st.floats(0.5, 100.0)
shares = st.floats(0.5, 1.0)
drags = st.floats(0.0, 200.0)
torques = st.floats(-500.0, 1500.0)
steps = st.floats(1.001, 1.5)
modest = settings(max_examples=60, deadline=None)

# Invented: a steel tube of usual size for a pickup.
TUBE: dict[str, Any] = {
    "length_m": 1.5,
    "outer_diameter_m": 0.1016,
    "inner_diameter_m": 0.0974,
    "material": "steel",
}


@modest
@given(torque=torques, ratio=ratios, share=shares, drag=drags)
def test_engine_torque_is_the_inverse_of_wheel_torque(
    torque: float, ratio: float, share: float, drag: float
) -> None:
    line = {"overall_ratio": ratio, "efficiency": share, "drag_torque_nm": drag}
    wheel = driveline.wheel_torque_nm(engine_torque_nm=torque, **line)
    back = driveline.engine_torque_nm(wheel_torque_nm=wheel, **line)
    assert back == pytest.approx(torque, rel=1e-9, abs=1e-9)


@modest
@given(torque=torques, ratio=ratios, share=shares, drag=drags)
def test_the_driveline_never_makes_power(
    torque: float, ratio: float, share: float, drag: float
) -> None:
    wheel = driveline.wheel_torque_nm(
        engine_torque_nm=torque, overall_ratio=ratio, efficiency=share, drag_torque_nm=drag
    )
    assert wheel <= torque * ratio + 1e-9


@modest
@given(torque=st.floats(5.0, 1000.0), drag=st.floats(1.0, 200.0), step=steps)
def test_efficiency_falls_at_light_load_because_drag_does_not_shrink(
    torque: float, drag: float, step: float
) -> None:
    light, heavy = driveline.net_efficiency(
        engine_torque_nm=np.array([torque, torque * step]),
        overall_ratio=3.0,
        efficiency=0.93,
        drag_torque_nm=drag,
    )
    assert light < heavy < 0.93


@modest
@given(torque=st.floats(5.0, 1000.0), ratio=ratios, share=shares, drag=drags)
def test_net_efficiency_is_wheel_power_over_engine_power(
    torque: float, ratio: float, share: float, drag: float
) -> None:
    line = {"overall_ratio": ratio, "efficiency": share, "drag_torque_nm": drag}
    wheel = driveline.wheel_torque_nm(engine_torque_nm=torque, **line)
    net = driveline.net_efficiency(engine_torque_nm=torque, **line)
    assert net == pytest.approx(wheel / (torque * ratio), rel=1e-9, abs=1e-12)


def test_drag_of_the_gearbox_reaches_the_wheels_multiplied() -> None:
    drag = driveline.drag_at_wheels_nm(
        gearbox_drag_nm=5.0, overall_ratio=[2.0, 4.0], axle_drag_nm=30.0
    )
    # By hand: 5 x 2 + 30, 5 x 4 + 30.
    np.testing.assert_allclose(drag, [40.0, 50.0])


@modest
@given(torque=torques, circumference=st.floats(1.5, 4.0), speed=st.floats(1.0, 50.0))
def test_force_times_speed_is_torque_times_turning(
    torque: float, circumference: float, speed: float
) -> None:
    force = driveline.tractive_force_n(wheel_torque_nm=torque, circumference_m=circumference)
    turning_radps = speed / circumference * 2.0 * math.pi
    assert force * speed == pytest.approx(torque * turning_radps, rel=1e-12)


@modest
@given(gear=st.floats(0.5, 6.0), axle=st.floats(2.0, 7.0), speed=st.floats(1.0, 50.0))
def test_driveshaft_turns_faster_than_the_engine_in_overdrive_only(
    gear: float, axle: float, speed: float
) -> None:
    shaft = driveline.driveshaft_speed_rpm(
        road_speed_mps=speed, axle_ratio=axle, circumference_m=2.4
    )
    ratio = gearing.overall_ratio(gear_ratio=gear, axle_ratio=axle)
    engine = gearing.engine_speed_rpm(
        road_speed_mps=speed, overall_ratio=ratio, circumference_m=2.4
    )
    assert shaft * gear == pytest.approx(engine, rel=1e-12)


@pytest.mark.parametrize(
    "critical", [driveline.critical_speed_rpm, driveline.critical_speed_limit_rpm]
)
def test_half_the_length_or_two_pieces_have_four_times_the_critical_speed(critical: Any) -> None:
    one = critical(**TUBE)
    assert critical(**(TUBE | {"length_m": 0.75})) == pytest.approx(4.0 * one)
    assert critical(**TUBE, pieces=2) == pytest.approx(4.0 * one)


@modest
@given(outer=st.floats(0.05, 0.2), wall=st.floats(0.001, 0.01), step=steps)
def test_a_wider_tube_whirls_later(outer: float, wall: float, step: float) -> None:
    outers = np.array([outer, outer * step])
    narrow, wide = driveline.critical_speed_rpm(
        length_m=1.5,
        outer_diameter_m=outers,
        inner_diameter_m=outers - 2.0 * wall,
        material="steel",
    )
    assert wide > narrow


def test_aluminum_alone_does_not_raise_the_critical_speed() -> None:
    steel = driveline.critical_speed_rpm(**TUBE)
    assert driveline.critical_speed_rpm(**(TUBE | {"material": "aluminum"})) < steel


def test_the_figure_for_limits_is_below_beam_theory() -> None:
    for material in ("steel", "aluminum"):
        tube = TUBE | {"material": material}
        limit = driveline.critical_speed_limit_rpm(**tube)
        assert 0.97 < limit / driveline.critical_speed_rpm(**tube) < 1.0


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (
            {"material": "aluminium"},
            "material: 'aluminium' is not known; .*did you mean 'aluminum'",
        ),
        ({"inner_diameter_m": 0.1016}, "inner_diameter_m: is not below the outer diameter"),
        ({"pieces": 3}, "pieces: not allowed; allowed: 1, 2"),
        ({"pieces": [1, 1.5]}, "pieces: not allowed; allowed: 1, 2"),
    ],
)
def test_a_tube_must_make_sense(change: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        driveline.critical_speed_limit_rpm(**(TUBE | change))


@modest
@given(speed=st.floats(100.0, 6000.0), degrees=st.floats(0.5, 60.0))
def test_joint_acceleration_is_the_peak_of_the_turning_joint(speed: float, degrees: float) -> None:
    angle = math.radians(degrees)
    turn = np.linspace(0.0, math.pi, 20_001)
    omega = speed * math.pi / 30.0
    rate = math.cos(angle) / (1.0 - math.sin(angle) ** 2 * np.cos(turn) ** 2)
    # Output speed is omega x rate, so acceleration is omega^2 x d(rate)/d(turn).
    sampled = omega**2 * np.max(np.abs(np.gradient(rate, turn)))
    peak = driveline.joint_acceleration_radps2(shaft_speed_rpm=speed, joint_angle_rad=angle)
    assert peak == pytest.approx(sampled, rel=1e-4)


def test_a_straight_joint_has_no_acceleration() -> None:
    assert driveline.joint_acceleration_radps2(shaft_speed_rpm=3000.0, joint_angle_rad=0.0) == 0.0


def test_axle_torque_is_limited_by_engine_or_by_tires() -> None:
    engine = driveline.engine_axle_torque_nm(
        peak_torque_nm=500.0,
        stall_torque_ratio=1.9,
        first_gear_ratio=4.0,
        low_range_ratio=[1.0, 2.7],
        axle_ratio=3.85,
        efficiency=0.9,
    )
    tires = driveline.traction_axle_torque_nm(
        axle_load_kg=2000.0, friction_coefficient=0.9, circumference_m=2.5
    )
    # By hand: 500 x 1.9 x 4 x 3.85 x 0.9 = 13167 N m, x 2.7 = 35550.9 N m;
    # 0.9 x 2000 kg x 9.80665 x 2.5 / 2 pi = 7023.5 N m.
    np.testing.assert_allclose(engine, [13167.0, 35550.9])
    assert tires == pytest.approx(7023.5, rel=1e-5)
    both = driveline.axle_torque_nm(engine_axle_torque_nm=engine, traction_axle_torque_nm=tires)
    np.testing.assert_allclose(both, [tires, tires])
    small = driveline.axle_torque_nm(engine_axle_torque_nm=3000.0, traction_axle_torque_nm=tires)
    assert small == 3000.0


@pytest.mark.parametrize("share", [0.0, -0.1, 1.0001, 96.0])
def test_an_efficiency_is_a_share(share: float) -> None:
    with pytest.raises(InputError, match=r"efficiency: .* allowed: above 0, at most 1"):
        driveline.wheel_torque_nm(
            engine_torque_nm=100.0, overall_ratio=3.0, efficiency=share, drag_torque_nm=0.0
        )
