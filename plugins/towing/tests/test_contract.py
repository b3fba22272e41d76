"""The plugin keeps the contract of hooks, with a job that tows and one that does not."""

from __future__ import annotations

import gearrec_towing

from gearrec.metrics import BUILT_IN
from gearrec.testing import check_cases

TOWING = {
    "title": "Logs over Gorrow Pass (invented)",
    "vehicle": "towing/sledge-dual",
    "trailer": "towing/logs",
    "use": "demo/timber-runs",
    "rule_set": "towing/heavy-towing",
}
PLAIN = {"title": "No trailer (invented)", "vehicle": "demo/skep"}


def test_the_plugin_keeps_the_contract(check_plugin):
    check_plugin(gearrec_towing, jobs=[TOWING, PLAIN])


def test_cases_come_out_as_they_say():
    check_cases(gearrec_towing)


def test_metrics_carry_the_plugins_prefix_and_a_source():
    names = [metric.name for metric in gearrec_towing.METRICS]
    assert len(names) == 9
    assert all(name.startswith("towing_") for name in names)
    assert not {metric.name for metric in BUILT_IN} & set(names)
    assert all(metric.source and metric.definition for metric in gearrec_towing.METRICS)
