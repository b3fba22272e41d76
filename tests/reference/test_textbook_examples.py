"""Worked examples and published figures for gearing, driveline, air and road load.

Confidence, as said with each source: *read* in the source or a full copy, *quoted* by a second
source, *from memory*, *derived* by arithmetic from inputs that have one of the others.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy.linalg import eigvalsh_tridiagonal

from gearrec import air, driveline, gearing, road_load
from gearrec.units import si, to

MANNERING = "Mannering, Washburn, Kilareski: Principles of Highway Engineering, 4th edition"
SLUG_PER_FT3_LB = 9.80665 / 0.3048
# That textbook's rolling coefficient, 0.01 (1 + V / 147 ft/s). Confidence: read.
TEXTBOOK_RISE_S_PER_M = 1.0 / (147.0 * 0.3048)


def _pounds_force(force_n: Any) -> Any:
    return to(force_n, "force", "lbf")


def _highway_textbook_load(
    *, weight_lb: float, drag_coefficient: float, area_ft2: float, slug_per_ft3: float
) -> road_load.RoadLoad:
    return road_load.from_drag_area(
        mass_kg=si(weight_lb, "mass", "lb"),
        rolling_coefficient=0.01,
        rolling_rise_s_per_m=TEXTBOOK_RISE_S_PER_M,
        drag_area_m2=drag_coefficient * si(area_ft2, "area", "ft^2"),
        air_density_kg_per_m3=si(slug_per_ft3 * SLUG_PER_FT3_LB, "density", "lb/ft^3"),
    )


def test_resistances_on_a_grade() -> None:
    """Source: MANNERING, solution 2.31. Confidence: read.

    The book takes sin(atan s) as s: 100 lbf on the grade, which is 0.12 % too much.
    """
    load = _highway_textbook_load(
        weight_lb=2000.0, drag_coefficient=0.35, area_ft2=20.0, slug_per_ft3=0.002045
    )
    speed = si(70.0, "speed", "mph")
    drag = _pounds_force(load.force_square_n_per_mps2 * speed**2)
    rolling = _pounds_force(load.force_constant_n + load.force_linear_n_per_mps * speed)
    assert drag == pytest.approx(75.44, abs=0.02)
    assert rolling == pytest.approx(33.97, abs=0.01)
    mass = si(2000.0, "mass", "lb")
    grade = _pounds_force(road_load.grade_force_n(mass_kg=mass, grade=0.05))
    assert grade == pytest.approx(100.0, rel=0.0013)
    total = road_load.total_force_n(load=load, speed_mps=speed, mass_kg=mass, grade=0.05)
    assert _pounds_force(total) == pytest.approx(209.41, rel=0.001)


def test_tractive_effort_of_a_heavy_hauler() -> None:
    """Source: Bechtel rigging handbook, 2nd edition (2002), 6.5. Confidence: read.

    606 lbf ft gross, overall 52.9:1, 0.85 gross to net, 0.85 for the line, wheel radius 19.5 in.
    """
    wheel = driveline.wheel_torque_nm(
        engine_torque_nm=0.85 * si(606.0, "torque", "lbf*ft"),
        overall_ratio=52.9,
        efficiency=0.85,
        drag_torque_nm=0.0,
    )
    force = driveline.tractive_force_n(
        wheel_torque_nm=wheel, circumference_m=2.0 * math.pi * si(19.5, "length", "in")
    )
    assert _pounds_force(force) == pytest.approx(14_253.0, rel=1e-4)


def test_coastdown_force() -> None:
    """Source: 40 CFR 1066.270, example. Confidence: read."""
    force = road_load.coastdown_force_n(
        effective_mass_kg=si(62.16 * SLUG_PER_FT3_LB, "mass", "lb"),
        speed_before_mps=si(36.66, "length", "ft"),
        speed_after_mps=si(22.0, "length", "ft"),
        time_s=5.00,
    )
    assert _pounds_force(force) == pytest.approx(182.2, abs=0.1)


@pytest.mark.parametrize(
    ("mass_kg", "constant_n", "square_n_per_kmh2", "force_n"),
    [(200.0, 8.69, 0.0252, 115.1), (310.0, 18.30, 0.0282, 137.5)],
)
def test_motorcycle_road_load_at_65_kmh(
    mass_kg: float, constant_n: float, square_n_per_kmh2: float, force_n: float
) -> None:
    """Source: 40 CFR 86.529-98, table rows. Confidence: read."""
    load = road_load.from_coefficients(
        constant_n=constant_n,
        linear_n_per_mps=0.0,
        square_n_per_mps2=square_n_per_kmh2 * 3.6**2,
        test_mass_kg=mass_kg,
        mass_kg=mass_kg,
        air_density_kg_per_m3=road_load.COASTDOWN_AIR_DENSITY_KG_PER_M3,
    )
    force = road_load.level_force_n(load=load, speed_mps=si(65.0, "speed", "km/h"))
    assert force == pytest.approx(force_n, abs=0.1)


def test_axle_ratio_from_a_drop_of_engine_speed() -> None:
    """Source: university homework (2015), gears 1.07 and 0.81, radius 11.70 in, 45 mph, 662 rpm.

    Confidence: inputs read; the answer 3.94 quoted from a later sheet.
    """
    circumference = 2.0 * math.pi * si(11.70, "length", "in")
    speed = si(45.0, "speed", "mph")
    ratio = gearing.implied_axle_ratio(
        engine_speed_rpm=662.0,
        road_speed_mps=speed,
        gear_ratio=1.07 - 0.81,
        circumference_m=circumference,
    )
    assert ratio == pytest.approx(3.94, abs=0.005)
    third, fourth = gearing.engine_speed_rpm(
        road_speed_mps=speed,
        overall_ratio=gearing.overall_ratio(gear_ratio=np.array([1.07, 0.81]), axle_ratio=3.94),
        circumference_m=circumference,
    )
    assert third - fourth == pytest.approx(662.0, abs=0.5)


def test_torque_and_speed_at_the_top_speed_of_a_car() -> None:
    """Source: MANNERING, problem 2.7. Confidence: inputs read, answers derived.

    3,400 lb, overall 2.5:1, 130 mph, 0.00206 slug/ft3, 19.8 ft2, 0.28, 12.6 in, slip 3 %, 0.88.
    """
    load = _highway_textbook_load(
        weight_lb=3400.0, drag_coefficient=0.28, area_ft2=19.8, slug_per_ft3=0.00206
    )
    speed = si(130.0, "speed", "mph")
    radius = si(12.6, "length", "in")
    torque = driveline.engine_torque_nm(
        wheel_torque_nm=road_load.level_force_n(load=load, speed_mps=speed) * radius,
        overall_ratio=2.5,
        efficiency=0.88,
        drag_torque_nm=0.0,
    )
    assert to(torque, "torque", "lbf*ft") == pytest.approx(136.4, abs=0.1)
    engine = gearing.engine_speed_rpm(
        road_speed_mps=speed / (1.0 - 0.03),
        overall_ratio=2.5,
        circumference_m=2.0 * math.pi * radius,
    )
    assert engine == pytest.approx(4469.0, abs=1.0)


def test_grade_held_at_given_torque() -> None:
    """Source: MANNERING, problem 2.6. Confidence: inputs read, answer derived.

    3,200 lb, 0.35, 25 ft2, 0.002378 slug/ft3, 14 in, 0.93, overall 3.2:1, slip 3.5 %, 210 lbf ft at
    3,600 rpm.
    """
    load = _highway_textbook_load(
        weight_lb=3200.0, drag_coefficient=0.35, area_ft2=25.0, slug_per_ft3=0.002378
    )
    circumference = 2.0 * math.pi * si(14.0, "length", "in")
    speed = (1.0 - 0.035) * gearing.road_speed_mps(
        engine_speed_rpm=3600.0, overall_ratio=3.2, circumference_m=circumference
    )
    wheel = driveline.wheel_torque_nm(
        engine_torque_nm=si(210.0, "torque", "lbf*ft"),
        overall_ratio=3.2,
        efficiency=0.93,
        drag_torque_nm=0.0,
    )
    force = driveline.tractive_force_n(wheel_torque_nm=wheel, circumference_m=circumference)
    spare = force - road_load.level_force_n(load=load, speed_mps=speed)
    grade = road_load.grade_held(force_n=spare, mass_kg=si(3200.0, "mass", "lb"))
    # The book's small angle gives 9.12 %, the exact one 9.16 %.
    assert grade == pytest.approx(0.091, abs=0.001)


@pytest.mark.parametrize(
    ("gear", "efficiency", "force_lbf", "speed_mph"),
    [(4.28, 0.966, 2290.0, 26.4), (1.00, 0.970, 537.0, 112.9)],
)
def test_tractive_force_in_first_and_fifth_gear(
    gear: float, efficiency: float, force_lbf: float, speed_mph: float
) -> None:
    """Source: Gillespie, Fundamentals of Vehicle Dynamics, chapter 2 example 1.

    201 lbf ft at 4,400 rpm, axle 2.92 at 0.99, 801 rev/mile. Confidence: from memory, arithmetic
    derived.
    """
    circumference = 1.0 / si(801.0, "revs_per_distance", "1/mi")
    ratio = gearing.overall_ratio(gear_ratio=gear, axle_ratio=2.92)
    wheel = driveline.wheel_torque_nm(
        engine_torque_nm=si(201.0, "torque", "lbf*ft"),
        overall_ratio=ratio,
        efficiency=efficiency * 0.99,
        drag_torque_nm=0.0,
    )
    force = driveline.tractive_force_n(wheel_torque_nm=wheel, circumference_m=circumference)
    assert _pounds_force(force) == pytest.approx(force_lbf, rel=5e-4)
    speed = gearing.road_speed_mps(
        engine_speed_rpm=4400.0, overall_ratio=ratio, circumference_m=circumference
    )
    assert to(speed, "speed", "mph") == pytest.approx(speed_mph, abs=0.1)


def test_wheel_radius_from_speeds() -> None:
    """Source: fluid-power handbook. Confidence: inputs read, answers derived.

    10:1 at 15 mph and 1,680 rpm has 15 in; 10:1 at 20 km/h and 1,500 rpm has 353.5 mm. The book
    rounds: its 168 for 168.07 and 2651.5 for 2652.6 are 0.04 % low.
    """
    in_inches, in_mm = gearing.engine_speed_rpm(
        road_speed_mps=np.array([si(15.0, "speed", "mph"), si(20.0, "speed", "km/h")]),
        overall_ratio=10.0,
        circumference_m=2.0 * math.pi * np.array([si(15.0, "length", "in"), 0.3535]),
    )
    assert in_inches == pytest.approx(1680.0, rel=6e-4)
    assert in_mm == pytest.approx(1500.0, rel=6e-4)


@pytest.mark.parametrize(
    ("altitude_ft", "density"),
    [(0.0, 1.2250), (5000.0, 1.0556), (10000.0, 0.9046), (11158.0, 0.872)],
)
def test_air_density_of_the_standard_atmosphere(altitude_ft: float, density: float) -> None:
    """Source: ISO 2533 standard atmosphere. Confidence: derived."""
    altitude = si(altitude_ft, "length", "ft")
    found = air.density_kg_per_m3(altitude_m=altitude)
    assert found == pytest.approx(density, abs=6e-5 if density != 0.872 else 6e-4)


@pytest.mark.parametrize(
    ("altitude_m", "temperature_k", "pressure_pa"),
    [(0.0, 288.15, 101325.0), (1000.0, 281.65, 89874.6), (11000.0, 216.65, 22632.06)],
)
def test_standard_atmosphere_table(
    altitude_m: float, temperature_k: float, pressure_pa: float
) -> None:
    """Source: ISO 2533 / US Standard Atmosphere 1976 tables. Confidence: from memory."""
    assert air.temperature_k(altitude_m=altitude_m) == pytest.approx(temperature_k, abs=1e-9)
    assert air.pressure_pa(altitude_m=altitude_m) == pytest.approx(pressure_pa, rel=1e-5)


def test_air_of_the_emission_regulation_at_altitude() -> None:
    """Source: 40 CFR 86.082-2, 1,620 m and 83.3 kPa. Confidence: read."""
    assert air.pressure_pa(altitude_m=1620.0) == pytest.approx(83_300.0, rel=1e-3)


def test_density_by_the_gas_law_on_a_cold_day() -> None:
    """Source: gas law, 5 C and 30.37 inHg give 1.288 kg/m3. Confidence: derived.

    A class-8 table in print says 1.331 for it, and is wrong.
    """
    pressure = 30.37 * 3386.389
    density = air.gas_density_kg_per_m3(pressure_pa=pressure, temperature_k=278.15)
    assert density == pytest.approx(1.288, abs=5e-4)


def test_air_of_coastdown_results() -> None:
    """Source: SAE J1263/J2263 reference air, 20 C and 98.21 kPa. Confidence: from memory."""
    density = air.gas_density_kg_per_m3(pressure_pa=98_210.0, temperature_k=293.15)
    assert density == pytest.approx(road_load.COASTDOWN_AIR_DENSITY_KG_PER_M3, abs=5e-4)


@pytest.mark.parametrize(("material", "constant_in"), [("steel", 4.767e6), ("aluminum", 4.677e6)])
def test_critical_speed_constants_of_beam_theory(
    material: driveline.TubeMaterial, constant_in: float
) -> None:
    """Source: n = (7.5 pi c / L^2) sqrt(D^2 + d^2) with handbook speeds of sound.

    Confidence: derived; the moduli in handbooks scatter the constant by 0.2 %.
    """
    length, outer, inner = 60.0, 4.0, 3.834
    found = driveline.critical_speed_rpm(
        length_m=si(length, "length", "in"),
        outer_diameter_m=si(outer, "length", "in"),
        inner_diameter_m=si(inner, "length", "in"),
        material=material,
    )
    expected = constant_in * math.hypot(outer, inner) / length**2
    assert found == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize(
    ("constant", "unit_m", "tolerance"),
    [
        # SAE AE-7 form, inch. Confidence: from memory. The one that limits use.
        pytest.param(4.705e6, 0.0254, 1e-12, id="SAE AE-7, inch"),
        # Industrial cardan shaft data. Confidence: read. Spread of published figures: 2 %.
        pytest.param(4.8e6, 0.0254, 0.021, id="industrial, inch"),
        pytest.param(1.21e8, 0.001, 0.015, id="industrial, mm"),
    ],
)
def test_critical_speed_constants_of_the_trade(
    constant: float, unit_m: float, tolerance: float
) -> None:
    length, outer, inner = 1.5, 0.1016, 0.0974
    found = driveline.critical_speed_limit_rpm(
        length_m=length, outer_diameter_m=outer, inner_diameter_m=inner, material="steel"
    )
    expected = constant * unit_m * math.hypot(outer, inner) / length**2
    assert found == pytest.approx(expected, rel=tolerance)


def test_critical_speed_against_a_numerical_beam() -> None:
    """Source: finite differences of the simply supported beam, E 206.8 GPa, 7850 kg/m3.

    Its bending operator is the square of the second derivative, so the frequency is that of the
    string's matrix. Confidence: derived independently of the closed form.
    """
    length, outer, inner, points = 1.4, 0.09, 0.086, 400
    step = length / points
    curvature = eigvalsh_tridiagonal(
        np.full(points - 1, 2.0 / step**2),
        np.full(points - 2, -1.0 / step**2),
        select="i",
        select_range=(0, 0),
    )[0]
    second_moment = math.pi / 64.0 * (outer**4 - inner**4)
    section = math.pi / 4.0 * (outer**2 - inner**2)
    omega = curvature * math.sqrt(206.8e9 * second_moment / (7850.0 * section))
    found = driveline.critical_speed_rpm(
        length_m=length, outer_diameter_m=outer, inner_diameter_m=inner, material="steel"
    )
    assert found == pytest.approx(omega * 30.0 / math.pi, rel=1e-4)


@pytest.mark.parametrize(
    ("speed_rpm", "degrees"),
    [(1500, 11.5), (2000, 8.7), (2500, 7.0), (3000, 5.8), (3500, 5.0), (4000, 4.25)],
)
def test_joint_angle_limits_up_to_4000_rpm_are_one_acceleration(
    speed_rpm: float, degrees: float
) -> None:
    """Source: trade table of joint angles over speed. Confidence: from memory.

    That they all stand for 1,000 rad/s2 is derived; the row at 4,000 rpm is 3.4 % below.
    """
    found = driveline.joint_acceleration_radps2(
        shaft_speed_rpm=speed_rpm, joint_angle_rad=math.radians(degrees)
    )
    assert found == pytest.approx(1000.0, rel=0.035)


@pytest.mark.parametrize(
    ("speed_rpm", "degrees", "low", "high"),
    [(4000, 4.25, 965.5, 966.5), (4500, 3.7, 880.0, 930.0), (5000, 3.25, 870.0, 910.0)],
)
def test_joint_angle_limits_at_high_speed_are_a_lower_acceleration(
    speed_rpm: float, degrees: float, low: float, high: float
) -> None:
    """Source: the same table. Confidence: angles from memory, accelerations derived."""
    found = driveline.joint_acceleration_radps2(
        shaft_speed_rpm=speed_rpm, joint_angle_rad=math.radians(degrees)
    )
    assert low < found < high


def test_grade_force_at_the_launch_grade() -> None:
    """Source: sin(atan 0.12) = 0.11915. Confidence: derived."""
    force = road_load.grade_force_n(mass_kg=1.0, grade=0.12)
    assert force / 9.80665 == pytest.approx(0.11915, abs=5e-6)


@pytest.mark.parametrize(("ratio", "factor"), [(4.0, 1.08), (10.0, 1.29), (16.0, 1.68)])
def test_published_mass_factor(ratio: float, factor: float) -> None:
    """Source: 1.04 + 0.0025 i^2, Wong; Gillespie. Confidence: quoted.

    One derived copy drops the square, which is wrong: 1.065 at 10:1.
    """
    assert road_load.published_mass_factor(overall_ratio=ratio) == pytest.approx(factor, abs=1e-9)


@pytest.mark.parametrize(
    ("body", "area_ft2", "power_hp"), [("light-truck", 35.0, 20.5), ("van", 35.0, 17.5)]
)
def test_default_road_load_power(body: road_load.Body, area_ft2: float, power_hp: float) -> None:
    """Source: 40 CFR 86.129-80, 0.58 x area (vans 0.50), to half a horsepower. Confidence: quoted.

    20.3 hp rounds to 20.5.
    """
    power = road_load.default_power_w(frontal_area_m2=si(area_ft2, "area", "ft^2"), body=body)
    assert to(power, "power", "hp") == pytest.approx(power_hp, rel=1e-9)


def test_published_coefficients_of_a_pickup_at_50_mph() -> None:
    """Source: row of EPA test-car data (2016): 43.17 lbf, 0.7502 lbf/mph, 0.0163 lbf/mph2.

    Confidence: read. The sum at 50 mph, 121.43 lbf, is by hand.
    """
    load = road_load.from_coefficients(
        constant_n=si(43.17, "force", "lbf"),
        linear_n_per_mps=si(0.7502, "force_per_speed", "lbf/mph"),
        square_n_per_mps2=si(0.0163, "force_per_speed2", "lbf/mph^2"),
        test_mass_kg=2300.0,
        mass_kg=2300.0,
        air_density_kg_per_m3=road_load.COASTDOWN_AIR_DENSITY_KG_PER_M3,
    )
    force = road_load.level_force_n(load=load, speed_mps=si(50.0, "speed", "mph"))
    assert _pounds_force(force) == pytest.approx(121.43, abs=0.005)
