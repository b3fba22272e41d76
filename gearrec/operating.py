"""Operating points: what each candidate does on each leg in each gear, and which gear is chosen.

Engine speed and torque do not depend on the grade at a given road speed. So each gear has one
steepest grade that it holds, and the gear used on a grade is the highest one that holds it: the
grades where the gear changes are a running maximum from the top gear down. Everything over the
distribution of grades follows from these thresholds.

Policy of gear choice (`transmission.usable_torque_share` for a single point): all torque but the
reserve from the lug speed to the governed speed; below the lug speed a share that falls to nothing
at the light lug speed; no gear below that, but for the lowest one, in which clutch or converter
slips; no gear above the governed speed. What no gear holds is driven in the strongest one.

Grades are sines of the slope angle (see `gearrec.terrain`). Axes: (G, C, L, N), see `Lanes`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from gearrec import transmission

if TYPE_CHECKING:
    import numpy.typing as npt

    from gearrec.lanes import Floats, Lanes

    Indices = npt.NDArray[np.intp]

GRAVITY_MPS2 = 9.80665

ALWAYS = 1.0e3
"""Threshold that no grade reaches, and with a minus sign one that every grade exceeds.

Finite, so that it can be added under a mask: masked writes cost ten times as much."""


ROAD_SPEED_PART = 0.25
"""How far shifts at light load stay at their road speed when the gearing changes, 0 to 1.

At 0 they would follow engine speed, and city fuel would not depend on the axle ratio; at 1 they
would stay at their road speed, as drivers of manuals do. Fitted to matched test vehicles (US EPA,
test car lists 2004 to 2023): elasticity of city fuel 0.1 with automatics, 0.4 with manuals."""


@dataclass(frozen=True, slots=True)
class OperatingPoints:
    """What a batch does at the speeds of its legs, at full load and on level ground.

    Fields
        speed_rpm (G, C, L, N): engine speed without slip; 0 in padded gears.
        road_force_n (L, N): level road load with the constant driveline drag.
        weight_n (L, N): mass x gravity.
        level_grade (L, N): road load / weight: the grade that the level road amounts to.
        efficiency (G, L, N): proportional, engine to wheels, by gear and range.
        usable_grade (G, C, L, N): force at full load less the reserve / weight, lugging not minded.
        threshold (G, C, L, N): steepest grade that gear g, or one above it, holds; falls with g;
            about `ALWAYS` from the strongest gear down, about -`ALWAYS` above `highest`.
        top_held_grade (C, L, N): steepest grade that the gearbox's top gear holds.
        highest (C, L, N): index of the highest gear that may be used at all.
        cruise (C, L, N): index of the gear used on level ground.
        slipping (int): gears below this index may slip, from this index on none does.
    """

    speed_rpm: Floats
    road_force_n: Floats
    weight_n: Floats
    level_grade: Floats
    efficiency: Floats
    usable_grade: Floats
    threshold: Floats
    top_held_grade: Floats
    highest: Indices
    cruise: Indices
    slipping: int

    def in_gear(self, values: Floats, gear: Indices) -> Floats:
        """Pick from `values` (G, C, L, N) or (G, L, N) those of the gear `gear` (C, L, N)."""
        points = math.prod(values.shape[1:])
        place = gear * points
        place += np.arange(points).reshape(values.shape[1:])
        return values.reshape(-1).take(place)


def top_gear(lanes: Lanes) -> Indices:
    """Index of the gearbox's top gear, (N,)."""
    return _last_index(lanes.gear_ratio > 0.0)


def of_top_gear(lanes: Lanes, values: npt.NDArray[Any]) -> npt.NDArray[Any]:
    """Pick from `values` (G, C, L, N) those of the gearbox's top gear, (C, L, N)."""
    top, last = top_gear(lanes), values.shape[0] - 1
    if (top == last).all():
        return np.asarray(values[last])
    return np.moveaxis(values[top, :, :, np.arange(lanes.size)], 0, -1)


def range_ratio(lanes: Lanes) -> Floats:
    """Ratio of the transfer case on each leg [1], (L, N)."""
    return np.where(lanes.leg_low_range, lanes.low_range_ratio, 1.0)


