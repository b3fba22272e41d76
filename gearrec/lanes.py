"""The arrays of one batch: everything the metrics need, as plain numbers.

A *lane* is one vehicle to evaluate: a job, or a job with one sampled disturbance. The lane axis is
always the last one, so that every operation runs over long contiguous rows, and a single job is a
batch of one.

Letters of the shapes: `N` lanes, `C` candidates (axle ratios that could be fitted), `L` legs of
the use, `G` gears of the gearbox (index 0 is the lowest gear), `K` points of the torque grid.

Padding. Lanes of one batch may differ in how many candidates, legs or gears they have:

- a padded candidate has `candidate_known` False and any finite positive ratio (repeat a known one);
- a padded leg has `leg_known` False, `leg_share` 0 and else usable values (repeat a known one);
- a padded gear stands above the top gear, with `gear_ratio` 0 and `gear_efficiency` 1.

Unknown inputs are NaN in the fields that say so, and only there: what depends on them is unknown.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    from collections.abc import Iterator

Floats = npt.NDArray[np.float64]
Masks = npt.NDArray[np.bool_]

CHUNK = 256
"""Lanes evaluated at a time: the work arrays of that many stay in the processor's cache."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lanes:
    """Inputs of one batch; float64 unless a mask, lane axis last, SI but for rpm.

    Fields, with shape [unit]:

    Candidates
        axle_ratio (C, N) [1]: turns of the driveshaft per turn of the wheels, as a tooth ratio.
        candidate_known (C, N) [mask]: False where padded.
        front_ratio (C, N) [1]: tooth ratio in the other driven axle; NaN where it is not driven or
            has no matching gear set.
        factory_ratio (N,) [1]: axle ratio that the vehicle left the factory with.
    Tires
        diameter_factory_m, diameter_now_m, diameter_planned_m (N,) [m]: nominal, new, unloaded.
        circumference_factory_m, circumference_planned_m (N,) [m]: rolling.
        tire_capacity_front_kg, tire_capacity_rear_kg (N,) [kg]: all tires of the axle together,
            passenger tires on trucks derated; NaN unknown.
        axle_load_front_kg, axle_load_rear_kg (N,) [kg]: with the heaviest load of the job; NaN
            unknown.
    Gearbox, transfer case, axle
        gear_ratio (G, N) [1]: falling with the index; 0 where padded.
        gear_efficiency (G, N) [1]: proportional part of the gearbox; 1 where padded.
        gear_locked (G, N) [mask]: the converter can lock, or there is a clutch; True where padded.
        reverse_ratio (N,) [1]: NaN unknown.
        low_range_ratio (N,) [1]: 1 where there is no low range.
        transfer_high_efficiency, transfer_low_efficiency (N,) [1]: 1 where there is none.
        axle_efficiency (N,) [1]: proportional part.
        drag_torque_nm (N,) [N m]: constant part of all driveline losses, at the wheels.
        is_automatic (N,) [mask]: torque converter rather than a clutch.
        stall_torque_ratio (N,) [1]: of the converter; 1 for a clutch.
        stall_speed_rpm (N,) [rpm]: engine speed at stall; for a clutch the speed of the start.
        torque_reserve (N,) [1]: share of the available torque kept in hand when a gear is chosen.
        speed_sensor_before_axle (N,) [mask]: the speedometer counts driveshaft turns.
    Driveshaft and axle ratings
        driveshaft_critical_rpm (N,) [rpm]: NaN unknown.
        axle_torque_rating_nm (N,) [N m]: at the wheels; NaN unknown.
    Engine
        torque_nm (K, N) [N m]: full load torque at sea level on the uniform grid of speeds
            torque_start_rpm + k x torque_step_rpm, both (N,) [rpm]. The grid reaches from idle or
            below to the governed speed or above; shorter grids of a batch repeat their last value.
        torque_factor (L, N) [1]: available torque on the leg / torque_nm (altitude, temperature).
        idle_rpm, governed_rpm (N,) [rpm].
        lug_rpm (N,) [rpm]: below it high load is lugging.
        light_lug_rpm (N,) [rpm]: below it a gear is not used at all; between the two only with a
            part of the torque. Assembly names the default (0.8 x lug_rpm) as an assumption.
        displacement_m3 (N,) [m3].
        friction_0_pa, friction_1_pa_per_rpm, friction_2_pa_per_rpm2 (N,): friction mean effective
            pressure of the fuel model, as a polynomial of engine speed.
        indicated_efficiency (N,) [1]: of the fuel model, mid.
        fuel_factor_low, fuel_factor_high (N,) [1]: low and high fuel rate / mid, about 0.9 and 1.1.
        lower_heating_value_j_per_kg (N,) [J/kg], fuel_density_kg_per_m3 (N,) [kg/m3].
        idle_fuel_kg_per_s (N,) [kg/s].
        engine_inertia_kg_m2 (N,) [kg m2]: with flywheel or converter.
        wheel_inertia_kg_m2 (N,) [kg m2]: all wheels, the trailer's excepted.
    Legs
        leg_known (L, N) [mask]; leg_share (L, N) [1]: of the distance; the known ones sum to 1.
        leg_speed_mps (L, N) [m/s], > 0: speed while moving.
        leg_grade_deviation (L, N) [1]: standard deviation of the grade; 0 is level.
        leg_grade_correlation_m (L, N) [m], > 0: correlation length of the grade.
        leg_stops_per_m (L, N) [1/m]: full stops; 0 on the open road.
        leg_standing_share (L, N) [1], below 1: share of the time standing with the engine idling.
        leg_low_range (L, N) [mask]; leg_towing (L, N) [mask].
        leg_air_density_kg_per_m3 (L, N) [kg/m3].
        mass_kg (L, N) [kg]: vehicle, load and, where towed, the trailer.
        force_constant_n (L, N) [N], force_linear_n_per_mps (L, N) [N s/m],
            force_square_n_per_mps2 (L, N) [N s2/m2]: level road load of the leg, trailer included,
            driveline drag (`drag_torque_nm`) excluded.
    Traction and limits of the job
        driven_load_kg (N,) [kg]: on the driven wheels in high range, with the heaviest load.
        friction_coefficient (N,) [1]: between tire and dry road.
        reference_grade (N,) [1]: of the long climb that `climb_speed` is stated for.
        passing_margin_mps (N,) [m/s]: above the fastest leg, for the top speed.
    """

    axle_ratio: Floats
    candidate_known: Masks
    front_ratio: Floats
    factory_ratio: Floats

    diameter_factory_m: Floats
    diameter_now_m: Floats
    diameter_planned_m: Floats
    circumference_factory_m: Floats
    circumference_planned_m: Floats
    tire_capacity_front_kg: Floats
    tire_capacity_rear_kg: Floats
    axle_load_front_kg: Floats
    axle_load_rear_kg: Floats

    gear_ratio: Floats
    gear_efficiency: Floats
    gear_locked: Masks
    reverse_ratio: Floats
    low_range_ratio: Floats
    transfer_high_efficiency: Floats
    transfer_low_efficiency: Floats
    axle_efficiency: Floats
    drag_torque_nm: Floats
    is_automatic: Masks
    stall_torque_ratio: Floats
    stall_speed_rpm: Floats
    torque_reserve: Floats
    speed_sensor_before_axle: Masks

    driveshaft_critical_rpm: Floats
    axle_torque_rating_nm: Floats

    torque_nm: Floats
    torque_start_rpm: Floats
    torque_step_rpm: Floats
    torque_factor: Floats
    idle_rpm: Floats
    governed_rpm: Floats
    lug_rpm: Floats
    light_lug_rpm: Floats
    displacement_m3: Floats
    friction_0_pa: Floats
    friction_1_pa_per_rpm: Floats
    friction_2_pa_per_rpm2: Floats
    indicated_efficiency: Floats
    fuel_factor_low: Floats
    fuel_factor_high: Floats
    lower_heating_value_j_per_kg: Floats
    fuel_density_kg_per_m3: Floats
    idle_fuel_kg_per_s: Floats
    engine_inertia_kg_m2: Floats
    wheel_inertia_kg_m2: Floats

    leg_known: Masks
    leg_share: Floats
    leg_speed_mps: Floats
    leg_grade_deviation: Floats
    leg_grade_correlation_m: Floats
    leg_stops_per_m: Floats
    leg_standing_share: Floats
    leg_low_range: Masks
    leg_towing: Masks
    leg_air_density_kg_per_m3: Floats
    mass_kg: Floats
    force_constant_n: Floats
    force_linear_n_per_mps: Floats
    force_square_n_per_mps2: Floats

    driven_load_kg: Floats
    friction_coefficient: Floats
    reference_grade: Floats
    passing_margin_mps: Floats

    @property
    def size(self) -> int:
        """Number of lanes N."""
        return int(self.axle_ratio.shape[-1])

    @property
    def candidates(self) -> int:
        """Number of candidates C, padding included."""
        return int(self.axle_ratio.shape[0])

    @property
    def legs(self) -> int:
        """Number of legs L, padding included."""
        return int(self.leg_share.shape[0])

    @property
    def gears(self) -> int:
        """Number of gears G, padding included."""
        return int(self.gear_ratio.shape[0])


