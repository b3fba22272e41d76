"""Fuel over terrain: signs and sizes that physics and measurements allow."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from gearrec.metrics import Evaluation, mix

# Invented vehicles of the kinds in the measurements: gears, lock-up, displacement [m3], mass [kg],
# drag area [m2], engine size against the example's, middle of the axle ratios.
GASOLINE = {
    "four-cylinder, 5-speed manual": (
        [3.92, 2.19, 1.44, 1.0, 0.82],
        *(1, 2.2e-3, 1600, 1.0, 0.6, 3.85),
    ),
    "V6, 8-speed": (
        [4.92, 3.05, 2.14, 1.62, 1.26, 1.0, 0.82, 0.64],
        *(3, 3.4e-3, 2150, 1.3, 1.0, 3.62),
    ),
    "V8, 6-speed": ([3.78, 2.24, 1.47, 1.0, 0.79, 0.65], 3, 5.1e-3, 2600, 1.45, 1.45, 3.36),
    "in-line six, 4-speed": ([2.5, 1.46, 1.0, 0.75], 3, 3.8e-3, 1900, 1.3, 0.85, 3.53),
    "V6, 9-speed": (
        [4.46, 2.91, 2.12, 1.66, 1.31, 1.0, 0.86, 0.74, 0.64],
        *(2, 3.3e-3, 2500, 1.45, 1.45, 3.53),
    ),
    "V8, 5-speed": ([3.44, 2.06, 1.38, 1.0, 0.81], 3, 5.4e-3, 2500, 1.45, 1.4, 3.13),
}
TORQUE = np.array([200, 300, 340, 355, 360, 370, 380, 375, 360, 340, 300, 260])


def _legs(speeds, deviation, stops=0.0, standing=0.0):
    count = len(speeds)
    return {
        "leg_share": [1.0 / count] * count,
        "leg_speed_mps": list(speeds),
        "leg_grade_deviation": [deviation] * count,
        "leg_grade_correlation_m": [200.0] * count,
        "leg_stops_per_m": [stops] * count,
        "leg_standing_share": [standing] * count,
        "trailer_kg": [0.0] * count,
    }


def _elasticity(build_lanes, kind, legs):
    """d ln(fuel) / d ln(axle ratio), by least squares over axle ratios 20 % apart."""
    gears, lockup, displacement, mass, drag_area, size, middle = GASOLINE[kind]
    ratios = middle * np.linspace(0.92, 1.12, 9)
    lanes = build_lanes(
        1,
        axle_ratio=list(ratios),
        factory_ratio=middle,
        gear_ratio=gears,
        lockup_from_gear=lockup,
        displacement_m3=displacement,
        vehicle_kg=float(mass),
        drag_area_m2=drag_area,
        torque_nm=list(TORQUE * size),
        **legs,
    )
    fuel = mix(lanes, Evaluation(lanes).terrain.fuel_rate)[:, 0]
    return float(np.polyfit(np.log(ratios), np.log(fuel), 1)[0])


def test_highway_elasticity_is_within_the_measured_band(build_lanes):
    # US EPA, test car lists 2004 to 2023, matched gasoline pairs, highway cycle: mean over vehicles
    # 0.20 to 0.40, any one vehicle 0.10 to 0.55. Mean speed of the cycle 21.6 m/s (48.3 mph).
    legs = _legs([18.0, 22.0, 26.0], 0.012)
    found = [_elasticity(build_lanes, kind, legs) for kind in GASOLINE]
    assert 0.20 <= np.mean(found) <= 0.40
    assert 0.10 <= min(found) <= max(found) <= 0.55


def test_city_elasticity_of_automatics_is_small_and_below_the_highways(build_lanes):
    # Same source, city cycle, automatics: mean 0 to 0.25, below the highway figure.
    city = _legs(np.arange(3.0, 21.0, 0.25), 0.02, stops=1.0e-3, standing=0.2)
    highway = _legs([18.0, 22.0, 26.0], 0.012)
    kinds = [kind for kind, data in GASOLINE.items() if data[1] > 1]
    found = [_elasticity(build_lanes, kind, city) for kind in kinds]
    assert 0.0 <= np.mean(found) <= 0.25
    for kind, elasticity in zip(kinds, found, strict=True):
        assert elasticity < _elasticity(build_lanes, kind, highway)


def test_steady_cruise_in_the_same_gear_costs_fuel_with_a_higher_axle(build_lanes):
    # On level ground, locked, in one gear: physics leaves no other sign.
    ratios = np.linspace(3.3, 4.6, 14)
    lanes = build_lanes(1, axle_ratio=list(ratios), **_legs([28.0], 0.0))
    at = Evaluation(lanes)
    assert np.all(at.points.cruise == lanes.gears - 1)
    assert np.all(np.diff(at.terrain.fuel_rate[:, 0, 0]) > 0.0)


def test_level_cruise_by_hand(build_lanes):
    # Willans line at one point: (friction power + road power / efficiency) / (eta H), per distance.
    lanes = build_lanes(1, **_legs([28.0], 0.0))
    rpm = 60.0 * 28.0 / 2.44 * (47 / 13) * 0.64
    pressure = 87.0e3 + 13.5 * rpm + 4.5e-3 * rpm**2
    friction = pressure * 3.4e-3 * rpm / 120.0
    force = 0.011 * 9.80665 * 2200.0 + 0.6 * 1.35 * 28.0**2 + 40.0 * 2.0 * np.pi / 2.44
    power = friction + force * 28.0 / (0.96 * 0.99 * 0.96)
    expected = power / (0.42 * 41.5e6) / 28.0 / 745.0 * 1e8
    assert Evaluation(lanes).terrain.fuel_rate[2, 0, 0] == pytest.approx(expected, rel=1e-6)


def test_size_of_the_cost_of_a_higher_axle(build_lanes):
    # 47/13 to 46/11 (+15.7 % revs), light cruise: Willans lines give an elasticity of 0.25 to 0.49
    # (derived from published friction correlations): 1.157^0.25 is 3.7 % more, 1.157^0.49 7.4 %.
    given = {"axle_ratio": [47 / 13, 46 / 11], "displacement_m3": 3.6e-3}
    lanes = build_lanes(1, **given, **_legs([26.0], 0.0))
    fuel = Evaluation(lanes).terrain.fuel_rate[:, 0, 0]
    assert 0.037 <= fuel[1] / fuel[0] - 1.0 <= 0.074


def test_a_higher_axle_can_save_fuel_only_by_avoiding_lower_gears(build_lanes):
    lanes = build_lanes(1, lockup_from_gear=1, axle_ratio=list(np.linspace(3.0, 4.8, 40)))
    at = Evaluation(lanes)
    fuel = at.terrain.fuel_rate[..., 0]
    saved = np.diff(fuel, axis=0) < 0.0
    assert saved.any()
    held = at.terrain.held_share[1:, ..., 0]
    fewer = np.diff(held, axis=1).max(axis=0) > 0.0
    assert np.all(fewer[saved])


def test_fuel_moves_smoothly_with_the_axle_ratio_where_terrain_is_hilly(build_lanes):
    # No jump where a threshold passes: closed form, not nodes (which jump by up to 6 %).
    lanes = build_lanes(1, axle_ratio=list(np.linspace(3.2, 4.6, 701)), **_legs([27.0], 0.03))
    fuel = Evaluation(lanes).terrain.fuel_rate[:, 0, 0]
    assert np.max(np.abs(np.diff(np.log(fuel)))) < 0.001


def test_hills_cost_fuel_and_a_trailer_does(build_lanes):
    flat = Evaluation(build_lanes(1, **_legs([25.0], 0.0))).terrain.fuel_rate
    hilly = Evaluation(build_lanes(1, **_legs([25.0], 0.04))).terrain.fuel_rate
    towing = Evaluation(build_lanes(1, **(_legs([25.0], 0.0) | {"trailer_kg": [2000.0]})))
    assert np.all(hilly > flat)
    assert np.all(towing.terrain.fuel_rate > 1.3 * flat)


def test_long_descents_are_driven_with_the_fuel_cut_off(build_lanes):
    lanes = build_lanes(1, **_legs([20.0], 0.2))
    at = Evaluation(lanes)
    # Half of the distance goes down 16 % on average: only the other half burns fuel.
    climbing = at.terrain.fuel_rate[2, 0, 0]
    level = Evaluation(build_lanes(1, **_legs([20.0], 0.0))).terrain.fuel_rate[2, 0, 0]
    weight_work = 2200.0 * 9.80665 * 0.2 / np.sqrt(2.0 * np.pi) / (0.42 * 41.5e6 * 745.0) * 1e8
    assert climbing > weight_work
    assert climbing < 2.0 * (level + weight_work)


def test_stops_and_standing_by_hand(build_lanes):
    free = build_lanes(1, **_legs([12.0], 0.02))
    stopping = build_lanes(1, **_legs([12.0], 0.02, stops=1.0e-3))
    standing = build_lanes(1, **_legs([12.0], 0.02, standing=0.2))
    base = Evaluation(free).terrain.fuel_rate
    kinetic = 0.5 * 2200.0 * 12.0**2 * 1.0e-3 / (0.96 * 0.99 * 0.96)
    added = kinetic / (0.42 * 41.5e6) / 745.0 * 1e8
    np.testing.assert_allclose(Evaluation(stopping).terrain.fuel_rate, base + added, rtol=1e-12)
    # A fifth of the time at idle: a quarter of the driving time.
    added = 0.25 / 12.0 * 2.4e-4 / 745.0 * 1e8
    np.testing.assert_allclose(Evaluation(standing).terrain.fuel_rate, base + added, rtol=1e-12)


def test_an_open_converter_costs_fuel(build_lanes):
    locked = Evaluation(build_lanes(1, lockup_from_gear=1)).terrain.fuel_rate
    opened = Evaluation(build_lanes(1, lockup_from_gear=8)).terrain.fuel_rate
    assert np.all(opened >= locked - 1e-12)
    assert np.any(opened > 1.005 * locked)
    assert np.all(opened < 1.15 * locked)


def test_shares_are_shares(example_lanes):
    at = Evaluation(example_lanes)
    held = at.terrain.held_share
    assert held.min() >= 0.0
    assert held.max() <= 1.0
    assert np.all(np.diff(held, axis=0) <= 1e-8)


def test_no_grade_deviation_is_level_road(build_lanes):
    lanes = build_lanes(1, **_legs([28.0], 0.0))
    near = dataclasses.replace(lanes, leg_grade_deviation=np.full((1, 1), 1e-5))
    np.testing.assert_allclose(
        Evaluation(lanes).terrain.fuel_rate, Evaluation(near).terrain.fuel_rate, rtol=1e-4
    )
