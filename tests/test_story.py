"""The owner's report against the model."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

import gearrec
from gearrec import story_sentences

if TYPE_CHECKING:
    from gearrec.story import Story

TRUCK = "demo/fell"
# By hand: 55 mph on a 235/70R16 (735.4 mm x 3.05 a turn) x 0.68 in seventh x 47/14 = 1,501 rpm.
READ = {"engine_speed": "1500 rpm", "road_speed": "55 mph"}


@pytest.fixture(scope="module")
def advisor() -> gearrec.Advisor:
    return gearrec.Advisor(plugins=())


def _story(advisor: gearrec.Advisor, reported: dict[str, Any], **job: Any) -> Story:
    return advisor.advise({"vehicle": TRUCK, "reported": reported, **job}).story


def _kinds(story: Story) -> list[str]:
    assert story.engine_speed is not None
    return [item.kind for item in story.engine_speed.explanations]


def test_nothing_reported_says_nothing(advisor: gearrec.Advisor) -> None:
    story = _story(advisor, {})
    assert story.agrees is None
    assert story.engine_speed is None
    assert story.fuel is None
    assert story_sentences.sentences(story, "us") == ()


def test_a_reading_that_fits_agrees(advisor: gearrec.Advisor) -> None:
    story = _story(advisor, READ)
    assert story.agrees is True
    check = story.engine_speed
    assert check is not None
    assert check.gear == 7
    assert not check.gear_named
    assert check.explanations == ()
    assert "The two agree" in story_sentences.sentences(story, "us")[0]


def test_the_expected_engine_speed_is_plain_gearing(advisor: gearrec.Advisor) -> None:
    """n = 60 v / C x gear x axle, C = 3.05 x (16 x 25.4 mm + 2 x 0.70 x 235 mm): geometry."""
    story = _story(advisor, READ)
    assert story.engine_speed is not None
    circumference = 3.05 * (16 * 0.0254 + 2 * 0.70 * 0.235)
    speed = 55.0 * 1609.344 / 3600.0
    by_hand = 60.0 * speed / circumference * 0.68 * 47 / 14
    assert story.engine_speed.expected_rpm == pytest.approx(by_hand, rel=1e-6)
    assert story.engine_speed.deviation == pytest.approx(1500.0 / by_hand - 1.0)
    assert story.engine_speed.implied_ratio == pytest.approx(1500.0 / by_hand * 47 / 14)


def test_another_ratio_is_found_out(advisor: gearrec.Advisor) -> None:
    """1,501 x (50/13) / (47/14) = 1,720 rpm: gearing, by hand."""
    story = _story(advisor, READ | {"engine_speed": "1720 rpm"})
    assert story.agrees is False
    assert story.engine_speed is not None
    (found,) = (item for item in story.engine_speed.explanations if item.kind == "other-ratio")
    assert found.axle_ratio == pytest.approx(50 / 13)
    said = story_sentences.sentences(story, "us")
    assert any("the axle holds 3.85 gears" in text for text in said)
    assert any("Count the teeth" in text for text in said)


def test_another_gear_is_found_out(advisor: gearrec.Advisor) -> None:
    """Sixth gear 0.81 against seventh 0.68: 1,501 x 0.81 / 0.68 = 1,788 rpm."""
    story = _story(advisor, READ | {"engine_speed": "1790 rpm"})
    assert story.engine_speed is not None
    (found,) = (item for item in story.engine_speed.explanations if item.kind == "other-gear")
    assert found.gear == 6
    named = _story(advisor, READ | {"engine_speed": "1790 rpm", "gear": 6})
    assert named.agrees is True
    assert named.engine_speed is not None
    assert named.engine_speed.gear_named


def test_a_gear_that_the_gearbox_lacks_is_refused(advisor: gearrec.Advisor) -> None:
    with pytest.raises(gearrec.JobError, match=r"reported\.gear: there is no gear 9.*1 to 7"):
        _story(advisor, READ | {"gear": 9})


def test_an_open_converter_is_found_out(advisor: gearrec.Advisor) -> None:
    """Slip of 3 to 8 % at cruise: from memory."""
    story = _story(advisor, READ | {"engine_speed": "1600 rpm"})
    assert story.agrees is False
    assert "converter-unlocked" in _kinds(story)
    manual = _story(advisor, {"engine_speed": "2600 rpm", "road_speed": "55 mph"})
    assert "converter-unlocked" not in _kinds(manual)


def test_no_converter_no_slip(advisor: gearrec.Advisor) -> None:
    vehicle = "demo/sprig"
    base = advisor.advise({"vehicle": vehicle, "reported": READ}).story.engine_speed
    assert base is not None
    slipped = f"{base.expected_rpm * 1.06:.0f} rpm"
    story = advisor.advise({"vehicle": vehicle, "reported": READ | {"engine_speed": slipped}}).story
    assert story.agrees is False
    assert "converter-unlocked" not in _kinds(story)


TALLER: dict[str, Any] = {"now": "LT255/85R16 123/120Q E"}


def test_a_speedometer_that_was_not_set_is_found_out(advisor: gearrec.Advisor) -> None:
    """shown = true x C_factory / C_fitted: gearing; then the engine turns as on factory tires."""
    story = _story(advisor, READ, tires=TALLER)
    factory = 16 * 25.4 + 2 * 0.70 * 235
    fitted = 16 * 25.4 + 2 * 0.85 * 255
    assert story.speedometer_error == pytest.approx(factory / fitted - 1.0)
    assert story.agrees is False
    assert "speedometer-not-set" in _kinds(story)
    assert "other-tires" in _kinds(story)
    said = " ".join(story_sentences.sentences(story, "metric"))
    assert "too little, unless it was reset" in said
    assert "was never set to these tires" in said


def test_a_speedometer_known_to_be_off_is_corrected(advisor: gearrec.Advisor) -> None:
    story = _story(advisor, READ, tires=TALLER | {"speedometer_set": False})
    assert story.agrees is True
    check = story.engine_speed
    assert check is not None
    shown = 55.0 * 1609.344 / 3600.0
    assert check.at_mps == pytest.approx(shown / (1.0 + story.speedometer_error))
    by_satellite = _story(
        advisor,
        READ | {"road_speed_by": "satellite"},
        tires=TALLER | {"speedometer_set": False},
    )
    assert by_satellite.engine_speed is not None
    assert by_satellite.engine_speed.at_mps == pytest.approx(shown)
    assert "speedometer-not-set" not in _kinds(by_satellite)


def test_no_simple_cause_is_said_so(advisor: gearrec.Advisor) -> None:
    story = _story(advisor, READ | {"engine_speed": "9000 rpm"})
    assert _kinds(story) == []
    assert any("No simple cause" in text for text in story_sentences.sentences(story, "us"))


def test_a_fuel_claim_stands_beside_the_model_and_changes_nothing(
    advisor: gearrec.Advisor,
) -> None:
    plain = advisor.advise({"vehicle": TRUCK})
    claim = advisor.advise({"vehicle": TRUCK, "reported": {"fuel_use": "60 mpg (US)"}})
    assert claim.pick is not None
    assert plain.pick is not None
    assert claim.pick.metrics == plain.pick.metrics
    check = claim.story.fuel
    assert check is not None
    assert check.agrees is False
    assert check.deviation < 0.0
    assert check.model.low < check.model.mid < check.model.high
    said = " ".join(story_sentences.sentences(claim.story, "us"))
    assert "60.0 mpg (US)" in said
    assert "thriftier" in said
    assert "changes none of its figures" in said


def test_a_claim_within_the_range_agrees(advisor: gearrec.Advisor) -> None:
    model = advisor.advise({"vehicle": TRUCK, "reported": {"fuel_use": "60 mpg (US)"}}).story.fuel
    assert model is not None
    story = _story(advisor, {"fuel_use": f"{model.model.mid:.2f} L/100km"})
    assert story.fuel is not None
    assert story.fuel.agrees is True
    assert story.fuel.deviation == 0.0
    thirsty = _story(advisor, {"fuel_use": f"{model.model.high * 1.5:.2f} L/100km"})
    assert thirsty.fuel is not None
    assert thirsty.fuel.agrees is False
    assert thirsty.fuel.deviation == pytest.approx(0.5, abs=0.01)


def test_a_towing_claim_is_held_against_the_towing_legs(advisor: gearrec.Advisor) -> None:
    job: dict[str, Any] = {"use": "core/some-towing", "trailer": "demo/horses"}
    towed = _story(advisor, {"fuel_use": "17 mpg (US)", "towing": True}, **job).fuel
    light = _story(advisor, {"fuel_use": "17 mpg (US)"}, **job).fuel
    assert towed is not None
    assert light is not None
    assert towed.model.mid > light.model.mid
    none = _story(advisor, {"fuel_use": "17 mpg (US)", "towing": True})
    assert none.fuel is not None
    assert none.fuel.agrees is None
    assert none.agrees is None
    assert any("no leg with trailer" in text for text in story_sentences.sentences(none, "us"))


def test_an_odometer_known_to_be_off_corrects_the_claim(advisor: gearrec.Advisor) -> None:
    """true L/100km = shown x shown distance / true distance = shown x (1 + error)."""
    story = _story(advisor, {"fuel_use": "10 L/100km"}, tires=TALLER | {"speedometer_set": False})
    assert story.fuel is not None
    assert story.fuel.corrected == pytest.approx(10.0 * (1.0 + story.speedometer_error))
    unknown = _story(advisor, {"fuel_use": "10 L/100km"}, tires=TALLER)
    assert unknown.fuel is not None
    assert unknown.fuel.corrected == 10.0
