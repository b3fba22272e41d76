"""What it takes to build the pick."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

import gearrec
from gearrec import building

if TYPE_CHECKING:
    from pathlib import Path

TOWING: dict[str, Any] = {
    "vehicle": "demo/fell",
    "tires": {"planned": "LT255/85R16 123/120Q E"},
    "trailer": "demo/horses",
    "use": "core/some-towing",
    "rule_set": "toy/deeper-wins",
}


@pytest.fixture(scope="module")
def advisor(toy_rules: Path) -> gearrec.Advisor:
    return gearrec.Advisor([toy_rules], plugins=())


def test_another_carrier_is_named(advisor: gearrec.Advisor) -> None:
    (note,) = building.notes(advisor.advise(TOWING))
    assert "deep carrier" in note
    assert "shallow carrier that goes with 3.36" in note


def test_within_one_carrier_nothing_is_said(advisor: gearrec.Advisor) -> None:
    advice = advisor.advise({**TOWING, "axle_ratio": 3.62})
    assert advice.pick is not None
    assert not advice.keeps
    assert building.notes(advice) == ()


def test_gears_that_stay_need_nothing(advisor: gearrec.Advisor) -> None:
    advice = advisor.advise({"vehicle": "demo/barge", "use": "core/unloaded-highway"})
    assert advice.keeps
    assert building.notes(advice) == ()


@pytest.mark.parametrize(
    ("ring", "pinion", "words"), [(38, 8, "partial non-hunting"), (36, 9, "non-hunting")]
)
def test_a_set_that_is_not_hunting_is_put_together_by_its_marks(
    advisor: gearrec.Advisor, ring: int, pinion: int, words: str
) -> None:
    """Training text, quoted by a second source: only hunting sets go without timing marks."""
    job = advisor.job("docs/examples/own-truck.yaml")
    vehicle = job.vehicle
    assert not isinstance(vehicle, str)
    rear = vehicle.axles.rear
    assert not isinstance(rear, str)
    sets = (rear.gear_sets[0], type(rear.gear_sets[0])(ring_teeth=ring, pinion_teeth=pinion))
    axles = vehicle.axles.model_copy(update={"rear": rear.model_copy(update={"gear_sets": sets})})
    changed = job.model_copy(
        update={
            "vehicle": vehicle.model_copy(update={"axles": axles}),
            "candidates": (ring / pinion,),
            "rule_set": "toy/deeper-wins",
        }
    )
    advice = advisor.advise(changed)
    assert advice.pick is not None
    assert advice.pick.teeth == f"{ring}/{pinion}"
    (note,) = building.notes(advice)
    assert f"a {words} set" in note
    assert "timing marks" in note
