"""What a gearbox does: converter or clutch at the start, losses by gear, and which gear is chosen.

Gears are counted from the lowest; an axis of gears comes first and the lanes last. Functions take
scalars or arrays that broadcast against each other, unless they say otherwise.

References
    [1] EU 2017/2400 Annex VI appendix 9: generic torque converter.
    [2] Coupling point, shift times, hysteresis: common practice, no source.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    from collections.abc import Sequence

Floats = npt.NDArray[np.float64]
Masks = npt.NDArray[np.bool_]
Value = float | Floats

COUPLING_SPEED_RATIO = 0.87
"""Turbine / engine speed from which a converter multiplies no more: 0.85 to 0.90 [2]."""

CAPACITY_LINES = ((1.0, 1.0 / 3.0), (1.4, 1.0), (5.0, 5.0))
"""Input torque at a speed ratio v / at stall, equal engine speed: the least of a - b v.

They pass through the points of [1] for v_s = 1: 1 at 0, 0.8 at 0.6, 0.5 at 0.9, 0 at 1."""

AUTOMATIC_SHIFT_S = 0.25
"""Time without drive that one upshift of an automatic amounts to [2]."""

MANUAL_SHIFT_S = 0.7
"""Time without drive of one upshift by hand [2]."""

SHIFT_HYSTERESIS = 0.08
"""Share of torque that must be free, beyond the reserve, before a higher gear is taken again [2].

