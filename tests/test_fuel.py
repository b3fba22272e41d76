"""Friction, Willans fuel rate and its range, idle, consumption maps, distance, break-even."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gearrec import fuel

MAP = fuel.ConsumptionMap(
    speed_rpm=np.array([1000.0, 2000.0, 3000.0]),
    torque_nm=np.array([50.0, 100.0]),
    specific_kg_per_j=np.array([[10.0, 12.0, 14.0], [6.0, 7.0, 8.0]]) * 1e-8,
)


def _rate(speed: object, torque: object, outside: Any = "nan") -> np.ndarray:
    return fuel.map_fuel_rate_kg_per_s(
        consumption_map=MAP,
        engine_speed_rpm=speed,
        torque_nm=torque,
        outside=outside,
    )


def test_friction_is_a_polynomial_of_speed() -> None:
    pressure = fuel.friction_pressure_pa(
        engine_speed_rpm=np.array([0.0, 1000.0, 2000.0]),
        constant_pa=1e5,
        linear_pa_per_rpm=10.0,
        square_pa_per_rpm2=1e-2,
    )
    # By hand.
    assert pressure == pytest.approx([1e5, 1.2e5, 1.6e5])


def test_mean_pressure_is_work_per_two_turns() -> None:
    # By hand: 10 bar x 2 L = 2 kJ per cycle, 20 cycles a second at 2400 rpm.
    power = fuel.mean_pressure_power_w(
        pressure_pa=1e6, displacement_m3=2e-3, engine_speed_rpm=2400.0
    )
    assert float(power) == pytest.approx(40e3)


def test_fuel_rate_and_its_range() -> None:
    given_values = {
        "shaft_power_w": np.array([30e3, -10e3, -2e3, np.nan]),
        "friction_power_w": 6e3,
        "lower_heating_value_j_per_kg": 40e6,
    }
    rate = fuel.fuel_rate_kg_per_s(indicated_efficiency=0.45, **given_values)
    # By hand: 36 kW / 0.45 / 40 MJ/kg = 2 g/s; driven by the vehicle it burns nothing.
    assert rate[:3] == pytest.approx([2e-3, 0.0, 4e3 / 0.45 / 40e6])
    assert math.isnan(rate[3])
    span = fuel.fuel_range_kg_per_s(
        efficiency_low=0.40, efficiency_mid=0.45, efficiency_high=0.50, **given_values
    )
    assert span.mid[:3].tolist() == rate[:3].tolist()
    assert span.low[0] == pytest.approx(1.8e-3)
    assert span.high[0] == pytest.approx(2.25e-3)


@given(
    power=st.floats(0.0, 2e5),
    more=st.floats(1.0, 1e5),
    speed=st.floats(700.0, 4000.0),
    step=st.floats(1.02, 1.5),
)
@settings(max_examples=60, deadline=None)
def test_more_power_or_more_engine_speed_costs_fuel(
    power: float, more: float, speed: float, step: float
) -> None:
    def rate(shaft: float, rpm: float) -> float:
        friction = fuel.mean_pressure_power_w(
            pressure_pa=fuel.friction_pressure_pa(
                engine_speed_rpm=rpm,
                constant_pa=64e3,
                linear_pa_per_rpm=41.0,
                square_pa_per_rpm2=1e-3,
            ),
            displacement_m3=2.2e-3,
            engine_speed_rpm=rpm,
        )
        return float(
            fuel.fuel_rate_kg_per_s(
                shaft_power_w=shaft,
                friction_power_w=friction,
                indicated_efficiency=0.45,
                lower_heating_value_j_per_kg=42.7e6,
            )
        )

    assert rate(power + more, speed) > rate(power, speed)
    assert rate(power, speed * step) > rate(power, speed)


def test_idle_fuel_is_heat_per_turn() -> None:
    # By hand: 240 kPa x 5 L = 1.2 kJ a turn, 10 turns a second, 40 MJ/kg.
    rate = fuel.idle_fuel_kg_per_s(
        displacement_m3=5e-3,
        idle_rpm=600.0,
        idle_fuel_pressure_pa=240e3,
        lower_heating_value_j_per_kg=40e6,
    )
    assert float(rate) == pytest.approx(3e-4)


def test_map_is_met_at_its_points_and_bilinear_between() -> None:
    work = math.pi / 30.0
    assert _rate(2000.0, 50.0) == pytest.approx(12e-8 * 50.0 * 2000.0 * work)
    assert _rate(3000.0, 100.0) == pytest.approx(8e-8 * 100.0 * 3000.0 * work)
    # By hand: mean of 10, 12, 6 and 7 in the middle of the first cell.
    assert _rate(1500.0, 75.0) == pytest.approx(8.75e-8 * 75.0 * 1500.0 * work)
    assert _rate(np.array([1500.0, 1800.0]), 75.0).shape == (2,)


@pytest.mark.parametrize(
    ("speed", "torque"), [(999.0, 75.0), (3001.0, 75.0), (1500.0, 49.0), (1500.0, 101.0)]
)
def test_map_is_never_extrapolated(speed: float, torque: float) -> None:
    assert math.isnan(float(_rate(speed, torque)))
    with pytest.raises(ValueError, match="allowed: 1000 to 3000 rpm and 50 to 100"):
        _rate(speed, torque, outside="error")


def test_faults_of_a_map_come_all_at_once() -> None:
    faults = fuel.consumption_map_faults(
        speed_rpm=[1000.0, 900.0], torque_nm=[50.0], specific_kg_per_j=[[1.0, -1.0], [1.0]]
    )
    words = ("of speed must rise", "fewer than two values of torque", "2 rows", "row 2", "above")
    assert len(faults) == len(words)
    for word in words:
        assert any(word in fault for fault in faults), word
    good = MAP.specific_kg_per_j.tolist()
    assert not fuel.consumption_map_faults(
        speed_rpm=MAP.speed_rpm.tolist(), torque_nm=MAP.torque_nm.tolist(), specific_kg_per_j=good
    )


def test_fuel_over_distance() -> None:
    # By hand: 1 g/s at 25 m/s is 4 kg in 100 km; at 800 g/L that is 5 L.
    use = fuel.liters_per_100km(
        fuel_rate_kg_per_s=1e-3, fuel_density_kg_per_m3=800.0, speed_mps=25.0
    )
    assert float(use) == pytest.approx(5.0)


@given(axle=st.floats(1.0, 1.6), gear=st.floats(1.05, 1.9), elasticity=st.floats(0.1, 0.6))
@settings(max_examples=60, deadline=None)
def test_at_break_even_both_axles_burn_the_same(
    axle: float, gear: float, elasticity: float
) -> None:
    share = float(fuel.break_even_lower_gear_share(axle_step=axle, gear_step=gear))
    # Mean logarithm of fuel: the lower axle spends `share` of its time a gear step faster.
    assert share * elasticity * math.log(gear) == pytest.approx(elasticity * math.log(axle))


@pytest.mark.parametrize(("axle", "gear"), [(0.99, 1.2), (1.1, 1.0)])
def test_break_even_refuses_steps_the_wrong_way(axle: float, gear: float) -> None:
    with pytest.raises(ValueError, match="1 or more"):
        fuel.break_even_lower_gear_share(axle_step=axle, gear_step=gear)
