"""Candidates: names, teeth, partners in the front axle."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gearrec.candidates import Candidate, Teeth, candidates, named

SETS = [Teeth(41, 12), Teeth(41, 11), Teeth(41, 10), Teeth(41, 9)]
COMMON_PRACTICE = "common practice, no source: 41/11 is called 3.73, 41/10 4.10, 41/9 4.56"


def offered(**changes: object) -> tuple[Candidate, ...]:
    arguments: dict[str, object] = {
        "rear": SETS,
        "front": None,
        "factory_ratio": 3.42,
        "fitted_ratio": 3.42,
        "asked": (),
        "name_tolerance": 0.006,
        "match_tolerance": 0.005,
    }
    return candidates(**(arguments | changes))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("name", "ring", "pinion"), [(3.73, 41, 11), (4.10, 41, 10), (4.56, 41, 9), (3.42, 41, 12)]
)
def test_a_name_stands_for_its_teeth(name: float, ring: int, pinion: int) -> None:
    assert named(name, SETS, within=0.006) == Teeth(ring, pinion), COMMON_PRACTICE


def test_a_name_that_no_set_has_stands_for_nothing() -> None:
    assert named(3.90, SETS, within=0.006) is None


def test_all_sets_are_candidates_and_marked() -> None:
    found = offered(fitted_ratio=3.73)
    assert [item.name for item in found] == ["3.42", "3.73", "4.10", "4.56"]
    assert [item.name for item in found if item.factory] == ["3.42"]
    assert [item.name for item in found if item.fitted] == ["3.73"]
    assert found[2].teeth == "41/10"


def test_asked_ratios_narrow_them_but_keep_the_factory_and_the_fitted_one() -> None:
    found = offered(asked=(4.56,), fitted_ratio=3.73)
    assert [item.name for item in found] == ["3.42", "3.73", "4.56"]


def test_a_ratio_without_a_set_stays_a_bare_number() -> None:
    found = offered(factory_ratio=3.92, fitted_ratio=3.92)
    odd = next(item for item in found if item.factory)
    assert (odd.ratio, odd.teeth) == (3.92, "")


def test_without_a_partner_in_front_a_candidate_is_taken_out() -> None:
    found = offered(front=[Teeth(41, 12), Teeth(37, 9)])
    by_name = {item.name: item for item in found}
    assert by_name["3.42"].front_ratio == pytest.approx(41 / 12)
    assert "front axle" in by_name["3.73"].taken_out
    # 37/9 is 0.27 percent off 41/10: near enough to be looked at, for the rule to judge.
    assert by_name["4.10"].front_ratio == pytest.approx(37 / 9)


@given(st.floats(2.5, 6.0), st.floats(2.5, 6.0))
def test_there_is_always_one_factory_and_one_fitted_ratio(factory: float, fitted: float) -> None:
    found = offered(factory_ratio=factory, fitted_ratio=fitted)
    assert sum(item.factory for item in found) == 1
    assert sum(item.fitted for item in found) == 1
    ratios = [item.ratio for item in found]
    assert ratios == sorted(set(ratios))


def test_a_partner_in_front_agrees_within_the_match_tolerance() -> None:
    # 37/9 is 0.27 % above 41/10, by hand.
    wide, narrow = (
        offered(front=[Teeth(37, 9)], asked=(4.10,), match_tolerance=tolerance)
        for tolerance in (0.003, 0.002)
    )
    assert [item.front_ratio for item in wide if item.name == "4.10"] == [37 / 9]
    assert [item.front_ratio for item in narrow if item.name == "4.10"] == [None]
