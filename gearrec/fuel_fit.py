"""A measured consumption map turned into the fuel model's own form, with the error that this costs.

The advice integrates fuel over terrain in closed form, which needs fuel that is linear in power at
each engine speed. So a map is not looked up point by point: the model that fits it best is used.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from gearrec.fuel import ConsumptionMap, Floats

SMALLEST_SPREAD = 0.03
"""Least half-width of the fuel range that is left, however well the fit does [1]."""


@dataclass(frozen=True, slots=True)
class FuelFit:
    """The fuel model of one engine; pressures as in `fuel.friction_pressure_pa`.

    `relative_error` is the root mean square of (fit / map - 1) over the points of the map.
    """

    constant_pa: float
    linear_pa_per_rpm: float
    square_pa_per_rpm2: float
    indicated_efficiency: float
    relative_error: float

    @property
    def spread(self) -> float:
        """Half-width of the fuel range to state [1]."""
        return max(SMALLEST_SPREAD, self.relative_error)


def fit_map(
    *,
    consumption_map: ConsumptionMap,
    displacement_m3: float,
    lower_heating_value_j_per_kg: float,
) -> FuelFit:
    """The friction polynomial and efficiency that fit a map best, by relative least squares.

    Parameters
        consumption_map: the table; points without power are left out.
        displacement_m3: [m3], > 0.
        lower_heating_value_j_per_kg: [J/kg], > 0.

    Equation
        fuel heat = (c0 + c1 n + c2 n^2) / efficiency x V n / 120 + power / efficiency,
        linear in its four unknowns; none of them may be negative.

    Raises
        ValueError: the map has fewer than four points with power, or no efficiency in sane limits.
    """
    speed, torque = np.meshgrid(consumption_map.speed_rpm, consumption_map.torque_nm)
    power = torque * speed * (np.pi / 30.0)
    heat = consumption_map.specific_kg_per_j * power * lower_heating_value_j_per_kg
    running = (power > 0.0).ravel()
    if running.sum() < 4:
        raise ValueError("a consumption map needs at least four points with power")
    swept = displacement_m3 * speed / 120.0
    columns = np.stack([swept, swept * speed, swept * speed**2, power], axis=-1)
    design = (columns / heat[..., None].clip(min=1e-9)).reshape(-1, 4)[running]
    friction_0, friction_1, friction_2, work = _not_negative(design)
    if not 1.0 < work < 10.0:
        raise ValueError("the consumption map gives no efficiency between 10 and 100 %")
    fit = design @ np.array([friction_0, friction_1, friction_2, work])
    return FuelFit(
        constant_pa=friction_0 / work,
        linear_pa_per_rpm=friction_1 / work,
        square_pa_per_rpm2=friction_2 / work,
        indicated_efficiency=1.0 / work,
        relative_error=float(np.sqrt(np.mean((fit - 1.0) ** 2))),
    )


def _not_negative(design: Floats) -> tuple[float, float, float, float]:
    """Least squares against ones with unknowns of 0 or more: the best over all subsets of four."""
    best: tuple[float, Floats] | None = None
    ones = np.ones(design.shape[0])
    for subset in range(1, 16):
        used = [place for place in range(4) if subset >> place & 1]
        found = np.zeros(4)
        found[used] = np.linalg.lstsq(design[:, used], ones, rcond=None)[0]
        if (found < 0.0).any():
            continue
        error = float(np.sum((design @ found - ones) ** 2))
        if best is None or error < best[0]:
            best = error, found
    if best is None:
        return 0.0, 0.0, 0.0, 0.0
    a, b, c, d = (float(value) for value in best[1])
    return a, b, c, d
