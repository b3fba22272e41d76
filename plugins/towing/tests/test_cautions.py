"""What jobs with a trailer are told, against masses added by hand."""

from __future__ import annotations

import pytest

JOB = {"vehicle": "towing/drover-dual", "trailer": "towing/gooseneck", "use": "core/heavy-towing"}


@pytest.fixture
def said(towing_advisor):
    def sentences(**changes):
        advice = towing_advisor.advise(JOB | changes)
        return {item.name.removeprefix("towing/"): item.sentence for item in advice.plugin_cautions}

    return sentences


def test_nothing_is_said_of_a_job_that_does_not_tow(said, towing_advisor):
    assert said(trailer=None, use="core/mixed") == {}
    advice = towing_advisor.advise({"vehicle": "towing/drover", "use": "core/mixed"})
    assert advice.faults == ()


def test_a_combination_within_its_ratings(said):
    # By hand: 8,100 + 200 driver + 200 payload + 18,000 = 26,500 lb, rated 30,000; tongue 20 % of
    # 18,000 lb = 3,600 lb.
    found = said()
    assert set(found) == {"trailer-brakes", "hitch-rating", "descent"}
    assert "18,000 lb (8,165 kg)" in found["trailer-brakes"]
    assert "3,600 lb (1,633 kg) on the hitch" in found["hitch-rating"]


def test_a_combination_over_its_combined_rating(said):
    # By hand: 8,500 lb + 24,000 lb = 32,500 lb against 30,000 lb.
    found = said(trailer="towing/overloaded")
    assert "32,500 lb (14,742 kg)" in found["combined-rating"]
    assert "combined rating of 30,000 lb" in found["combined-rating"]
    assert "label" in found["combined-rating"]


def test_a_vehicle_whose_combined_rating_is_not_known(said):
    found = said(vehicle="demo/bulwark-dually")
    assert "knows no combined rating" in found["combined-rating"]


def test_a_vehicle_over_its_gross_rating(said):
    # By hand: 8,100 + 200 driver + 3,000 payload + 3,600 on the hitch = 14,900 lb against 14,000.
    found = said(load={"payload": "3000 lb"})
    assert "14,900 lb (6,759 kg)" in found["gross-rating"]


@pytest.mark.parametrize(
    ("share", "words"),
    [("7 %", "may sway"), ("28 %", "front axle"), ("12 %", ""), ("10 %", ""), ("25 %", "")],
)
def test_the_share_on_the_hitch(said, share, words):
    # Common practice, no source.
    trailer = {
        "mass": "6000 lb",
        "drag_area": "1.5 m^2",
        "rolling_coefficient": 0.01,
        "tongue_share": share,
    }
    found = said(trailer=trailer)
    assert ("tongue-share" in found) is bool(words)
    assert words in found.get("tongue-share", "")


def test_the_descent_is_that_of_the_worst_towing_leg(said, towing_advisor):
    pick = towing_advisor.advise(JOB).pick
    assert pick is not None
    legs = dict(
        zip(
            ("highway", "town", "highway with trailer", "hills with trailer"),
            pick.leg_metrics["towing_engine_braking_grade"],
            strict=True,
        )
    )
    worst = min(("highway with trailer", "hills with trailer"), key=lambda leg: legs[leg])
    assert f"leg '{worst}'" in said()["descent"]
    assert f"{legs[worst]:.1%}".replace("%", " %") in said()["descent"]
