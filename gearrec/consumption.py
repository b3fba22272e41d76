"""Fuel over a leg: Willans lines of each gear, integrated over the distribution of grades.

In one gear at one road speed, fuel per meter is linear in the force at the wheels: engine friction
plus work over efficiency. Between the thresholds of two gears the integral over a normal
distribution of grades is closed (`gearrec.terrain`). Downhill, fuel is cut off where gravity
drives the engine as hard as friction brakes it.

Stops and standing are added: the kinetic energy of each full stop is worked for and braked away,
and fuel runs at idle while standing.

What the model leaves out: enrichment near full load, the rise of indicated efficiency at part
load by later ignition or leaner burning, cold start, accessories that vary.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gearrec import engine, terrain, transmission
from gearrec.operating import ALWAYS, of_top_gear

if TYPE_CHECKING:
    from gearrec.lanes import Floats, Lanes
    from gearrec.operating import OperatingPoints

LEAST_DEVIATION = 1.0e-6
"""Standard deviation of the grade taken for level road, so that no division is by zero."""

SLIP_RANGE = (0.01, 0.12)
"""Slip of an open converter at part load: 3 to 8 % cruising (from memory), less at no load."""

LUG_LOAD = 0.5
"""Share of full-load torque from which load counts as high for lugging: common practice, no source.
"""

_CROSSINGS_TO_DENSITY = math.pi / math.sqrt(2.0 * math.pi)
_LITERS_PER_100KM = 1.0e8
_FARTHEST_DEVIATE = 30.0


@dataclass(frozen=True, slots=True)
class Consumption:
    """Fuel and gears over the terrain of each leg.

    Fields
        fuel_rate (C, L, N): L/100 km, mid.
        deviation (L, N): of the grade, not below `LEAST_DEVIATION`.
        held_share (G, C, L, N): share of the distance on grades that gear g or one above holds.
        threshold_density (G, C, L, N): normal density at the thresholds, in standard deviations.
    """

    fuel_rate: Floats
    deviation: Floats
    held_share: Floats
    threshold_density: Floats


def consume(lanes: Lanes, points: OperatingPoints) -> Consumption:
    """Fuel per distance of every candidate on every leg.

    Equations
        fuel per meter x heating value x eta = e_g + b_g m g s
        e_g = fmep(n) V n / (120 v) + b_g F,   b_g = 1 / (efficiency (1 - slip))
        mean over grades = sum over gears of e_g dPhi_g - b_g m g sigma dphi_g
    """
    slip = _engine_over_turbine(lanes, points)
    friction = _friction_force_n(lanes, points, slip)
    work = 1.0 / points.efficiency
    deviation = np.maximum(lanes.leg_grade_deviation, LEAST_DEVIATION)
    per_deviate = points.weight_n * deviation

    # The line of the highest gear, for the grade on which fuel is cut off downhill.
    cut_work = points.in_gear(work, points.highest)
    may_slip = points.highest < points.slipping
    if may_slip.any():
        cut_slip = points.in_gear(slip, np.minimum(points.highest, points.slipping - 1))
        cut_work *= np.where(may_slip, cut_slip, 1.0)
    cut_line = points.in_gear(friction, points.highest)
    cut_line += cut_work * points.road_force_n
    cut_work *= per_deviate

    gears = points.threshold.shape[0]
    deviates = np.empty((gears + 1, *points.threshold.shape[1:]))
    np.multiply(points.threshold, 1.0 / deviation, out=deviates[:gears])
    np.divide(cut_line, cut_work, out=deviates[gears])
    np.negative(deviates[gears], out=deviates[gears])
    np.clip(deviates, -_FARTHEST_DEVIATE, _FARTHEST_DEVIATE, out=deviates)
    share, density = terrain.cdf_and_density(deviates)

    energy = np.einsum("gcln,gcln->cln", share[:gears], _rise_from_lower(friction))
    rises = _work_rises(points, work, slip)
    work_done = _sum_over_gears(share, rises)
    work_done *= points.road_force_n
    energy += work_done
    pulled = _sum_over_gears(density, rises)
    pulled *= per_deviate
    energy -= pulled
    cut_line *= share[gears]
    cut_work *= density[gears]
    energy -= cut_line
    energy += cut_work

    fuel = energy
    if lanes.leg_stops_per_m.any():
        fuel += _stop_energy_j_per_m(lanes, points)
    fuel /= lanes.indicated_efficiency * lanes.lower_heating_value_j_per_kg
    fuel += _standing_fuel_kg_per_m(lanes)
    fuel *= _LITERS_PER_100KM / lanes.fuel_density_kg_per_m3
    return Consumption(
        fuel_rate=fuel,
        deviation=deviation,
        held_share=share[:gears],
        threshold_density=density[:gears],
    )


def downshift_share(lanes: Lanes, consumption: Consumption) -> Floats:
    """Share of the distance spent below the gearbox's top gear, (C, L, N)."""
    return np.asarray(1.0 - of_top_gear(lanes, consumption.held_share))


