"""Full-load metrics: start on a grade, steady climb, acceleration. All with the heaviest load.

Method. `gearrec.full_load` gives the largest torque at the driveshaft on a grid of driveshaft
speeds. For a candidate the same grid is a grid of road speeds, so that no further look-up is
needed: acceleration is a trapezoid of (effective mass / net force) over it.

Where a vehicle never gets there the metric is NaN; `NEVER` says so in words.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from gearrec import full_load, transmission
from gearrec.engine import grid_torque_nm

if TYPE_CHECKING:
    from gearrec.lanes import Lanes

Floats = npt.NDArray[np.float64]
Indices = npt.NDArray[np.intp]

GRAVITY_MPS2 = 9.80665

NEVER = {
    "launch_grade": "the first gear cannot move the heaviest load even on level ground",
    "climb_speed": "the heaviest load cannot climb the reference grade in any gear",
    "time_0_60mph": "the heaviest load does not reach 60 mph on level ground",
    "time_40_60mph": "the heaviest load does not reach 60 mph on level ground",
}
"""Why a metric of this module can be NaN, for a candidate that is known."""

_ROW_NUMBERS = np.arange(full_load.NODES.size, dtype=np.uint8)[:, None, None]

_BLOCK = 60000
"""Numbers in one work array: small enough to stay in the cache between operations."""

_LEAST = 1.0e-6
_NEVER_S = 1.0e5


@dataclass(frozen=True, slots=True)
class _Wheels:
    """What turns driveshaft figures into road figures, and what resists there.

    The first three are (C, N), the others (N,).
    """

    force_n_per_nm: Floats
    speed_mps_per_rpm: Floats
    inertia_kg_per_coupling: Floats
    traction_n: Floats
    constant_n: Floats
    weight_n: Floats


@dataclass(frozen=True, slots=True)
class _Crossing:
    """The cell of the grid in which the net force falls below the pull of the hill, (C, N)."""

    row: Indices
    low_n: Floats
    high_n: Floats


def full_load_metrics(lanes: Lanes) -> dict[str, Floats]:
    """`launch_grade`, `climb_speed`, `time_0_60mph` and `time_40_60mph`, each (C, N).

    The same numbers as from the three functions below, in one pass.
    """
    load = full_load.heaviest_load(lanes)
    engine = full_load.engine_at_full_load(lanes, load)
    wheels = _wheels(lanes, load)
    envelope = full_load.drive_envelope(lanes, engine)
    crossing, sixty_s, forty_s = _run(lanes, load, wheels, envelope)
    metrics = {
        "launch_grade": _launch_grade(lanes, load, wheels),
        "climb_speed": _steady_speed(lanes, load, engine, wheels, envelope, crossing),
        "time_0_60mph": sixty_s,
        "time_40_60mph": sixty_s - forty_s,
    }
    return {name: np.where(lanes.candidate_known, array, np.nan) for name, array in metrics.items()}


def launch_grade(lanes: Lanes) -> Floats:
    """Steepest grade for a start from rest: first gear, high range, heaviest load.

    The lesser of what the engine gives at the converter's stall (or the clutch's start) and what
    the driven wheels can put down on a dry road.

    Returns
        (C, N) [1]; NaN where not even level ground will do.

    Equation
        tan(asin((F - F_rolling) / (m g)))
    """
    load = full_load.heaviest_load(lanes)
    grade = _launch_grade(lanes, load, _wheels(lanes, load))
    return np.where(lanes.candidate_known, grade, np.nan)


def climb_speed(lanes: Lanes) -> Floats:
    """Highest steady speed on the lane's reference grade with the heaviest load.

    Returns
        (C, N) [m/s], 105 mph where it is faster; NaN where no gear holds the grade.
    """
    return full_load_metrics(lanes)["climb_speed"]


def acceleration_times(lanes: Lanes) -> dict[str, Floats]:
    """Time for 0 to 60 mph and 40 to 60 mph at full load on level ground, shifts included.

    Equation
        integral of (m + J_wheels / r^2 + J_engine (i / r)^2) / F_net dv, plus the shifts

    Returns
        `time_0_60mph`, `time_40_60mph`: (C, N) [s]; NaN where 60 mph is never reached.
    """
    metrics = full_load_metrics(lanes)
    return {name: metrics[name] for name in ("time_0_60mph", "time_40_60mph")}


def _wheels(lanes: Lanes, load: full_load.Load) -> _Wheels:
    radius = lanes.circumference_planned_m / (2.0 * math.pi)
    efficiency = lanes.axle_efficiency * lanes.transfer_high_efficiency
    return _Wheels(
        force_n_per_nm=lanes.axle_ratio * (efficiency / radius),
        speed_mps_per_rpm=(lanes.circumference_planned_m / 60.0) / lanes.axle_ratio,
        inertia_kg_per_coupling=lanes.engine_inertia_kg_m2 * np.square(lanes.axle_ratio / radius),
        traction_n=lanes.friction_coefficient * lanes.driven_load_kg * GRAVITY_MPS2,
        constant_n=load.constant_n + lanes.drag_torque_nm / radius,
        weight_n=load.mass_kg * GRAVITY_MPS2,
    )


def _launch_grade(lanes: Lanes, load: full_load.Load, wheels: _Wheels) -> Floats:
    torque = grid_torque_nm(
        engine_speed_rpm=lanes.stall_speed_rpm,
        torque_nm=lanes.torque_nm,
        start_rpm=lanes.torque_start_rpm,
        step_rpm=lanes.torque_step_rpm,
    )
    first = lanes.gear_ratio[0] * lanes.gear_efficiency[0] * lanes.stall_torque_ratio
    force = torque * load.torque_factor * first * wheels.force_n_per_nm - wheels.constant_n
    steep = np.minimum(force / wheels.weight_n, 0.999)
    by_torque = steep / np.sqrt(1.0 - np.square(steep))
    by_traction = (wheels.traction_n - load.constant_n) / wheels.weight_n
    grade = np.minimum(by_torque, by_traction)
    return np.where(grade >= 0.0, grade, np.nan)


def _run(
    lanes: Lanes, load: full_load.Load, wheels: _Wheels, envelope: full_load.Envelope
) -> tuple[_Crossing, Floats, Floats]:
    """Where each candidate stops climbing, and its times from rest to 60 and to 40 mph."""
    count, size = lanes.axle_ratio.shape
    # All forces are taken per N m at the driveshaft: the envelope then needs no scaling.
    per_n = 1.0 / wheels.force_n_per_nm
    end_mps = envelope.end_rpm * wheels.speed_mps_per_rpm
    constant = wheels.constant_n * per_n
    linear = load.linear_n_per_mps * end_mps * per_n
    square = load.square_n_per_mps2 * np.square(end_mps) * per_n
    nodes = full_load.NODES[:, None, None]
    traction = wheels.traction_n * per_n
    hill = wheels.weight_n * per_n * _sine(lanes.reference_grade)
    turning = lanes.wheel_inertia_kg_m2 * np.square(2.0 * math.pi / lanes.circumference_planned_m)
    cell_s = end_mps * per_n / full_load.FINE_CELLS
    mass = (load.mass_kg + turning) * cell_s
    inertia = wheels.inertia_kg_per_coupling * cell_s

    # The grid of a lane belongs to its numerically highest axle: others reach 60 mph earlier.
    share = lanes.axle_ratio / full_load.highest_ratio(lanes)
    sixty, forty = share * full_load.FINE_CELLS, share * (full_load.FINE_CELLS * 40.0 / 60.0)
    sixty_s, forty_s = np.empty((count, size)), np.empty((count, size))
    row = np.empty((count, size), dtype=np.intp)
    low, high = np.empty((count, size)), np.empty((count, size))

    fine = full_load.FINE_CELLS + 1
    rows = full_load.NODES.size
    block = min(count, max(1, _BLOCK // (rows * size)))
    work = np.empty((2, rows + fine, block * size))
    for start in range(0, count, block):
        part = slice(start, min(start + block, count))
        shape = (rows + fine, part.stop - part.start, size)
        first, second = (half.reshape(-1)[: math.prod(shape)].reshape(shape) for half in work)
        net, total = first[:rows], first[rows:]
        needed, pace = second[:rows], second[rows:]
        np.minimum(envelope.torque_nm[:, None], traction[part], out=net)
        # No matrix product: its rounding may depend on how many lanes there are.
        np.multiply(nodes, square[part], out=needed)
        needed += linear[part]
        needed *= nodes
        needed += constant[part]
        net -= needed
        row[part] = np.max((net >= hill[part]) * _ROW_NUMBERS, axis=0)
        cells = _cells(np.minimum(row[part], rows - 2))
        low[part] = net.take(cells)
        high[part] = net.take(cells + cells.size)
        np.multiply(envelope.coupling[:fine, None], inertia[part], out=pace)
        pace += mass[part]
        net = net[:fine]
        np.maximum(net, _LEAST, out=net)
        pace /= net
        np.cumsum(pace, axis=0, out=total)
        sixty_s[part] = _elapsed(pace, total, sixty[part])
        forty_s[part] = _elapsed(pace, total, forty[part])

    shift_s = np.where(
        lanes.is_automatic, transmission.AUTOMATIC_SHIFT_S, transmission.MANUAL_SHIFT_S
    )
    shifts = np.zeros((fine, size))
    np.cumsum(envelope.gear[1:fine] != envelope.gear[: fine - 1], axis=0, out=shifts[1:])
    shifts *= shift_s
    sixty_s += _between(shifts, sixty)
    forty_s += _between(shifts, forty)
    sixty_s[sixty_s > _NEVER_S] = np.nan
    crossing = _Crossing(row=row, low_n=(low - hill) / per_n, high_n=(high - hill) / per_n)
    return crossing, sixty_s, forty_s


def _sine(grade: Floats) -> Floats:
    return grade / np.sqrt(1.0 + np.square(grade))


def _cells(row: Indices) -> Indices:
    """Places in a flat (V, C, N) of the rows (C, N)."""
    return row * row.size + np.arange(row.size).reshape(row.shape)


def _between(rows: Floats, place: Floats) -> Floats:
    """Of (V, N) the numbers at fractional rows (C, N), linear between rows."""
    count, size = rows.shape
    index = np.minimum(place.astype(np.intp), count - 2)
    cells = index * size + np.arange(size)
    low = rows.take(cells)
    between: Floats = low + (place - index) * (rows.take(cells + size) - low)
    return between


def _elapsed(pace: Floats, total: Floats, place: Floats) -> Floats:
    """Trapezoid of `pace` (V, C, N), with its running sum `total`, up to fractional rows (C, N)."""
    index = np.minimum(place.astype(np.intp), pace.shape[0] - 2)
    cells = _cells(index)
    here = pace.take(cells)
    there = pace.take(cells + place.size)
    whole = total.take(cells) - 0.5 * (pace[0] + here)
    elapsed: Floats = whole + (place - index) * 0.5 * (here + there)
    return elapsed


def _steady_speed(
    lanes: Lanes,
    load: full_load.Load,
    engine: full_load.Engine,
    wheels: _Wheels,
    envelope: full_load.Envelope,
    crossing: _Crossing,
) -> Floats:
    """Highest speed (C, N) at which the net force on the level equals the pull of the hill."""
    last = full_load.NODES.size - 1
    below = np.minimum(crossing.row, last - 1)
    end_mps = envelope.end_rpm * wheels.speed_mps_per_rpm
    low_mps, high_mps = full_load.NODES[below] * end_mps, full_load.NODES[below + 1] * end_mps
    hill_n = wheels.weight_n * _sine(lanes.reference_grade)

    # Up to its governed speed the gear of the row below holds on beyond that row ...
    cells = below * lanes.size + engine.lane
    gear = envelope.gear.take(cells)
    ratio = lanes.gear_ratio.take(gear * lanes.size + engine.lane)
    reach_mps = lanes.governed_rpm / ratio * wheels.speed_mps_per_rpm
    reach_mps = np.minimum(np.maximum(reach_mps, low_mps), high_mps)
    reach_n = _net_force(lanes, load, engine, wheels, gear, reach_mps) - hill_n
    part = np.where(reach_n >= 0.0, 1.0, _cut(crossing.low_n, reach_n))
    same_gear = low_mps + (reach_mps - low_mps) * part
    # ... and the gear of the row above may hold a little below that one.
    gear = envelope.gear.take(cells + lanes.size)
    start_n = _net_force(lanes, load, engine, wheels, gear, low_mps) - hill_n
    part = np.where(start_n >= 0.0, _cut(start_n, crossing.high_n), 0.0)
    next_gear = low_mps + (high_mps - low_mps) * part
    found = np.where(crossing.row == last, high_mps, np.maximum(same_gear, next_gear))
    # Beyond the end of the shortest grid candidates could no longer be compared.
    found = np.minimum(found, full_load.REACH * 60.0 * full_load.MPH_MPS)
    return np.where((crossing.row > 0) | (crossing.low_n >= 0.0), found, np.nan)


def _cut(start_n: Floats, end_n: Floats) -> Floats:
    """Where a force that falls in a straight line from `start_n` to `end_n` is zero, 0 to 1."""
    fall = np.maximum(start_n - end_n, _LEAST)
    return np.minimum(np.maximum(start_n / fall, 0.0), 1.0)


def _net_force(
    lanes: Lanes,
    load: full_load.Load,
    engine: full_load.Engine,
    wheels: _Wheels,
    gear: Indices,
    speed_mps: Floats,
) -> Floats:
    """Net force on the level (C, N) in given gears (C, N) at given speeds (C, N)."""
    cells = gear * lanes.size + engine.lane
    ratio = lanes.gear_ratio.take(cells)
    turbine = speed_mps / wheels.speed_mps_per_rpm * ratio
    slips = ~lanes.gear_locked.take(cells)
    slips |= (gear == 0) & (turbine < lanes.stall_speed_rpm)
    multiplied = ratio * lanes.gear_efficiency.take(cells)
    if slips.any():
        open_rpm, torque_ratio = full_load.open_drive(lanes, turbine)
        turbine = np.where(slips, open_rpm, turbine)
        multiplied = np.where(slips, torque_ratio, 1.0) * multiplied
    force = engine.torque(turbine) * multiplied * wheels.force_n_per_nm
    resisting = speed_mps * (load.linear_n_per_mps + speed_mps * load.square_n_per_mps2)
    return np.minimum(force, wheels.traction_n) - resisting - wheels.constant_n
