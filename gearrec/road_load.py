"""Road load: rolling, air, grade, trailer, and the inertia of what turns.

Level road load is held as three coefficients, F = F0 + F1 v + F2 v^2, whichever way it is known:
from a coast-down test, or from mass, rolling coefficient and drag area. It excludes the drag of the
driveline, which is counted there.

All functions take scalars or arrays that broadcast against each other, keyword-only, and return
float64 of the broadcast shape. NaN passes through as unknown.

References
    [1] SAE J1263, J2263 and 40 CFR 1066: coast-down and its three coefficients.
    [2] Mechanics, derived here.
    [3] EU heavy-vehicle CO2 tool: rolling force in proportion to load^0.9.
    [4] Wong, Theory of Ground Vehicles; Gillespie, Fundamentals of Vehicle Dynamics: mass factor.
    [5] 40 CFR 86.129-80 (older edition): default road-load power of light trucks; as quoted.
    [6] Rolling coefficients by tire type: from memory, +-20 %.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from gearrec.arguments import ABOVE_ZERO, ANY, ZERO_OR_MORE, Floats, Span, numbers
from gearrec.errors import InputError, Place, Problem, allowed_words

STANDARD_GRAVITY_MPS2 = 9.80665

COASTDOWN_AIR_DENSITY_KG_PER_M3 = 1.167
"""Of the air that coast-down results are corrected to: 20 C, 98.21 kPa [1]; from memory."""

ROLLING_LOAD_EXPONENT = 0.9
"""Rolling force grows a little less than load does [3]."""

PUBLISHED_MASS_FACTOR_RANGE = (2.0, 20.0)
"""Overall ratios for which `published_mass_factor` answers.

