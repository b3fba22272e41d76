"""Sentences of rules, cautions, and what is said of assumptions."""

from __future__ import annotations

import math
import re
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

import gearrec
from gearrec import wording
from gearrec.candidates import Candidate
from gearrec.extension import Caution
from gearrec.hooks import hookimpl
from gearrec.rule_trace import RuleTrace
from gearrec.vehicles import Assumption

JOB: dict[str, Any] = {
    "vehicle": "demo/fell",
    "tires": {"planned": "LT215/85R16 115/112Q E"},
    "trailer": "demo/horses",
    "use": "core/some-towing",
}
TALL = Candidate(ratio=50 / 13, ring_teeth=50, pinion_teeth=13)


@pytest.fixture(scope="module")
def advisor() -> gearrec.Advisor:
    return gearrec.Advisor(plugins=())


@pytest.fixture(scope="module")
def advice(advisor: gearrec.Advisor) -> gearrec.Advice:
    return advisor.advise(JOB)


def _rule(advisor: gearrec.Advisor, name: str) -> Any:
    return advisor.catalog.get("rule", name)


def _sentence(trace: RuleTrace, system: Any = "us", **changes: Any) -> str:
    given: dict[str, Any] = {
        "candidate": TALL,
        "legs": ("highway", "hills"),
        "factory_ratio": 47 / 14,
        "units_of": {"shift_rate": "1/100 km"},
        "system": system,
    }
    return wording.rule_sentence(trace, **(given | changes))


def test_placeholders_are_filled_in_the_units_asked_for(advisor: gearrec.Advisor) -> None:
    """25 m/s is 55.9 mph and 90 km/h: the mile of 1609.344 m (international yard and pound)."""
    trace = RuleTrace(
        rule=_rule(advisor, "core/climb-speed-towing"),
        dimension="speed",
        state="known",
        value=25.0,
        edges=(8.94, 17.88, None, None),
        score=1.0,
    )
    assert "at 56 mph" in _sentence(trace)
    assert "at 90 km/h" in _sentence(trace, "metric")
    assert _sentence(trace).startswith("With 3.85 ")


def test_the_deciding_leg_is_named_or_the_average(advisor: gearrec.Advisor) -> None:
    fields: dict[str, Any] = {
        "rule": _rule(advisor, "core/top-gear-grade"),
        "dimension": "grade",
        "state": "known",
        "value": 0.04,
        "edges": (0.0, 0.03, None, None),
        "score": 1.0,
    }
    assert "(hills)" in _sentence(RuleTrace(**fields, leg=1))
    assert f"({wording.ON_AVERAGE})" in _sentence(RuleTrace(**fields))


def test_a_direction_is_written_with_its_sign(advisor: gearrec.Advisor) -> None:
    fields: dict[str, Any] = {"dimension": "share", "state": "known", "score": 0.1}
    change = _rule(advisor, "core/gearing-change")
    edges = (-0.1, 0.15, 0.16, 0.4)
    more = RuleTrace(rule=change, value=0.25, edges=edges, **fields)
    less = RuleTrace(rule=change, value=-0.05, edges=edges, **fields)
    assert "+25.0 %" in _sentence(more)
    assert "about +16.0 %" in _sentence(more)
    assert "-5.0 %" in _sentence(less)
    plain = RuleTrace(
        rule=_rule(advisor, "core/fuel-economy"), value=0.05, edges=(None,) * 4, **fields
    )
    assert "+" not in _sentence(plain)


def test_a_metric_without_dimension_gives_the_bare_number(advisor: gearrec.Advisor) -> None:
    rule = _rule(advisor, "core/shift-rate")
    trace = RuleTrace(rule=rule, dimension="", state="known", value=42.4, score=0.9)
    assert "about 42 times in 100 km" in _sentence(trace)


@pytest.mark.parametrize(
    ("name", "fields", "words"),
    [
        ("core/lug-share", {"state": "unknown", "reason": "no map"}, "unknown, no map."),
        ("core/lug-share", {"state": "does-not-apply", "reason": "no leg"}, "does not apply"),
        ("core/tire-load-limit", {"state": "known", "passed": True}, "Tire load: kept."),
        (
            "core/tire-load-limit",
            {"state": "known", "passed": True, "value": 0.5, "limit": 1.0},
            "kept, at 50.0 % against 100.0 %",
        ),
        ("core/tire-load-margin", {"state": "known", "fired": False}, "nothing to warn of"),
    ],
)
def test_rules_that_have_nothing_to_say_are_reported_with_their_title(
    advisor: gearrec.Advisor, name: str, fields: dict[str, Any], words: str
) -> None:
    rule = _rule(advisor, name)
    sentence = _sentence(RuleTrace(rule=rule, dimension="share", **fields))
    assert sentence.startswith(rule.title)
    assert words in sentence


