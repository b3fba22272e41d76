"""Figures behind what the owner is told: pull at the wheels, fuel, and what the tires change.

Worked out for one advice from the same arrays that the candidates were judged by.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gearrec import operating

if TYPE_CHECKING:
    import numpy.typing as npt

    from gearrec.advice import Advice
    from gearrec.lanes import Lanes

    Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pull:
    """What a ratio makes of the engine at the speed of one leg, on the planned tires.

    leg, speed_mps: of the heaviest leg in high range, the fastest of several. engine_speed_rpm:
    in top gear. torque_nm: there at full load, altitude minded; peak_torque_nm: largest of the
    curve at that altitude. force_n: at the wheels in top gear at full load. gear: number of the
    gear used on the reference grade; holds: whether it holds the speed there.
    """

    leg: str
    speed_mps: float
    engine_speed_rpm: float
    torque_nm: float
    peak_torque_nm: float
    force_n: float
    gear: int
    holds: bool
    grade: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FuelRange:
    """Fuel of the model, low, middle and high end of its range [L/100km]."""

    low: float
    mid: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TireEffect:
    """What the planned tires alone change, with the gears now fitted, on legs without trailer.

    growth: planned / present diameter - 1 [1]. fuel_now, fuel_planned: middle of the range
    [L/100km]. odometer_factor: shown / true distance on the planned tires, where the instrument is
    right on the present ones [1].
    """

    growth: float
    fuel_now: float
    fuel_planned: float
    odometer_factor: float
    towed_only: bool

    @property
    def shown(self) -> float:
        """Fuel use that the display would show on the planned tires [L/100km]."""
        return self.fuel_planned / self.odometer_factor


def pull(advice: Advice, axle_ratio: float) -> Pull:
    """The pull of one candidate on the heaviest leg. Raises KeyError for no candidate."""
    lanes = advice.judgement.measured.lanes
    place = _place(advice, axle_ratio)
    leg = heaviest_leg(lanes)
    points = operating.solve(lanes)
    top = int(operating.top_gear(lanes)[0])
    engine_speed = float(points.speed_rpm[top, place, leg, 0])
    factor = float(lanes.torque_factor[leg, 0])
    curve = lanes.torque_nm[:, 0]
    grid = lanes.torque_start_rpm[0] + lanes.torque_step_rpm[0] * np.arange(curve.size)
    grade = float(lanes.reference_grade[0])
    sine = grade / math.hypot(1.0, grade)
    threshold = points.threshold[:, place, leg, 0]
    gear = int(np.flatnonzero(threshold >= sine)[-1])
    # The strongest gear takes what is steeper than any gear holds; its mark is taken off.
    strongest = float(threshold[gear])
    held = strongest - operating.ALWAYS if strongest > 0.5 * operating.ALWAYS else strongest
    usable = float(points.usable_grade[top, place, leg, 0] * points.weight_n[leg, 0])
    return Pull(
        leg=advice.legs[leg],
        speed_mps=float(lanes.leg_speed_mps[leg, 0]),
        engine_speed_rpm=engine_speed,
        torque_nm=float(np.interp(engine_speed, grid, curve)) * factor,
        peak_torque_nm=float(curve.max()) * factor,
        force_n=usable / (1.0 - float(lanes.torque_reserve[0])),
        gear=gear + 1,
        holds=held >= sine,
        grade=grade,
    )


def heaviest_leg(lanes: Lanes) -> int:
    """Index of the heaviest known leg in high range, the fastest of several (any leg if none)."""
    known = lanes.leg_known[:, 0]
    high = known & ~lanes.leg_low_range[:, 0]
    where = np.flatnonzero(high if high.any() else known)
    return int(max(where, key=lambda leg: (lanes.mass_kg[leg, 0], lanes.leg_speed_mps[leg, 0])))


def fastest_leg(lanes: Lanes) -> int:
    """Index of the fastest known leg in high range, the longest of several (any leg if none)."""
    known = lanes.leg_known[:, 0]
    high = known & ~lanes.leg_low_range[:, 0]
    where = np.flatnonzero(high if high.any() else known)
    return int(max(where, key=lambda leg: (lanes.leg_speed_mps[leg, 0], lanes.leg_share[leg, 0])))


def planned_fuel(advice: Advice, axle_ratio: float) -> FuelRange | None:
    """Fuel of one candidate over the whole use on the planned tires; None where unknown."""
    measured = advice.judgement.measured
    place = _place(advice, axle_ratio)
    names = ("fuel_rate_mix_low", "fuel_rate_mix", "fuel_rate_mix_high")
    low, mid, high = (float(measured.columns[name][place, 0]) for name in names)
    return None if math.isnan(low + mid + high) else FuelRange(low=low, mid=mid, high=high)


def present_fuel(advice: Advice, *, towing: bool | None) -> FuelRange | None:
    """Fuel with the ratio and the tires now fitted, over the legs with or without trailer.

    `towing` None looks at all legs. None where no leg is of that sort, or the fuel is unknown.
    """
    return _fuel_of(advice, advice.fitted.axle_ratio, present=True, towing=towing)


def tire_effect(advice: Advice) -> TireEffect | None:
    """What the planned tires alone change; None where they are of the present size."""
    resolved = advice.judgement.resolved
    now, planned = resolved.tire_now, resolved.tire_planned
    growth = planned.diameter_m / now.diameter_m - 1.0
    if abs(growth) < 0.005:
        return None
    ratio = advice.fitted.axle_ratio
    lanes = advice.judgement.measured.lanes
    towed_only = bool((lanes.leg_towing | ~lanes.leg_known)[:, 0].all())
    towing = None if towed_only else False
    before = _fuel_of(advice, ratio, present=True, towing=towing)
    after = _fuel_of(advice, ratio, present=False, towing=towing)
    if before is None or after is None:
        return None
    return TireEffect(
        growth=growth,
        fuel_now=before.mid,
        fuel_planned=after.mid,
        odometer_factor=now.circumference_m / planned.circumference_m,
        towed_only=towed_only,
    )


def _fuel_of(
    advice: Advice, axle_ratio: float, *, present: bool, towing: bool | None
) -> FuelRange | None:
    lanes = advice.judgement.measured.lanes
    columns = advice.present if present else advice.judgement.measured.columns
    place = _place(advice, axle_ratio)
    share = np.where(lanes.leg_known[:, 0], lanes.leg_share[:, 0], 0.0)
    if towing is not None:
        share = np.where(lanes.leg_towing[:, 0] == towing, share, 0.0)
    total = float(share.sum())
    if total <= 0.0:
        return None
    counted = share > 0.0
    rate = columns["fuel_rate"][place, :, 0][counted]
    mid = float(share[counted] @ rate) / total
    if math.isnan(mid):
        return None
    return FuelRange(
        low=mid * float(lanes.fuel_factor_low[0]),
        mid=mid,
        high=mid * float(lanes.fuel_factor_high[0]),
    )


def _place(advice: Advice, axle_ratio: float) -> int:
    for place, candidate in enumerate(advice.judgement.resolved.vehicle.candidates):
        if candidate.ratio == axle_ratio:
            return place
    raise KeyError(axle_ratio)