The sources state no limits. These span the gears of a light truck in high range; in low range the
formula is wild (9.5 at 58:1).
"""

TireType = Literal["highway", "all-terrain", "mud-terrain"]

_ROLLING_COEFFICIENTS = {"highway": 0.008, "all-terrain": 0.010, "mud-terrain": 0.013}

Body = Literal["light-truck", "van"]

_DEFAULT_POWER_HP_PER_FT2 = {"light-truck": 0.58, "van": 0.50}
_DEFAULT_POWER_SPEED_MPS = 22.352
_HORSEPOWER_W = 745.699_871_582_270_2
_SQUARE_FOOT_M2 = 0.092_903_04
_TONGUE = Span("0 to 1", low=0.0, high=1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadLoad:
    """Level road load F = F0 + F1 v + F2 v^2, driveline drag excluded.

    Fields
        force_constant_n: F0 [N].
        force_linear_n_per_mps: F1 [N s/m].
        force_square_n_per_mps2: F2 [N s2/m2].
    """

    force_constant_n: Floats
    force_linear_n_per_mps: Floats
    force_square_n_per_mps2: Floats


def from_coefficients(
    *,
    constant_n: npt.ArrayLike,
    linear_n_per_mps: npt.ArrayLike,
    square_n_per_mps2: npt.ArrayLike,
    test_mass_kg: npt.ArrayLike,
    mass_kg: npt.ArrayLike,
    air_density_kg_per_m3: npt.ArrayLike,
    test_air_density_kg_per_m3: npt.ArrayLike = COASTDOWN_AIR_DENSITY_KG_PER_M3,
    driveline_drag_n: npt.ArrayLike = 0.0,
) -> RoadLoad:
    """Road load from coast-down coefficients, moved to another mass and another air.

    A vehicle coasts down in neutral with its axle turning, so the published constant holds the
    axle's drag. Where the driveline counts that drag as well, state it, so that it counts once.

    Parameters
        constant_n, linear_n_per_mps, square_n_per_mps2: A [N], B [N s/m], C [N s2/m2] of the test;
            A and C >= 0, B may be negative.
        test_mass_kg: that they were stated for [kg], > 0.
        mass_kg: on the vehicle's own wheels, with load and a trailer's tongue load [kg], > 0.
        air_density_kg_per_m3: of the air meant [kg/m3], > 0.
        test_air_density_kg_per_m3: of the air that they were stated for [kg/m3], > 0.
        driveline_drag_n: constant drag of the driveline at the road, within A [N], 0 to A.

    Returns
        Road load.

    Equation
        F0 = (A - drag) (m / m_test)^0.9, F1 = B (m / m_test)^0.9, F2 = C rho / rho_test   [1, 3]

    Raises
        InputError: an argument is outside its range, or the drag exceeds A.
    """
    constant, linear, square, test_mass, mass, density, test_density, drag = numbers(
        constant_n=(constant_n, ZERO_OR_MORE),
        linear_n_per_mps=(linear_n_per_mps, ANY),
        square_n_per_mps2=(square_n_per_mps2, ZERO_OR_MORE),
        test_mass_kg=(test_mass_kg, ABOVE_ZERO),
        mass_kg=(mass_kg, ABOVE_ZERO),
        air_density_kg_per_m3=(air_density_kg_per_m3, ABOVE_ZERO),
        test_air_density_kg_per_m3=(test_air_density_kg_per_m3, ABOVE_ZERO),
        driveline_drag_n=(driveline_drag_n, ZERO_OR_MORE),
    )
    if np.any(drag > constant):
        message = "is more than the constant coefficient, which must hold it; lower the drag"
        raise InputError([Problem(Place(dotted="driveline_drag_n"), message)])
    load = (mass / test_mass) ** ROLLING_LOAD_EXPONENT
    return RoadLoad(
        force_constant_n=(constant - drag) * load,
        force_linear_n_per_mps=linear * load,
        force_square_n_per_mps2=square * density / test_density,
    )


def from_drag_area(
    *,
    mass_kg: npt.ArrayLike,
    rolling_coefficient: npt.ArrayLike,
    drag_area_m2: npt.ArrayLike,
    air_density_kg_per_m3: npt.ArrayLike,
    rolling_rise_s_per_m: npt.ArrayLike = 0.0,
) -> RoadLoad:
    """Road load from mass, rolling coefficient and drag area.

    Parameters
        mass_kg: on the wheels meant [kg], >= 0.
        rolling_coefficient: rolling force / weight, near standstill [1], >= 0.
        drag_area_m2: drag coefficient x frontal area [m2], >= 0.
        air_density_kg_per_m3: [kg/m3], > 0.
        rolling_rise_s_per_m: growth of the rolling coefficient per speed, as a share of it
            [s/m], >= 0.

    Returns
        Road load.

    Equation
        F0 = f m g, F1 = f r m g, F2 = rho CdA / 2   [2]

    Raises
        InputError: an argument is outside its range.
    """
    mass, coefficient, area, density, rise = numbers(
        mass_kg=(mass_kg, ZERO_OR_MORE),
        rolling_coefficient=(rolling_coefficient, ZERO_OR_MORE),
        drag_area_m2=(drag_area_m2, ZERO_OR_MORE),
        air_density_kg_per_m3=(air_density_kg_per_m3, ABOVE_ZERO),
        rolling_rise_s_per_m=(rolling_rise_s_per_m, ZERO_OR_MORE),
    )
    rolling = coefficient * mass * STANDARD_GRAVITY_MPS2
    return RoadLoad(
        force_constant_n=rolling,
        force_linear_n_per_mps=rolling * rise,
        force_square_n_per_mps2=0.5 * density * area,
    )


def with_rolling_change(
    *,
    load: RoadLoad,
    mass_kg: npt.ArrayLike,
    rolling_coefficient_before: npt.ArrayLike,
    rolling_coefficient_after: npt.ArrayLike,
) -> RoadLoad:
    """Road load after a change to tires of another type.

    Parameters
        load: on the tires before.
        mass_kg: on the vehicle's own wheels [kg], >= 0.
        rolling_coefficient_before, rolling_coefficient_after: of the two types [1], >= 0.

    Returns
        Road load.

    Equation
        F0 + (f_after - f_before) m g   [2]

    Raises
        InputError: an argument is outside its range, or the constant would fall below zero.
    """
    mass, before, after = numbers(
        mass_kg=(mass_kg, ZERO_OR_MORE),
        rolling_coefficient_before=(rolling_coefficient_before, ZERO_OR_MORE),
        rolling_coefficient_after=(rolling_coefficient_after, ZERO_OR_MORE),
    )
    constant = load.force_constant_n + (after - before) * mass * STANDARD_GRAVITY_MPS2
    if np.any(constant < 0.0):
        message = "takes more off than the road load holds; check the coefficients and the mass"
        raise InputError([Problem(Place(dotted="rolling_coefficient_before"), message)])
    return RoadLoad(
        force_constant_n=constant,
        force_linear_n_per_mps=load.force_linear_n_per_mps,
        force_square_n_per_mps2=load.force_square_n_per_mps2,
    )


def tongue_mass_kg(*, trailer_mass_kg: npt.ArrayLike, tongue_share: npt.ArrayLike) -> Floats:
    """The part of a trailer's mass that rests on the vehicle.

    Parameters
        trailer_mass_kg: loaded [kg], >= 0.
        tongue_share: of the trailer's weight on the hitch [1], 0 to 1; 0.10 to 0.15 is common.

    Returns
        Mass [kg], to be counted in the vehicle's own.

    Equation
        trailer_mass x tongue_share

    Raises
        InputError: an argument is outside its range.
    """
    mass, share = numbers(
        trailer_mass_kg=(trailer_mass_kg, ZERO_OR_MORE), tongue_share=(tongue_share, _TONGUE)
    )
    return mass * share


def with_trailer(
    *,
    vehicle: RoadLoad,
    trailer_mass_kg: npt.ArrayLike,
    tongue_share: npt.ArrayLike,
    rolling_coefficient: npt.ArrayLike,
    added_drag_area_m2: npt.ArrayLike,
    air_density_kg_per_m3: npt.ArrayLike,
) -> RoadLoad:
    """Road load of vehicle and trailer.

    The trailer stands in the vehicle's wake: its drag area is what it *adds*, 1.5 to 3 m2 for a
    box as wide as a truck (from memory), less than the same box would have alone.

    Parameters
        vehicle: road load of the vehicle, with `tongue_mass_kg` in its mass.
        trailer_mass_kg: loaded [kg], >= 0.
        tongue_share: of the trailer's weight on the hitch [1], 0 to 1.
        rolling_coefficient: of the trailer's tires [1], >= 0.
        added_drag_area_m2: [m2], >= 0.
        air_density_kg_per_m3: [kg/m3], > 0.

    Returns
        Road load.

    Equation
        vehicle + `from_drag_area` of the mass on the trailer's own wheels   [2]

    Raises
        InputError: an argument is outside its range.
    """
    mass, share, coefficient, area, density = numbers(
        trailer_mass_kg=(trailer_mass_kg, ZERO_OR_MORE),
        tongue_share=(tongue_share, _TONGUE),
        rolling_coefficient=(rolling_coefficient, ZERO_OR_MORE),
        added_drag_area_m2=(added_drag_area_m2, ZERO_OR_MORE),
        air_density_kg_per_m3=(air_density_kg_per_m3, ABOVE_ZERO),
    )
    trailer = from_drag_area(
        mass_kg=mass * (1.0 - share),
        rolling_coefficient=coefficient,
        drag_area_m2=area,
        air_density_kg_per_m3=density,
    )
    return RoadLoad(
        force_constant_n=vehicle.force_constant_n + trailer.force_constant_n,
        force_linear_n_per_mps=vehicle.force_linear_n_per_mps,
        force_square_n_per_mps2=vehicle.force_square_n_per_mps2 + trailer.force_square_n_per_mps2,
    )


def level_force_n(*, load: RoadLoad, speed_mps: npt.ArrayLike) -> Floats:
    """Force that holds a speed on level road.

    Parameters
        load: road load.
        speed_mps: through still air [m/s], >= 0.

    Returns
        Force [N].

    Equation
        F0 + F1 v + F2 v^2   [1]

    Raises
        InputError: the speed is outside its range.
    """
    (speed,) = numbers(speed_mps=(speed_mps, ZERO_OR_MORE))
    linear = load.force_linear_n_per_mps + speed * load.force_square_n_per_mps2
    return load.force_constant_n + speed * linear


def grade_force_n(*, mass_kg: npt.ArrayLike, grade: npt.ArrayLike) -> Floats:
    """Force of gravity along a grade.

    Parameters
        mass_kg: of vehicle, load and trailer [kg], >= 0.
        grade: rise / horizontal run [1]; negative is downhill.

    Returns
        Force [N]; positive holds the vehicle back.

    Equation
        m g sin(atan s) = m g s / sqrt(1 + s^2)   [2]

    Raises
        InputError: an argument is outside its range.
    """
    mass, slope = numbers(mass_kg=(mass_kg, ZERO_OR_MORE), grade=(grade, ANY))
    return mass * STANDARD_GRAVITY_MPS2 * slope / np.hypot(1.0, slope)


def total_force_n(
    *,
    load: RoadLoad,
    speed_mps: npt.ArrayLike,
    mass_kg: npt.ArrayLike,
    grade: npt.ArrayLike,
) -> Floats:
    """Force that holds a speed on a grade.

    The rolling parts shrink with the cosine of the grade: 0.7 % at 12 %.

    Parameters
        load: level road load.
        speed_mps: through still air [m/s], >= 0.
        mass_kg: of vehicle, load and trailer [kg], >= 0.
        grade: rise / horizontal run [1]; negative is downhill.

    Returns
        Force [N]; negative must be braked.

    Equation
        (F0 + F1 v) cos(atan s) + F2 v^2 + m g sin(atan s)   [2]

    Raises
        InputError: an argument is outside its range.
    """
    speed, mass, slope = numbers(
        speed_mps=(speed_mps, ZERO_OR_MORE), mass_kg=(mass_kg, ZERO_OR_MORE), grade=(grade, ANY)
    )
    rolling = load.force_constant_n + load.force_linear_n_per_mps * speed
    air = load.force_square_n_per_mps2 * speed**2
    gravity = grade_force_n(mass_kg=mass, grade=slope)
    return rolling / np.hypot(1.0, slope) + air + gravity


def grade_held(*, force_n: npt.ArrayLike, mass_kg: npt.ArrayLike) -> Floats:
    """The grade that a spare force holds: the inverse of `grade_force_n`.

    Parameters
        force_n: left over from level road load [N]; negative gives a downhill grade.
        mass_kg: of vehicle, load and trailer [kg], > 0.

    Returns
        Grade [1]; infinite where the force reaches the weight.

    Equation
        tan(asin(F / (m g)))   [2]

    Raises
        InputError: an argument is outside its range.
    """
    force, mass = numbers(force_n=(force_n, ANY), mass_kg=(mass_kg, ABOVE_ZERO))
    sine = force / (mass * STANDARD_GRAVITY_MPS2)
    steep = np.abs(sine) >= 1.0
    cosine = np.sqrt(1.0 - np.where(steep, 0.0, sine) ** 2)
    return np.where(steep, np.copysign(np.inf, sine), sine / cosine)[()]


def coastdown_force_n(
    *,
    effective_mass_kg: npt.ArrayLike,
    speed_before_mps: npt.ArrayLike,
    speed_after_mps: npt.ArrayLike,
    time_s: npt.ArrayLike,
) -> Floats:
    """Mean road load between two speeds of a coast-down.

    Parameters
        effective_mass_kg: mass with the inertia of what turns [kg], > 0.
        speed_before_mps, speed_after_mps: [m/s], >= 0.
        time_s: between the two [s], > 0.

    Returns
        Force [N].

    Equation
        F = m_e (v_before - v_after) / t   [1]

    Raises
        InputError: an argument is outside its range.
    """
    mass, before, after, time = numbers(
        effective_mass_kg=(effective_mass_kg, ABOVE_ZERO),
        speed_before_mps=(speed_before_mps, ZERO_OR_MORE),
        speed_after_mps=(speed_after_mps, ZERO_OR_MORE),
        time_s=(time_s, ABOVE_ZERO),
    )
    return mass * (before - after) / time


def mass_factor(
    *,
    mass_kg: npt.ArrayLike,
    wheel_inertia_kg_m2: npt.ArrayLike,
    engine_inertia_kg_m2: npt.ArrayLike,
    overall_ratio: npt.ArrayLike,
    circumference_m: npt.ArrayLike,
) -> Floats:
    """Effective / actual mass when accelerating, from the inertias of what turns.

    Holds in any range. The inertia of gearbox, shafts and axle gears is left out: it is small.

    Parameters
        mass_kg: of vehicle, load and trailer [kg], > 0.
        wheel_inertia_kg_m2: all wheels together [kg m2], >= 0.
        engine_inertia_kg_m2: with flywheel or converter [kg m2], >= 0.
        overall_ratio: gear x transfer case x axle [1], > 0.
        circumference_m: rolling circumference [m], > 0.

    Returns
        Factor [1], 1 or more.

    Equation
        1 + (I_wheels + I_engine i^2) (2 pi / C)^2 / m   [2]

    Raises
        InputError: an argument is outside its range.
    """
    mass, wheels, engine, ratio, circumference = numbers(
        mass_kg=(mass_kg, ABOVE_ZERO),
        wheel_inertia_kg_m2=(wheel_inertia_kg_m2, ZERO_OR_MORE),
        engine_inertia_kg_m2=(engine_inertia_kg_m2, ZERO_OR_MORE),
        overall_ratio=(overall_ratio, ABOVE_ZERO),
        circumference_m=(circumference_m, ABOVE_ZERO),
    )
    inertia = wheels + engine * ratio**2
    return 1.0 + inertia * (2.0 * math.pi / circumference) ** 2 / mass


def published_mass_factor(*, overall_ratio: npt.ArrayLike) -> Floats:
    """Effective / actual mass when accelerating, by the textbook rule where inertias are unknown.

    Made for passenger cars at their own mass; it overstates a loaded truck, and more so a trailer.

    Parameters
        overall_ratio: gear x axle [1], > 0.

    Returns
        Factor [1]; NaN outside `PUBLISHED_MASS_FACTOR_RANGE`, 2 to 20, so in low range.

    Equation
        1.04 + 0.0025 i^2   [4]

    Raises
        InputError: the ratio is not above zero.
    """
    (ratio,) = numbers(overall_ratio=(overall_ratio, ABOVE_ZERO))
    low, high = PUBLISHED_MASS_FACTOR_RANGE
    inside = (ratio >= low) & (ratio <= high)
    return np.where(inside, 1.04 + 0.0025 * ratio**2, np.nan)[()]


def default_power_w(*, frontal_area_m2: npt.ArrayLike, body: Body) -> Floats:
    """Default road-load power of a light truck at 50 mph, from its frontal area.

    Made for trucks of its day; most modern coast-down results lie below it.

    Parameters
        frontal_area_m2: [m2], > 0.
        body: "light-truck" or "van".

    Returns
        Power [W].

    Equation
        P [hp] = 0.58 x area [ft2], vans 0.50, to the nearest half horsepower   [5]

    Raises
        InputError: an argument is outside its range.
    """
    (area,) = numbers(frontal_area_m2=(frontal_area_m2, ABOVE_ZERO))
    if body not in _DEFAULT_POWER_HP_PER_FT2:
        raise _unknown("body", body, sorted(_DEFAULT_POWER_HP_PER_FT2))
    power_hp = _DEFAULT_POWER_HP_PER_FT2[body] * area / _SQUARE_FOOT_M2
    # Halves round up; the source says only "to half a horsepower".
    return np.floor(2.0 * power_hp + 0.5) / 2.0 * _HORSEPOWER_W


def default_drag_area_m2(
    *,
    frontal_area_m2: npt.ArrayLike,
    body: Body,
    mass_kg: npt.ArrayLike,
    rolling_coefficient: npt.ArrayLike,
    air_density_kg_per_m3: npt.ArrayLike = COASTDOWN_AIR_DENSITY_KG_PER_M3,
) -> Floats:
    """Drag area that makes the level road-load power at 50 mph `default_power_w`.

    Parameters
        frontal_area_m2: [m2], > 0.
        body: "light-truck" or "van".
        mass_kg: [kg], >= 0.
        rolling_coefficient: [1], >= 0.
        air_density_kg_per_m3: [kg/m3], > 0.

    Returns
        Drag area [m2].

    Equation
        CdA = 2 (P / v - f m g) / (rho v^2), v = 22.352 m/s   [2, 5]

    Raises
        InputError: an argument is outside its range, or rolling alone exceeds the power.
    """
    area, mass, coefficient, density = numbers(
        frontal_area_m2=(frontal_area_m2, ABOVE_ZERO),
        mass_kg=(mass_kg, ZERO_OR_MORE),
        rolling_coefficient=(rolling_coefficient, ZERO_OR_MORE),
        air_density_kg_per_m3=(air_density_kg_per_m3, ABOVE_ZERO),
    )
    power = default_power_w(frontal_area_m2=area, body=body)
    speed = _DEFAULT_POWER_SPEED_MPS
    air = power / speed - coefficient * mass * STANDARD_GRAVITY_MPS2
    if np.any(air < 0.0):
        message = "rolling alone takes more than the default power; give the drag area instead"
        raise InputError([Problem(Place(dotted="rolling_coefficient"), message)])
    return 2.0 * air / (density * speed**2)


def typical_rolling_coefficient(*, tire_type: TireType) -> float:
    """Rolling force / weight of a radial tire of a light truck on asphalt, +-20 %.

    Parameters
        tire_type: "highway", "all-terrain" or "mud-terrain".

    Returns
        Coefficient [1]: 0.008, 0.010 or 0.013   [6].

    Raises
        InputError: the type is none of these.
    """
    if tire_type not in _ROLLING_COEFFICIENTS:
        raise _unknown("tire_type", tire_type, sorted(_ROLLING_COEFFICIENTS))
    return _ROLLING_COEFFICIENTS[tire_type]


def _unknown(name: str, given: str, allowed: list[str]) -> InputError:
    message = f"{given!r} is not known; {allowed_words(allowed, str(given))}"
    return InputError([Problem(Place(dotted=name), message)])
