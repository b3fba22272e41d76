"""Ratios: teeth, engine speed and road speed, what taller tires do, crawl, speedometer, mismatch.

All functions take scalars or arrays that broadcast against each other, keyword-only, and return
float64 of the broadcast shape. NaN passes through as unknown. A *ratio* is turns of the driving
shaft per turn of the driven one, so a numerically higher axle ratio turns the engine faster.

Circumferences are *rolling* ones (distance per turn of the wheel under load): with pi times the
free diameter of a radial tire, engine speed would read 2.9 % low.

References
    [1] 40 CFR 600.002: axle ratio = turns of the differential's input per turn of the wheels.
    [2] Kinematics, derived here: distance = turns x circumference.
    [3] Training and machinery texts on hunting gear sets: common practice, no single source.
"""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
import numpy.typing as npt

from gearrec.arguments import ABOVE_ZERO, ZERO_OR_MORE, Floats, Span, numbers
from gearrec.errors import InputError, Place, Problem

MeshPattern = Literal["hunting", "partial non-hunting", "non-hunting"]

_ERROR = Span("a number above -1", low=-1.0, low_allowed=False)


def tooth_ratio(*, ring_teeth: npt.ArrayLike, pinion_teeth: npt.ArrayLike) -> Floats:
    """Axle ratio of a ring and pinion; names such as "3.62" (47/13) are rounded from it.

    Parameters
        ring_teeth: teeth of the ring gear [1], > 0.
        pinion_teeth: teeth of the pinion [1], > 0.

    Returns
        Ratio [1].

    Equation
        ring_teeth / pinion_teeth   [1]

    Raises
        InputError: an argument is outside its range.
    """
    ring, pinion = numbers(
        ring_teeth=(ring_teeth, ABOVE_ZERO), pinion_teeth=(pinion_teeth, ABOVE_ZERO)
    )
    return ring / pinion


def mesh_pattern(*, ring_teeth: int, pinion_teeth: int) -> MeshPattern:
    """How the teeth of a gear set meet, which decides whether it must be timed when set up.

    In a hunting set every pinion tooth meets every ring tooth. In a non-hunting set each pinion
    tooth always meets the same few; both other kinds carry marks that must be aligned.

    Parameters
        ring_teeth: teeth of the ring gear, whole, not below `pinion_teeth`.
        pinion_teeth: teeth of the pinion, whole, 2 or more.

    Returns
        "hunting" where the numbers have no common divisor, "non-hunting" where the pinion's divides
        the ring's, else "partial non-hunting"   [3].

    Raises
        InputError: a number of teeth is outside its range.
    """
    common = math.gcd(*_whole_teeth(ring_teeth, pinion_teeth))
    if common == 1:
        return "hunting"
    return "non-hunting" if common == pinion_teeth else "partial non-hunting"


def pinion_turns_to_repeat(*, ring_teeth: int, pinion_teeth: int) -> int:
    """Turns of the pinion until the same two teeth meet again.

    Parameters
        ring_teeth: teeth of the ring gear, whole, not below `pinion_teeth`.
        pinion_teeth: teeth of the pinion, whole, 2 or more.

    Equation
        ring_teeth / gcd(ring_teeth, pinion_teeth)   [3]

    Raises
        InputError: a number of teeth is outside its range.
    """
    ring, pinion = _whole_teeth(ring_teeth, pinion_teeth)
    return ring // math.gcd(ring, pinion)


def overall_ratio(
    *,
    gear_ratio: npt.ArrayLike,
    axle_ratio: npt.ArrayLike,
    transfer_ratio: npt.ArrayLike = 1.0,
) -> Floats:
    """Turns of the gearbox input per turn of the driven wheels.

    Parameters
        gear_ratio: of the gearbox [1], > 0.
        axle_ratio: [1], > 0.
        transfer_ratio: of the transfer case [1], > 0; 1 in high range or where there is none.

    Returns
        Ratio [1].

    Equation
        gear_ratio x transfer_ratio x axle_ratio   [2]

    Raises
        InputError: an argument is outside its range.
    """
    gear, axle, transfer = numbers(
        gear_ratio=(gear_ratio, ABOVE_ZERO),
        axle_ratio=(axle_ratio, ABOVE_ZERO),
        transfer_ratio=(transfer_ratio, ABOVE_ZERO),
    )
    return gear * transfer * axle


