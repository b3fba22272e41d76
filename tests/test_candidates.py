"""Candidates: names, teeth, partners in the front axle."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gearrec.candidates import Candidate, Teeth, candidates, named

SETS = [Teeth(47, 14), Teeth(47, 13), Teeth(50, 13), Teeth(46, 11)]
BY_DIVISION = "47/14 is 3.357, 47/13 3.615, 50/13 3.846, 46/11 4.182"


def offered(**changes: object) -> tuple[Candidate, ...]:
    arguments: dict[str, object] = {
        "rear": SETS,
        "front": None,
        "factory_ratio": 3.36,
        "fitted_ratio": 3.36,
        "asked": (),
        "name_tolerance": 0.006,
        "match_tolerance": 0.005,
    }
    return candidates(**(arguments | changes))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("name", "ring", "pinion"), [(3.62, 47, 13), (3.85, 50, 13), (4.18, 46, 11), (3.36, 47, 14)]
)
def test_a_name_stands_for_its_teeth(name: float, ring: int, pinion: int) -> None:
    assert named(name, SETS, within=0.006) == Teeth(ring, pinion), BY_DIVISION


def test_a_name_that_no_set_has_stands_for_nothing() -> None:
    assert named(3.90, SETS, within=0.006) is None


def test_all_sets_are_candidates_and_marked() -> None:
    found = offered(fitted_ratio=3.62)
    assert [item.name for item in found] == ["3.36", "3.62", "3.85", "4.18"]
    assert [item.name for item in found if item.factory] == ["3.36"]
    assert [item.name for item in found if item.fitted] == ["3.62"]
    assert found[2].teeth == "50/13"


def test_asked_ratios_narrow_them_but_keep_the_factory_and_the_fitted_one() -> None:
    found = offered(asked=(4.18,), fitted_ratio=3.62)
    assert [item.name for item in found] == ["3.36", "3.62", "4.18"]


def test_a_ratio_without_a_set_stays_a_bare_number() -> None:
    found = offered(factory_ratio=3.92, fitted_ratio=3.92)
    odd = next(item for item in found if item.factory)
    assert (odd.ratio, odd.teeth) == (3.92, "")


def test_without_a_partner_in_front_a_candidate_is_taken_out() -> None:
    found = offered(front=[Teeth(47, 14), Teeth(27, 7)])
    by_name = {item.name: item for item in found}
    assert by_name["3.36"].front_ratio == pytest.approx(47 / 14)
    assert "front axle" in by_name["3.62"].taken_out
    # 27/7 is 0.29 percent off 50/13: near enough to be looked at, for the rule to judge.
    assert by_name["3.85"].front_ratio == pytest.approx(27 / 7)


@given(st.floats(2.5, 6.0), st.floats(2.5, 6.0))
def test_there_is_always_one_factory_and_one_fitted_ratio(factory: float, fitted: float) -> None:
    found = offered(factory_ratio=factory, fitted_ratio=fitted)
    assert sum(item.factory for item in found) == 1
    assert sum(item.fitted for item in found) == 1
    ratios = [item.ratio for item in found]
    assert ratios == sorted(set(ratios))


def test_a_partner_in_front_agrees_within_the_match_tolerance() -> None:
    # 27/7 is 0.29 % above 50/13, by hand.
    wide, narrow = (
        offered(front=[Teeth(27, 7)], asked=(3.85,), match_tolerance=tolerance)
        for tolerance in (0.003, 0.002)
    )
    assert [item.front_ratio for item in wide if item.name == "3.85"] == [27 / 7]
    assert [item.front_ratio for item in narrow if item.name == "3.85"] == [None]