_NAMES = tuple(field.name for field in fields(Lanes))
_PER_CANDIDATE = frozenset({"axle_ratio", "candidate_known", "front_ratio"})
_PER_GEAR = frozenset({"gear_ratio", "gear_efficiency", "gear_locked"})
_PER_LEG = frozenset(
    name
    for name in _NAMES
    if name.startswith(("leg_", "force_")) or name in {"mass_kg", "torque_factor"}
)
_MASKS = frozenset(
    {
        "candidate_known",
        "gear_locked",
        "is_automatic",
        "leg_known",
        "leg_low_range",
        "leg_towing",
        "speed_sensor_before_axle",
    }
)
_MAY_BE_UNKNOWN = frozenset(
    {
        "front_ratio",
        "tire_capacity_front_kg",
        "tire_capacity_rear_kg",
        "axle_load_front_kg",
        "axle_load_rear_kg",
        "reverse_ratio",
        "driveshaft_critical_rpm",
        "axle_torque_rating_nm",
    }
)
_MAY_BE_ZERO = frozenset(
    {
        "gear_ratio",
        "drag_torque_nm",
        "torque_reserve",
        "torque_nm",
        "torque_start_rpm",
        "friction_1_pa_per_rpm",
        "friction_2_pa_per_rpm2",
        "engine_inertia_kg_m2",
        "wheel_inertia_kg_m2",
        "leg_share",
        "leg_grade_deviation",
        "leg_stops_per_m",
        "leg_standing_share",
        "force_constant_n",
        "force_linear_n_per_mps",
        "force_square_n_per_mps2",
        "reference_grade",
        "passing_margin_mps",
    }
)
_MAY_BE_NEGATIVE = frozenset({"force_linear_n_per_mps", "friction_1_pa_per_rpm"})


