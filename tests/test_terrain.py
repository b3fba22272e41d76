"""Normal distribution of grades: accuracy, partial moments, passages through a band."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import special

from gearrec import terrain

GRADES = st.floats(-0.2, 0.2)
DEVIATIONS = st.floats(0.001, 0.08)


def test_error_function_against_scipy():
    values = np.linspace(-8.0, 8.0, 40_001)
    assert np.max(np.abs(terrain.erf(values) - special.erf(values))) < 1e-8


def test_cumulative_probability_is_within_its_bounds_and_rises():
    values = np.linspace(-40.0, 40.0, 20_001)
    probability = terrain.normal_cdf(values)
    assert probability.min() >= 0.0
    assert probability.max() <= 1.0
    assert np.all(np.diff(probability) >= -1e-8)


def test_density_is_that_of_the_standard_normal_distribution():
    values = np.array([0.0, 1.0, -2.0])
    expected = [math.exp(-0.5 * value * value) / math.sqrt(2.0 * math.pi) for value in values]
    np.testing.assert_allclose(terrain.cdf_and_density(values)[1], expected, rtol=1e-15)


def test_scalars_arrays_and_nan():
    assert float(terrain.normal_cdf(0.0)) == pytest.approx(0.5, abs=1e-8)
    assert terrain.normal_cdf(np.zeros((2, 3))).shape == (2, 3)
    assert math.isnan(float(terrain.normal_cdf(math.nan)))


@settings(max_examples=80)
@given(GRADES, GRADES, DEVIATIONS)
def test_shares_of_a_cut_add_up(one, other, deviation):
    lower, upper = sorted((one, other))
    edges = [-math.inf, lower, upper, math.inf]
    parts = [
        float(terrain.share_between(lower_grade=low, upper_grade=high, deviation=deviation))
        for low, high in itertools.pairwise(edges)
    ]
    assert sum(parts) == pytest.approx(1.0, abs=1e-12)
    assert min(parts) >= -1e-8


@settings(max_examples=80)
@given(GRADES, GRADES, DEVIATIONS)
def test_mean_grade_of_a_part_is_inside_it(one, other, deviation):
    lower, upper = sorted((one, other))
    part = {"lower_grade": lower, "upper_grade": upper, "deviation": deviation}
    share = float(terrain.share_between(**part))
    moment = float(terrain.grade_moment_between(**part))
    assert lower * share - 1e-8 <= moment <= upper * share + 1e-8


def test_crossings_of_level_by_rices_formula():
    # Rice (1945) for exp(-(x/c)^2/2): 1 / (2 pi c) upward crossings per meter, as many downward.
    rate = terrain.crossings_per_m(
        upper_grade=0.0, lower_grade=0.0, deviation=0.02, correlation_m=400.0
    )
    assert float(rate) == pytest.approx(2.0 / (2.0 * math.pi * 400.0))


@settings(max_examples=50)
@given(GRADES, st.floats(0.0, 0.05), st.floats(0.0, 0.05), DEVIATIONS)
def test_a_wider_band_is_passed_no_more_often(grade, width, more, deviation):
    rates = [
        float(
            terrain.crossings_per_m(
                upper_grade=grade,
                lower_grade=grade - band,
                deviation=deviation,
                correlation_m=300.0,
            )
        )
        for band in (width, width + more)
    ]
    assert rates[1] <= rates[0]
