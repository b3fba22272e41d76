"""Closed forms over the terrain against brute force: another path to the same numbers.

Expected values are computed here from the definition of the model: fine sums over grades with the
single-point functions of `transmission` and `fuel`, scipy's integrals, and a simulated road.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate, stats

from gearrec import consumption, engine, fuel, operating, terrain, transmission
from gearrec.metrics import Evaluation


@pytest.mark.parametrize(("lower", "upper"), [(-0.05, 0.01), (0.0, 0.03), (0.02, math.inf)])
@pytest.mark.parametrize("deviation", [0.008, 0.025, 0.05])
def test_partial_moments_against_scipy(lower, upper, deviation):
    normal = stats.norm(scale=deviation)
    limit = min(upper, 12.0 * deviation)
    moment, _ = integrate.quad(
        lambda grade: grade * normal.pdf(grade), lower, limit, epsabs=1e-13, limit=200
    )
    share = normal.cdf(upper) - normal.cdf(lower)
    part = {"lower_grade": lower, "upper_grade": upper, "deviation": deviation}
    assert float(terrain.share_between(**part)) == pytest.approx(share, abs=1e-8)
    assert float(terrain.grade_moment_between(**part)) == pytest.approx(moment, abs=1e-9)


def _brute_force(lanes, candidate, leg, grades):
    """Gear (from 0) and fuel rate [L/100 km] on each grade, by the single-point functions."""
    speed = lanes.leg_speed_mps[leg, 0]
    overall = lanes.axle_ratio[candidate, 0] / lanes.circumference_planned_m[0] * 60.0 * speed
    engine_rpm = (lanes.gear_ratio[:, 0] * overall)[:, None]
    torque = engine.grid_torque_nm(
        engine_speed_rpm=engine_rpm,
        torque_nm=lanes.torque_nm,
        start_rpm=lanes.torque_start_rpm,
        step_rpm=lanes.torque_step_rpm,
    )
    torque = torque * lanes.torque_factor[leg, 0]
    usable = transmission.usable_torque_share(
        engine_speed_rpm=engine_rpm,
        light_lug_rpm=operating.light_lug_rpm(lanes)[candidate, 0],
        lug_rpm=lanes.lug_rpm[0],
        governed_rpm=lanes.governed_rpm[0],
        torque_reserve=lanes.torque_reserve[0],
    )
    efficiency = (
        lanes.gear_efficiency[:, 0] * lanes.transfer_high_efficiency[0] * lanes.axle_efficiency[0]
    )
    level = lanes.force_constant_n[leg, 0] + lanes.force_square_n_per_mps2[leg, 0] * speed**2
    level += lanes.drag_torque_nm[0] * 2.0 * math.pi / lanes.circumference_planned_m[0]
    force = level + lanes.mass_kg[leg, 0] * 9.80665 * grades
    power = force * speed / efficiency[:, None]
    demand = power / (engine_rpm * math.pi / 30.0)
    gear = transmission.highest_gear(
        torque_demand_nm=demand,
        torque_available_nm=np.broadcast_to(torque, demand.shape),
        usable_share=np.broadcast_to(usable, demand.shape),
        permitted=np.ones_like(demand, dtype=bool),
    )
    pull = (torque * usable * engine_rpm)[:, 0] * efficiency
    gear = np.where(gear < 0, int(np.argmax(pull)), gear)
    friction = fuel.mean_pressure_power_w(
        pressure_pa=fuel.friction_pressure_pa(
            engine_speed_rpm=engine_rpm,
            constant_pa=lanes.friction_0_pa[0],
            linear_pa_per_rpm=lanes.friction_1_pa_per_rpm[0],
            square_pa_per_rpm2=lanes.friction_2_pa_per_rpm2[0],
        ),
        displacement_m3=lanes.displacement_m3[0],
        engine_speed_rpm=engine_rpm,
    )
    rate = fuel.fuel_rate_kg_per_s(
        shaft_power_w=power,
        friction_power_w=np.broadcast_to(friction, power.shape),
        indicated_efficiency=lanes.indicated_efficiency[0],
        lower_heating_value_j_per_kg=lanes.lower_heating_value_j_per_kg[0],
    )
    chosen = np.take_along_axis(rate, gear[None], axis=0)[0]
    per_distance = fuel.liters_per_100km(
        fuel_rate_kg_per_s=chosen,
        fuel_density_kg_per_m3=lanes.fuel_density_kg_per_m3[0],
        speed_mps=speed,
    )
    return gear, per_distance


@pytest.mark.parametrize("leg", [0, 1, 3, 4])
@pytest.mark.parametrize("candidate", [0, 2, 4])
def test_fuel_and_gears_against_a_fine_sum_over_grades(build_lanes, candidate, leg):
    # A clutch, so that no slip enters; legs without stops.
    lanes = build_lanes(1, lockup_from_gear=1)
    at = Evaluation(lanes)
    deviation = lanes.leg_grade_deviation[leg, 0]
    grades = np.linspace(-8.0, 8.0, 200_001) * deviation
    weight = stats.norm.pdf(grades, scale=deviation)
    weight /= weight.sum()
    gear, rate = _brute_force(lanes, candidate, leg, grades)
    expected = float(weight @ rate)
    assert at.terrain.fuel_rate[candidate, leg, 0] == pytest.approx(expected, rel=2e-5)
    below = float(weight @ (gear < lanes.gears - 1))
    found = consumption.downshift_share(lanes, at.terrain)[candidate, leg, 0]
    assert found == pytest.approx(below, abs=2e-4)


def _simulated_road(correlation_m, step_m, points, seed):
    """Standard normal grades along a road with correlation exp(-(x / c)^2 / 2)."""
    random = np.random.default_rng(seed)
    wave = np.fft.rfftfreq(points, step_m) * 2.0 * math.pi
    amplitude = np.exp(-0.25 * (wave * correlation_m) ** 2)
    spectrum = amplitude * (
        random.standard_normal(wave.size) + 1j * random.standard_normal(wave.size)
    )
    road = np.fft.irfft(spectrum, points)
    return road / road.std()


@pytest.mark.parametrize(
    ("upper", "width"),
    [
        (0.0, 0.0),
        (0.5, 0.0),
        (1.0, 0.0),
        (2.0, 0.0),
        (0.5, 0.1),
        (1.0, 0.1),
        (2.0, 0.1),
        (0.0, 0.1),
    ],
)
def test_passages_against_a_simulated_road(upper, width):
    correlation, step, points = 100.0, 5.0, 1 << 20
    road = _simulated_road(correlation, step, points, seed=7)
    # +1 above the band, -1 below it, and within it what was last.
    side = np.where(road > upper, 1, np.where(road < upper - width, -1, 0))
    side = side[side != 0]
    passages = np.count_nonzero(np.diff(side)) / (points * step)
    expected = float(
        terrain.crossings_per_m(
            upper_grade=upper, lower_grade=upper - width, deviation=1.0, correlation_m=correlation
        )
    )
    if width == 0.0:
        assert expected == pytest.approx(passages, rel=0.05)
    else:
        # An upper bound, and for a narrow band a close one.
        assert passages * 0.98 <= expected <= passages * 1.15


def test_thresholds_are_where_the_gear_changes(build_lanes):
    lanes = build_lanes(1, lockup_from_gear=1)
    points = operating.solve(lanes)
    for candidate in (0, 3):
        for leg in (0, 4):
            thresholds = points.threshold[:, candidate, leg, 0]
            for gear, threshold in enumerate(thresholds):
                if abs(threshold) < 0.5 * operating.ALWAYS:
                    near = np.array([threshold - 1e-9, threshold + 1e-9])
                    used, _ = _brute_force(lanes, candidate, leg, near)
                    assert used[0] >= gear > used[1]