def field_names() -> tuple[str, ...]:
    """Names of all arrays, in the order of their declaration."""
    return _NAMES


def field_shape(
    name: str, *, candidates: int, legs: int, gears: int, grid: int, size: int
) -> tuple[int, ...]:
    """Shape of the array called `name` for the given numbers of each axis."""
    if name in _PER_CANDIDATE:
        return (candidates, size)
    if name in _PER_LEG:
        return (legs, size)
    if name in _PER_GEAR:
        return (gears, size)
    return (grid, size) if name == "torque_nm" else (size,)


def chunks(lanes: Lanes, *, size: int = CHUNK) -> Iterator[tuple[slice, Lanes]]:
    """Cut a batch into runs of at most `size` lanes: each run's place and its arrays (views)."""
    if lanes.size <= size:
        yield slice(0, lanes.size), lanes
        return
    for start in range(0, lanes.size, size):
        place = slice(start, min(start + size, lanes.size))
        yield place, Lanes(**{name: getattr(lanes, name)[..., place] for name in _NAMES})


def take(lanes: Lanes, index: npt.ArrayLike) -> Lanes:
    """The lanes at the integer places `index`, in that order (repeats allowed)."""
    places = np.asarray(index, dtype=np.intp)
    return Lanes(**{name: np.take(getattr(lanes, name), places, axis=-1) for name in _NAMES})


