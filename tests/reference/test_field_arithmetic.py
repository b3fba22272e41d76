"""Arithmetic of the road and the counter: fuel economy, odometer, speedometer, engine speed.

Confidence, as said with each source: *read* in the source or a full copy, *quoted* by a second
source, *from memory*, *derived* by arithmetic from inputs that have one of the others.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from gearrec import gearing
from gearrec.units import si, to


def _economy_mpg(miles: list[float], mpg: list[float]) -> float:
    """Economy of a mix, by averaging the fuel per distance that the library keeps inside."""
    use = [si(value, "fuel_use", "mpg (US)") for value in mpg]
    return float(to(float(np.average(use, weights=miles)), "fuel_use", "mpg (US)"))


@pytest.mark.parametrize(("miles", "mixed"), [([704.0, 216.0], 17.4), ([100.0, 100.0], 19.2)])
def test_fuel_economy_is_averaged_over_fuel(miles: list[float], mixed: float) -> None:
    """Source: EPA-420-R-09-014, appendix A: 16 and 24 mpg. Confidence: read.

    The mean of the two figures, 20, would be wrong.
    """
    assert _economy_mpg(miles, [16.0, 24.0]) == pytest.approx(mixed, abs=0.05)


def test_an_uncorrected_odometer_makes_fuel_economy_look_worse_by_the_whole_tire_change() -> None:
    """Source: 31.6 to 35 in tires, 10.8 %. Confidence: derived."""
    error = gearing.speedometer_error(
        circumference_calibrated_m=3.05 * si(31.6, "length", "in"),
        circumference_fitted_m=3.05 * si(35.0, "length", "in"),
        axle_ratio_calibrated=3.73,
        axle_ratio_fitted=3.73,
        sensor_before_axle=True,
    )
    shown = si(100.0, "length", "mi")
    true = gearing.true_distance_m(shown_distance_m=shown, speedometer_error=error)
    assert true / shown == pytest.approx(1.108, abs=5e-4)
    # True miles = shown x C_new / C_old (derived); no other factor.
    assert true / shown == pytest.approx(35.0 / 31.6, rel=1e-12)


def test_a_speedometer_on_taller_tires_shows_too_little() -> None:
    """Source: true = indicated x C_fitted / C_calibrated. Confidence: derived, by hand.

    60 mph shown on tires 5 % taller is 63 mph.
    """
    factor = gearing.tire_speedometer_factor(
        circumference_calibrated_m=2.4, circumference_fitted_m=2.4 * 1.05
    )
    true = gearing.true_speed_mps(
        shown_speed_mps=si(60.0, "speed", "mph"), speedometer_error=factor - 1.0
    )
    assert to(true, "speed", "mph") == pytest.approx(63.0, rel=1e-12)


def test_regearing_to_restore_also_restores_a_speedometer_that_counts_the_driveshaft() -> None:
    """Source: kinematics; shaft turns per distance are R / C. Confidence: derived."""
    factory, planned = 0.78, 0.8892
    ratio = gearing.restoring_ratio(
        factory_ratio=3.42, diameter_factory_m=factory, diameter_planned_m=planned
    )
    error = gearing.speedometer_error(
        circumference_calibrated_m=3.05 * factory,
        circumference_fitted_m=3.05 * planned,
        axle_ratio_calibrated=3.42,
        axle_ratio_fitted=ratio,
        sensor_before_axle=np.array([True, False]),
    )
    # 0.78 / 0.8892 = 0.87719, by hand.
    np.testing.assert_allclose(error, [0.0, 0.87719 - 1.0], atol=1e-5)


def test_worn_tires_turn_faster() -> None:
    """Source: 12/32 in of tread off a 35 in tire: +2.2 % turns. Confidence: derived."""
    factor = gearing.tire_speedometer_factor(
        circumference_calibrated_m=3.05 * 35.0, circumference_fitted_m=3.05 * (35.0 - 0.75)
    )
    assert factor - 1.0 == pytest.approx(0.022, abs=5e-4)


@pytest.mark.parametrize(
    ("ring", "pinion", "ratio"),
    [(41, 11, 3.727), (41, 10, 4.100), (37, 9, 4.111), (39, 11, 3.545), (43, 10, 4.300)],
)
def test_names_of_gear_sets_are_rounded_tooth_ratios(ring: int, pinion: int, ratio: float) -> None:
    """Source: division of the teeth. Confidence: derived."""
    found = gearing.tooth_ratio(ring_teeth=ring, pinion_teeth=pinion)
    assert found == pytest.approx(ratio, abs=5e-4)


def test_sets_named_4_10_and_4_11_do_not_match() -> None:
    """Source: 41/10 beside 37/9, 0.27 %. Confidence: derived."""
    mismatch = gearing.axle_mismatch(
        front_ratio=gearing.tooth_ratio(ring_teeth=37, pinion_teeth=9),
        rear_ratio=gearing.tooth_ratio(ring_teeth=41, pinion_teeth=10),
    )
    assert mismatch == pytest.approx(0.0027, abs=5e-5)


@pytest.mark.parametrize(
    ("speed", "unit", "diameter_m", "factor"),
    [(65.0, "mph", 32.0 * 0.0254, 336.135 / 32.0), (100.0, "km/h", 0.8, 5.3052 / 0.8)],
)
def test_engine_speed_by_the_formulas_of_the_trade(
    speed: float, unit: str, diameter_m: float, factor: float
) -> None:
    """Source: rpm = 336.135 mph x ratio / D (in) = 5.3052 km/h x ratio / D (m), rolling diameter.

    Confidence: derived; handbook forms with 168 and 2651.5 quoted.
    """
    ratio = gearing.overall_ratio(gear_ratio=0.67, axle_ratio=4.10)
    engine = gearing.engine_speed_rpm(
        road_speed_mps=si(speed, "speed", unit),
        overall_ratio=ratio,
        circumference_m=math.pi * diameter_m,
    )
    assert engine == pytest.approx(speed * factor * 0.67 * 4.10, rel=1e-5)


def test_engine_speed_from_the_free_diameter_reads_low() -> None:
    """Source: ETRTO Standards Manual, C = 3.05 D. Confidence: quoted; 2.9 % derived."""
    rolling, free = gearing.engine_speed_rpm(
        road_speed_mps=29.0, overall_ratio=3.0, circumference_m=0.8 * np.array([3.05, math.pi])
    )
    assert free / rolling - 1.0 == pytest.approx(-0.029, abs=5e-4)


def test_n_over_v_of_a_data_sheet_implies_a_usual_rolling_circumference() -> None:
    """Source: row of EPA test-car data: axle 3.46, N/V 31.0 rpm/mph. Confidence: read.

    By hand for a top gear of 0.71 (invented): 60 x 0.71 x 3.46 / (31.0 / 0.44704) = 2.1255 m, that
    is 757 turns per mile.
    """
    ratio = gearing.overall_ratio(gear_ratio=0.71, axle_ratio=3.46)
    found = gearing.n_over_v_rpm_per_mps(overall_ratio=ratio, circumference_m=2.1255)
    assert found * si(1.0, "speed", "mph") == pytest.approx(31.0, rel=1e-4)