def range_efficiency(lanes: Lanes) -> Floats:
    """Proportional efficiency of transfer case and axle on each leg [1], (L, N)."""
    case = np.where(
        lanes.leg_low_range, lanes.transfer_low_efficiency, lanes.transfer_high_efficiency
    )
    return case * lanes.axle_efficiency


def light_lug_rpm(lanes: Lanes) -> Floats:
    """Engine speed below which a candidate uses no gear [rpm], (C, N), at most the lug speed.

    Equation
        light lug speed x (gearing / factory gearing)^`ROAD_SPEED_PART`
    """
    turns = lanes.circumference_factory_m / lanes.circumference_planned_m
    gearing = lanes.axle_ratio * (turns / lanes.factory_ratio)
    return np.minimum(lanes.light_lug_rpm * gearing**ROAD_SPEED_PART, lanes.lug_rpm)


def level_force_n(lanes: Lanes) -> Floats:
    """Level road load of each leg at its speed with the constant driveline drag [N], (L, N)."""
    speed = lanes.leg_speed_mps
    force = lanes.force_square_n_per_mps2 * speed
    force += lanes.force_linear_n_per_mps
    force *= speed
    force += lanes.force_constant_n
    force += lanes.drag_torque_nm * (2.0 * math.pi) / lanes.circumference_planned_m
    return force


def solve(lanes: Lanes) -> OperatingPoints:
    """Engine speeds, holdable grades, and the gear chosen, for every candidate, leg and gear.

    Equations
        n = 60 v / C x axle x range x gear
        usable grade = (1 - reserve) T(n) n (2 pi / 60) / v x efficiency / (m g)
        held grade = share(n) x usable grade - level grade
    """
    wheel_rpm = lanes.leg_speed_mps * 60.0 / lanes.circumference_planned_m
    shaft_rpm = lanes.axle_ratio[:, None] * (wheel_rpm * range_ratio(lanes))
    speed = lanes.gear_ratio[:, None, None] * shaft_rpm

    road_force = level_force_n(lanes)
    weight = lanes.mass_kg * GRAVITY_MPS2
    level_grade = road_force / weight
    efficiency = lanes.gear_efficiency[:, None] * range_efficiency(lanes)
    per_torque_rpm = lanes.torque_factor * (1.0 - lanes.torque_reserve)
    per_torque_rpm *= math.pi / 30.0
    per_torque_rpm /= lanes.leg_speed_mps * weight

    slipping = _slipping_gears(lanes)
    torque = _full_load_torque(lanes, speed, slipping)
    usable = torque
    usable *= speed
    usable *= (efficiency * per_torque_rpm)[:, None]

    held, top_held = _held_grades(lanes, speed=speed, usable=usable, level_grade=level_grade)
    _run_maximum(lanes, held)
    return OperatingPoints(
        speed_rpm=speed,
        road_force_n=road_force,
        weight_n=weight,
        level_grade=level_grade,
        efficiency=efficiency,
        usable_grade=usable,
        threshold=held,
        top_held_grade=top_held,
        highest=_last_index(held > -0.5 * ALWAYS),
        cruise=_last_index(held >= 0.0),
        slipping=slipping,
    )


def grade_of_sine(sine: Floats) -> Floats:
    """Grade (tangent) of a slope whose angle has the given sine, above -1 and below 1."""
    return sine / np.sqrt(1.0 - sine * sine)


def _slipping_gears(lanes: Lanes) -> int:
    """Number of gears from the lowest on among which clutch or converter may slip, at least 1."""
    locked = np.asarray(lanes.gear_locked.all(axis=1))
    return 1 if locked.all() else int(locked.size - np.argmin(locked[::-1]))