def engine_speed_rpm(
    *,
    road_speed_mps: npt.ArrayLike,
    overall_ratio: npt.ArrayLike,
    circumference_m: npt.ArrayLike,
) -> Floats:
    """Engine speed at a road speed, clutch closed or converter locked, tires not slipping.

    Parameters
        road_speed_mps: [m/s], >= 0.
        overall_ratio: see `overall_ratio` [1], > 0.
        circumference_m: rolling circumference [m], > 0.

    Returns
        Engine speed [rpm].

    Equation
        n = 60 v i / C   [2]

    Raises
        InputError: an argument is outside its range.
    """
    speed, ratio, circumference = numbers(
        road_speed_mps=(road_speed_mps, ZERO_OR_MORE),
        overall_ratio=(overall_ratio, ABOVE_ZERO),
        circumference_m=(circumference_m, ABOVE_ZERO),
    )
    return 60.0 * speed * ratio / circumference


def road_speed_mps(
    *,
    engine_speed_rpm: npt.ArrayLike,
    overall_ratio: npt.ArrayLike,
    circumference_m: npt.ArrayLike,
) -> Floats:
    """Road speed at an engine speed: the inverse of `engine_speed_rpm`.

    Parameters
        engine_speed_rpm: [rpm], >= 0.
        overall_ratio: see `overall_ratio` [1], > 0.
        circumference_m: rolling circumference [m], > 0.

    Returns
        Road speed [m/s].

    Equation
        v = n C / (60 i)   [2]

    Raises
        InputError: an argument is outside its range.
    """
    speed, ratio, circumference = numbers(
        engine_speed_rpm=(engine_speed_rpm, ZERO_OR_MORE),
        overall_ratio=(overall_ratio, ABOVE_ZERO),
        circumference_m=(circumference_m, ABOVE_ZERO),
    )
    return speed * circumference / (60.0 * ratio)


def n_over_v_rpm_per_mps(*, overall_ratio: npt.ArrayLike, circumference_m: npt.ArrayLike) -> Floats:
    """N/V: engine speed per road speed. The trade states it in rpm per mph, 0.44704 times this.

    Parameters
        overall_ratio: see `overall_ratio` [1], > 0; for the figure of a data sheet, in top gear.
        circumference_m: rolling circumference [m], > 0.

    Returns
        N/V [rpm s/m].

    Equation
        N/V = 60 i / C   [2]

    Raises
        InputError: an argument is outside its range.
    """
    ratio, circumference = numbers(
        overall_ratio=(overall_ratio, ABOVE_ZERO), circumference_m=(circumference_m, ABOVE_ZERO)
    )
    return 60.0 * ratio / circumference


def implied_axle_ratio(
    *,
    engine_speed_rpm: npt.ArrayLike,
    road_speed_mps: npt.ArrayLike,
    gear_ratio: npt.ArrayLike,
    circumference_m: npt.ArrayLike,
    transfer_ratio: npt.ArrayLike = 1.0,
) -> Floats:
    """The axle ratio that an observed engine speed at a true road speed speaks for.

    Reads too high by the slip of an unlocked converter (3 to 8 % when cruising).

    Parameters
        engine_speed_rpm: observed [rpm], > 0.
        road_speed_mps: true speed, not the speedometer's on other tires [m/s], > 0.
        gear_ratio: of the gear engaged [1], > 0.
        circumference_m: rolling circumference of the tires fitted [m], > 0.
        transfer_ratio: of the transfer case [1], > 0.

    Returns
        Axle ratio [1].

    Equation
        n C / (60 v gear_ratio transfer_ratio)   [2]

    Raises
        InputError: an argument is outside its range.
    """
    engine, road, gear, circumference, transfer = numbers(
        engine_speed_rpm=(engine_speed_rpm, ABOVE_ZERO),
        road_speed_mps=(road_speed_mps, ABOVE_ZERO),
        gear_ratio=(gear_ratio, ABOVE_ZERO),
        circumference_m=(circumference_m, ABOVE_ZERO),
        transfer_ratio=(transfer_ratio, ABOVE_ZERO),
    )
    return engine * circumference / (60.0 * road * gear * transfer)