def test_no_sentence_of_a_real_advice_has_a_placeholder_left(advice: gearrec.Advice) -> None:
    for system in ("us", "metric"):
        for item in advice.candidates:
            for line in advice.traced(item.axle_ratio, system):  # type: ignore[arg-type]
                assert not set("{}") & set(line.sentence)
                assert "nan" not in line.sentence
                assert line.sentence.endswith((".", "!", "?"))


def test_every_advice_carries_the_standing_cautions(advice: gearrec.Advice) -> None:
    """Six of them: hurt, estimate and ratings, tow rating, front and rear, speedometer, license."""
    said = advice.cautions()
    assert said[-6:] == wording.STANDING_CAUTIONS
    assert len(set(said)) == len(said)
    words = ("hurt", "estimate", "tow", "front", "speedometer", "license")
    for caution, word in zip(wording.STANDING_CAUTIONS, words, strict=True):
        assert word in caution


def test_cautions_of_the_rules_are_those_about_the_pick(toy_rules: Path) -> None:
    advisor = gearrec.Advisor([toy_rules], plugins=())
    advice = advisor.advise(JOB | {"rule_set": "toy/deeper-wins"})
    assert advice.pick is not None
    assert advice.pick.axle_ratio > advice.fitted.axle_ratio
    fired = {line.sentence for line in advice.traces[advice.pick.axle_ratio] if line.trace.fired}
    assert fired
    assert fired <= set(advice.cautions())
    assert not {text for text in advice.cautions() if f"With {advice.fitted.name} " in text}


def test_rules_ask_for_nothing_that_the_standing_cautions_ask_for(
    advisor: gearrec.Advisor,
) -> None:
    towing = {"trailer": "demo/horses", "use": "core/some-towing"}
    advice = advisor.advise({"vehicle": "demo/fell", "tires": {"planned": "LT215/85R16"}, **towing})
    said = [text for text in advice.cautions() if text not in wording.STANDING_CAUTIONS]
    assert {"speedometer", "labels"} <= set(re.findall(r"speedometer|labels", " ".join(said)))
    for words in ("[Rr]ecalibrate the|[Hh]ave it recalibrated", r"\brating\b|\brated\b"):
        assert not [text for text in said if re.search(words, text)]


def test_without_a_pick_the_fitted_ratio_is_warned_about(advisor: gearrec.Advisor) -> None:
    # Load index 79 is 437 kg: ISO 4000-1 table; two of them do not carry this truck's axle.
    advice = advisor.advise({"vehicle": "demo/stile", "tires": {"planned": "155/80R13 79S"}})
    assert advice.pick is None
    fitted = advice.fitted.axle_ratio
    fired = {line.sentence for line in advice.traces[fitted] if line.trace.fired}
    assert fired
    assert fired <= set(advice.cautions())
    assert "None of the ratios" in advice.sentences()[0]


def test_cautions_of_plugins_stand_between() -> None:
    note = Caution(name="shop/tag", sentence="Look at the axle tag.", source="invented")

    def gearrec_cautions(job: object) -> list[Caution]:
        return [note]

    shop = SimpleNamespace(GEARREC_HOOK_API=1, gearrec_cautions=hookimpl(gearrec_cautions))
    advisor = gearrec.Advisor(plugins=(), extra={"shop": shop}, strict=True)
    said = advisor.advise(JOB).cautions()
    assert said.index(note.sentence) == len(said) - 7


@pytest.mark.parametrize(
    ("assumption", "us", "metric"),
    [
        # 200 lb is 90.718474 kg exactly: international avoirdupois pound.
        (
            Assumption("payload", 90.718474, "mass", "one passenger"),
            "payload: 200 lb (one passenger)",
            "payload: 91 kg (one passenger)",
        ),
        (
            Assumption("automatic.direct", 0.98, "share"),
            "efficiency of the automatic in direct gear: 98.0 %",
            "efficiency of the automatic in direct gear: 98.0 %",
        ),
        (
            Assumption("tire_type", math.nan, "text", "All-terrain tread"),
            "kind of tire: All-terrain tread",
            "kind of tire: All-terrain tread",
        ),
        (
            Assumption("shop.new_thing", 2.0, "time"),
            "shop: new thing: 2.0 s",
            "shop: new thing: 2.0 s",
        ),
    ],
)
def test_assumptions_read_as_words(assumption: Assumption, us: str, metric: str) -> None:
    assert wording.assumption_text(assumption, "us") == us
    assert wording.assumption_text(assumption, "metric") == metric


def test_lists_read_as_people_write_them() -> None:
    assert wording.listed([]) == ""
    assert wording.listed(["3.36"]) == "3.36"
    assert wording.listed(["3.36", "3.62", "3.85"]) == "3.36, 3.62 and 3.85"
