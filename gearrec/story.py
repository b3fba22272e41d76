"""The owner's story beside the model: do engine speed and fuel fit the truck that is described?

Nothing reported is ever mixed into the model's figures. Where the two do not agree, the likely
explanations are worked out, each from what it would have made the instruments show.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from gearrec import comparison, gearing

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gearrec.advice import Advice
    from gearrec.candidates import Candidate
    from gearrec.comparison import FuelRange
    from gearrec.jobs import ResolvedJob

Kind = Literal[
    "speedometer-not-set", "other-gear", "other-ratio", "other-tires", "converter-unlocked"
]

UNLOCKED_SLIP = (0.03, 0.08)
"""Slip of an unlocked converter at cruise [1]; from memory, see `gearing.implied_axle_ratio`."""

_NOTICEABLE = 0.005


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """One thing that would make the report true.

    engine_speed_rpm: what the engine would have turned then. deviation: reported / that - 1 [1].
    gear, axle_ratio, diameter_m: what it supposes, None where it does not suppose it.
    """

    kind: Kind
    engine_speed_rpm: float
    deviation: float
    gear: int | None = None
    axle_ratio: float | None = None
    diameter_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineSpeedCheck:
    """The reported engine speed beside the one computed for the ratio and tires now fitted.

    reported_rpm, at_mps, gear, gear_named: the report; `gear_named` tells whether it names a
    gear that the transmission has; else the top one is supposed. expected_rpm: computed. deviation:
    reported / expected - 1 [1]. implied_ratio: axle ratio that the report speaks for [1].
    explanations: most fitting first; empty where the report agrees.
    """

    reported_rpm: float
    at_mps: float
    gear: int
    gear_named: bool
    expected_rpm: float
    deviation: float
    implied_ratio: float
    agrees: bool
    explanations: tuple[Explanation, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FuelCheck:
    """The reported fuel use beside the model's range for the ratio and tires now fitted.

    reported: as it was read [L/100km]. corrected: for an odometer that is known, or supposed, not
    to be set to the tires; equal to `reported` where it is set or needs no setting. model: range
    over the legs the report is about, over all where the use has none of that sort. deviation: how
    far `corrected` is outside the range, 0 inside; below 0 thriftier than its low end [1]. agrees:
    None where the use has no leg of that sort, so that like cannot be set beside like.
    """

    reported: float
    corrected: float
    by: Literal["display", "pump"]
    towing: bool
    model: FuelRange
    deviation: float
    agrees: bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Story:
    """The owner's report beside the model's figures.

    speedometer_error: shown / true - 1 with the ratio and tires now fitted, if the instrument is
    still set as it left the factory [1]; speedometer_set: whether the owner says it was set, None
    unknown. engine_speed, fuel: None where nothing of the kind is reported, or nothing can be
    computed.
    """

    speedometer_error: float
    speedometer_set: bool | None
    engine_speed: EngineSpeedCheck | None
    fuel: FuelCheck | None

    @property
    def agrees(self) -> bool | None:
        """Whether all that is reported agrees with the model; None where nothing is."""
        checks = (self.engine_speed, self.fuel)
        found = [check.agrees for check in checks if check is not None]
        known = [agrees for agrees in found if agrees is not None]
        return all(known) if known else None


def check(advice: Advice) -> Story:
    """Compare what the owner reports with what the model says of the truck as it stands.

    An engine speed agrees within the catalog's `reported_speed_tolerance`; a fuel use when it lies
    in the model's range, widened by `reported_fuel_tolerance` at either end.
    """
    resolved = advice.judgement.resolved
    error = _speedometer_error(resolved)
    return Story(
        speedometer_error=error,
        speedometer_set=resolved.job.tires.speedometer_set,
        engine_speed=_engine_speed(advice, error),
        fuel=_fuel(advice, error),
    )


def _speedometer_error(resolved: ResolvedJob) -> float:
    vehicle = resolved.vehicle
    return float(
        gearing.speedometer_error(
            circumference_calibrated_m=vehicle.factory_tire.circumference_m,
            circumference_fitted_m=resolved.tire_now.circumference_m,
            axle_ratio_calibrated=vehicle.factory_ratio,
            axle_ratio_fitted=vehicle.fitted_ratio,
            sensor_before_axle=vehicle.platform.speed_sensor == "before-axle",
        )
    )


def _engine_speed(advice: Advice, error: float) -> EngineSpeedCheck | None:
    resolved = advice.judgement.resolved
    reported = resolved.job.reported
    if reported.engine_speed is None or reported.road_speed is None:
        return None
    vehicle = resolved.vehicle
    gears = len(vehicle.gear_ratio)
    named = reported.gear is not None and reported.gear <= gears
    gear = reported.gear if named and reported.gear is not None else gears
    read = reported.road_speed
    by_speedometer = reported.road_speed_by == "speedometer"
    off = by_speedometer and resolved.job.tires.speedometer_set is False
    true_speed = read / (1.0 + error) if off else read
    at = _Reading(
        engine_speed_rpm=reported.engine_speed,
        true_mps=true_speed,
        gear=gear,
        gear_ratio=float(vehicle.gear_ratio[gear - 1]),
        circumference_m=resolved.tire_now.circumference_m,
        axle_ratio=vehicle.fitted_ratio,
    )
    tolerance = advice.judgement.defaults.reported_speed_tolerance
    expected = at.expected()
    deviation = reported.engine_speed / expected - 1.0
    agrees = abs(deviation) <= tolerance
    unset = read / (1.0 + error)
    doubtful = by_speedometer and not off and abs(error) > _NOTICEABLE
    explanations: tuple[Explanation, ...] = ()
    if not agrees:
        found = _explanations(resolved, at, unset if doubtful else None)
        fitting = (item for item in found if abs(item.deviation) <= tolerance)
        explanations = tuple(sorted(fitting, key=lambda item: abs(item.deviation)))
    return EngineSpeedCheck(
        reported_rpm=reported.engine_speed,
        at_mps=true_speed,
        gear=gear,
        gear_named=named,
        expected_rpm=expected,
        deviation=deviation,
        implied_ratio=float(
            gearing.implied_axle_ratio(
                engine_speed_rpm=reported.engine_speed,
                road_speed_mps=true_speed,
                gear_ratio=at.gear_ratio,
                circumference_m=at.circumference_m,
            )
        ),
        agrees=agrees,
        explanations=explanations,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reading:
    engine_speed_rpm: float
    true_mps: float
    gear: int
    gear_ratio: float
    circumference_m: float
    axle_ratio: float

    def expected(
        self,
        *,
        true_mps: float | None = None,
        gear_ratio: float | None = None,
        axle_ratio: float | None = None,
        circumference_m: float | None = None,
    ) -> float:
        overall = (gear_ratio or self.gear_ratio) * (axle_ratio or self.axle_ratio)
        return float(
            gearing.engine_speed_rpm(
                road_speed_mps=true_mps or self.true_mps,
                overall_ratio=overall,
                circumference_m=circumference_m or self.circumference_m,
            )
        )

    def off(self, expected: float) -> float:
        return self.engine_speed_rpm / expected - 1.0


def _explanations(
    resolved: ResolvedJob, at: _Reading, unset_mps: float | None
) -> Iterator[Explanation]:
    vehicle = resolved.vehicle
    if unset_mps is not None:
        expected = at.expected(true_mps=unset_mps)
        yield Explanation(
            kind="speedometer-not-set", engine_speed_rpm=expected, deviation=at.off(expected)
        )
    for number, ratio in enumerate(vehicle.gear_ratio, start=1):
        if number != at.gear:
            expected = at.expected(gear_ratio=float(ratio))
            yield Explanation(
                kind="other-gear",
                engine_speed_rpm=expected,
                deviation=at.off(expected),
                gear=number,
            )
    nearest = _nearest(vehicle.candidates, at)
    if nearest is not None:
        expected = at.expected(axle_ratio=nearest.ratio)
        yield Explanation(
            kind="other-ratio",
            engine_speed_rpm=expected,
            deviation=at.off(expected),
            axle_ratio=nearest.ratio,
        )
    for tire in dict.fromkeys((vehicle.factory_tire, resolved.tire_planned)):
        if abs(tire.circumference_m / at.circumference_m - 1.0) > _NOTICEABLE:
            expected = at.expected(circumference_m=tire.circumference_m)
            yield Explanation(
                kind="other-tires",
                engine_speed_rpm=expected,
                deviation=at.off(expected),
                diameter_m=tire.diameter_m,
            )
    low, high = UNLOCKED_SLIP
    slip = 1.0 - at.expected() / at.engine_speed_rpm
    if vehicle.transmission.type == "automatic" and low <= slip <= high:
        yield Explanation(
            kind="converter-unlocked", engine_speed_rpm=at.engine_speed_rpm, deviation=0.0
        )


def _nearest(candidates: tuple[Candidate, ...], at: _Reading) -> Candidate | None:
    """The other ratio of the axle that fits the report best."""
    others = [item for item in candidates if not item.fitted]
    return min(
        others, key=lambda item: abs(at.off(at.expected(axle_ratio=item.ratio))), default=None
    )


def _fuel(advice: Advice, error: float) -> FuelCheck | None:
    resolved = advice.judgement.resolved
    reported = resolved.job.reported
    if reported.fuel_use is None:
        return None
    like = comparison.present_fuel(advice, towing=reported.towing)
    model = like or comparison.present_fuel(advice, towing=None)
    if model is None:
        return None
    off = resolved.job.tires.speedometer_set is False
    corrected = reported.fuel_use * (1.0 + error) if off else reported.fuel_use
    deviation = 0.0
    if corrected < model.low:
        deviation = corrected / model.low - 1.0
    elif corrected > model.high:
        deviation = corrected / model.high - 1.0
    return FuelCheck(
        reported=reported.fuel_use,
        corrected=corrected,
        by=reported.fuel_use_by,
        towing=reported.towing,
        model=model,
        deviation=deviation,
        agrees=None
        if like is None
        else abs(deviation) <= advice.judgement.defaults.reported_fuel_tolerance,
    )
