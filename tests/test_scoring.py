"""Aggregate score and order. Expected numbers: arithmetic on the weights and scores given."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gearrec.scoring import ExtraPreference, aggregate, rank


def scores(score: Any, weight: Any) -> Any:
    """What `aggregate` reads of the rules' scores: (P, C) scores and (P,) weights of one lane."""
    array = np.array(score, dtype=float)[:, :, None]
    known = np.zeros((array.shape[0], *array.shape[1:]), dtype=bool)
    return SimpleNamespace(score=array, weight=np.array(weight, dtype=float)[:, None], known=known)


def order(score: Any, ratios: Any, *, factory: float = 3.36, tolerance: float = 0.01) -> Any:
    column = np.array(score, dtype=float)[:, None]
    return rank(
        score=column,
        eligible=np.ones_like(column, dtype=bool),
        axle_ratio=np.array(ratios, dtype=float)[:, None],
        factory_ratio=np.array([factory]),
        tolerance=tolerance,
    )


def test_the_aggregate_is_the_weighted_mean() -> None:
    found = aggregate(scores([[1.0, 0.0], [0.5, 1.0]], [3.0, 1.0]))
    assert found.score[:, 0].tolist() == [0.875, 0.25]
    assert found.weight[:, 0].tolist() == [4.0, 4.0]


def test_an_unknown_preference_is_neither_zero_nor_one() -> None:
    found = aggregate(scores([[1.0, math.nan], [0.5, 0.5]], [3.0, 1.0]))
    assert found.score[:, 0].tolist() == [0.875, 0.5]
    assert found.known[:, 0].tolist() == [2, 1]


def test_without_a_known_preference_the_aggregate_is_unknown() -> None:
    found = aggregate(scores([[math.nan, 0.3]], [1.0]))
    assert math.isnan(found.score[0, 0])
    assert found.score[1, 0] == 0.3
    nothing = aggregate(scores([[0.3, 0.3]], [0.0]))
    assert np.isnan(nothing.score).all()


def test_a_preference_from_outside_joins_with_its_weight() -> None:
    extra = ExtraPreference(name="shop/shelf", score=np.array([[0.0], [math.nan]]), weight=1.0)
    found = aggregate(scores([[0.8, 0.8]], [3.0]), [extra])
    assert found.score[:, 0] == pytest.approx([0.6, 0.8])


@given(
    st.lists(
        st.tuples(
            st.one_of(st.just(math.nan), st.floats(min_value=0.0, max_value=1.0)),
            st.floats(min_value=0.0, max_value=10.0),
        ),
        min_size=1,
        max_size=12,
    )
)
@settings(max_examples=60, deadline=None)
def test_the_aggregate_lies_between_the_known_scores(pairs: list[tuple[float, float]]) -> None:
    found = aggregate(scores([[value] for value, _ in pairs], [weight for _, weight in pairs]))
    counted = [value for value, weight in pairs if not math.isnan(value) and weight > 0.0]
    if not counted:
        assert math.isnan(found.score[0, 0])
    else:
        assert min(counted) - 1e-9 <= found.score[0, 0] <= max(counted) + 1e-9


def test_the_best_score_stands_first() -> None:
    found = order([0.2, 0.9, 0.5], [3.36, 3.85, 4.18])
    assert found.candidate[:, 0].tolist() == [1, 2, 0]
    assert not found.tied.any()
    assert found.pick.tolist() == [1]


def test_a_tie_goes_to_the_smaller_change_from_the_factory_ratio_and_says_so() -> None:
    found = order([0.801, 0.805, 0.5], [3.62, 4.18, 3.36], tolerance=0.01)
    assert found.candidate[:, 0].tolist() == [0, 1, 2]
    assert found.tied[:, 0].tolist() == [True, False, False]


def test_the_change_is_measured_in_the_logarithm() -> None:
    # |ln(3.0/4.0)| = 0.288 > |ln(5.2/4.0)| = 0.262, though 1.0 < 1.2. source: arithmetic
    found = order([0.5, 0.5], [3.0, 5.2], factory=4.0)
    assert found.pick.tolist() == [1]


def test_a_difference_of_exactly_the_tolerance_is_a_tie() -> None:
    found = order([0.8, 0.81], [3.36, 3.85], tolerance=0.01)
    assert found.pick.tolist() == [0]


def test_the_numerically_lower_ratio_breaks_an_even_tie() -> None:
    found = order([0.5, 0.5], [4.0 * 1.1, 4.0 / 1.1], factory=4.0)
    assert found.pick.tolist() == [1]


def test_ruled_out_and_unknown_candidates_are_not_ranked() -> None:
    column = np.array([[0.9], [math.nan], [0.4]])
    found = rank(
        score=column,
        eligible=np.array([[False], [True], [True]]),
        axle_ratio=np.array([[3.36], [3.62], [3.85]]),
        factory_ratio=np.array([3.36]),
        tolerance=0.0,
    )
    assert found.candidate[:, 0].tolist() == [2, -1, -1]
    none = rank(
        score=column,
        eligible=np.zeros((3, 1), dtype=bool),
        axle_ratio=np.full((3, 1), math.nan),
        factory_ratio=np.array([3.36]),
        tolerance=0.0,
        ranks=2,
    )
    assert none.candidate[:, 0].tolist() == [-1, -1]
    assert not none.tied.any()


def test_a_negative_tolerance_is_refused() -> None:
    with pytest.raises(ValueError, match="tolerance"):
        order([0.5], [3.85], tolerance=-0.1)


@given(st.permutations(range(6)), st.floats(min_value=0.0, max_value=0.2))
@settings(max_examples=60, deadline=None)
def test_the_order_of_candidates_does_not_matter(places: list[int], tolerance: float) -> None:
    score = np.array([0.50, 0.55, 0.61, 0.61, 0.40, 0.58])
    ratios = np.array([3.36, 3.62, 3.85, 4.18, 3.13, 4.45])
    plain = order(score, ratios, tolerance=tolerance)
    mixed = order(score[places], ratios[places], tolerance=tolerance)
    named = ratios[places][mixed.candidate[:, 0]]
    assert named.tolist() == ratios[plain.candidate[:, 0]].tolist()
    np.testing.assert_array_equal(mixed.tied, plain.tied)
