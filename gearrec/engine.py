"""What an engine can give: torque over speed, power, and what altitude leaves of it.

Engine speed is in rpm (as every table has it), all else in SI. Functions take scalars or arrays
that broadcast against each other, unless they say otherwise.

References
    [1] SAE J1349, correction of spark-ignition engine power for pressure and temperature.
    [2] Altitude of boosted engines: common practice, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    from collections.abc import Sequence

Floats = npt.NDArray[np.float64]
Value = float | Floats

J1349_FACTOR_RANGE = (0.93, 1.07)
"""Correction factors within which SAE J1349 states its formula to hold."""

BOOST_LIMIT_ALTITUDE_M = 2250.0
"""Altitude up to which a turbocharger makes good the thin air; 2,000 to 2,500 m in practice."""

BOOST_LOSS_PER_M = 1.0e-4
"""Share of torque lost per meter above that: about 1 % per 100 m."""

GRID_POINTS = 512
"""Most points of a resampled curve; a table of whole tens of rpm up to 5,000 rpm stays exact."""

_KNOT_UNIT_RPM = 0.1


@dataclass(frozen=True, slots=True)
class UniformCurve:
    """A torque curve on a uniform grid: point k stands at `start_rpm + k * step_rpm`.

    `largest_error_nm` is the largest distance at a knot from the table it was made of; 0 where the
    step divides all knots, so that the grid reproduces the table exactly.
    """

    start_rpm: float
    step_rpm: float
    torque_nm: Floats
    largest_error_nm: float

    @property
    def end_rpm(self) -> float:
        """Speed of the last point."""
        return self.start_rpm + self.step_rpm * (self.torque_nm.size - 1)


def curve_faults(
    *, curve_speed_rpm: Sequence[float], curve_torque_nm: Sequence[float]
) -> tuple[str, ...]:
    """Everything that makes a table of torque over speed unusable, as sentences; empty when good.

    Parameters
        curve_speed_rpm: speeds [rpm], > 0, rising.
        curve_torque_nm: full-load torques [N m], >= 0, as many.
    """
    faults = []
    if len(curve_speed_rpm) != len(curve_torque_nm):
        faults.append(
            f"{len(curve_speed_rpm)} speeds but {len(curve_torque_nm)} torques; give one for each"
        )
    if len(curve_speed_rpm) < 2:
        faults.append("fewer than two points; a curve needs at least two")
    if not all(math.isfinite(value) for value in (*curve_speed_rpm, *curve_torque_nm)):
        return (*faults, "a speed or torque is not a finite number")
    if any(speed <= 0.0 for speed in curve_speed_rpm):
        faults.append("a speed is not above zero")
    faults.extend(
        f"speed {second:g} rpm follows {first:g} rpm; speeds must rise"
        for first, second in pairwise(curve_speed_rpm)
        if second <= first
    )
    if any(torque < 0.0 for torque in curve_torque_nm):
        faults.append("a full-load torque is below zero")
    return tuple(faults)


def torque_nm(
    *,
    engine_speed_rpm: npt.ArrayLike,
    curve_speed_rpm: Sequence[float],
    curve_torque_nm: Sequence[float],
    outside: Literal["nan", "error"],
) -> Floats:
    """Full-load torque at any speed of one table, linear between its points.

    Parameters
        engine_speed_rpm: any shape [rpm].
        curve_speed_rpm, curve_torque_nm: the table, as for `curve_faults`.
        outside: what a speed outside the table gives; the curve is never extrapolated.

    Returns
        Torque [N m] in the shape of `engine_speed_rpm`.

    Raises
        ValueError: the table is unusable, or a speed is outside it and `outside` is "error".
    """
    _require_usable(curve_speed_rpm, curve_torque_nm)
    speed = np.asarray(engine_speed_rpm, dtype=np.float64)
    first, last = curve_speed_rpm[0], curve_speed_rpm[-1]
    if outside == "error" and np.any((speed < first) | (speed > last)):
        raise ValueError(
            f"engine speed outside the torque curve; allowed: {first:g} to {last:g} rpm"
        )
    torque = np.interp(speed, curve_speed_rpm, curve_torque_nm, left=np.nan, right=np.nan)
    return np.asarray(torque, dtype=np.float64)


def uniform_curve(
    *,
    curve_speed_rpm: Sequence[float],
    curve_torque_nm: Sequence[float],
    points: int = GRID_POINTS,
) -> UniformCurve:
    """Put a torque table on a uniform grid, so that a look-up is one index and no search.

    The step is the greatest one that divides all distances between knots (taken to 0.1 rpm): the
    grid then reproduces the table exactly. Where that needs more than `points` points, the finest
    grid allowed is used and `largest_error_nm` says what it costs.

    Parameters
        curve_speed_rpm, curve_torque_nm: the table, as for `curve_faults`.
        points: most points allowed, at least 2.

    Raises
        ValueError: the table is unusable, or `points` is below 2.
    """
    _require_usable(curve_speed_rpm, curve_torque_nm)
    if points < 2:
        raise ValueError(f"a grid of {points} points; allowed: 2 or more")
    first, last = float(curve_speed_rpm[0]), float(curve_speed_rpm[-1])
    ticks = [round((speed - first) / _KNOT_UNIT_RPM) for speed in curve_speed_rpm]
    on_ticks = all(
        math.isclose(first + tick * _KNOT_UNIT_RPM, speed, abs_tol=1e-6)
        for tick, speed in zip(ticks, curve_speed_rpm, strict=True)
    )
    count = ticks[-1] // max(math.gcd(*ticks), 1) + 1
    if not on_ticks or count > points:
        count = points
    grid = np.linspace(first, last, count)
    torque = np.interp(grid, curve_speed_rpm, curve_torque_nm)
    again = np.interp(curve_speed_rpm, grid, torque)
    error = float(np.max(np.abs(again - np.asarray(curve_torque_nm))))
    largest = float(np.max(torque))
    return UniformCurve(
        start_rpm=first,
        step_rpm=(last - first) / (count - 1),
        torque_nm=torque,
        largest_error_nm=0.0 if error <= 1e-9 * largest else error,
    )


def grid_torque_nm(
    *,
    engine_speed_rpm: Floats,
    torque_nm: Floats,
    start_rpm: Floats,
    step_rpm: Floats,
) -> Floats:
    """Torque by index from uniform grids, one per lane.

    Outside its grid a lane has no torque: 0, so that no gear choice can rest on a guess.

    Parameters
        engine_speed_rpm: (..., N) [rpm].
        torque_nm: (K, N) [N m], at `start_rpm + k * step_rpm`.
        start_rpm, step_rpm: (N,) [rpm].

    Returns
        Torque [N m] in the shape of `engine_speed_rpm`.
    """
    points, lanes = torque_nm.shape
    place = (engine_speed_rpm - start_rpm) / step_rpm
    # A speed a rounding error outside the grid is on its end.
    inside = (place >= -1e-9) & (place <= points - 1 + 1e-9)
    np.clip(place, 0.0, points - 1, out=place)
    index = np.minimum(place, points - 2).astype(np.intp)
    place -= index
    index *= lanes
    index += np.arange(lanes)
    flat = torque_nm.ravel()
    low: Floats = flat.take(index)
    high = flat.take(index + lanes)
    high -= low
    high *= place
    low += high
    low *= inside
    return low


def power_w(*, torque_nm: Value, engine_speed_rpm: Value) -> Floats:
    """Shaft power [W] of a torque [N m] at a speed [rpm]: P = T 2 pi n / 60."""
    return np.asarray(torque_nm * engine_speed_rpm * (math.pi / 30.0), dtype=np.float64)


def natural_torque_factor(*, dry_pressure_pa: Value, temperature_k: Value) -> Floats:
    """Torque of an engine without boost in given air / torque at SAE reference conditions.

    Equation
        1 / (1.18 (99 kPa / p) sqrt(T / 298 K) - 0.18)   [1], inverted

    The standard states it for correction factors of 0.93 to 1.07 (`within_j1349_range`), up to
    roughly 1,000 m; beyond that, as on every mountain pass, it is an extrapolation that is
    nevertheless in general use. In dense air the factor is above 1.

    Parameters
        dry_pressure_pa: pressure of the air without its water vapor [Pa], > 0.
        temperature_k: of the intake air [K], > 0.

    Returns
        Factor [1], > 0.
    """
    return 1.0 / _j1349_correction(dry_pressure_pa, temperature_k)


def within_j1349_range(*, dry_pressure_pa: Value, temperature_k: Value) -> npt.NDArray[np.bool_]:
    """Whether the air is such that SAE J1349 states its formula to hold."""
    correction = _j1349_correction(dry_pressure_pa, temperature_k)
    low, high = J1349_FACTOR_RANGE
    return np.asarray((correction >= low) & (correction <= high))


def boosted_torque_factor(
    *,
    altitude_m: Value,
    limit_altitude_m: Value = BOOST_LIMIT_ALTITUDE_M,
    loss_per_m: Value = BOOST_LOSS_PER_M,
) -> Floats:
    """Torque of a boosted engine at altitude / torque at sea level.

    Flat up to `limit_altitude_m`, then falling by `loss_per_m` [2]. Meant for altitudes up to
    about 4,500 m; never below zero.

    Parameters
        altitude_m: [m].
        limit_altitude_m: [m], up to which boost makes good the thin air.
        loss_per_m: [1/m], share of the sea-level torque.

    Returns
        Factor [1], 0 to 1.
    """
    above = np.maximum(np.subtract(altitude_m, limit_altitude_m), 0.0)
    return np.asarray(np.maximum(1.0 - above * loss_per_m, 0.0), dtype=np.float64)


def torque_factor(
    *,
    boosted: bool | npt.NDArray[np.bool_],
    altitude_m: Value,
    dry_pressure_pa: Value,
    temperature_k: Value,
    limit_altitude_m: Value = BOOST_LIMIT_ALTITUDE_M,
    loss_per_m: Value = BOOST_LOSS_PER_M,
) -> Floats:
    """Torque available in given air / torque of the table, by aspiration.

    Parameters
        boosted: mask; True takes `boosted_torque_factor`, False `natural_torque_factor`.
        others: as for those two.

    Returns
        Factor [1].
    """
    natural = natural_torque_factor(dry_pressure_pa=dry_pressure_pa, temperature_k=temperature_k)
    with_boost = boosted_torque_factor(
        altitude_m=altitude_m, limit_altitude_m=limit_altitude_m, loss_per_m=loss_per_m
    )
    return np.where(np.asarray(boosted, dtype=np.bool_), with_boost, natural)


def _j1349_correction(dry_pressure_pa: Value, temperature_k: Value) -> Floats:
    correction = 1.18 * (99.0e3 / dry_pressure_pa) * np.sqrt(np.divide(temperature_k, 298.0)) - 0.18
    return np.asarray(correction, dtype=np.float64)


def _require_usable(speeds: Sequence[float], torques: Sequence[float]) -> None:
    faults = curve_faults(curve_speed_rpm=speeds, curve_torque_nm=torques)
    if faults:
        raise ValueError("torque curve: " + "; ".join(faults))
