"""What jobs with a trailer are told, against masses added by hand."""

from __future__ import annotations

import pytest

JOB = {"vehicle": "towing/sledge-dual", "trailer": "towing/logs", "use": "demo/timber-runs"}


@pytest.fixture
def said(towing_advisor):
    def sentences(**changes):
        advice = towing_advisor.advise(JOB | changes)
        return {item.name.removeprefix("towing/"): item.sentence for item in advice.plugin_cautions}

    return sentences


def test_nothing_is_said_of_a_job_that_does_not_tow(said, towing_advisor):
    assert said(trailer=None, use="demo/plain") == {}
    advice = towing_advisor.advise({"vehicle": "towing/sledge", "use": "demo/plain"})
    assert advice.faults == ()


def test_a_combination_within_its_ratings(said):
    # By hand: 8,260 + 200 driver + 200 payload + 17,600 = 26,260 lb, rated 31,500; tongue 20 % of
    # 17,600 lb = 3,520 lb.
    found = said()
    assert set(found) == {"trailer-brakes", "hitch-rating", "descent"}
    assert "17,600 lb (7,983 kg)" in found["trailer-brakes"]
    assert "3,520 lb (1,597 kg) on the hitch" in found["hitch-rating"]


def test_a_combination_over_its_combined_rating(said):
    # By hand: 8,660 lb + 24,400 lb = 33,060 lb against 31,500 lb.
    found = said(trailer="towing/logs-too-many")
    assert "33,060 lb (14,996 kg)" in found["combined-rating"]
    assert "combined rating of 31,500 lb" in found["combined-rating"]
    assert "label" in found["combined-rating"]


def test_a_vehicle_whose_combined_rating_is_not_known(said):
    found = said(vehicle="demo/drumlin")
    assert "knows no combined rating" in found["combined-rating"]


def test_a_vehicle_over_its_gross_rating(said):
    # By hand: 8,260 + 200 driver + 3,000 payload + 3,520 on the hitch = 14,980 lb against 14,300.
    found = said(load={"payload": "3000 lb"})
    assert "14,980 lb (6,795 kg)" in found["gross-rating"]


@pytest.mark.parametrize(
    ("share", "words"),
    [("7 %", "may sway"), ("28 %", "front axle"), ("12 %", ""), ("10 %", ""), ("25 %", "")],
)
def test_the_share_on_the_hitch(said, share, words):
    # Common practice, no source.
    trailer = {
        "mass": "5800 lb",
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
            ("valley road back empty", "pass with timber", "valley road with timber"),
            pick.leg_metrics["towing_engine_braking_grade"],
            strict=True,
        )
    )
    worst = min(("pass with timber", "valley road with timber"), key=lambda leg: legs[leg])
    assert f"leg '{worst}'" in said()["descent"]
    assert f"{legs[worst]:.1%}".replace("%", " %") in said()["descent"]
