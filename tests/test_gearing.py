from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gearrec import gearing
from gearrec.errors import InputError

ratios = st.floats(0.3, 120.0)
axles = st.floats(2.0, 9.0)
circumferences = st.floats(1.0, 5.0)
speeds = st.floats(0.1, 60.0)
steps = st.floats(1.001, 1.5)
modest = settings(max_examples=60, deadline=None)


@pytest.mark.parametrize(
    ("ring", "pinion", "pattern"),
    [
        # Divisors worked out by hand; the words are common practice, no single source.
        (47, 13, "hunting"),
        (47, 10, "hunting"),
        (51, 15, "partial non-hunting"),
        (48, 18, "partial non-hunting"),
        (40, 10, "non-hunting"),
        (36, 12, "non-hunting"),
    ],
)
def test_mesh_pattern(ring: int, pinion: int, pattern: str) -> None:
    assert gearing.mesh_pattern(ring_teeth=ring, pinion_teeth=pinion) == pattern


@pytest.mark.parametrize(("ring", "pinion"), [(50, 13), (51, 15), (40, 10), (48, 18)])
def test_mesh_pattern_and_repeat_agree_with_meshing_the_teeth_one_by_one(
    ring: int, pinion: int
) -> None:
    met: set[tuple[int, int]] = set()
    for mesh in itertools.count():
        pair = (mesh % ring, mesh % pinion)
        if pair in met:
            break
        met.add(pair)
    partners_of_a_pinion_tooth = len({first for first, second in met if second == 0})
    pattern = gearing.mesh_pattern(ring_teeth=ring, pinion_teeth=pinion)
    assert (pattern == "hunting") == (partners_of_a_pinion_tooth == ring)
    assert (pattern == "non-hunting") == (partners_of_a_pinion_tooth == ring // pinion)
    turns = gearing.pinion_turns_to_repeat(ring_teeth=ring, pinion_teeth=pinion)
    assert turns == len(met) / pinion


@pytest.mark.parametrize(
    ("ring", "pinion", "words"),
    [
        (47, 1, "pinion_teeth: 1 is not allowed; allowed: whole teeth, 2 or more"),
        (47.0, 10, "ring_teeth: 47.0 is not allowed"),
        (True, 10, "ring_teeth: True is not allowed"),
        (10, 47, "are the two swapped"),
    ],
)
def test_teeth_must_make_sense(ring: int, pinion: int, words: str) -> None:
    with pytest.raises(InputError, match=words):
        gearing.mesh_pattern(ring_teeth=ring, pinion_teeth=pinion)


def test_teeth_may_be_numpy_integers() -> None:
    ring, pinion = np.array([40, 10])
    assert gearing.mesh_pattern(ring_teeth=ring, pinion_teeth=pinion) == "non-hunting"


@modest
@given(speed=speeds, ratio=ratios, circumference=circumferences)
def test_engine_speed_and_road_speed_are_inverse(
    speed: float, ratio: float, circumference: float
) -> None:
    engine = gearing.engine_speed_rpm(
        road_speed_mps=speed, overall_ratio=ratio, circumference_m=circumference
    )
    back = gearing.road_speed_mps(
        engine_speed_rpm=engine, overall_ratio=ratio, circumference_m=circumference
    )
    assert back == pytest.approx(speed, rel=1e-12)
    n_over_v = gearing.n_over_v_rpm_per_mps(overall_ratio=ratio, circumference_m=circumference)
    assert n_over_v * speed == pytest.approx(engine, rel=1e-12)


@modest
@given(speed=speeds, ratio=ratios, circumference=circumferences, step=steps)
def test_engine_speed_rises_with_speed_and_ratio_and_falls_with_the_tire(
    speed: float, ratio: float, circumference: float, step: float
) -> None:
    engine, faster, lower, taller = gearing.engine_speed_rpm(
        road_speed_mps=np.array([speed, speed * step, speed, speed]),
        overall_ratio=np.array([ratio, ratio, ratio * step, ratio]),
        circumference_m=np.array(
            [circumference, circumference, circumference, circumference * step]
        ),
    )
    assert faster > engine
    assert lower == pytest.approx(faster)
    assert taller < engine


@modest
@given(speed=speeds, ratio=ratios, circumference=circumferences)
def test_engine_speed_does_not_depend_on_the_unit_of_length(
    speed: float, ratio: float, circumference: float
) -> None:
    in_meters, in_feet = gearing.engine_speed_rpm(
        road_speed_mps=np.array([speed, speed / 0.3048]),
        overall_ratio=ratio,
        circumference_m=np.array([circumference, circumference / 0.3048]),
    )
    assert in_feet == pytest.approx(in_meters, rel=1e-12)


@modest
@given(axle=axles, gear=st.floats(0.5, 6.0), low=st.floats(1.0, 5.0), speed=speeds)
def test_implied_axle_ratio_finds_the_ratio_behind_an_engine_speed(
    axle: float, gear: float, low: float, speed: float
) -> None:
    ratio = gearing.overall_ratio(gear_ratio=gear, axle_ratio=axle, transfer_ratio=low)
    engine = gearing.engine_speed_rpm(
        road_speed_mps=speed, overall_ratio=ratio, circumference_m=2.4
    )
    implied = gearing.implied_axle_ratio(
        engine_speed_rpm=engine,
        road_speed_mps=speed,
        gear_ratio=gear,
        circumference_m=2.4,
        transfer_ratio=low,
    )
    assert implied == pytest.approx(axle, rel=1e-12)


@modest
@given(factory_ratio=axles, factory=st.floats(0.6, 0.9), growth=st.floats(0.8, 1.3))
def test_restoring_ratio_leaves_the_gearing_unchanged(
    factory_ratio: float, factory: float, growth: float
) -> None:
    tires = {"diameter_factory_m": factory, "diameter_planned_m": factory * growth}
    restored = gearing.restoring_ratio(factory_ratio=factory_ratio, **tires)
    effective = gearing.effective_ratio(axle_ratio=restored, **tires)
    change = gearing.gearing_change(effective_ratio=effective, factory_ratio=factory_ratio)
    assert change == pytest.approx(0.0, abs=1e-12)
    assert restored == pytest.approx(factory_ratio * (1.0 + gearing.tire_growth(**tires)))


@modest
@given(ratio=axles, factory=st.floats(0.6, 0.9), growth=st.floats(0.8, 1.3))
def test_engine_speed_on_planned_tires_is_that_of_the_effective_ratio_on_factory_ones(
    ratio: float, factory: float, growth: float
) -> None:
    planned = factory * growth
    effective = gearing.effective_ratio(
        axle_ratio=ratio, diameter_factory_m=factory, diameter_planned_m=planned
    )
    on_planned, on_factory = gearing.engine_speed_rpm(
        road_speed_mps=25.0,
        overall_ratio=np.array([ratio, float(effective)]),
        circumference_m=np.array([3.05 * planned, 3.05 * factory]),
    )
    assert on_planned == pytest.approx(on_factory, rel=1e-12)


def test_crawl_is_first_gear_in_low_range() -> None:
    crawl = gearing.crawl_ratio(first_gear_ratio=4.6, low_range_ratio=2.5, axle_ratio=3.8)
    overall = gearing.overall_ratio(gear_ratio=4.6, transfer_ratio=2.5, axle_ratio=3.8)
    assert crawl == pytest.approx(overall, rel=1e-15)
    speed = gearing.crawl_speed_mps(idle_speed_rpm=700.0, crawl_ratio=crawl, circumference_m=2.5)
    # By hand: 4.6 x 2.5 x 3.8 = 43.7; 700/60 turns/s / 43.7 x 2.5 m = 0.6674 m/s.
    assert crawl == pytest.approx(43.7, rel=1e-12)
    assert speed == pytest.approx(0.6674, rel=1e-4)


def test_speedometer_after_tires_reads_low_and_after_an_axle_high_only_before_the_axle() -> None:
    common = {
        "circumference_calibrated_m": 2.40,
        "circumference_fitted_m": 2.52,
        "axle_ratio_calibrated": 3.36,
        "axle_ratio_fitted": 4.2,
    }
    before, after = gearing.speedometer_error(**common, sensor_before_axle=[True, False])
    # By hand: 2.40/2.52 = 0.95238; 4.2/3.36 = 1.25.
    assert after == pytest.approx(0.95238 - 1.0, abs=1e-5)
    assert before == pytest.approx(0.95238 * 1.25 - 1.0, abs=1e-5)


@modest
@given(
    tires=st.tuples(circumferences, circumferences),
    axle=st.tuples(axles, axles),
    before=st.booleans(),
    shown=st.floats(1.0, 1e6),
)
def test_speedometer_agrees_with_counting_turns(
    tires: tuple[float, float], axle: tuple[float, float], before: bool, shown: float
) -> None:
    error = gearing.speedometer_error(
        circumference_calibrated_m=tires[0],
        circumference_fitted_m=tires[1],
        axle_ratio_calibrated=axle[0],
        axle_ratio_fitted=axle[1],
        sensor_before_axle=before,
    )
    counts_per_meter_calibrated = (axle[0] if before else 1.0) / tires[0]
    counts = shown * counts_per_meter_calibrated
    true = counts / (axle[1] if before else 1.0) * tires[1]
    assert gearing.true_distance_m(
        shown_distance_m=shown, speedometer_error=error
    ) == pytest.approx(true, rel=1e-9)
    assert gearing.true_speed_mps(shown_speed_mps=shown, speedometer_error=error) == pytest.approx(
        true, rel=1e-9
    )


@modest
@given(calibrated=circumferences, fitted=circumferences)
def test_putting_the_old_tires_back_undoes_the_speedometer_error(
    calibrated: float, fitted: float
) -> None:
    there = gearing.tire_speedometer_factor(
        circumference_calibrated_m=calibrated, circumference_fitted_m=fitted
    )
    back = gearing.tire_speedometer_factor(
        circumference_calibrated_m=fitted, circumference_fitted_m=calibrated
    )
    assert there * back == pytest.approx(1.0, rel=1e-12)


def test_axle_factor_does_nothing_where_wheels_are_counted() -> None:
    factor = gearing.axle_speedometer_factor(
        axle_ratio_calibrated=3.3,
        axle_ratio_fitted=4.4,
        sensor_before_axle=np.array([True, False]),
    )
    # By hand: 4.4 / 3.3 = 4/3.
    np.testing.assert_allclose(factor, [4.0 / 3.0, 1.0])


def test_mismatch_is_signed_and_unknown_where_the_front_is_not_driven() -> None:
    mismatch = gearing.axle_mismatch(front_ratio=[4.2, 4.0, math.nan], rear_ratio=4.0)
    np.testing.assert_allclose(mismatch, [0.05, 0.0, math.nan], atol=1e-15)


def test_every_bad_argument_is_named_at_once() -> None:
    with pytest.raises(InputError) as caught:
        gearing.effective_ratio(axle_ratio=0.0, diameter_factory_m=-1.0, diameter_planned_m=0.8)
    assert [problem.place.dotted for problem in caught.value.problems] == [
        "axle_ratio",
        "diameter_factory_m",
    ]


def test_speedometer_error_of_a_total_loss_is_refused() -> None:
    with pytest.raises(InputError, match="speedometer_error: -1 is not allowed"):
        gearing.true_speed_mps(shown_speed_mps=10.0, speedometer_error=-1.0)
