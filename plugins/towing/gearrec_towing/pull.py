"""What a loaded combination can pull: starts on a grade, grades held at a speed, time to 30 mph.

All with the heaviest load of the job on its heaviest leg, at full torque without a reserve, as that
leg's air leaves it. Left out: the shift of load between the axles on a grade, which helps a rear
axle forward uphill and costs it grip in reverse; heat; the air conditioning that SAE J2807 has on.

References
    [1] SAE J2807: start on 12 percent forward and in reverse, 0 to 30 mph, long climb. Quoted by a
        second source.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from gearrec import engine, full_load, transmission
from gearrec.operating import GRAVITY_MPS2, grade_of_sine

if TYPE_CHECKING:
    from gearrec.lanes import Lanes
    from gearrec.metrics import Evaluation

Floats = npt.NDArray[np.float64]

MPH_MPS = 0.44704
_STEEPEST_SINE = 0.99


def startability(at: Evaluation) -> Floats:
    """Steepest grade for a start forward: first gear, high range, converter at stall or clutch.

    Returns
        (C, N) [1]; negative where it takes a descent.

    Equation
        the lesser of tan(asin((F - F_rolling) / (m g))) and (mu m_driven g - F_rolling) / (m g)
    """
    return _start(at.lanes, at.lanes.gear_ratio[0])


def startability_reverse(at: Evaluation) -> Floats:
    """The same in reverse, (C, N) [1]; NaN where the ratio of reverse is not known."""
    return _start(at.lanes, at.lanes.reverse_ratio)


def _start(lanes: Lanes, gear: Floats) -> Floats:
    load = full_load.heaviest_load(lanes)
    torque = engine.grid_torque_nm(
        engine_speed_rpm=lanes.stall_speed_rpm,
        torque_nm=lanes.torque_nm,
        start_rpm=lanes.torque_start_rpm,
        step_rpm=lanes.torque_step_rpm,
    )
    torque *= load.torque_factor * lanes.stall_torque_ratio * gear * lanes.gear_efficiency[0]
    force = torque * _force_per_shaft_nm(lanes)
    return _grade(lanes, load, force, load.constant_n)


def gradeability(at: Evaluation, speed_mps: float) -> Floats:
    """Steepest grade held at a steady speed in the gear that pulls best there.

    Returns
        (C, N) [1]; negative where no gear holds the level road, NaN where none can be used.
    """
    lanes = at.lanes
    load = full_load.heaviest_load(lanes)
    usable = _usable(lanes, speed_mps)
    force = np.where(usable, _forces_n(lanes, load, speed_mps), 0.0).max(axis=0)
    force = np.where(usable.any(axis=0), force, np.nan)
    air = speed_mps * (load.linear_n_per_mps + speed_mps * load.square_n_per_mps2)
    level = load.constant_n + air
    return _grade(lanes, load, force, level)


def gradeability_gear(at: Evaluation, speed_mps: float) -> Floats:
    """Number of that gear, (C, N), counted from 1."""
    lanes = at.lanes
    usable = _usable(lanes, speed_mps)
    force = np.where(usable, _forces_n(lanes, full_load.heaviest_load(lanes), speed_mps), -1.0)
    return np.where(usable.any(axis=0), np.argmax(force, axis=0) + 1.0, np.nan)


def time_0_30mph(at: Evaluation) -> Floats:
    """Time from rest to 30 mph on the level at full load, with shifts.

    Returns
        (C, N) [s]; NaN where it is never reached.

    Equation
        integral of (m + J_wheels / r^2 + J_engine (i / r)^2) / F_net dv, plus the shifts
    """
    lanes = at.lanes
    load = full_load.heaviest_load(lanes)
    envelope = full_load.drive_envelope(lanes, full_load.engine_at_full_load(lanes, load))
    speed = full_load.NODES[:, None, None] * (
        envelope.end_rpm * (lanes.circumference_planned_m / 60.0) / lanes.axle_ratio
    )
    grip = lanes.friction_coefficient * lanes.driven_load_kg * GRAVITY_MPS2
    force = np.minimum(envelope.torque_nm[:, None] * _force_per_shaft_nm(lanes), grip)
    force -= load.constant_n + _drag_n(lanes)
    force -= speed * (load.linear_n_per_mps + speed * load.square_n_per_mps2)
    per_m = 2.0 * math.pi / lanes.circumference_planned_m
    turning = envelope.coupling[:, None] * np.square(lanes.axle_ratio)
    inertia = lanes.wheel_inertia_kg_m2 + lanes.engine_inertia_kg_m2 * turning
    pace = (load.mass_kg + inertia * per_m**2) / np.where(force > 0.0, force, np.nan)

    target = 30.0 * MPH_MPS
    step = np.diff(speed, axis=0)
    part = np.clip((target - speed[:-1]) / step, 0.0, 1.0)
    end = pace[:-1] + part * (pace[1:] - pace[:-1])
    # A part of the road that is not driven must not make the time unknown.
    cells = np.where(part > 0.0, 0.5 * (pace[:-1] + end) * part * step, 0.0)
    shifts = envelope.gear[1:, None] != envelope.gear[:-1, None]
    count = np.sum(shifts & (speed[1:] <= target), axis=0)
    shift_s = np.where(
        lanes.is_automatic, transmission.AUTOMATIC_SHIFT_S, transmission.MANUAL_SHIFT_S
    )
    return np.asarray(cells.sum(axis=0) + count * shift_s)


def _force_per_shaft_nm(lanes: Lanes) -> Floats:
    """Force at the wheels for each N m at the gearbox's output, high range, (C, N) [1/m]."""
    efficiency = lanes.axle_efficiency * lanes.transfer_high_efficiency
    return lanes.axle_ratio * (efficiency * (2.0 * math.pi) / lanes.circumference_planned_m)


