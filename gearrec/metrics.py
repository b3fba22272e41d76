"""Metrics: the named quantities that rules judge, and their evaluation over a batch.

A metric is a record with a function of an `Evaluation`, which holds the batch's arrays and what is
shared by many metrics, computed once when first asked for. The built-in metrics and those of a
plugin are the same kind of record.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from gearrec import consumption, operating, performance
from gearrec.errors import PluginError
from gearrec.lanes import CHUNK, Floats, Lanes, chunks

# Work arrays of some hundred kilobytes come and go thousands of times. The C library hands each
# back to the system, to be cleared again at the next use, until it has seen a larger one freed.
np.empty(8 << 20, dtype=np.uint8)


class Evaluation:
    """A batch of lanes and what many metrics share; arrays are read, never written to.

    Shapes and units of `lanes` stand at `gearrec.lanes.Lanes`, those of `points` and `terrain` at
    `gearrec.operating.OperatingPoints` and `gearrec.consumption.Consumption`.
    """

    def __init__(self, lanes: Lanes) -> None:
        self.lanes = lanes

    @cached_property
    def points(self) -> operating.OperatingPoints:
        """Engine speeds, holdable grades and chosen gears on all legs."""
        return operating.solve(self.lanes)

    @cached_property
    def terrain(self) -> consumption.Consumption:
        """Fuel and gears over the distribution of grades."""
        return consumption.consume(self.lanes, self.points)

    @cached_property
    def full_load(self) -> dict[str, Floats]:
        """Launch, climb and acceleration with the heaviest load, each (C, N)."""
        return performance.full_load_metrics(self.lanes)

    @cached_property
    def top_shaft_rpm(self) -> Floats:
        """Speed of wheels x axle ratio at the fastest leg plus the passing margin, (C, N) [rpm]."""
        lanes = self.lanes
        fastest = np.where(lanes.leg_known, lanes.leg_speed_mps, 0.0).max(axis=0)
        wheel_rpm = (fastest + lanes.passing_margin_mps) * 60.0 / lanes.circumference_planned_m
        return np.asarray(lanes.axle_ratio * wheel_rpm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Metric:
    """A named quantity computed for every candidate.

    Fields
        name: lower-case words joined by underscores; a plugin's with its own prefix.
        dimension: of `gearrec.units`, or "" where `unit` is none of its units.
        unit: of the numbers that `compute` returns.
        definition: one sentence.
        source: where the definition or the method comes from.
        compute: Evaluation -> float64 array that broadcasts to (C, N), or to (C, L, N) where
            `per_leg`; NaN is unknown. Lanes do not depend on each other.
        per_leg: whether there is one value for each leg of the use.
        unknown: what a NaN means, as a sentence without a full stop.
    """

    name: str
    dimension: str
    unit: str
    definition: str
    source: str
    compute: Callable[[Evaluation], Floats]
    per_leg: bool = False
    unknown: str = "an input that it needs is not known"


@dataclass(frozen=True, slots=True)
class Columns(Mapping[str, Floats]):
    """Metric name -> its numbers, (C, N) or per leg (C, L, N), NaN where unknown.

    `unknown_reason` says why, for each metric that has an unknown number for a known candidate.
    """

    values_by_name: dict[str, Floats]
    unknown_reason: dict[str, str]

    def __getitem__(self, name: str) -> Floats:
        return self.values_by_name[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self.values_by_name)

    def __len__(self) -> int:
        return len(self.values_by_name)


def evaluate(
    lanes: Lanes,
    *,
    metrics: Sequence[Metric] | None = None,
    on_fault: Callable[[Metric, Exception], None] | None = None,
    chunk: int = CHUNK,
) -> Columns:
    """Compute metrics for a whole batch.

    Parameters
        lanes: the batch.
        metrics: which ones; all built-in ones if left out.
        on_fault: called once for a metric that cannot be computed, whose numbers are then unknown;
            without it the error is raised.
        chunk: lanes at a time.

    Returns
        Columns; numbers of padded candidates and legs are NaN.

    Raises
        PluginError: a metric's function fails or returns the wrong shape, without `on_fault`.
    """
    chosen = BUILT_IN if metrics is None else metrics
    columns: dict[str, Floats] = {}
    for metric in chosen:
        legs = (lanes.legs,) if metric.per_leg else ()
        columns[metric.name] = np.empty((lanes.candidates, *legs, lanes.size))
    reasons: dict[str, str] = {}
    faults: set[str] = set()
    for place, part in chunks(lanes, size=chunk):
        evaluation = Evaluation(part)
        padding = _padding(part)
        for metric in chosen:
            if metric.name in faults:
                continue
            column = columns[metric.name][..., place]
            try:
                values = metric.compute(evaluation)
                np.add(values, padding[metric.per_leg], out=column)
            except Exception as error:
                if on_fault is None:
                    text = f"metric '{metric.name}' cannot be computed: {error!r}"
                    raise PluginError(text) from error
                faults.add(metric.name)
                reasons[metric.name] = f"its function failed: {error!r}"
                on_fault(metric, error)
                continue
            # A sum is NaN if a summand is, and costs less than looking at each.
            if metric.name not in reasons and math.isnan(np.add.reduce(column, axis=None)):
                unknown = np.isnan(column) & ~np.isnan(padding[metric.per_leg])
                if unknown.any():
                    reasons[metric.name] = metric.unknown
    for name in faults:
        columns[name].fill(np.nan)
    return Columns(columns, reasons)


def mix(lanes: Lanes, values: Floats) -> Floats:
    """Mean over the legs weighted by their shares of the distance, (C, L, N) -> (C, N).

    Unknown (NaN) where a leg with a share is.
    """
    weighted = np.where(lanes.leg_share > 0.0, values, 0.0)
    weighted *= lanes.leg_share
    return np.asarray(np.add.reduce(weighted, axis=1))


def by_name(metrics: Sequence[Metric]) -> dict[str, Metric]:
    """Metrics by their names.

    Raises
        ValueError: two metrics have the same name.
    """
    found = {metric.name: metric for metric in metrics}
    if len(found) < len(metrics):
        names = [metric.name for metric in metrics]
        twice = sorted({name for name in names if names.count(name) > 1})
        raise ValueError(f"two metrics are called {', '.join(twice)}; rename one")
    return found


def _padding(lanes: Lanes) -> tuple[Floats | float, Floats | float]:
    """What to add to a metric per candidate, (C, N), and per leg, (C, L, N): NaN where padded.

    Added and not written under a mask, which would cost ten times as much.
    """
    candidate: Floats | float = 0.0
    if not lanes.candidate_known.all():
        candidate = np.where(lanes.candidate_known, 0.0, np.nan)
    if lanes.leg_known.all():
        return candidate, candidate if isinstance(candidate, float) else candidate[:, None]
    leg = np.where(lanes.leg_known, 0.0, np.nan)
    return candidate, leg if isinstance(candidate, float) else candidate[:, None] + leg


def _tire_growth(at: Evaluation) -> Floats:
    return at.lanes.diameter_planned_m / at.lanes.diameter_factory_m - 1.0


def _effective_ratio(at: Evaluation) -> Floats:
    return at.lanes.axle_ratio * (at.lanes.diameter_factory_m / at.lanes.diameter_planned_m)


def _gearing_change(at: Evaluation) -> Floats:
    return _effective_ratio(at) / at.lanes.factory_ratio - 1.0


def _cruise_engine_speed(at: Evaluation) -> Floats:
    return at.points.in_gear(at.points.speed_rpm, at.points.cruise)


def _top_gear_grade(at: Evaluation) -> Floats:
    return operating.grade_of_sine(np.minimum(at.points.top_held_grade, 0.99))


def _downshift_share(at: Evaluation) -> Floats:
    return consumption.downshift_share(at.lanes, at.terrain)


def _shift_rate(at: Evaluation) -> Floats:
    return consumption.shift_rate(at.lanes, at.points, at.terrain)


def _lug_share(at: Evaluation) -> Floats:
    return consumption.lug_share(at.lanes, at.points, at.terrain)


def _launch_grade(at: Evaluation) -> Floats:
    return np.nan_to_num(at.full_load["launch_grade"], nan=0.0)


def _climb_speed(at: Evaluation) -> Floats:
    return np.nan_to_num(at.full_load["climb_speed"], nan=0.0)


def _time_0_60mph(at: Evaluation) -> Floats:
    return at.full_load["time_0_60mph"]


def _time_40_60mph(at: Evaluation) -> Floats:
    return at.full_load["time_40_60mph"]


def _fuel_rate(at: Evaluation) -> Floats:
    return at.terrain.fuel_rate


def _fuel_rate_low(at: Evaluation) -> Floats:
    return at.terrain.fuel_rate * at.lanes.fuel_factor_low


def _fuel_rate_high(at: Evaluation) -> Floats:
    return at.terrain.fuel_rate * at.lanes.fuel_factor_high


def _fuel_rate_mix(at: Evaluation) -> Floats:
    return mix(at.lanes, at.terrain.fuel_rate)


def _fuel_rate_mix_low(at: Evaluation) -> Floats:
    return _fuel_rate_mix(at) * at.lanes.fuel_factor_low


def _fuel_rate_mix_high(at: Evaluation) -> Floats:
    return _fuel_rate_mix(at) * at.lanes.fuel_factor_high


def _fuel_change(at: Evaluation) -> Floats:
    # A ratio that cannot be fitted is on no offer, however thrifty.
    rate = np.where(at.lanes.candidate_known, _fuel_rate_mix(at), np.nan)
    with np.errstate(invalid="ignore"):
        return np.asarray(rate / np.fmin.reduce(rate, axis=0) - 1.0)


def _top_speed_engine_speed(at: Evaluation) -> Floats:
    lanes = at.lanes
    ratio = lanes.gear_ratio[operating.top_gear(lanes), np.arange(lanes.size)]
    return at.top_shaft_rpm * ratio


def _driveshaft_speed_share(at: Evaluation) -> Floats:
    return np.asarray(at.top_shaft_rpm / at.lanes.driveshaft_critical_rpm)


def _crawl_ratio(at: Evaluation) -> Floats:
    return np.asarray(at.lanes.axle_ratio * (at.lanes.gear_ratio[0] * at.lanes.low_range_ratio))


def _crawl_speed(at: Evaluation) -> Floats:
    lanes = at.lanes
    return lanes.idle_rpm / 60.0 * lanes.circumference_planned_m / _crawl_ratio(at)


def _speedometer_error(at: Evaluation) -> Floats:
    lanes = at.lanes
    turns = lanes.circumference_factory_m / lanes.circumference_planned_m
    axle = np.where(lanes.speed_sensor_before_axle, lanes.axle_ratio / lanes.factory_ratio, 1.0)
    return axle * turns - 1.0


def _axle_mismatch(at: Evaluation) -> Floats:
    return at.lanes.front_ratio / at.lanes.axle_ratio - 1.0


def _axle_torque_share(at: Evaluation) -> Floats:
    lanes = at.lanes
    first = lanes.gear_ratio[0] * lanes.gear_efficiency[0] * lanes.stall_torque_ratio
    # In low range both axles are driven and share the torque.
    case = np.maximum(
        lanes.transfer_high_efficiency,
        0.5 * lanes.low_range_ratio * lanes.transfer_low_efficiency,
    )
    engine_nm = lanes.torque_nm.max(axis=0) * first * case * lanes.axle_efficiency
    radius = lanes.circumference_planned_m / (2.0 * np.pi)
    # With all wheels driven this axle's own grip still is the most that it can be loaded with.
    load_kg = np.fmin(lanes.driven_load_kg, lanes.axle_load_rear_kg)
    grip_nm = lanes.friction_coefficient * load_kg * operating.GRAVITY_MPS2 * radius
    largest_nm = np.minimum(lanes.axle_ratio * engine_nm, grip_nm)
    return np.asarray(largest_nm / lanes.axle_torque_rating_nm)


def _tire_load_share(at: Evaluation) -> Floats:
    lanes = at.lanes
    return np.maximum(
        lanes.axle_load_front_kg / lanes.tire_capacity_front_kg,
        lanes.axle_load_rear_kg / lanes.tire_capacity_rear_kg,
    )


_GEOMETRY = "geometry"
_POLICY = "gear-choice policy of gearrec.operating; normal distribution of grades"
_FUEL = "Willans lines: CMEM; friction after Heywood (1988); see gearrec.consumption"

BUILT_IN: tuple[Metric, ...] = (
    Metric(
        name="tire_growth",
        dimension="share",
        unit="1",
        definition="planned tire diameter / factory diameter - 1, both new",
        source=_GEOMETRY,
        compute=_tire_growth,
    ),
    Metric(
        name="effective_ratio",
        dimension="ratio",
        unit="1",
        definition="axle ratio x factory diameter / planned diameter: what the ratio acts like "
        "on factory tires",
        source=_GEOMETRY,
        compute=_effective_ratio,
    ),
    Metric(
        name="gearing_change",
        dimension="share",
        unit="1",
        definition="effective ratio / factory ratio - 1",
        source=_GEOMETRY,
        compute=_gearing_change,
    ),
    Metric(
        name="cruise_engine_speed",
        dimension="engine_speed",
        unit="rpm",
        definition="engine speed at the leg's speed on level ground in the highest gear that "
        "holds it, converter locked",
        source=_POLICY,
        compute=_cruise_engine_speed,
        per_leg=True,
    ),
    Metric(
        name="top_gear_grade",
        dimension="grade",
        unit="1",
        definition="steepest steady grade held in top gear at the leg's speed, load and altitude, "
        "with the torque reserve; negative where top gear does not hold level ground",
        source=_POLICY,
        compute=_top_gear_grade,
        per_leg=True,
    ),
    Metric(
        name="downshift_share",
        dimension="share",
        unit="1",
        definition="share of the leg's distance spent below top gear over its terrain",
        source=_POLICY,
        compute=_downshift_share,
        per_leg=True,
    ),
    Metric(
        name="shift_rate",
        dimension="",
        unit="1/100 km",
        definition="expected gear changes per 100 km over the leg's terrain, with hysteresis",
        source="Rice (1945), section 3.3; gear-choice policy of gearrec.operating",
        compute=_shift_rate,
        per_leg=True,
    ),
    Metric(
        name="lug_share",
        dimension="share",
        unit="1",
        definition="share of the leg's distance at high load below the engine's lug speed",
        source=_POLICY,
        compute=_lug_share,
        per_leg=True,
    ),
    Metric(
        name="launch_grade",
        dimension="grade",
        unit="1",
        definition="steepest grade for a start from rest in first gear, high range, with the "
        "heaviest load; 0 where there is none",
        source="SAE J2807 by name: launch on 12 %; see gearrec.performance",
        compute=_launch_grade,
    ),
    Metric(
        name="climb_speed",
        dimension="speed",
        unit="m/s",
        definition="highest steady speed on the reference grade with the heaviest load; 0 where "
        "no gear holds it",
        source="SAE J2807 by name: long climb; see gearrec.performance",
        compute=_climb_speed,
    ),
    Metric(
        name="time_0_60mph",
        dimension="time",
        unit="s",
        definition="time from rest to 60 mph at full load with the heaviest load, with shifts",
        source="SAE J2807 by name: 0-60 mph; see gearrec.performance",
        compute=_time_0_60mph,
        unknown=performance.NEVER["time_0_60mph"],
    ),
    Metric(
        name="time_40_60mph",
        dimension="time",
        unit="s",
        definition="time from 40 to 60 mph at full load with the heaviest load, with shifts",
        source="SAE J2807 by name: 40-60 mph; see gearrec.performance",
        compute=_time_40_60mph,
        unknown=performance.NEVER["time_40_60mph"],
    ),
    Metric(
        name="fuel_rate",
        dimension="fuel_use",
        unit="L/100km",
        definition="fuel on the leg, middle of the range",
        source=_FUEL,
        compute=_fuel_rate,
        per_leg=True,
    ),
    Metric(
        name="fuel_rate_low",
        dimension="fuel_use",
        unit="L/100km",
        definition="fuel on the leg, low end of the range",
        source=_FUEL,
        compute=_fuel_rate_low,
        per_leg=True,
    ),
    Metric(
        name="fuel_rate_high",
        dimension="fuel_use",
        unit="L/100km",
        definition="fuel on the leg, high end of the range",
        source=_FUEL,
        compute=_fuel_rate_high,
        per_leg=True,
    ),
    Metric(
        name="fuel_rate_mix",
        dimension="fuel_use",
        unit="L/100km",
        definition="fuel over all legs by their distance, middle of the range",
        source=_FUEL,
        compute=_fuel_rate_mix,
    ),
    Metric(
        name="fuel_rate_mix_low",
        dimension="fuel_use",
        unit="L/100km",
        definition="fuel over all legs by their distance, low end of the range",
        source=_FUEL,
        compute=_fuel_rate_mix_low,
    ),
    Metric(
        name="fuel_rate_mix_high",
        dimension="fuel_use",
        unit="L/100km",
        definition="fuel over all legs by their distance, high end of the range",
        source=_FUEL,
        compute=_fuel_rate_mix_high,
    ),
    Metric(
        name="fuel_change",
        dimension="share",
        unit="1",
        definition="fuel over all legs / that of the thriftiest candidate - 1",
        source=_FUEL,
        compute=_fuel_change,
    ),
    Metric(
        name="top_speed_engine_speed",
        dimension="engine_speed",
        unit="rpm",
        definition="engine speed in top gear at the fastest leg plus the passing margin",
        source=_GEOMETRY,
        compute=_top_speed_engine_speed,
    ),
    Metric(
        name="driveshaft_speed_share",
        dimension="share",
        unit="1",
        definition="driveshaft speed at the fastest leg plus the passing margin / critical speed",
        source="whirl of a simply supported tube; see gearrec.driveline",
        compute=_driveshaft_speed_share,
        unknown="the driveshaft's critical speed is not known",
    ),
    Metric(
        name="crawl_ratio",
        dimension="ratio",
        unit="1",
        definition="first gear x low range x axle ratio",
        source=_GEOMETRY,
        compute=_crawl_ratio,
    ),
    Metric(
        name="crawl_speed",
        dimension="speed",
        unit="m/s",
        definition="road speed at idle in first gear, low range",
        source=_GEOMETRY,
        compute=_crawl_speed,
    ),
    Metric(
        name="speedometer_error",
        dimension="share",
        unit="1",
        definition="shown speed / true speed - 1 if nothing is recalibrated",
        source=_GEOMETRY,
        compute=_speedometer_error,
    ),
    Metric(
        name="axle_mismatch",
        dimension="share",
        unit="1",
        definition="front tooth ratio / rear tooth ratio - 1",
        source=_GEOMETRY,
        compute=_axle_mismatch,
        unknown="the other axle is not driven, or has no matching gear set",
    ),
    Metric(
        name="axle_torque_share",
        dimension="share",
        unit="1",
        definition="largest torque that engine or tire grip lets into the axle / its rating",
        source="statics; low range shares the torque between two axles",
        compute=_axle_torque_share,
        unknown="the axle's torque rating is not known",
    ),
    Metric(
        name="tire_load_share",
        dimension="share",
        unit="1",
        definition="axle load / capacity of its tires, the worse axle, passenger tires on trucks "
        "derated",
        source="49 CFR 571.110 S4.2.2.2 (derating by 1.10)",
        compute=_tire_load_share,
        unknown="an axle load or a tire's load rating is not known",
    ),
)
"""The metrics that come with the library, in the order in which tables show them."""
