"""Engine braking: the descent that a combination rolls down at a steady speed without any pedal.

The engine is dragged along without fuel and takes what its friction takes: the friction mean
effective pressure of the engine's class (of the fitted model where the engine has a measured
consumption map). The losses between wheels and engine help, and so does the road load.

Left out, so that the real truck may hold more: exhaust and compression brakes, a turbocharger's
vanes, the fan, the closed throttle of a gasoline engine, the drag of service brakes. Left out, so
that it may hold less: a tail wind, a converter that unlocks, a gearbox that shifts up by itself.

References
    [1] Friction of the engine classes: Heywood (1988), see the class records.
    [2] Motoring torque of a four-stroke engine from its mean pressure: pressure x displacement /
        (4 pi); geometry.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from gearrec.operating import grade_of_sine

if TYPE_CHECKING:
    from gearrec.metrics import Evaluation

Floats = npt.NDArray[np.float64]

_STEEPEST_SINE = 0.99


def engine_braking_grade(at: Evaluation) -> Floats:
    """Steepest descent held at each leg's speed in the gear that brakes best.

    Gears in which the converter cannot lock do not count, nor those beyond the governed speed.

    Returns
        (C, L, N) [1], a descent as a positive number; NaN where no gear can be used.

    Equations
        M = max(p0 + p1 n + p2 n^2, 0) V / (4 pi)
        grade = tan(asin((M (2 pi n / 60) / v / efficiency + F_road) / (m g)))
    """
    points = at.points
    force, usable = _forces_n(at)
    best = np.max(np.where(usable, force, -np.inf), axis=0, initial=0.0)
    sine = np.minimum((best + points.road_force_n) / points.weight_n, _STEEPEST_SINE)
    return np.where(usable.any(axis=0), grade_of_sine(sine), np.nan)


def engine_braking_gear(at: Evaluation) -> Floats:
    """Number of that gear, (C, L, N), counted from 1; NaN where no gear can be used."""
    force, usable = _forces_n(at)
    gear = np.argmax(np.where(usable, force, -1.0), axis=0) + 1.0
    return np.where(usable.any(axis=0), gear, np.nan)


def _forces_n(at: Evaluation) -> tuple[Floats, npt.NDArray[np.bool_]]:
    """Braking force at the wheels by engine friction, and which gears count, (G, C, L, N)."""
    lanes, points = at.lanes, at.points
    speed = points.speed_rpm
    pressure = lanes.friction_1_pa_per_rpm + speed * lanes.friction_2_pa_per_rpm2
    pressure = np.maximum(lanes.friction_0_pa + speed * pressure, 0.0)
    torque = pressure * lanes.displacement_m3 / (4.0 * math.pi)
    power = torque * speed * (math.pi / 30.0)
    force = power / lanes.leg_speed_mps / points.efficiency[:, None]
    in_gear = lanes.gear_locked & (lanes.gear_ratio > 0.0)
    fast_enough = (speed >= lanes.idle_rpm) & (speed <= lanes.governed_rpm * (1.0 + 1e-9))
    return force, in_gear[:, None, None] & fast_enough