def shift_rate(lanes: Lanes, points: OperatingPoints, consumption: Consumption) -> Floats:
    """Gear changes per 100 km over the terrain, with hysteresis, (C, L, N).

    A higher gear is taken again only with `transmission.SHIFT_HYSTERESIS` of its torque to spare.
    Each threshold between two gears in use is crossed as `terrain.crossings_per_m` says.
    """
    # A gear that holds no more than the one above it is skipped: one change, not two.
    used = np.empty(points.threshold.shape, dtype=np.bool_)
    np.greater(points.threshold[:-1], points.threshold[1:], out=used[:-1])
    used[-1] = True
    passages = consumption.threshold_density * used
    # The threshold is the end of the band farther from level, unless it is very near level.
    lower = transmission.SHIFT_HYSTERESIS
    used &= points.threshold < points.level_grade * (0.5 * lower / (1.0 - 0.5 * lower))
    used &= points.threshold > -0.5 * ALWAYS
    places = np.flatnonzero(used)
    if places.size:
        upper_grade = points.threshold.take(places)
        at_leg = places % points.level_grade.size
        level_grade = points.level_grade.take(at_leg)
        crossings = terrain.crossings_per_m(
            upper_grade=upper_grade,
            lower_grade=upper_grade - lower * (upper_grade + level_grade),
            deviation=consumption.deviation.take(at_leg),
            correlation_m=1.0,
        )
        passages.reshape(-1)[places] = crossings * _CROSSINGS_TO_DENSITY
    total = np.add.reduce(passages, axis=0)
    total *= 1.0e5 / (_CROSSINGS_TO_DENSITY * lanes.leg_grade_correlation_m)
    return np.asarray(total)


def lug_share(lanes: Lanes, points: OperatingPoints, consumption: Consumption) -> Floats:
    """Share of the distance at high load (`LUG_LOAD`) below the lug speed, (C, L, N)."""
    lugging = points.speed_rpm < lanes.lug_rpm
    np.logical_and(lugging[:-1], points.threshold[:-1] > points.threshold[1:], out=lugging[:-1])
    lugging[: points.slipping] &= lanes.gear_locked[: points.slipping, None, None]
    places = np.flatnonzero(lugging)
    cells, legs = points.threshold[0].size, points.level_grade.size
    threshold = points.threshold.take(places)
    above = points.threshold.take(places + cells, mode="clip")
    above[np.searchsorted(places, points.threshold.size - cells) :] = -ALWAYS
    at_leg = places % legs
    lower = points.usable_grade.take(places)
    lower *= (LUG_LOAD / (1.0 - lanes.torque_reserve)).take(at_leg % lanes.size)
    lower -= points.level_grade.take(at_leg)
    np.maximum(lower, above, out=lower)
    np.minimum(lower, threshold, out=lower)
    share = terrain.share_between(
        lower_grade=lower, upper_grade=threshold, deviation=consumption.deviation.take(at_leg)
    )
    total = np.bincount(places % cells, weights=share, minlength=cells).astype(np.float64)
    return total.reshape(points.threshold.shape[1:])


def _rise_from_lower(values: Floats) -> Floats:
    """Values less those of the next lower gear, (G, ...).

    A sum over gears of value x (share held - share held by the gear above) is the sum of this rise
    x share held, which saves taking differences of the larger arrays.
    """
    rise = np.empty_like(values)
    rise[0] = values[0]
    np.subtract(values[1:], values[:-1], out=rise[1:])
    return rise