def tire_growth(*, diameter_factory_m: npt.ArrayLike, diameter_planned_m: npt.ArrayLike) -> Floats:
    """How much taller the planned tire is than the factory one, both new.

    Parameters
        diameter_factory_m: [m], > 0.
        diameter_planned_m: [m], > 0.

    Returns
        Growth [1]; 0.05 is 5 % taller, negative is smaller.

    Equation
        diameter_planned / diameter_factory - 1

    Raises
        InputError: an argument is outside its range.
    """
    factory, planned = numbers(
        diameter_factory_m=(diameter_factory_m, ABOVE_ZERO),
        diameter_planned_m=(diameter_planned_m, ABOVE_ZERO),
    )
    return planned / factory - 1.0


def effective_ratio(
    *,
    axle_ratio: npt.ArrayLike,
    diameter_factory_m: npt.ArrayLike,
    diameter_planned_m: npt.ArrayLike,
) -> Floats:
    """What an axle ratio on the planned tires acts like on the factory tires.

    Parameters
        axle_ratio: of the candidate [1], > 0.
        diameter_factory_m, diameter_planned_m: nominal diameters, both of one kind [m], > 0.

    Returns
        Ratio [1].

    Equation
        axle_ratio x diameter_factory / diameter_planned   [2]

    Raises
        InputError: an argument is outside its range.
    """
    ratio, factory, planned = numbers(
        axle_ratio=(axle_ratio, ABOVE_ZERO),
        diameter_factory_m=(diameter_factory_m, ABOVE_ZERO),
        diameter_planned_m=(diameter_planned_m, ABOVE_ZERO),
    )
    return ratio * factory / planned


def restoring_ratio(
    *,
    factory_ratio: npt.ArrayLike,
    diameter_factory_m: npt.ArrayLike,
    diameter_planned_m: npt.ArrayLike,
) -> Floats:
    """The axle ratio that gives the planned tires the factory's engine speeds.

    It restores engine speed only: the taller tire's mass, rolling and air resistance remain.

    Parameters
        factory_ratio: axle ratio that the vehicle left the factory with [1], > 0.
        diameter_factory_m, diameter_planned_m: nominal diameters, both of one kind [m], > 0.

    Returns
        Ratio [1]; gear sets near it are the candidates.

    Equation
        factory_ratio x diameter_planned / diameter_factory   [2]

    Raises
        InputError: an argument is outside its range.
    """
    ratio, factory, planned = numbers(
        factory_ratio=(factory_ratio, ABOVE_ZERO),
        diameter_factory_m=(diameter_factory_m, ABOVE_ZERO),
        diameter_planned_m=(diameter_planned_m, ABOVE_ZERO),
    )
    return ratio * planned / factory


def gearing_change(*, effective_ratio: npt.ArrayLike, factory_ratio: npt.ArrayLike) -> Floats:
    """Change of the gearing against the factory's, tires included.

    Parameters
        effective_ratio: see `effective_ratio` [1], > 0.
        factory_ratio: axle ratio that the vehicle left the factory with [1], > 0.

    Returns
        Change [1]; positive turns the engine faster than from the factory.

    Equation
        effective_ratio / factory_ratio - 1

    Raises
        InputError: an argument is outside its range.
    """
    effective, factory = numbers(
        effective_ratio=(effective_ratio, ABOVE_ZERO), factory_ratio=(factory_ratio, ABOVE_ZERO)
    )
    return effective / factory - 1.0


