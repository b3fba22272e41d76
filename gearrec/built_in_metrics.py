"""The metrics that come with the library: their definitions and their functions."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from gearrec import consumption, operating, performance
from gearrec.evaluation import Evaluation, Metric, mix

if TYPE_CHECKING:
    from gearrec.lanes import Floats


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
