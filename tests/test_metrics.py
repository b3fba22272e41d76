"""The registry of metrics and their evaluation over batches."""

from __future__ import annotations

import dataclasses
import math
import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gearrec import metrics
from gearrec.errors import PluginError
from gearrec.lanes import take
from gearrec.metrics import BUILT_IN, Evaluation, Metric, evaluate

NAMES = {metric.name for metric in BUILT_IN}


def _same(one, other, *, rtol=1e-12):
    assert set(one) == set(other)
    for name in one:
        np.testing.assert_allclose(one[name], other[name], rtol=rtol, atol=1e-12, err_msg=name)


def test_every_metric_of_the_design_is_there():
    assert {
        *("tire_growth", "effective_ratio", "gearing_change", "cruise_engine_speed"),
        *("top_gear_grade", "downshift_share", "shift_rate", "lug_share", "launch_grade"),
        *("climb_speed", "time_0_60mph", "time_40_60mph", "fuel_rate", "top_speed_engine_speed"),
        *("driveshaft_speed_share", "crawl_ratio", "crawl_speed", "speedometer_error"),
        *("axle_mismatch", "axle_torque_share", "tire_load_share"),
    } <= NAMES


@pytest.mark.parametrize("metric", BUILT_IN, ids=lambda metric: metric.name)
def test_records_are_complete(metric):
    assert metric.definition
    assert not metric.definition.endswith(".")
    assert metric.source
    assert metric.unit
    assert metric.unknown


def test_names_are_unique():
    assert set(metrics.by_name(BUILT_IN)) == NAMES
    with pytest.raises(ValueError, match="two metrics are called tire_growth"):
        metrics.by_name([*BUILT_IN, BUILT_IN[0]])


def test_every_number_is_known_finite_and_of_the_right_shape(example_lanes):
    columns = evaluate(example_lanes)
    assert columns.unknown_reason == {}
    for metric in BUILT_IN:
        legs = (example_lanes.legs,) if metric.per_leg else ()
        values = columns[metric.name]
        assert values.shape == (example_lanes.candidates, *legs, example_lanes.size)
        assert values.dtype == np.float64
        assert np.all(np.isfinite(values)), metric.name


def test_a_batch_of_one_gives_the_numbers_of_a_batch_of_many(example_lanes):
    many = evaluate(example_lanes)
    for lane in (0, 17, 63):
        one = evaluate(take(example_lanes, [lane]))
        _same(one, {name: values[..., [lane]] for name, values in many.items()})


@pytest.mark.parametrize("chunk", [1, 7, 64])
def test_chunks_do_not_show(example_lanes, chunk):
    _same(evaluate(example_lanes, chunk=chunk), evaluate(example_lanes))


def test_lanes_do_not_depend_on_their_order(example_lanes):
    order = np.random.default_rng(3).permutation(example_lanes.size)
    shuffled = evaluate(take(example_lanes, order))
    _same(shuffled, {name: values[..., order] for name, values in evaluate(example_lanes).items()})


def test_candidates_do_not_depend_on_each_other(example_lanes):
    reverse = {
        name: np.ascontiguousarray(getattr(example_lanes, name)[::-1])
        for name in ("axle_ratio", "candidate_known", "front_ratio")
    }
    turned = evaluate(dataclasses.replace(example_lanes, **reverse))
    # Acceleration runs on a grid that belongs to the numerically highest axle, whatever its place.
    _same(turned, {name: values[::-1] for name, values in evaluate(example_lanes).items()})


def test_inputs_are_not_changed(example_lanes):
    for name in ("mass_kg", "torque_nm", "axle_ratio", "leg_speed_mps"):
        getattr(example_lanes, name).flags.writeable = False
    try:
        evaluate(example_lanes)
    finally:
        for name in ("mass_kg", "torque_nm", "axle_ratio", "leg_speed_mps"):
            getattr(example_lanes, name).flags.writeable = True


def test_no_warning_whatever_is_unknown(build_lanes):
    lanes = build_lanes(
        2,
        driveshaft_critical_rpm=math.nan,
        axle_torque_rating_nm=math.nan,
        front_ratio=math.nan,
        tire_capacity_rear_kg=math.nan,
        reverse_ratio=math.nan,
    )
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        columns = evaluate(lanes)
    assert set(columns.unknown_reason) == {
        *("driveshaft_speed_share", "axle_torque_share", "axle_mismatch", "tire_load_share"),
    }
    assert columns.unknown_reason["axle_torque_share"] == "the axle's torque rating is not known"
    assert np.all(np.isnan(columns["axle_torque_share"]))
    assert np.all(np.isfinite(columns["fuel_rate"]))


