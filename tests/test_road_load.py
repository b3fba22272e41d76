from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gearrec import road_load
from gearrec.errors import InputError

masses = st.floats(500.0, 15_000.0)
speeds = st.floats(0.0, 50.0)
grades = st.floats(-0.4, 0.4)
steps = st.floats(1.001, 1.5)
modest = settings(max_examples=60, deadline=None)

# Invented: a pickup of usual size.
PICKUP: dict[str, float] = {
    "mass_kg": 2200.0,
    "rolling_coefficient": 0.010,
    "drag_area_m2": 1.4,
    "air_density_kg_per_m3": 1.2,
}
COASTDOWN: dict[str, float] = {
    "constant_n": 190.0,
    "linear_n_per_mps": 7.0,
    "square_n_per_mps2": 0.36,
    "test_mass_kg": 2200.0,
    "mass_kg": 2200.0,
    "air_density_kg_per_m3": 1.167,
}


def _fields(load: road_load.RoadLoad) -> list[float]:
    return [
        float(load.force_constant_n),
        float(load.force_linear_n_per_mps),
        float(load.force_square_n_per_mps2),
    ]


def test_coefficients_at_test_conditions_are_those_of_the_test() -> None:
    assert _fields(road_load.from_coefficients(**COASTDOWN)) == pytest.approx([190.0, 7.0, 0.36])


def test_coefficients_move_with_mass_and_air() -> None:
    load = road_load.from_coefficients(
        **(COASTDOWN | {"mass_kg": 3300.0, "air_density_kg_per_m3": 1.167 / 2.0})
    )
    # By hand: 1.5^0.9 = 1.44040.
    assert _fields(load) == pytest.approx([190.0 * 1.44040, 7.0 * 1.44040, 0.18], rel=1e-5)


def test_driveline_drag_is_taken_off_the_constant_once() -> None:
    load = road_load.from_coefficients(**COASTDOWN, driveline_drag_n=60.0)
    assert _fields(load) == pytest.approx([130.0, 7.0, 0.36])


def test_more_driveline_drag_than_the_constant_holds_is_refused() -> None:
    with pytest.raises(InputError, match="driveline_drag_n: is more than the constant"):
        road_load.from_coefficients(**COASTDOWN, driveline_drag_n=191.0)


@modest
@given(mass=masses, speed=speeds, density=st.floats(0.7, 1.4), step=steps)
def test_force_rises_with_mass_speed_and_density(
    mass: float, speed: float, density: float, step: float
) -> None:
    load = road_load.from_drag_area(
        mass_kg=np.array([mass, mass * step, mass, mass]),
        rolling_coefficient=0.01,
        drag_area_m2=1.4,
        air_density_kg_per_m3=np.array([density, density, density * step, density]),
    )
    speed_mps = np.array([speed, speed, speed, speed + 1.0])
    base, heavier, denser, faster = road_load.level_force_n(load=load, speed_mps=speed_mps)
    assert heavier > base
    assert denser >= base
    assert faster > base


@modest
@given(mass=masses, grade=grades)
def test_grade_held_is_the_inverse_of_grade_force(mass: float, grade: float) -> None:
    force = road_load.grade_force_n(mass_kg=mass, grade=grade)
    held = road_load.grade_held(force_n=force, mass_kg=mass)
    assert held == pytest.approx(grade, rel=1e-9, abs=1e-12)


@modest
@given(mass=masses, grade=grades)
def test_downhill_pushes_as_much_as_uphill_holds(mass: float, grade: float) -> None:
    up, down = road_load.grade_force_n(mass_kg=mass, grade=np.array([grade, -grade]))
    assert up == -down


def test_a_force_above_the_weight_holds_any_grade() -> None:
    held = road_load.grade_held(force_n=[1e6, -1e6], mass_kg=1000.0)
    assert held.tolist() == [math.inf, -math.inf]


@modest
@given(speed=speeds, grade=grades)
def test_total_force_does_not_depend_on_units(speed: float, grade: float) -> None:
    """Slugs, feet and pounds force give the same, because the equation is consistent."""
    foot, slug = 0.3048, 14.593902937206364
    load = road_load.from_drag_area(**PICKUP, rolling_rise_s_per_m=0.02)
    force = road_load.total_force_n(load=load, speed_mps=speed, mass_kg=2200.0, grade=grade)
    angle = math.atan(grade)
    weight_lbf = 2200.0 / slug * 9.80665 / foot
    fps = speed / foot
    drag_lbf = 0.5 * (1.2 / slug * foot**3) * (1.4 / foot**2) * fps**2
    rolling_lbf = 0.010 * (1.0 + 0.02 * foot * fps) * weight_lbf * math.cos(angle)
    total_lbf = drag_lbf + rolling_lbf + weight_lbf * math.sin(angle)
    assert force / (slug * foot) == pytest.approx(total_lbf, rel=1e-9, abs=1e-9)


def test_total_force_on_level_road_is_the_level_force() -> None:
    load = road_load.from_drag_area(**PICKUP)
    level = road_load.level_force_n(load=load, speed_mps=25.0)
    total = road_load.total_force_n(load=load, speed_mps=25.0, mass_kg=2200.0, grade=0.0)
    assert total == pytest.approx(level, rel=1e-14)


