"""The plugin keeps the contract of hooks, with jobs in its own units and one of another catalog."""

from __future__ import annotations

import gearrec_metric_market

PICKUP = {
    "title": "A caravan over Gorrow Pass (invented)",
    "vehicle": "metric-market/rake",
    "trailer": "metric-market/caravan",
    "use": "metric-market/over-the-pass",
    "rule_set": "metric-market/default",
    "reported": {"fuel_use": "10.6 L/100km", "engine_speed": "1740 rpm", "road_speed": "90 km/h"},
}
OTHER = {"title": "Not of this catalog (invented)", "vehicle": "demo/sprig"}


def test_the_plugin_keeps_the_contract(check_plugin):
    check_plugin(gearrec_metric_market, jobs=[PICKUP, OTHER])


def test_other_jobs_are_judged_as_without_it(market_advisor):
    from gearrec import Advisor

    alone = Advisor(plugins=(), cache="off").advise(OTHER)
    beside = market_advisor.advise(OTHER | {"rule_set": "core/default"})
    assert beside.to_json() == alone.to_json().replace(
        '"rule_set":null', '"rule_set":"core/default"'
    )