def test_padding_is_unknown_but_gives_no_reason(build_lanes):
    candidate_known = np.array([True, True, True, False, False])
    leg_known = np.array([True, True, True, True, False])
    share = [0.4, 0.2, 0.2, 0.2, 0.0]
    lanes = build_lanes(1, candidate_known=candidate_known, leg_known=leg_known, leg_share=share)
    columns = evaluate(lanes)
    assert columns.unknown_reason == {}
    assert np.all(np.isnan(columns["crawl_ratio"][3:]))
    assert np.all(np.isfinite(columns["crawl_ratio"][:3]))
    assert np.all(np.isnan(columns["fuel_rate"][:, 4]))
    assert np.all(np.isfinite(columns["fuel_rate"][:3, :4]))
    assert np.all(np.isfinite(columns["fuel_rate_mix"][:3]))


def test_geometry_by_hand(build_lanes):
    lanes = build_lanes(
        1,
        diameter_planned_m=0.88,
        circumference_planned_m=3.05 * 0.88,
        driveshaft_critical_rpm=6000.0,
        axle_torque_rating_nm=9000.0,
        front_ratio=4.0,
    )
    columns = evaluate(lanes)
    ratio, factory = lanes.axle_ratio[3, 0], lanes.factory_ratio[0]
    low, top = 2.7 * lanes.gear_ratio[0, 0], lanes.gear_ratio[-1, 0]
    turns = 60.0 * (28.0 + 4.5) / (3.05 * 0.88)
    expected = {
        "tire_growth": 0.1,
        "effective_ratio": ratio / 1.1,
        "gearing_change": ratio / 1.1 / factory - 1.0,
        "top_speed_engine_speed": turns * ratio * top,
        "driveshaft_speed_share": turns * ratio / 6000.0,
        "crawl_ratio": low * ratio,
        "crawl_speed": 600.0 / 60.0 * 3.05 * 0.88 / (low * ratio),
        "speedometer_error": ratio / factory / 1.1 - 1.0,
        "axle_mismatch": 4.0 / ratio - 1.0,
        "tire_load_share": 1300.0 / 2200.0,
        # Grip on dry road is less than what first gear can give: 0.8 x 1300 kg x g x radius.
        "axle_torque_share": 0.8 * 1300.0 * 9.80665 * 3.05 * 0.88 / (2.0 * math.pi) / 9000.0,
    }
    for name, value in expected.items():
        assert columns[name][3, 0] == pytest.approx(value, rel=1e-12), name


def test_speedometer_driven_by_the_wheels_sees_only_the_tires(build_lanes):
    lanes = build_lanes(1, speed_sensor_before_axle=False, circumference_planned_m=3.05 * 0.88)
    error = evaluate(lanes)["speedometer_error"]
    np.testing.assert_allclose(error, 1.0 / 1.1 - 1.0, rtol=1e-12)


def test_the_mix_weighs_legs_by_their_distance(build_lanes):
    lanes = build_lanes(1)
    columns = evaluate(lanes)
    expected = (columns["fuel_rate"][..., 0] * lanes.leg_share[:, 0]).sum(axis=1)
    np.testing.assert_allclose(columns["fuel_rate_mix"][:, 0], expected, rtol=1e-14)
    np.testing.assert_allclose(
        columns["fuel_rate_mix_low"], 0.9 * columns["fuel_rate_mix"], rtol=1e-14
    )
    assert np.all(columns["fuel_rate_low"] < columns["fuel_rate"])
    assert np.all(columns["fuel_rate_high"] > columns["fuel_rate"])


@settings(max_examples=50)
@given(st.floats(1.0, 1.3))
def test_taller_tires_act_like_a_numerically_lower_axle(build_lanes, growth):
    plain = build_lanes(1, drag_torque_nm=0.0, engine_inertia_kg_m2=0.0)
    taller = build_lanes(
        1,
        drag_torque_nm=0.0,
        engine_inertia_kg_m2=0.0,
        diameter_planned_m=0.8 * growth,
        circumference_planned_m=2.44 * growth,
        axle_ratio=[ratio * growth for ratio in plain.axle_ratio[:, 0]],
    )
    before, after = evaluate(plain), evaluate(taller)
    for name in ("effective_ratio", "cruise_engine_speed", "top_gear_grade", "fuel_rate"):
        np.testing.assert_allclose(after[name], before[name], rtol=1e-9, atol=1e-12)