def concatenate(batches: list[Lanes]) -> Lanes:
    """Join batches of equal numbers of candidates, legs, gears and grid points, lane by lane."""
    return Lanes(
        **{
            name: np.concatenate([getattr(batch, name) for batch in batches], axis=-1)
            for name in _NAMES
        }
    )


def validate(lanes: Lanes) -> tuple[str, ...]:
    """Everything that breaks the contract of `Lanes`, as sentences; empty when it is kept."""
    shape: dict[str, Any] = {
        "candidates": lanes.candidates,
        "legs": lanes.legs,
        "gears": lanes.gears,
        "grid": int(lanes.torque_nm.shape[0]),
        "size": lanes.size,
    }
    problems: list[str] = []
    for name in _NAMES:
        array = getattr(lanes, name)
        expected = field_shape(name, **shape)
        kind = np.bool_ if name in _MASKS else np.float64
        if array.shape != expected:
            problems.append(f"{name}: shape {array.shape}, expected {expected}")
        if array.dtype != kind:
            problems.append(f"{name}: type {array.dtype}, expected {np.dtype(kind)}")
        elif name not in _MASKS:
            problems.extend(_value_problems(name, array))
    if problems:
        return tuple(problems)
    share = np.where(lanes.leg_known, lanes.leg_share, 0.0).sum(axis=0)
    ordered = np.diff(lanes.gear_ratio, axis=0) < 0.0
    grid_end = lanes.torque_start_rpm + lanes.torque_step_rpm * (shape["grid"] - 1)
    checks = {
        "leg_share: the known legs of a lane must sum to 1": np.abs(share - 1.0) < 1e-9,
        "leg_share: a padded leg must have 0": np.where(lanes.leg_known, 0.0, lanes.leg_share) == 0,
        "candidate_known: a lane needs a candidate": lanes.candidate_known.any(axis=0),
        "leg_standing_share: must be below 1": lanes.leg_standing_share < 1.0,
        "gear_ratio: must fall from gear to gear": ordered | (lanes.gear_ratio[1:] == 0.0),
        "gear_ratio: a lane needs a first gear": lanes.gear_ratio[0] > 0.0,
        "torque_nm: the grid must reach the governed speed": grid_end >= lanes.governed_rpm - 1e-6,
        "torque_nm: the grid must start at idle or below": (
            lanes.torque_start_rpm <= lanes.idle_rpm + 1e-6
        ),
        "light_lug_rpm: must not be above lug_rpm": lanes.light_lug_rpm <= lanes.lug_rpm,
        "lug_rpm: must be below governed_rpm": lanes.lug_rpm < lanes.governed_rpm,
        "torque_reserve: must be below 1": lanes.torque_reserve < 1.0,
    }
    return tuple(sentence for sentence, kept in checks.items() if not np.all(kept))


def _value_problems(name: str, array: Floats) -> Iterator[str]:
    known = array[~np.isnan(array)] if name in _MAY_BE_UNKNOWN else array
    if not np.all(np.isfinite(known)):
        yield f"{name}: not finite"
    elif name in _MAY_BE_NEGATIVE:
        return
    elif name in _MAY_BE_ZERO:
        if np.any(known < 0.0):
            yield f"{name}: below zero"
    elif np.any(known <= 0.0):
        yield f"{name}: not above zero"
