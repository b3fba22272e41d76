"""Between engine and wheels: losses, driveshaft speed and whirl, joints, torque into the axle.

All functions take scalars or arrays that broadcast against each other, keyword-only, and return
float64 of the broadcast shape. NaN passes through as unknown.

References
    [1] Power balance, derived here.
    [2] Euler-Bernoulli beam, first bending mode on two simple supports; derived here.
    [3] SAE AE-7, Universal Joint and Driveshaft Design Manual: 4.705e6 (inch); from memory.
    [4] Kinematics of a cardan (Hooke's) joint; derived here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from gearrec.arguments import ABOVE_ZERO, ANY, EFFICIENCY, ZERO_OR_MORE, Floats, Span, numbers
from gearrec.errors import InputError, Place, Problem, allowed_words

STANDARD_GRAVITY_MPS2 = 9.80665

TubeMaterial = Literal["steel", "aluminum"]


@dataclass(frozen=True, slots=True)
class _Elastic:
    youngs_modulus_pa: float
    density_kg_per_m3: float

    @property
    def sound_speed_mps(self) -> float:
        return math.sqrt(self.youngs_modulus_pa / self.density_kg_per_m3)


_MATERIALS = {"steel": _Elastic(206.8e9, 7850.0), "aluminum": _Elastic(68.9e9, 2710.0)}

# rpm m; 4.705e6 rpm in. Some 1 % below beam theory for steel.
_TRADE_CONSTANT_STEEL = 4.705e6 * 0.0254

_JOINT_ANGLE = Span("0 to below 90 degrees, in radians", low=0.0, high=math.radians(89.999))


def wheel_torque_nm(
    *,
    engine_torque_nm: npt.ArrayLike,
    overall_ratio: npt.ArrayLike,
    efficiency: npt.ArrayLike,
    drag_torque_nm: npt.ArrayLike,
) -> Floats:
    """Torque at the driven wheels, with losses as a proportional part and a constant drag.

    Drag does not shrink with load, so the efficiency as a whole falls at light load, as measured.

    Parameters
        engine_torque_nm: at the gearbox input [N m]; negative where the vehicle drives the engine.
        overall_ratio: gear x transfer case x axle [1], > 0.
        efficiency: proportional part of the whole line [1], above 0 to 1.
        drag_torque_nm: constant part, at the wheels [N m], >= 0.

    Returns
        Torque at all driven wheels together [N m]; negative brakes the vehicle.

    Equation
        T i eta - T_drag; while overrunning, T i / eta - T_drag   [1]

    Raises
        InputError: an argument is outside its range.
    """
    torque, ratio, share, drag = numbers(
        engine_torque_nm=(engine_torque_nm, ANY),
        overall_ratio=(overall_ratio, ABOVE_ZERO),
        efficiency=(efficiency, EFFICIENCY),
        drag_torque_nm=(drag_torque_nm, ZERO_OR_MORE),
    )
    return torque * ratio * np.where(torque < 0.0, 1.0 / share, share) - drag


def engine_torque_nm(
    *,
    wheel_torque_nm: npt.ArrayLike,
    overall_ratio: npt.ArrayLike,
    efficiency: npt.ArrayLike,
    drag_torque_nm: npt.ArrayLike,
) -> Floats:
    """Torque needed at the gearbox input for a torque at the wheels: inverse of `wheel_torque_nm`.

    Parameters
        wheel_torque_nm: at all driven wheels together [N m].
        overall_ratio: gear x transfer case x axle [1], > 0.
        efficiency: proportional part of the whole line [1], above 0 to 1.
        drag_torque_nm: constant part, at the wheels [N m], >= 0.

    Returns
        Torque [N m].

    Equation
        (T_wheel + T_drag) / (i eta); below zero (T_wheel + T_drag) eta / i   [1]

    Raises
        InputError: an argument is outside its range.
    """
    torque, ratio, share, drag = numbers(
        wheel_torque_nm=(wheel_torque_nm, ANY),
        overall_ratio=(overall_ratio, ABOVE_ZERO),
        efficiency=(efficiency, EFFICIENCY),
        drag_torque_nm=(drag_torque_nm, ZERO_OR_MORE),
    )
    total = torque + drag
    return total / ratio * np.where(total < 0.0, share, 1.0 / share)


def net_efficiency(
    *,
    engine_torque_nm: npt.ArrayLike,
    overall_ratio: npt.ArrayLike,
    efficiency: npt.ArrayLike,
    drag_torque_nm: npt.ArrayLike,
) -> Floats:
    """Wheel power / engine power at one load, drag included.

    Parameters
        engine_torque_nm: at the gearbox input [N m], > 0.
        overall_ratio: gear x transfer case x axle [1], > 0.
        efficiency: proportional part of the whole line [1], above 0 to 1.
        drag_torque_nm: constant part, at the wheels [N m], >= 0.

    Returns
        Efficiency [1]; negative where the torque does not overcome the drag.

    Equation
        eta - T_drag / (T i)   [1]

    Raises
        InputError: an argument is outside its range.
    """
    torque, ratio, share, drag = numbers(
        engine_torque_nm=(engine_torque_nm, ABOVE_ZERO),
        overall_ratio=(overall_ratio, ABOVE_ZERO),
        efficiency=(efficiency, EFFICIENCY),
        drag_torque_nm=(drag_torque_nm, ZERO_OR_MORE),
    )
    return share - drag / (torque * ratio)


def drag_at_wheels_nm(
    *,
    gearbox_drag_nm: npt.ArrayLike,
    overall_ratio: npt.ArrayLike,
    axle_drag_nm: npt.ArrayLike,
) -> Floats:
    """Constant drag of gearbox and axle together, seen at the wheels.

    Parameters
        gearbox_drag_nm: at the gearbox input [N m], >= 0.
        overall_ratio: gear x transfer case x axle of the gear meant [1], > 0.
        axle_drag_nm: at the wheels [N m], >= 0.

    Returns
        Torque [N m].

    Equation
        T_gearbox i + T_axle   [1]

    Raises
        InputError: an argument is outside its range.
    """
    gearbox, ratio, axle = numbers(
        gearbox_drag_nm=(gearbox_drag_nm, ZERO_OR_MORE),
        overall_ratio=(overall_ratio, ABOVE_ZERO),
        axle_drag_nm=(axle_drag_nm, ZERO_OR_MORE),
    )
    return gearbox * ratio + axle


def tractive_force_n(*, wheel_torque_nm: npt.ArrayLike, circumference_m: npt.ArrayLike) -> Floats:
    """Force on the road of a torque at the wheels, tires not slipping.

    The lever is the rolling radius, C / (2 pi): force x distance = torque x angle.

    Parameters
        wheel_torque_nm: at all driven wheels together [N m].
        circumference_m: rolling circumference [m], > 0.

    Returns
        Force [N].

    Equation
        2 pi T / C   [1]

    Raises
        InputError: an argument is outside its range.
    """
    torque, circumference = numbers(
        wheel_torque_nm=(wheel_torque_nm, ANY), circumference_m=(circumference_m, ABOVE_ZERO)
    )
    return 2.0 * math.pi * torque / circumference


def driveshaft_speed_rpm(
    *,
    road_speed_mps: npt.ArrayLike,
    axle_ratio: npt.ArrayLike,
    circumference_m: npt.ArrayLike,
) -> Floats:
    """Speed of the shaft into the axle; in an overdrive gear it exceeds the engine's.

    Parameters
        road_speed_mps: [m/s], >= 0.
        axle_ratio: [1], > 0.
        circumference_m: rolling circumference [m], > 0.

    Returns
        Shaft speed [rpm].

    Equation
        60 v R / C   [1]

    Raises
        InputError: an argument is outside its range.
    """
    speed, ratio, circumference = numbers(
        road_speed_mps=(road_speed_mps, ZERO_OR_MORE),
        axle_ratio=(axle_ratio, ABOVE_ZERO),
        circumference_m=(circumference_m, ABOVE_ZERO),
    )
    return 60.0 * speed * ratio / circumference


def critical_speed_limit_rpm(
    *,
    length_m: npt.ArrayLike,
    outer_diameter_m: npt.ArrayLike,
    inner_diameter_m: npt.ArrayLike,
    material: TubeMaterial,
    pieces: npt.ArrayLike = 1,
) -> Floats:
    """Speed at which a tubular driveshaft whirls, by the trade's constant: the one for limits.

    Only a part of it is safe to use: common practice warns at 0.65 and refuses at 0.75. For
    aluminum the constant is the steel one times the ratio of the speeds of sound.

    Parameters
        length_m: between the centers of the end joints [m], > 0.
        outer_diameter_m: of the tube [m], > 0.
        inner_diameter_m: of the tube [m], 0 (a solid bar) to below the outer diameter.
        material: "steel" or "aluminum".
        pieces: 1, or 2 equal pieces with a center bearing taken as a firm support; for unequal
            pieces give the longer one as one piece.

    Returns
        Critical speed [rpm]; optimistic for a center bearing in soft rubber.

    Equation
        k sqrt(D^2 + d^2) / (L / pieces)^2, k = 4.705e6 rpm in for steel   [3]

    Raises
        InputError: an argument is outside its range.
    """
    scale = _elastic(material).sound_speed_mps / _MATERIALS["steel"].sound_speed_mps
    slimness = _slimness_per_m(length_m, outer_diameter_m, inner_diameter_m, pieces)
    return _TRADE_CONSTANT_STEEL * scale * slimness


def critical_speed_rpm(
    *,
    length_m: npt.ArrayLike,
    outer_diameter_m: npt.ArrayLike,
    inner_diameter_m: npt.ArrayLike,
    material: TubeMaterial,
    pieces: npt.ArrayLike = 1,
) -> Floats:
    """Speed at which a tubular driveshaft whirls, by beam theory: the check of the trade's figure.

    A slender uniform tube; joints' masses, the slip yoke and the supports' give are left out, which
    all lower the speed. Shear and rotary inertia lower it by about 4 % at a length of 10 diameters
    and 2 % at 15.

    Parameters
        length_m, outer_diameter_m, inner_diameter_m, material, pieces: as for
            `critical_speed_limit_rpm`.

    Returns
        Critical speed [rpm].

    Equation
        (60 / 2 pi) (pi / L)^2 sqrt(E I / (rho A)) = 7.5 pi c sqrt(D^2 + d^2) / L^2,
        c = sqrt(E / rho); E 206.8 and 68.9 GPa, rho 7850 and 2710 kg/m3   [2]

    Raises
        InputError: an argument is outside its range.
    """
    slimness = _slimness_per_m(length_m, outer_diameter_m, inner_diameter_m, pieces)
    return 7.5 * math.pi * _elastic(material).sound_speed_mps * slimness


def joint_acceleration_radps2(
    *, shaft_speed_rpm: npt.ArrayLike, joint_angle_rad: npt.ArrayLike
) -> Floats:
    """Peak angular acceleration of the shaft behind one cardan joint, the shaft before it steady.

    Common practice keeps it near or below 1,000 rad/s2; raising or lowering a vehicle changes the
    angle, an axle ratio the speed.

    Parameters
        shaft_speed_rpm: [rpm], >= 0.
        joint_angle_rad: between the two shafts [rad], 0 to below pi/2.

    Returns
        Acceleration [rad/s2].

    Equation
        w^2 cos b sin^2 b max over turn f of sin 2f / (1 - sin^2 b cos^2 f)^2; the maximum lies at
        cos 2f = 4 a / (1 + sqrt(1 + 8 a^2)), a = sin^2 b / (2 - sin^2 b)   [4];
        about w^2 sin^2 b at the angles of a driveshaft

    Raises
        InputError: an argument is outside its range.
    """
    speed, angle = numbers(
        shaft_speed_rpm=(shaft_speed_rpm, ZERO_OR_MORE),
        joint_angle_rad=(joint_angle_rad, _JOINT_ANGLE),
    )
    sine_square = np.sin(angle) ** 2
    skew = sine_square / (2.0 - sine_square)
    cosine = 4.0 * skew / (1.0 + np.sqrt(1.0 + 8.0 * skew**2))
    peak = np.sqrt(1.0 - cosine**2) / (1.0 - 0.5 * sine_square * (1.0 + cosine)) ** 2
    acceleration: Floats = (speed * (math.pi / 30.0)) ** 2 * np.cos(angle) * sine_square * peak
    return acceleration


def engine_axle_torque_nm(
    *,
    peak_torque_nm: npt.ArrayLike,
    stall_torque_ratio: npt.ArrayLike,
    first_gear_ratio: npt.ArrayLike,
    low_range_ratio: npt.ArrayLike,
    axle_ratio: npt.ArrayLike,
    efficiency: npt.ArrayLike,
) -> Floats:
    """Largest torque that engine and gearing can put into one axle, at the wheels.

    All of it is counted into one axle, as on part-time four-wheel drive when one axle has no grip.
    An automatic that limits engine torque in first gear reaches less; shock loads reach more.

    Parameters
        peak_torque_nm: largest engine torque [N m], >= 0.
        stall_torque_ratio: of the torque converter [1], > 0; 1 for a clutch.
        first_gear_ratio: [1], > 0.
        low_range_ratio: of the transfer case [1], > 0; 1 where there is none.
        axle_ratio: [1], > 0.
        efficiency: proportional part of the whole line in first gear [1], above 0 to 1.

    Returns
        Torque at the wheels of the axle together [N m].

    Equation
        T x stall_torque_ratio x first x low x axle x eta   [1]

    Raises
        InputError: an argument is outside its range.
    """
    torque, stall, first, low, axle, share = numbers(
        peak_torque_nm=(peak_torque_nm, ZERO_OR_MORE),
        stall_torque_ratio=(stall_torque_ratio, ABOVE_ZERO),
        first_gear_ratio=(first_gear_ratio, ABOVE_ZERO),
        low_range_ratio=(low_range_ratio, ABOVE_ZERO),
        axle_ratio=(axle_ratio, ABOVE_ZERO),
        efficiency=(efficiency, EFFICIENCY),
    )
    return torque * stall * first * low * axle * share


def traction_axle_torque_nm(
    *,
    axle_load_kg: npt.ArrayLike,
    friction_coefficient: npt.ArrayLike,
    circumference_m: npt.ArrayLike,
) -> Floats:
    """Largest torque that the tires of one axle can take from it before they spin.

    The rolling radius is the lever, a few percent above the static one: on the safe side. Load that
    moves to the rear on a grade or under power must be in `axle_load_kg`.

    Parameters
        axle_load_kg: on the axle [kg], >= 0.
        friction_coefficient: between tire and road [1], > 0.
        circumference_m: rolling circumference [m], > 0.

    Returns
        Torque at the wheels of the axle together [N m].

    Equation
        mu m g C / (2 pi)   [1]

    Raises
        InputError: an argument is outside its range.
    """
    load, friction, circumference = numbers(
        axle_load_kg=(axle_load_kg, ZERO_OR_MORE),
        friction_coefficient=(friction_coefficient, ABOVE_ZERO),
        circumference_m=(circumference_m, ABOVE_ZERO),
    )
    return friction * load * STANDARD_GRAVITY_MPS2 * circumference / (2.0 * math.pi)


def axle_torque_nm(
    *, engine_axle_torque_nm: npt.ArrayLike, traction_axle_torque_nm: npt.ArrayLike
) -> Floats:
    """Largest torque into the axle: what the engine can give or the tires can take, the smaller.

    Parameters
        engine_axle_torque_nm: see `engine_axle_torque_nm` [N m], >= 0.
        traction_axle_torque_nm: see `traction_axle_torque_nm` [N m], >= 0.

    Returns
        Torque at the wheels of the axle together [N m]; NaN where either is unknown.

    Equation
        min(engine, traction)   [1]

    Raises
        InputError: an argument is outside its range.
    """
    engine, traction = numbers(
        engine_axle_torque_nm=(engine_axle_torque_nm, ZERO_OR_MORE),
        traction_axle_torque_nm=(traction_axle_torque_nm, ZERO_OR_MORE),
    )
    return np.minimum(engine, traction)


def _elastic(material: str) -> _Elastic:
    if material not in _MATERIALS:
        message = f"{material!r} is not known; {allowed_words(sorted(_MATERIALS), str(material))}"
        raise InputError([Problem(Place(dotted="material"), message)])
    return _MATERIALS[material]


def _slimness_per_m(
    length_m: npt.ArrayLike,
    outer_diameter_m: npt.ArrayLike,
    inner_diameter_m: npt.ArrayLike,
    pieces: npt.ArrayLike,
) -> Floats:
    length, outer, inner, count = numbers(
        length_m=(length_m, ABOVE_ZERO),
        outer_diameter_m=(outer_diameter_m, ABOVE_ZERO),
        inner_diameter_m=(inner_diameter_m, ZERO_OR_MORE),
        pieces=(pieces, ABOVE_ZERO),
    )
    problems = []
    if np.any(inner >= outer):
        message = "is not below the outer diameter; are the two swapped?"
        problems.append(Problem(Place(dotted="inner_diameter_m"), message))
    if not np.all(np.isnan(count) | (count == 1.0) | (count == 2.0)):
        problems.append(Problem(Place(dotted="pieces"), "not allowed; allowed: 1, 2"))
    if problems:
        raise InputError(problems)
    slimness: Floats = np.hypot(outer, inner) * (count / length) ** 2
    return slimness
