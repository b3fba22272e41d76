"""Torque between tabulated points, the uniform grid, power and altitude."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gearrec import engine

# Invented curve of no real engine.
SPEEDS = [700.0, 1000.0, 1500.0, 2000.0, 2600.0, 3400.0, 4000.0]
TORQUES = [170.0, 230.0, 360.0, 390.0, 380.0, 310.0, 150.0]


def _torque(speed: object, outside: str = "nan") -> np.ndarray:
    return engine.torque_nm(
        engine_speed_rpm=speed,
        curve_speed_rpm=SPEEDS,
        curve_torque_nm=TORQUES,
        outside=outside,
    )


def test_torque_at_points_and_half_way_between() -> None:
    assert _torque(SPEEDS) == pytest.approx(TORQUES)
    # By hand: half-way between 360 and 390.
    assert float(_torque(1750.0)) == pytest.approx(375.0)


@pytest.mark.parametrize("speed", [699.9, 4000.1])
def test_torque_is_never_extrapolated(speed: float) -> None:
    assert math.isnan(float(_torque(speed)))
    with pytest.raises(ValueError, match="allowed: 700 to 4000 rpm"):
        _torque([1500.0, speed], outside="error")


def test_nan_speed_gives_nan_torque() -> None:
    assert math.isnan(float(_torque(math.nan)))


@pytest.mark.parametrize(
    ("speeds", "torques", "words"),
    [
        ([1000.0], [100.0], "fewer than two points"),
        ([1000.0, 2000.0], [100.0], "2 speeds but 1 torques"),
        ([1000.0, 1000.0], [100.0, 100.0], "speeds must rise"),
        ([1000.0, 900.0], [100.0, 100.0], "speeds must rise"),
        ([0.0, 900.0], [100.0, 100.0], "not above zero"),
        ([800.0, 900.0], [100.0, -1.0], "below zero"),
        ([800.0, math.inf], [100.0, 1.0], "not a finite number"),
    ],
)
def test_unusable_curves_are_refused(speeds: list[float], torques: list[float], words: str) -> None:
    assert any(
        words in fault
        for fault in engine.curve_faults(curve_speed_rpm=speeds, curve_torque_nm=torques)
    )
    with pytest.raises(ValueError, match=words):
        engine.uniform_curve(curve_speed_rpm=speeds, curve_torque_nm=torques)


def test_all_faults_of_a_curve_come_at_once() -> None:
    faults = engine.curve_faults(curve_speed_rpm=[0.0, -1.0], curve_torque_nm=[-1.0])
    assert len(faults) == 4


def test_uniform_curve_is_exact_where_a_step_divides_all_knots() -> None:
    curve = engine.uniform_curve(curve_speed_rpm=SPEEDS, curve_torque_nm=TORQUES)
    # By hand: distances 300, 500, 500, 600, 800, 600 have the common divisor 100.
    assert (curve.start_rpm, curve.step_rpm, curve.torque_nm.size) == (700.0, 100.0, 34)
    assert curve.largest_error_nm == 0.0
    assert curve.end_rpm == 4000.0


def test_uniform_curve_says_what_a_coarse_grid_costs() -> None:
    curve = engine.uniform_curve(
        curve_speed_rpm=[1000.0, 1500.1, 2000.0], curve_torque_nm=[100.0, 200.0, 100.0], points=4
    )
    assert curve.torque_nm.size == 4
    # By hand: both inner points of the grid stand near a third; the peak of 200 is cut to 167.
    assert curve.largest_error_nm == pytest.approx(100.0 / 3.0, rel=0.01)


def test_uniform_curve_of_two_points_and_of_uneven_knots() -> None:
    two = engine.uniform_curve(curve_speed_rpm=[800.0, 2000.0], curve_torque_nm=[1.0, 2.0])
    assert two.torque_nm.size == 2
    odd = engine.uniform_curve(
        curve_speed_rpm=[800.0, 1000.0 * math.pi, 4000.0], curve_torque_nm=[1.0, 2.0, 1.0]
    )
    assert odd.torque_nm.size == engine.GRID_POINTS
    assert 0.0 < odd.largest_error_nm < 0.01
    with pytest.raises(ValueError, match="2 or more"):
        engine.uniform_curve(curve_speed_rpm=SPEEDS, curve_torque_nm=TORQUES, points=1)


@given(
    steps=st.lists(st.integers(1, 12), min_size=1, max_size=12),
    torques=st.lists(st.floats(1.0, 2000.0), min_size=13, max_size=13),
    share=st.floats(0.0, 1.0),
)
@settings(max_examples=60, deadline=None)
def test_uniform_grid_agrees_with_the_table_everywhere(
    steps: list[int], torques: list[float], share: float
) -> None:
    speeds = [700.0, *(700.0 + 50.0 * np.cumsum(steps)).tolist()]
    table = torques[: len(speeds)]
    curve = engine.uniform_curve(curve_speed_rpm=speeds, curve_torque_nm=table)
    speed = 700.0 + share * (speeds[-1] - 700.0)
    grid = engine.grid_torque_nm(
        engine_speed_rpm=np.array([[speed]]),
        torque_nm=curve.torque_nm[:, None],
        start_rpm=np.array([curve.start_rpm]),
        step_rpm=np.array([curve.step_rpm]),
    )
    plain = engine.torque_nm(
        engine_speed_rpm=speed, curve_speed_rpm=speeds, curve_torque_nm=table, outside="error"
    )
    assert grid[0, 0] == pytest.approx(float(plain), rel=1e-9)


def test_grid_look_up_keeps_lanes_apart_and_gives_nothing_outside() -> None:
    torque = np.array([[100.0, 10.0], [200.0, 20.0], [300.0, 30.0]])
    found = engine.grid_torque_nm(
        engine_speed_rpm=np.array(
            [[500.0, 500.0], [1500.0, 1250.0], [2000.0, 1501.0], [499.0, 0.0]]
        ),
        torque_nm=torque,
        start_rpm=np.array([1000.0, 500.0]) - [500.0, 0.0],
        step_rpm=np.array([750.0, 500.0]),
    )
    # By hand: lane 0 has knots at 500, 1250, 2000 rpm; lane 1 at 500, 1000, 1500 rpm.
    assert found == pytest.approx(np.array([[100, 10], [700 / 3, 25], [300, 0], [0, 0]]))


def test_power_of_torque() -> None:
    # By hand: one N m at one revolution per second is 2 pi watts.
    assert float(engine.power_w(torque_nm=1.0, engine_speed_rpm=60.0)) == pytest.approx(2 * math.pi)
    assert engine.power_w(torque_nm=np.array([1.0, np.nan]), engine_speed_rpm=60.0).shape == (2,)


@given(
    pressure=st.floats(60e3, 105e3),
    less=st.floats(1e2, 1e4),
    temperature=st.floats(240.0, 320.0),
)
@settings(max_examples=60, deadline=None)
def test_natural_torque_falls_with_thin_and_warm_air(
    pressure: float, less: float, temperature: float
) -> None:
    def factor(p: float, t: float) -> float:
        return float(engine.natural_torque_factor(dry_pressure_pa=p, temperature_k=t))

    assert factor(pressure - less, temperature) < factor(pressure, temperature)
    assert factor(pressure, temperature + 5.0) < factor(pressure, temperature)


def test_boosted_torque_is_flat_then_falls_and_never_below_zero() -> None:
    factor = engine.boosted_torque_factor(altitude_m=np.array([0.0, 2250.0, 3250.0, 1e6]))
    # Common practice, no source: 1 % per 100 m above the limit.
    assert factor == pytest.approx([1.0, 1.0, 0.9, 0.0])


def test_torque_factor_chooses_by_aspiration() -> None:
    both = engine.torque_factor(
        boosted=np.array([False, True]),
        altitude_m=2000.0,
        dry_pressure_pa=79.5e3,
        temperature_k=275.15,
    )
    natural = engine.natural_torque_factor(dry_pressure_pa=79.5e3, temperature_k=275.15)
    assert both.tolist() == [float(natural), 1.0]