def _full_load_torque(lanes: Lanes, speed: Floats, slipping: int) -> Floats:
    """Torque at the gearbox's input at full load [N m], (G, C, L, N).

    An open converter lets the engine turn faster than the turbine and multiplies its torque; a
    clutch slips where the lowest gear would pull the engine below idle.
    """
    turbine = speed[:slipping]
    is_open = ~lanes.gear_locked[:slipping, None, None]
    with_converter = transmission.converter_engine_speed_rpm(
        turbine_speed_rpm=turbine, stall_speed_rpm=lanes.stall_speed_rpm
    )
    engine_rpm = np.where(is_open, with_converter, np.maximum(turbine, lanes.idle_rpm))
    np.minimum(engine_rpm, np.maximum(lanes.governed_rpm, turbine), out=engine_rpm)
    torque = _torque_nm(lanes, np.concatenate([engine_rpm, speed[slipping:]]))
    ratio = transmission.converter_torque_ratio(
        speed_ratio=turbine / engine_rpm, stall_torque_ratio=lanes.stall_torque_ratio
    )
    torque[:slipping] *= np.where(is_open, ratio, 1.0)
    return torque


def _torque_nm(lanes: Lanes, speed: Floats) -> Floats:
    """Full-load torque at engine speeds (..., N), linear within each cell of the lanes' grids.

    The numbers of `engine.grid_torque_nm`, in half the time: one line per cell instead of two
    points, laid out so that the cell's number is its place. Outside the grid the end cells' lines
    go on; the caller uses no gear there.
    """
    cells = lanes.torque_nm.shape[0] - 1
    slope = np.diff(lanes.torque_nm, axis=0)
    slope /= lanes.torque_step_rpm
    knots = np.arange(cells)[:, None] * lanes.torque_step_rpm
    knots += lanes.torque_start_rpm
    constant = lanes.torque_nm[:-1] - slope * knots
    first = np.arange(0.0, lanes.size * cells, cells)
    place = speed * (1.0 / lanes.torque_step_rpm)
    place += first - lanes.torque_start_rpm / lanes.torque_step_rpm
    np.clip(place, first, first + (cells - 1.0e-6), out=place)
    index = place.astype(np.intp)
    torque = slope.T.reshape(-1).take(index)
    torque *= speed
    torque += np.take(constant.T.reshape(-1), index, out=place, mode="clip")
    return torque


def _held_grades(
    lanes: Lanes, *, speed: Floats, usable: Floats, level_grade: Floats
) -> tuple[Floats, Floats]:
    """Steepest grade held in each gear (about -`ALWAYS`: not used), and that of the top gear."""
    light_lug = light_lug_rpm(lanes)
    slope = 1.0 / np.maximum(lanes.lug_rpm - light_lug, 1.0)
    share = speed[1:] * slope[:, None]
    share -= (light_lug * slope)[:, None]
    np.clip(share, 0.0, 1.0, out=share)
    held = np.empty_like(usable)
    held[0] = usable[0]
    np.multiply(usable[1:], share, out=held[1:])
    held -= level_grade
    too_fast = np.asarray(speed > lanes.governed_rpm)
    top_held = np.where(of_top_gear(lanes, too_fast), -level_grade, of_top_gear(lanes, held))

    unused = too_fast
    np.logical_or(unused[1:], share <= 0.0, out=unused[1:])
    held -= np.multiply(unused, ALWAYS)
    return held, top_held


def _run_maximum(lanes: Lanes, held: Floats) -> None:
    """Turn held grades into thresholds, in place; the strongest gear takes all that is steeper."""
    for gear in range(held.shape[0] - 2, -1, -1):
        np.maximum(held[gear], held[gear + 1], out=held[gear])
    strongest = held[0].copy()
    hopeless = strongest < -0.5 * ALWAYS
    if hopeless.any():
        # Over the governed speed in every gear: the top gear is the least wrong one.
        np.copyto(held, 0.0, where=hopeless & (lanes.gear_ratio[:, None, None] > 0.0))
        strongest *= ~hopeless
    held += np.multiply(held >= strongest, ALWAYS)


def _last_index(mask: npt.NDArray[np.bool_]) -> Indices:
    """Last index along the first axis up to which the mask is true, (G, ...) -> (...)."""
    count = np.add.reduce(mask.view(np.int8), axis=0, dtype=np.int8)
    return np.asarray(np.subtract(count, 1, dtype=np.intp))
