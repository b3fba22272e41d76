"""The rule set builds on the default one: what it replaces, drops and weighs otherwise."""

from __future__ import annotations

import pytest

from gearrec import attributes, metrics
from gearrec.catalog import rule_sets
from gearrec.rule_examples import check_examples, work_example

REPLACED = {
    "core/cruise-engine-speed": "metric-market/cruise-engine-speed",
    "core/passing-time": "metric-market/passing-time",
    "core/top-gear-grade": "metric-market/top-gear-grade",
    "core/climb-speed-towing": "metric-market/climb-speed-towing",
    "core/launch-towing-standard": "metric-market/start-with-trailer",
}


@pytest.fixture(scope="module")
def members(market_advisor):
    catalog = market_advisor.catalog

    def of(name):
        found = rule_sets.members(
            name,
            rule_sets=dict(catalog.records("rule-set")),
            rules=dict(catalog.records("rule")),
        )
        return {rule.id: factor for rule, factor in found}

    return of


@pytest.fixture(scope="module")
def own_rules(market_advisor):
    records = market_advisor.catalog.records("rule")
    return {name: rule for name, rule in records.items() if name.startswith("metric-market/")}


def test_only_what_it_names_differs_from_the_default_rules(members):
    here, default = members("metric-market/default"), members("core/default")
    assert set(default) - set(here) == {*REPLACED, "core/acceleration-towing"}
    assert set(here) - set(default) == set(REPLACED.values())
    assert here["core/fuel-economy"] == 1.5
    same = (set(here) & set(default)) - {"core/fuel-economy"}
    assert {name: here[name] for name in same} == {name: default[name] for name in same}


def test_a_replaced_rule_keeps_what_it_does_not_say_itself(market_advisor, own_rules):
    for old, new in REPLACED.items():
        mine, core = own_rules[new], market_advisor.catalog.get("rule", old)
        assert mine.shape != core.shape or mine.verdict != core.verdict
        if mine.extends:
            assert (mine.metric, mine.weight, mine.when) == (core.metric, core.weight, core.when)


def test_every_example_comes_out_as_its_rule_says(market_advisor, own_rules):
    assert set(own_rules) == set(REPLACED.values())
    problems = check_examples(
        list(own_rules.values()),
        metrics=metrics.by_name(market_advisor.metrics),
        attributes=attributes.built_in(),
    )
    assert problems == ()


@pytest.mark.parametrize(
    ("value", "score"),
    [
        # By hand, band 1250, 1650 to 2500, 3100 rpm: linear between.
        ("1250 rpm", 0.0),
        ("1450 rpm", 0.5),
        ("1650 rpm", 1.0),
        ("2500 rpm", 1.0),
        ("2800 rpm", 0.5),
        ("3100 rpm", 0.0),
    ],
)
def test_the_cruise_band_is_that_of_the_market(market_advisor, own_rules, value, score):
    rule = own_rules["metric-market/cruise-engine-speed"]
    given = rule.example.attributes | {"goal_economy": "0 %"}
    example = rule.example.model_copy(update={"value": value, "attributes": given})
    made = work_example(
        rule.model_copy(update={"example": example}),
        metrics=metrics.by_name(market_advisor.metrics),
        attributes=attributes.built_in(),
    )
    assert made.trace.score == pytest.approx(score)