def crawl_ratio(
    *,
    first_gear_ratio: npt.ArrayLike,
    low_range_ratio: npt.ArrayLike,
    axle_ratio: npt.ArrayLike,
) -> Floats:
    """Largest overall ratio forward: first gear in low range.

    Parameters
        first_gear_ratio: [1], > 0.
        low_range_ratio: of the transfer case [1], > 0; 1 where there is none.
        axle_ratio: [1], > 0.

    Returns
        Ratio [1].

    Equation
        first_gear_ratio x low_range_ratio x axle_ratio   [2]

    Raises
        InputError: an argument is outside its range.
    """
    first, low, axle = numbers(
        first_gear_ratio=(first_gear_ratio, ABOVE_ZERO),
        low_range_ratio=(low_range_ratio, ABOVE_ZERO),
        axle_ratio=(axle_ratio, ABOVE_ZERO),
    )
    return first * low * axle


def crawl_speed_mps(
    *,
    idle_speed_rpm: npt.ArrayLike,
    crawl_ratio: npt.ArrayLike,
    circumference_m: npt.ArrayLike,
) -> Floats:
    """Road speed at idle in first gear and low range, the clutch closed.

    With a torque converter the vehicle creeps at this speed or, against a load, slower.

    Parameters
        idle_speed_rpm: [rpm], >= 0.
        crawl_ratio: see `crawl_ratio` [1], > 0.
        circumference_m: rolling circumference [m], > 0.

    Returns
        Road speed [m/s].

    Equation
        n C / (60 i)   [2]

    Raises
        InputError: an argument is outside its range.
    """
    idle, ratio, circumference = numbers(
        idle_speed_rpm=(idle_speed_rpm, ZERO_OR_MORE),
        crawl_ratio=(crawl_ratio, ABOVE_ZERO),
        circumference_m=(circumference_m, ABOVE_ZERO),
    )
    return idle * circumference / (60.0 * ratio)


def tire_speedometer_factor(
    *, circumference_calibrated_m: npt.ArrayLike, circumference_fitted_m: npt.ArrayLike
) -> Floats:
    """Shown / true speed, and shown / true distance, after a change of tires alone.

    Parameters
        circumference_calibrated_m: of the tires that the instrument is set for [m], > 0.
        circumference_fitted_m: of the tires fitted [m], > 0.

    Returns
        Factor [1]; below 1 the instrument reads low (taller tires).

    Equation
        C_calibrated / C_fitted   [2]

    Raises
        InputError: an argument is outside its range.
    """
    calibrated, fitted = numbers(
        circumference_calibrated_m=(circumference_calibrated_m, ABOVE_ZERO),
        circumference_fitted_m=(circumference_fitted_m, ABOVE_ZERO),
    )
    return calibrated / fitted


def axle_speedometer_factor(
    *,
    axle_ratio_calibrated: npt.ArrayLike,
    axle_ratio_fitted: npt.ArrayLike,
    sensor_before_axle: npt.ArrayLike,
) -> Floats:
    """Shown / true speed, and shown / true distance, after a change of axle ratio alone.

    Parameters
        axle_ratio_calibrated: ratio that the instrument is set for [1], > 0.
        axle_ratio_fitted: [1], > 0.
        sensor_before_axle: mask; True where the sensor counts turns of the driveshaft (at the
            gearbox or transfer case output), False where it counts turns of the wheels.

    Returns
        Factor [1]; above 1 the instrument reads high.

    Equation
        before the axle: R_fitted / R_calibrated; after it: 1   [2]

    Raises
        InputError: an argument is outside its range.
    """
    calibrated, fitted = numbers(
        axle_ratio_calibrated=(axle_ratio_calibrated, ABOVE_ZERO),
        axle_ratio_fitted=(axle_ratio_fitted, ABOVE_ZERO),
    )
    before = np.asarray(sensor_before_axle, dtype=np.bool_)
    # [()] turns an array without axes back into a number.
    return np.where(before, fitted / calibrated, 1.0)[()]


