"""The rule set: its limits on both sides of the standard's figures, and what it leaves alone."""

from __future__ import annotations

from itertools import product

import pytest

from gearrec import attributes, metrics
from gearrec.rule_examples import check_examples, work_example

# REFERENCES: SAE J2807 for single, dual, and dual rear wheels above 13,000 lb. Quoted by a second
# source; the last figure of 0-60, 40-60 and the climb from memory.
STANDARD = {
    "acceleration-30": ("s", (12.0, 14.0, 16.0)),
    "acceleration-60": ("s", (30.0, 35.0, 40.0)),
    "passing": ("s", (18.0, 21.0, 24.0)),
    "climb": ("mph", (40.0, 35.0, 30.0)),
}
TRUCKS = ((False, "11750 lb"), (True, "12400 lb"), (True, "14300 lb"))


@pytest.fixture(scope="module")
def rules(towing_advisor):
    catalog = towing_advisor.catalog
    return {
        name: catalog.get("rule", name)
        for name in catalog.ids("rule")
        if name.startswith("towing/")
    }


@pytest.fixture(scope="module")
def work(towing_advisor, rules):
    by_name = metrics.by_name(towing_advisor.metrics)

    def worked(name, **example):
        rule = rules[f"towing/{name}"]
        changed = rule.model_copy(update={"example": rule.example.model_copy(update=example)})
        made = work_example(changed, metrics=by_name, attributes=attributes.built_in())
        return made.trace

    return worked


def test_every_example_comes_out_as_its_rule_says(towing_advisor, rules):
    assert len(rules) == 14
    problems = check_examples(
        list(rules.values()),
        metrics=metrics.by_name(towing_advisor.metrics),
        attributes=attributes.built_in(),
    )
    assert problems == ()


@pytest.mark.parametrize(("name", "truck"), list(product(STANDARD, range(3))))
def test_limits_are_those_of_the_standard(work, name, truck):
    unit, figures = STANDARD[name]
    dual, gross = TRUCKS[truck]
    rule, other = f"{name}-standard", f"{name}-heavy"
    if truck == 2:
        rule, other = other, rule
    given = {"use_towing": "40 %", "dual_rear_wheels": dual, "gross_rating": gross}
    kept, broken = (0.01, -0.01) if unit == "mph" else (-0.01, 0.01)
    for change, passes in ((kept, True), (broken, False)):
        value = f"{figures[truck] + change} {unit}"
        assert work(rule, value=value, attributes=given).passed is passes
        assert work(other, value=value, attributes=given).state == "does-not-apply"


@pytest.mark.parametrize("name", ["start-forward", "start-reverse"])
def test_starts_on_twelve_percent(work, name):
    # SAE J2807, quoted by a second source.
    given = {"use_towing": "10 %"}
    assert work(name, value="12 %", attributes=given).passed
    assert work(name, value="11.99 %", attributes=given).passed is False
    assert work(name, value="5 %", attributes={"use_towing": "0 %"}).state == "does-not-apply"


def test_each_truck_is_asked_for_the_grade_at_its_own_climbing_speed(work):
    names = ("grade-single", "grade-dual", "grade-dual-heavy")
    for (dual, gross), wanted in zip(TRUCKS, names, strict=True):
        given = {
            "use_towing": "40 %",
            "use_climbing": "0 %",
            "dual_rear_wheels": dual,
            "gross_rating": gross,
        }
        states = {name: work(name, value="6 %", attributes=given).state for name in names}
        assert [name for name in names if states[name] != "does-not-apply"] == [wanted]


def test_a_job_without_a_trailer_is_judged_as_by_the_default_rules(towing_advisor):
    job = {"vehicle": "demo/drumlin", "use": "demo/plain"}
    here = towing_advisor.advise(job)
    default = towing_advisor.advise(job | {"rule_set": "core/default"})
    assert here.rule_set == "towing/heavy-towing"
    assert default.rule_set == "core/default"
    assert [one.name for one in here.candidates] == [one.name for one in default.candidates]
    scores = [one.score for one in default.candidates]
    assert [one.score for one in here.candidates] == pytest.approx(scores, rel=1e-12)


def test_metrics_show_in_trace_report_and_document(towing_advisor):
    advice = towing_advisor.advise(
        {
            "vehicle": "towing/sledge",
            "trailer": "towing/digger",
            "use": "demo/river-trips",
        }
    )
    line = advice.trace("towing/start-forward")[0]
    assert line.trace.passed
    assert "12.0 %" in line.sentence
    assert '"towing_startability"' in advice.to_json()
    assert "the engine alone holds" in advice.text()