def _drag_n(lanes: Lanes) -> Floats:
    return np.asarray(lanes.drag_torque_nm * (2.0 * math.pi) / lanes.circumference_planned_m)


def _turbine_rpm(lanes: Lanes, speed_mps: float) -> Floats:
    """Speed of the gearbox's input in each gear, (G, C, N)."""
    wheel_rpm = speed_mps * 60.0 / lanes.circumference_planned_m
    return np.asarray(lanes.gear_ratio[:, None] * (lanes.axle_ratio * wheel_rpm))


def _usable(lanes: Lanes, speed_mps: float) -> npt.NDArray[np.bool_]:
    """Gears that can be driven at a speed, (G, C, N): the lowest one may slip, no other lugs."""
    turbine = _turbine_rpm(lanes, speed_mps)
    usable = (lanes.gear_ratio > 0.0)[:, None] & (turbine <= lanes.governed_rpm * (1.0 + 1e-9))
    usable[1:] &= turbine[1:] >= lanes.light_lug_rpm
    return np.asarray(usable)


def _forces_n(lanes: Lanes, load: full_load.Load, speed_mps: float) -> Floats:
    """Force at the wheels in each gear at full torque, (G, C, N)."""
    turbine = _turbine_rpm(lanes, speed_mps)
    slips = np.broadcast_to(~lanes.gear_locked[:, None], turbine.shape).copy()
    slips[0] |= turbine[0] < lanes.stall_speed_rpm
    open_rpm, torque_ratio = full_load.open_drive(lanes, turbine)
    engine_rpm = np.where(slips, open_rpm, turbine)
    torque = full_load.engine_at_full_load(lanes, load).torque(engine_rpm)
    torque *= np.where(slips, torque_ratio, 1.0)
    torque *= (lanes.gear_ratio * lanes.gear_efficiency)[:, None]
    return torque * _force_per_shaft_nm(lanes)


def _grade(lanes: Lanes, load: full_load.Load, force_n: Floats, level_n: Floats) -> Floats:
    """Grade that a force holds beside what the level road takes, and no more than grip allows."""
    weight = load.mass_kg * GRAVITY_MPS2
    spare = force_n - level_n - _drag_n(lanes)
    by_torque = grade_of_sine(np.clip(spare / weight, -_STEEPEST_SINE, _STEEPEST_SINE))
    grip = lanes.friction_coefficient * lanes.driven_load_kg * GRAVITY_MPS2
    return np.minimum(by_torque, (grip - level_n) / weight)