def speedometer_error(
    *,
    circumference_calibrated_m: npt.ArrayLike,
    circumference_fitted_m: npt.ArrayLike,
    axle_ratio_calibrated: npt.ArrayLike,
    axle_ratio_fitted: npt.ArrayLike,
    sensor_before_axle: npt.ArrayLike,
) -> Floats:
    """Shown / true speed - 1 after changes of tires and axle, if nothing is recalibrated.

    The instrument is taken to have been exact before; many are set to read a little high.

    Parameters
        circumference_calibrated_m, circumference_fitted_m: see `tire_speedometer_factor`.
        axle_ratio_calibrated, axle_ratio_fitted, sensor_before_axle: see
            `axle_speedometer_factor`.

    Returns
        Error [1]; -0.05 shows 5 % too little.

    Equation
        tire_speedometer_factor x axle_speedometer_factor - 1   [2]

    Raises
        InputError: an argument is outside its range.
    """
    tire_before, tire_after, axle_before, axle_after = numbers(
        circumference_calibrated_m=(circumference_calibrated_m, ABOVE_ZERO),
        circumference_fitted_m=(circumference_fitted_m, ABOVE_ZERO),
        axle_ratio_calibrated=(axle_ratio_calibrated, ABOVE_ZERO),
        axle_ratio_fitted=(axle_ratio_fitted, ABOVE_ZERO),
    )
    axle = axle_speedometer_factor(
        axle_ratio_calibrated=axle_before,
        axle_ratio_fitted=axle_after,
        sensor_before_axle=sensor_before_axle,
    )
    return tire_before / tire_after * axle - 1.0


def true_speed_mps(*, shown_speed_mps: npt.ArrayLike, speedometer_error: npt.ArrayLike) -> Floats:
    """Road speed behind a speedometer's reading.

    Parameters
        shown_speed_mps: [m/s], >= 0.
        speedometer_error: see `speedometer_error` [1], > -1.

    Returns
        True speed [m/s].

    Equation
        shown / (1 + error)   [2]

    Raises
        InputError: an argument is outside its range.
    """
    return _true("shown_speed_mps", shown_speed_mps, speedometer_error)


def true_distance_m(*, shown_distance_m: npt.ArrayLike, speedometer_error: npt.ArrayLike) -> Floats:
    """Distance behind an odometer's reading; the odometer counts what the speedometer does.

    Fuel economy must be figured from this one: on taller tires an uncorrected odometer makes it
    look worse by the whole change of circumference.

    Parameters
        shown_distance_m: [m], >= 0.
        speedometer_error: see `speedometer_error` [1], > -1.

    Returns
        True distance [m].

    Equation
        shown / (1 + error)   [2]

    Raises
        InputError: an argument is outside its range.
    """
    return _true("shown_distance_m", shown_distance_m, speedometer_error)


def axle_mismatch(*, front_ratio: npt.ArrayLike, rear_ratio: npt.ArrayLike) -> Floats:
    """Difference of the tooth ratios of two driven axles, which winds up a locked driveline.

    Parameters
        front_ratio: tooth ratio in the front axle [1], > 0; NaN where it is not driven.
        rear_ratio: tooth ratio in the rear axle [1], > 0.

    Returns
        Mismatch [1]; 0 is matched.

    Equation
        front_ratio / rear_ratio - 1

    Raises
        InputError: an argument is outside its range.
    """
    front, rear = numbers(
        front_ratio=(front_ratio, ABOVE_ZERO), rear_ratio=(rear_ratio, ABOVE_ZERO)
    )
    return front / rear - 1.0


def _true(name: str, shown: npt.ArrayLike, error: npt.ArrayLike) -> Floats:
    reading, reading_error = numbers(
        **{name: (shown, ZERO_OR_MORE), "speedometer_error": (error, _ERROR)}
    )
    return reading / (1.0 + reading_error)


def _whole_teeth(ring: int, pinion: int) -> tuple[int, int]:
    problems = [
        Problem(Place(dotted=name), f"{teeth!r} is not allowed; allowed: whole teeth, 2 or more")
        for name, teeth in (("ring_teeth", ring), ("pinion_teeth", pinion))
        if isinstance(teeth, bool) or not isinstance(teeth, int | np.integer) or teeth < 2
    ]
    if not problems and ring < pinion:
        message = f"{ring} is fewer than the pinion's {pinion}; are the two swapped?"
        problems.append(Problem(Place(dotted="ring_teeth"), message))
    if problems:
        raise InputError(problems)
    return int(ring), int(pinion)
