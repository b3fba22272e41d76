"""What an engine burns: friction plus work over indicated efficiency (Willans), idle, distance.

The model says: fuel power = (friction power + shaft power) / indicated efficiency. Friction is a
mean effective pressure, a polynomial of engine speed by engine class. Its use is the *difference*
between two gearings of one vehicle; its absolute value is good to about 10 %, hence a range.

References
    [1] J. B. Heywood, Internal Combustion Engine Fundamentals (1988), chapter 13: friction.
    [2] CMEM, comprehensive modal emissions model: fuel rate = (k N V + P / eta) / LHV.
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


@dataclass(frozen=True, slots=True)
class FuelRange:
    """A fuel mass rate [kg/s] as low, mid and high, low <= mid <= high."""

    low: Floats
    mid: Floats
    high: Floats


@dataclass(frozen=True, slots=True)
class ConsumptionMap:
    """Measured fuel per work over engine speed and torque.

    `specific_kg_per_j` (T, S) [kg/J] has a row for each `torque_nm` (T,) and a column for each
    `speed_rpm` (S,), both rising, at least two of each; all values > 0.
    """

    speed_rpm: Floats
    torque_nm: Floats
    specific_kg_per_j: Floats


def friction_pressure_pa(
    *,
    engine_speed_rpm: Value,
    constant_pa: Value,
    linear_pa_per_rpm: Value,
    square_pa_per_rpm2: Value,
) -> Floats:
    """Friction mean effective pressure [Pa], pumping and auxiliaries included.

    Equation
        fmep = c0 + c1 n + c2 n^2, n in rpm   [1]
    """
    slope = linear_pa_per_rpm + engine_speed_rpm * square_pa_per_rpm2
    return np.asarray(constant_pa + engine_speed_rpm * slope, dtype=np.float64)


def mean_pressure_power_w(
    *,
    pressure_pa: Value,
    displacement_m3: Value,
    engine_speed_rpm: Value,
) -> Floats:
    """Power [W] of a mean effective pressure in a four-stroke engine: P = p V n / 120."""
    power = pressure_pa * displacement_m3 * engine_speed_rpm / 120.0
    return np.asarray(power, dtype=np.float64)


def fuel_rate_kg_per_s(
    *,
    shaft_power_w: Value,
    friction_power_w: Value,
    indicated_efficiency: Value,
    lower_heating_value_j_per_kg: Value,
) -> Floats:
    """Fuel mass rate [kg/s]; 0 where the vehicle drives the engine harder than friction brakes it.

    Parameters
        shaft_power_w: [W], negative when the vehicle drives the engine.
        friction_power_w: [W], >= 0.
        indicated_efficiency: [1], 0 to 1 (without the ends).
        lower_heating_value_j_per_kg: [J/kg], > 0.

    Equation
        max(0, (P + P_friction) / (eta H))   [2], with k = fmep / (2 eta)
    """
    heat = (shaft_power_w + friction_power_w) / indicated_efficiency
    return np.asarray(np.maximum(heat / lower_heating_value_j_per_kg, 0.0), dtype=np.float64)


def fuel_range_kg_per_s(
    *,
    shaft_power_w: Value,
    friction_power_w: Value,
    efficiency_low: Value,
    efficiency_mid: Value,
    efficiency_high: Value,
    lower_heating_value_j_per_kg: Value,
) -> FuelRange:
    """Fuel mass rate as a range: the high efficiency of the class gives the low rate."""
    low, mid, high = (
        fuel_rate_kg_per_s(
            shaft_power_w=shaft_power_w,
            friction_power_w=friction_power_w,
            indicated_efficiency=efficiency,
            lower_heating_value_j_per_kg=lower_heating_value_j_per_kg,
        )
        for efficiency in (efficiency_high, efficiency_mid, efficiency_low)
    )
    return FuelRange(low=low, mid=mid, high=high)


def idle_fuel_kg_per_s(
    *,
    displacement_m3: Value,
    idle_rpm: Value,
    idle_fuel_pressure_pa: Value,
    lower_heating_value_j_per_kg: Value,
) -> Floats:
    """Fuel mass rate [kg/s] of a warm engine idling out of gear.

    Friction polynomials alone give half to two thirds of measured idle fuel, so a class states its
    idle fuel per displacement, as the heat burnt per turn and swept volume: a pressure.

    Parameters
        displacement_m3: [m3], > 0.
        idle_rpm: [rpm], > 0.
        idle_fuel_pressure_pa: [Pa = J/m3 per turn], > 0; typically 100 to 300 kPa.
        lower_heating_value_j_per_kg: [J/kg], > 0.

    Equation
        p V n / (60 H)
    """
    heat = idle_fuel_pressure_pa * displacement_m3 * idle_rpm / 60.0
    return np.asarray(heat / lower_heating_value_j_per_kg, dtype=np.float64)


def map_fuel_rate_kg_per_s(
    *,
    consumption_map: ConsumptionMap,
    engine_speed_rpm: Value,
    torque_nm: Value,
    outside: Literal["nan", "error"],
) -> Floats:
    """Fuel mass rate [kg/s] from a consumption map, bilinear between its points.

    Parameters
        consumption_map: the table.
        engine_speed_rpm, torque_nm: broadcastable shapes [rpm], [N m].
        outside: what a point outside the table gives; it is never extrapolated.

    Raises
        ValueError: a point is outside the table and `outside` is "error".
    """
    speed, torque = np.broadcast_arrays(
        np.asarray(engine_speed_rpm, dtype=np.float64), np.asarray(torque_nm, dtype=np.float64)
    )
    speeds, torques = consumption_map.speed_rpm, consumption_map.torque_nm
    inside = (speed >= speeds[0]) & (speed <= speeds[-1])
    inside &= (torque >= torques[0]) & (torque <= torques[-1])
    if outside == "error" and not np.all(inside):
        raise ValueError(
            f"operating point outside the consumption map; allowed: {speeds[0]:g} to"
            f" {speeds[-1]:g} rpm and {torques[0]:g} to {torques[-1]:g} N*m"
        )
    row, along_torque = _cell(torques, torque)
    column, along_speed = _cell(speeds, speed)
    table = consumption_map.specific_kg_per_j
    low = table[row, column] * (1.0 - along_speed) + table[row, column + 1] * along_speed
    high = table[row + 1, column] * (1.0 - along_speed) + table[row + 1, column + 1] * along_speed
    specific = low * (1.0 - along_torque) + high * along_torque
    rate = specific * torque * speed * (math.pi / 30.0)
    return np.where(inside, rate, np.nan)


def consumption_map_faults(
    *,
    speed_rpm: Sequence[float],
    torque_nm: Sequence[float],
    specific_kg_per_j: Sequence[Sequence[float]],
) -> tuple[str, ...]:
    """Everything that makes a consumption map unusable, as sentences; empty when it is good."""
    faults = []
    for name, axis in (("speed", speed_rpm), ("torque", torque_nm)):
        if len(axis) < 2:
            faults.append(f"fewer than two values of {name}; a map needs at least two")
        if not all(second > first for first, second in pairwise(axis)):
            faults.append(f"the values of {name} must rise")
    if len(specific_kg_per_j) != len(torque_nm):
        faults.append(f"{len(specific_kg_per_j)} rows for {len(torque_nm)} torques; give one each")
    faults.extend(
        f"row {number} has {len(row)} values for {len(speed_rpm)} speeds; give one for each"
        for number, row in enumerate(specific_kg_per_j, start=1)
        if len(row) != len(speed_rpm)
    )
    if not all(0.0 < value < math.inf for row in specific_kg_per_j for value in row):
        faults.append("every consumption must be above zero and finite")
    return tuple(faults)


def liters_per_100km(
    *,
    fuel_rate_kg_per_s: Value,
    fuel_density_kg_per_m3: Value,
    speed_mps: Value,
) -> Floats:
    """Fuel use over distance [L/100 km] of a mass rate [kg/s] at a road speed [m/s], > 0."""
    volume_rate = fuel_rate_kg_per_s / fuel_density_kg_per_m3
    return np.asarray(volume_rate / speed_mps * 1.0e8, dtype=np.float64)


def break_even_lower_gear_share(*, axle_step: Value, gear_step: Value) -> Floats:
    """Share of time that the higher gearing must spend a gear lower for both to burn the same.

    A numerically higher axle turns the engine faster all the time; the other one does so only
    while a gear lower. The engine's own elasticity cancels.

    Parameters
        axle_step: numerically higher / lower axle ratio [1], >= 1.
        gear_step: ratio of the lower gear / ratio of the gear above it [1], > 1.

    Returns
        Share [1]; above 1 it cannot be reached: the higher axle always costs fuel.

    Equation
        ln(axle_step) / ln(gear_step)

    Raises
        ValueError: a step is outside its range.
    """
    axle = np.asarray(axle_step, dtype=np.float64)
    gear = np.asarray(gear_step, dtype=np.float64)
    if np.any(axle < 1.0) or np.any(gear <= 1.0):
        raise ValueError("axle step must be 1 or more, and gear step above 1")
    return np.asarray(np.log(axle) / np.log(gear), dtype=np.float64)


def _cell(axis: Floats, value: Floats) -> tuple[npt.NDArray[np.intp], Floats]:
    index = np.clip(np.searchsorted(axis, value, side="right") - 1, 0, axis.size - 2)
    return index, (value - axis[index]) / (axis[index + 1] - axis[index])