def test_a_higher_axle_shifts_less_on_the_towing_highway_leg(build_lanes):
    columns = evaluate(build_lanes(1))
    assert np.all(np.diff(columns["downshift_share"][:, 3, 0]) < 0.0)
    assert np.all(np.diff(columns["shift_rate"][1:, 3, 0]) < 0.0)


def test_lugging_needs_low_engine_speed_and_high_load(build_lanes):
    # Below the lug speed in the only gear: a crawl up and down steep hills.
    lanes = build_lanes(
        1, gear_ratio=[1.0, 0.0], lockup_from_gear=1, leg_speed_mps=[8.0] * 5,
        leg_grade_deviation=[0.1] * 5,
    )  # fmt: skip
    share = evaluate(lanes)["lug_share"]
    assert np.all((share > 0.1) & (share < 0.6))
    assert np.all(evaluate(build_lanes(1, lug_rpm=300.0))["lug_share"] == 0.0)


def test_a_metric_of_ones_own_is_vectorised_and_knows_the_operating_points(example_lanes):
    def reserve_rpm(at: Evaluation):
        return at.lanes.governed_rpm - at.points.in_gear(at.points.speed_rpm, at.points.cruise)

    own = Metric(
        name="shop_speed_reserve",
        dimension="engine_speed",
        unit="rpm",
        definition="governed speed - engine speed at cruise",
        source="invented for this test",
        compute=reserve_rpm,
        per_leg=True,
    )
    columns = evaluate(example_lanes, metrics=(*BUILT_IN, own), chunk=10)
    np.testing.assert_allclose(
        columns["shop_speed_reserve"], 5800.0 - columns["cruise_engine_speed"]
    )


def _broken(name, compute):
    return Metric(
        name=name,
        dimension="share",
        unit="1",
        definition="broken on purpose",
        source="invented for this test",
        compute=compute,
    )


@pytest.mark.parametrize(
    "compute", [lambda at: 1 / 0, lambda at: np.ones((3, 2, 2, 2)), lambda at: "none"]
)
def test_a_broken_metric_is_a_named_fault_and_the_others_go_on(example_lanes, compute):
    broken = _broken("shop_broken", compute)
    with pytest.raises(PluginError, match="shop_broken"):
        evaluate(example_lanes, metrics=(broken,))
    faults = []
    columns = evaluate(
        example_lanes,
        metrics=(*BUILT_IN, broken),
        on_fault=lambda metric, error: faults.append((metric.name, error)),
        chunk=16,
    )
    assert [name for name, _ in faults] == ["shop_broken"]
    assert np.all(np.isnan(columns["shop_broken"]))
    assert "failed" in columns.unknown_reason["shop_broken"]
    assert np.all(np.isfinite(columns["fuel_rate"]))


def test_columns_are_a_mapping(example_lanes):
    columns = evaluate(example_lanes, metrics=BUILT_IN[:3])
    assert list(columns) == [metric.name for metric in BUILT_IN[:3]]
    assert len(columns) == 3
    with pytest.raises(KeyError):
        columns["fuel_rate"]


def test_fuel_is_held_against_ratios_that_can_be_fitted(build_lanes):
    known = np.array([False, True, True, True, True])
    lanes = build_lanes(1, candidate_known=known)
    fuel = evaluate(lanes)["fuel_rate_mix"]
    change = evaluate(lanes)["fuel_change"]
    assert np.isnan(change[0, 0])
    # By the metric's definition: the thriftiest of those that are on offer stands at nothing.
    np.testing.assert_allclose(change[1:], fuel[1:] / fuel[1:].min() - 1.0)


def test_an_axle_is_loaded_by_its_own_grip_where_all_wheels_are_driven(build_lanes):
    # Statics: with 2500 kg on all driven wheels the rear axle still has 1300 kg to push with.
    both = evaluate(build_lanes(1, driven_load_kg=2500.0, axle_torque_rating_nm=9000.0))
    rear = evaluate(build_lanes(1, driven_load_kg=1300.0, axle_torque_rating_nm=9000.0))
    np.testing.assert_allclose(both["axle_torque_share"], rear["axle_torque_share"])
    assert np.all(both["launch_grade"] >= rear["launch_grade"])