Without it a gearbox would hunt at the one grade where a gear is just enough."""

DIRECT_TOLERANCE = 0.005
"""A gear whose ratio is this close to 1 is the direct one, with fewer meshes under load."""


def gear_efficiency(*, gear_ratio: Floats, direct: Value, other: Value) -> Floats:
    """Proportional efficiency of each gear [1]: `direct` at a ratio of 1, `other` elsewhere."""
    is_direct = np.abs(gear_ratio - 1.0) <= DIRECT_TOLERANCE
    return np.where(is_direct, direct, other)


def gear_steps(*, gear_ratio: Floats) -> Floats:
    """Ratio of each gear / ratio of the gear above it, (G, ...) -> (G - 1, ...) [1], > 1."""
    return gear_ratio[:-1] / gear_ratio[1:]


def locked_gears(*, gears: int, lockup_from_gear: int | Literal["never"] | None) -> Masks:
    """Which gears have no slip at steady speed, (G,): from the one named; all with a clutch.

    Parameters
        gears: number of gears, >= 1.
        lockup_from_gear: lowest gear in which the converter can lock, counted from 1, or "never";
            None for a clutch.

    Raises
        ValueError: there is no such gear.
    """
    if lockup_from_gear == "never":
        return np.zeros(gears, dtype=np.bool_)
    first = 1 if lockup_from_gear is None else lockup_from_gear
    if not 1 <= first <= gears:
        raise ValueError(f"lock-up from gear {first}; allowed: 1 to {gears}")
    return np.arange(1, gears + 1) >= first


def converter_torque_ratio(*, speed_ratio: Value, stall_torque_ratio: Value) -> Floats:
    """Torque out / torque in of a converter: a straight line from stall to the coupling point.

    Parameters
        speed_ratio: turbine / engine speed [1], 0 to 1.
        stall_torque_ratio: [1], >= 1; usually 1.7 to 2.2.
    """
    left = np.maximum(1.0 - np.divide(speed_ratio, COUPLING_SPEED_RATIO), 0.0)
    return np.asarray(1.0 + (stall_torque_ratio - 1.0) * left, dtype=np.float64)


def converter_capacity(*, speed_ratio: Value) -> Floats:
    """Input torque of a converter / its torque at stall and equal engine speed [1], after [1].

    Parameters
        speed_ratio: turbine / engine speed [1], 0 to 1.
    """
    lines = [constant - slope * speed_ratio for constant, slope in CAPACITY_LINES]
    least = np.minimum(np.minimum(lines[0], lines[1]), lines[2])
    return np.asarray(least, dtype=np.float64)


def converter_engine_speed_rpm(*, turbine_speed_rpm: Value, stall_speed_rpm: Value) -> Floats:
    """Engine speed at full load over turbine speed, with the converter open.

    Taken at the torque of the stall point: the converter absorbs torque with the square of speed,
    so that N^2 f(n / N) = N_stall^2, which each line of the capacity turns into a quadratic.
    Torque that rises or falls towards other speeds would shift it by half as much (in share).

    Parameters
        turbine_speed_rpm: [rpm], >= 0.
        stall_speed_rpm: [rpm], > 0.

    Returns
        Engine speed [rpm], above the turbine speed and not below the stall speed.
    """
    half = np.asarray(np.multiply(turbine_speed_rpm, np.divide(0.5, stall_speed_rpm)))
    least = None
    for constant, slope in CAPACITY_LINES:
        middle = half * slope
        root = np.square(middle)
        root += constant
        root = np.sqrt(root)
        root -= middle
        least = root if least is None else np.minimum(least, root)
    return np.asarray(stall_speed_rpm / np.asarray(least), dtype=np.float64)


def generic_stall_torque_nm(*, largest_torque_nm: Value, rated_speed_rpm: Value) -> Floats:
    """Torque that a converter matched to an engine takes at stall and 1,000 rpm, after [1].

    Equation
        0.8 T_max (1000 / (0.7 n_rated))^2
    """
    square = np.square(np.divide(1000.0, 0.7 * rated_speed_rpm))
    return np.asarray(0.8 * largest_torque_nm * square, dtype=np.float64)


def stall_speed_rpm(
    *,
    curve_speed_rpm: Sequence[float],
    curve_torque_nm: Sequence[float],
    torque_at_1000rpm_nm: float,
) -> float:
    """Engine speed [rpm] at stall: where the engine's torque equals what the converter takes.

    Parameters
        curve_speed_rpm, curve_torque_nm: full-load curve, speeds rising [rpm], [N m].
        torque_at_1000rpm_nm: torque taken at stall and 1,000 rpm [N m], > 0; it rises with the
            square of speed.

    Raises
        ValueError: the two do not cross within the curve.
    """
    scale = torque_at_1000rpm_nm / 1.0e6
    spare = [
        torque - scale * speed * speed
        for speed, torque in zip(curve_speed_rpm, curve_torque_nm, strict=True)
    ]
    for place in range(len(spare) - 1):
        if spare[place] >= 0.0 > spare[place + 1]:
            start, end = curve_speed_rpm[place], curve_speed_rpm[place + 1]
            slope = (curve_torque_nm[place + 1] - curve_torque_nm[place]) / (end - start)
            constant = curve_torque_nm[place] - slope * start
            return (slope + math.sqrt(slope * slope + 4.0 * scale * constant)) / (2.0 * scale)
    raise ValueError(
        "the converter's stall point is outside the torque curve; allowed: "
        f"{curve_speed_rpm[0]:g} to {curve_speed_rpm[-1]:g} rpm"
    )


def usable_torque_share(
    *,
    engine_speed_rpm: Value,
    light_lug_rpm: Value,
    lug_rpm: Value,
    governed_rpm: Value,
    torque_reserve: Value,
) -> Floats:
    """Share of full-load torque that a gear may be asked for at an engine speed.

    Zero below the light lug speed and above the governed one; rising in a straight line to the lug
    speed, so that the lug speed rises with load; from there all but the reserve.

    Parameters
        engine_speed_rpm: [rpm].
        light_lug_rpm, lug_rpm, governed_rpm: [rpm], light_lug_rpm <= lug_rpm < governed_rpm.
        torque_reserve: [1], 0 to 1 (without 1).

    Returns
        Share [1], 0 to 1.
    """
    span = np.maximum(np.subtract(lug_rpm, light_lug_rpm), 1.0e-9)
    ramp = np.clip((engine_speed_rpm - light_lug_rpm) / span, 0.0, 1.0)
    share = np.where(engine_speed_rpm >= lug_rpm, 1.0, ramp) * (1.0 - torque_reserve)
    return np.where(engine_speed_rpm <= governed_rpm, share, 0.0)


def highest_gear(
    *,
    torque_demand_nm: Floats,
    torque_available_nm: Floats,
    usable_share: Floats,
    permitted: Masks,
) -> npt.NDArray[np.intp]:
    """The gear chosen: the highest one, permitted, whose usable torque covers the demand.

    Parameters
        torque_demand_nm: (G, ...) [N m] at the engine in each gear.
        torque_available_nm: (G, ...) [N m] full load at the engine speed of each gear.
        usable_share: (G, ...) [1] as from `usable_torque_share`; 0 forbids the gear.
        permitted: (G, ...) by range, lock-up and padding.

    Returns
        (...) index of the gear, 0 = lowest; -1 where no gear will do.
    """
    holds = permitted & (usable_share > 0.0)
    holds = holds & (torque_demand_nm <= torque_available_nm * usable_share)
    gears = holds.shape[0]
    last = gears - 1 - np.argmax(holds[::-1], axis=0)
    return np.where(holds.any(axis=0), last, -1)
