"""Terrain as a normal distribution of grades: shares of distance, mean forces, crossings.

A leg's terrain is given by the standard deviation of its grade (mean 0: what goes up comes down)
and the length over which the grade stays alike. Grade here is the sine of the slope angle, in
which the force of gravity is linear; it differs from the tangent by less than 0.7 % up to a 12 %
grade, less than a terrain's deviation is known to.

Whatever is linear in the grade between two thresholds has a closed integral over the distribution,
so that results move smoothly with tires, load and ratio. (A sum over grade nodes would jump
whenever a threshold passes a node.)

References
    [1] M. Abramowitz, I. Stegun, Handbook of Mathematical Functions (1964), 26.2: form of the
        approximation; the coefficients here are a fit of our own.
    [2] S. O. Rice, Mathematical Analysis of Random Noise, Bell System Technical Journal 24 (1945),
        section 3.3: expected crossings of a level.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    from gearrec.lanes import Floats

_ROOT_TWO_PI = math.sqrt(2.0 * math.pi)
_BLOCK = 16384
_SCALE = 0.276
_TAIL = (
    0.11762426553662575,
    0.046722613674928914,
    0.3221487924545603,
    -0.31385570308840627,
    0.4408112943007104,
    -0.1134512667910025,
)


def cdf_and_density(deviates: Floats) -> tuple[Floats, Floats]:
    """Cumulative probability and density of the standard normal distribution.

    Parameters
        deviates: any shape [1], finite.

    Returns
        Cumulative probability [1] and density [1] in the same shape.

    Equation
        Q(|z|) = exp(-z^2/2) P(t), t = 1 / (1 + 0.276 |z|), P of degree 6 without a constant   [1]

    The absolute error of the cumulative probability is below 4e-9 everywhere.
    """
    flat = deviates.reshape(-1)
    share, density = np.empty_like(flat), np.empty_like(flat)
    # Twenty operations one after the other: on blocks that stay in the cache.
    for start in range(0, flat.size, _BLOCK):
        block = slice(start, start + _BLOCK)
        _fill(flat[block], share[block], density[block])
    return share.reshape(deviates.shape), density.reshape(deviates.shape)


def _fill(deviates: Floats, share: Floats, density: Floats) -> None:
    t = np.abs(deviates, out=density)
    t *= _SCALE
    t += 1.0
    np.reciprocal(t, out=t)
    np.multiply(t, _TAIL[5], out=share)
    for coefficient in _TAIL[4::-1]:
        share += coefficient
        share *= t
    np.multiply(deviates, deviates, out=density)
    density *= -0.5
    np.exp(density, out=density)
    share *= density
    np.subtract(0.5, share, out=share)
    np.copysign(share, deviates, out=share)
    share += 0.5
    density *= 1.0 / _ROOT_TWO_PI


def normal_cdf(deviates: npt.ArrayLike) -> Floats:
    """Probability [1] that a standard normal variable is at most `deviates` [1], any shape."""
    return cdf_and_density(np.asarray(deviates, dtype=np.float64))[0]


def erf(values: npt.ArrayLike) -> Floats:
    """Error function of `values` [1], any shape; absolute error below 1e-8."""
    scaled = np.asarray(values, dtype=np.float64) * math.sqrt(2.0)
    return 2.0 * cdf_and_density(scaled)[0] - 1.0


def share_between(
    *, lower_grade: npt.ArrayLike, upper_grade: npt.ArrayLike, deviation: npt.ArrayLike
) -> Floats:
    """Share of the distance on which the grade is between two thresholds.

    Parameters
        lower_grade, upper_grade: broadcastable shapes [1], lower <= upper, infinite allowed.
        deviation: [1], > 0.

    Returns
        Share [1], 0 to 1.
    """
    low, high = _deviates(lower_grade, deviation), _deviates(upper_grade, deviation)
    return cdf_and_density(high)[0] - cdf_and_density(low)[0]


def grade_moment_between(
    *, lower_grade: npt.ArrayLike, upper_grade: npt.ArrayLike, deviation: npt.ArrayLike
) -> Floats:
    """First partial moment: the integral of the grade over the distance between two thresholds.

    Divided by `share_between` it is the mean grade there.

    Parameters
        lower_grade, upper_grade, deviation: as for `share_between`.

    Returns
        Moment [1] per unit of distance.

    Equation
        -deviation (density(upper / deviation) - density(lower / deviation))
    """
    low, high = _deviates(lower_grade, deviation), _deviates(upper_grade, deviation)
    difference = cdf_and_density(low)[1] - cdf_and_density(high)[1]
    return difference * np.asarray(deviation, dtype=np.float64)


def crossings_per_m(
    *,
    upper_grade: npt.ArrayLike,
    lower_grade: npt.ArrayLike,
    deviation: npt.ArrayLike,
    correlation_m: npt.ArrayLike,
) -> Floats:
    """Expected passages through a band of grades, up and down counted each, per meter.

    A passage counts when the grade goes all the way through the band, as a gear change with
    hysteresis does: down above the upper grade, up again below the lower one.

    Parameters
        upper_grade, lower_grade: broadcastable shapes [1], lower <= upper.
        deviation: [1], > 0.
        correlation_m: [m], > 0: the correlation of grades a distance x apart is
            exp(-(x / correlation)^2 / 2).

    Returns
        Passages [1/m].

    Equation
        exp(-u^2 / (2 deviation^2)) / (pi correlation), u the end of the band farther from 0   [2]

    Rice's formula is exact for a single level. For a band this is an upper bound, close while the
    band is narrow against the deviation: no more passages than crossings of its rarer end.
    """
    upper = np.asarray(upper_grade, dtype=np.float64)
    lower = np.asarray(lower_grade, dtype=np.float64)
    farther = np.maximum(np.abs(upper), np.abs(lower)) / deviation
    return np.exp(-0.5 * farther * farther) / (math.pi * np.asarray(correlation_m))


def _deviates(grade: npt.ArrayLike, deviation: npt.ArrayLike) -> Floats:
    ratio = np.asarray(grade, dtype=np.float64) / np.asarray(deviation, dtype=np.float64)
    return np.clip(ratio, -40.0, 40.0)