def _work_rises(points: OperatingPoints, work: Floats, slip: Floats) -> tuple[Floats, Floats]:
    """Rise of work per work at the wheels from gear to gear: of the lower gears, that may slip and
    so differ between candidates, (H, C, L, N), and of the others, (G - H, L, N).
    """
    gears, slipping = work.shape[0], points.slipping
    lower = min(slipping + 1, gears)
    values = np.empty((lower, *slip.shape[1:]))
    np.multiply(work[:slipping, None], slip, out=values[:slipping])
    values[slipping:] = work[slipping:lower, None]
    return _rise_from_lower(values), work[lower:] - work[lower - 1 : -1]


def _sum_over_gears(values: Floats, rises: tuple[Floats, Floats]) -> Floats:
    lower_rises, upper_rises = rises
    lower, upper = lower_rises.shape[0], upper_rises.shape[0]
    total = np.einsum("gcln,gcln->cln", values[:lower], lower_rises)
    if upper:
        total += np.einsum("gcln,gln->cln", values[lower : lower + upper], upper_rises)
    return np.asarray(total)


def _friction_force_n(lanes: Lanes, points: OperatingPoints, slip: Floats) -> Floats:
    """Engine friction as a force at the road [N], (G, C, L, N)."""
    # Scaled per leg first: n (c0 + n (c1 + n c2)).
    scale = lanes.displacement_m3 / (120.0 * lanes.leg_speed_mps)
    square = scale * lanes.friction_2_pa_per_rpm2
    linear = scale * lanes.friction_1_pa_per_rpm
    scale *= lanes.friction_0_pa
    friction = np.empty_like(points.speed_rpm)
    slipping = points.slipping
    for speed, part in (
        (points.speed_rpm[:slipping] * slip, friction[:slipping]),
        (points.speed_rpm[slipping:], friction[slipping:]),
    ):
        np.multiply(speed, square, out=part)
        part += linear
        part *= speed
        part += scale
        part *= speed
    return friction


def _engine_over_turbine(lanes: Lanes, points: OperatingPoints) -> Floats:
    """Engine / turbine speed at part load in the gears that may slip [1], >= 1.

    An open converter slips by the torque it carries, here that of a grade one standard deviation
    uphill: gears below the cruise gear are used uphill, and a slip that depended on the cruise gear
    would make fuel jump wherever that changes.
    """
    slipping = points.slipping
    turbine = points.speed_rpm[:slipping]
    power = (points.level_grade + lanes.leg_grade_deviation) * points.weight_n * lanes.leg_speed_mps
    work_per_turn = power * (30.0 / math.pi) / points.efficiency[:slipping]
    torque = work_per_turn[:, None] / np.maximum(turbine, 1.0)
    stall_torque = engine.grid_torque_nm(
        engine_speed_rpm=lanes.stall_speed_rpm,
        torque_nm=lanes.torque_nm,
        start_rpm=lanes.torque_start_rpm,
        step_rpm=lanes.torque_step_rpm,
    )
    slope = transmission.CAPACITY_LINES[-1][1]
    capacity = slope * np.maximum(stall_torque, 1.0) / np.square(lanes.stall_speed_rpm)
    slip = torque / (capacity * np.square(np.maximum(turbine, lanes.idle_rpm)))
    ratio = 1.0 / (1.0 - np.clip(slip, *SLIP_RANGE))
    ratio = np.where(lanes.gear_locked[:slipping, None, None], 1.0, ratio)
    idling = lanes.idle_rpm / np.maximum(turbine, 1.0)
    return np.where(turbine > 0.0, np.maximum(ratio, idling), 1.0)


def _stop_energy_j_per_m(lanes: Lanes, points: OperatingPoints) -> Floats:
    """Engine work for speed that is braked away at full stops [J/m], (L, N)."""
    kinetic = 0.5 * lanes.mass_kg * np.square(lanes.leg_speed_mps) * lanes.leg_stops_per_m
    return np.asarray(kinetic / points.efficiency[0])


def _standing_fuel_kg_per_m(lanes: Lanes) -> Floats:
    """Fuel burnt while standing per distance [kg/m], (L, N)."""
    standing = lanes.leg_standing_share / (1.0 - lanes.leg_standing_share)
    return standing / lanes.leg_speed_mps * lanes.idle_fuel_kg_per_s