@modest
@given(mass=masses, share=st.floats(0.0, 1.0), coefficient=st.floats(0.005, 0.02))
def test_a_trailer_of_equal_rolling_weighs_the_same_on_either_wheels(
    mass: float, share: float, coefficient: float
) -> None:
    tongue = road_load.tongue_mass_kg(trailer_mass_kg=mass, tongue_share=share)
    vehicle = road_load.from_drag_area(
        **(PICKUP | {"mass_kg": 2200.0 + float(tongue), "rolling_coefficient": coefficient}),
        rolling_rise_s_per_m=0.02,
    )
    both = road_load.with_trailer(
        vehicle=vehicle,
        trailer_mass_kg=mass,
        tongue_share=share,
        rolling_coefficient=coefficient,
        added_drag_area_m2=2.0,
        air_density_kg_per_m3=1.2,
    )
    # By hand: f (m_vehicle + m_trailer) g, and half of 1.2 x (1.4 + 2.0).
    linear = 0.02 * coefficient * (2200.0 + float(tongue)) * 9.80665
    expected = [coefficient * (2200.0 + mass) * 9.80665, linear, 2.04]
    assert _fields(both) == pytest.approx(expected, rel=1e-9)


def test_mud_tires_cost_what_their_coefficient_says() -> None:
    load = road_load.from_coefficients(**COASTDOWN)
    change = {
        "mass_kg": 2200.0,
        "rolling_coefficient_before": road_load.typical_rolling_coefficient(tire_type="highway"),
        "rolling_coefficient_after": road_load.typical_rolling_coefficient(tire_type="mud-terrain"),
    }
    muddy = road_load.with_rolling_change(load=load, **change)
    # By hand: (0.013 - 0.008) x 2200 kg x 9.80665 = 107.87 N; coefficients from memory.
    assert muddy.force_constant_n - load.force_constant_n == pytest.approx(107.87, abs=0.01)
    assert _fields(muddy)[1:] == _fields(load)[1:]


def test_a_rolling_change_cannot_take_more_than_there_is() -> None:
    load = road_load.from_drag_area(**PICKUP)
    with pytest.raises(InputError, match="takes more off than the road load holds"):
        road_load.with_rolling_change(
            load=load,
            mass_kg=2200.0,
            rolling_coefficient_before=0.05,
            rolling_coefficient_after=0.0,
        )


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (
            lambda: road_load.typical_rolling_coefficient(tire_type="all-terain"),  # type: ignore[arg-type]
            "tire_type: 'all-terain' is not known; .*did you mean 'all-terrain'",
        ),
        (
            lambda: road_load.default_power_w(frontal_area_m2=3.0, body="truck"),  # type: ignore[arg-type]
            "body: 'truck' is not known; allowed: light-truck, van",
        ),
    ],
)
def test_unknown_words_are_refused_with_what_is_allowed(call: Any, words: str) -> None:
    with pytest.raises(InputError, match=words):
        call()


@modest
@given(
    mass=masses,
    wheels=st.floats(0.0, 40.0),
    engine=st.floats(0.0, 2.0),
    ratio=st.floats(1.0, 120.0),
    step=steps,
)
def test_mass_factor_is_kinetic_energy_over_that_of_the_mass(
    mass: float, wheels: float, engine: float, ratio: float, step: float
) -> None:
    common = {
        "mass_kg": mass,
        "wheel_inertia_kg_m2": wheels,
        "engine_inertia_kg_m2": engine,
        "circumference_m": 2.4,
    }
    factor = road_load.mass_factor(overall_ratio=ratio, **common)
    wheel_radps = 10.0 / 2.4 * 2.0 * math.pi
    energy = mass * 10.0**2 + wheels * wheel_radps**2 + engine * (ratio * wheel_radps) ** 2
    assert factor == pytest.approx(energy / (mass * 10.0**2), rel=1e-12)
    assert road_load.mass_factor(overall_ratio=ratio * step, **common) >= factor


def test_published_mass_factor_is_unknown_outside_its_range() -> None:
    factor = road_load.published_mass_factor(overall_ratio=[1.99, 2.0, 10.0, 20.0, 20.01, 58.0])
    # Equation of Wong and Gillespie, by hand.
    np.testing.assert_allclose(factor, [np.nan, 1.05, 1.29, 2.04, np.nan, np.nan])


@modest
@given(area=st.floats(2.5, 5.0), coefficient=st.floats(0.005, 0.015))
def test_default_drag_area_gives_the_default_power(area: float, coefficient: float) -> None:
    drag_area = road_load.default_drag_area_m2(
        frontal_area_m2=area,
        body="light-truck",
        mass_kg=2000.0,
        rolling_coefficient=coefficient,
        air_density_kg_per_m3=1.2,
    )
    load = road_load.from_drag_area(
        mass_kg=2000.0,
        rolling_coefficient=coefficient,
        drag_area_m2=drag_area,
        air_density_kg_per_m3=1.2,
    )
    power = road_load.level_force_n(load=load, speed_mps=50.0 * 0.44704) * 50.0 * 0.44704
    expected = road_load.default_power_w(frontal_area_m2=area, body="light-truck")
    assert power == pytest.approx(expected, rel=1e-9)


def test_default_drag_area_is_refused_where_rolling_takes_all() -> None:
    with pytest.raises(InputError, match="give the drag area instead"):
        road_load.default_drag_area_m2(
            frontal_area_m2=2.0, body="van", mass_kg=9000.0, rolling_coefficient=0.013
        )


def test_coastdown_from_a_lower_to_a_higher_speed_is_downhill() -> None:
    force = road_load.coastdown_force_n(
        effective_mass_kg=2000.0,
        speed_before_mps=[20.0, 19.0],
        speed_after_mps=[19.0, 20.0],
        time_s=4.0,
    )
    np.testing.assert_allclose(force, [500.0, -500.0])
