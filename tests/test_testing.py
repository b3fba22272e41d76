"""The kit for authors of plugins: good plugins pass, and each check finds what it is for."""

from __future__ import annotations

import ast
import importlib.metadata
import itertools
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from gearrec import lanes as lane_arrays
from gearrec import plugins, testing
from gearrec.candidates import Candidate
from gearrec.errors import CatalogError, PluginError
from gearrec.extension import CandidateRemoval, CatalogFolder, Caution, JobMetrics
from gearrec.hooks import hookimpl
from gearrec.metrics import Metric
from gearrec.testing import check_plugin  # noqa: F401 - a fixture


def plugin(**functions):
    marked = {name: hookimpl(function) for name, function in functions.items()}
    return SimpleNamespace(GEARREC_HOOK_API=1, **marked)


def metric(compute, *, per_leg=False):
    return Metric(
        name="shop_number",
        dimension="",
        unit="1",
        definition="an invented number",
        source="invented",
        compute=compute,
        per_leg=per_leg,
    )


def with_metric(compute, *, per_leg=False):
    record = metric(compute, per_leg=per_leg)
    return plugin(gearrec_metrics=lambda: [record])


@pytest.fixture
def small_advisor(monkeypatch):
    """In place of the advisor: calls the hooks in their order and shows what they answer."""

    class Small:
        def __init__(self, extra):
            self.plugins = plugins.load(allow=(), extra=extra, strict=True, environment={})

        def advise(self, job):
            session = self.plugins.session()
            ratios = (3.36, 3.85)
            found = [
                session.call(
                    "gearrec_candidates",
                    job=job,
                    candidates=tuple(Candidate(ratio=ratio) for ratio in ratios),
                ),
                session.call(
                    "gearrec_preferences",
                    job=job,
                    evaluation=JobMetrics(axle_ratios=ratios, metrics={}, leg_metrics={}),
                ),
                session.call("gearrec_cautions", job=job, advice="advice"),
                session.call("gearrec_report_sections", job=job, advice="advice"),
            ]
            return SimpleNamespace(to_json=lambda: repr(found))

    monkeypatch.setattr(testing, "_advisor", Small)
    return Small


JOB = {"title": "an invented job"}


def test_sample_lanes_keep_the_contract_of_lanes_and_differ():
    lanes = testing.sample_lanes(size=4)
    assert lane_arrays.validate(lanes) == ()
    assert lanes.size == 4
    assert len(set(lanes.mass_kg[0])) == 4
    assert np.isnan(lanes.driveshaft_critical_rpm).tolist() == [False, False, False, True]
    again = testing.sample_lanes(size=4)
    np.testing.assert_array_equal(lanes.torque_nm, again.torque_nm)
    assert not np.array_equal(lanes.torque_nm, testing.sample_lanes(size=4, seed=2).torque_nm)


def test_check_hooks_raises_with_the_fault():
    with pytest.raises(PluginError, match="did you mean 'gearrec_cautions'"):
        testing.check_hooks(plugin(gearrec_caution=lambda: None))
    loaded = testing.check_hooks(plugin(gearrec_cautions=lambda: None), name="shop")
    assert loaded.names == ("builtin", "shop")


def test_a_vectorised_metric_passes():
    testing.check_metrics_vectorised(with_metric(lambda at: at.lanes.axle_ratio * 2.0))
    testing.check_metrics_vectorised(
        with_metric(lambda at: at.lanes.axle_ratio[:, None] * at.lanes.leg_speed_mps, per_leg=True)
    )
    testing.check_metrics_vectorised(with_metric(lambda at: 1.0 / at.lanes.driveshaft_critical_rpm))
    testing.check_metrics_vectorised(plugin(gearrec_cautions=lambda: None))


def test_a_metric_that_mixes_lanes_is_found():
    mixing = with_metric(lambda at: at.lanes.axle_ratio / at.lanes.mass_kg.mean())
    with pytest.raises(AssertionError, match="'shop_number' gives lane 0 other numbers"):
        testing.check_metrics_vectorised(mixing)


def test_a_metric_that_writes_into_its_input_is_found():
    def writing(at):
        at.lanes.axle_ratio[...] *= 2.0
        return at.lanes.axle_ratio * 1.0

    with pytest.raises(AssertionError, match="changes the array 'axle_ratio'"):
        testing.check_metrics_vectorised(with_metric(writing))


def test_a_metric_for_one_vehicle_only_is_found():
    with pytest.raises(PluginError, match="expected numbers of 'shop_number'"):
        testing.check_metrics_vectorised(with_metric(lambda at: float(at.lanes.mass_kg)))


def test_a_pure_plugin_passes(small_advisor):
    pure = plugin(
        gearrec_candidates=lambda candidates: [
            CandidateRemoval(candidates[0].ratio, "Out of production.", "invented")
        ],
        gearrec_cautions=lambda job: [Caution("shop/title", job["title"], "invented")],
    )
    testing.check_pure(pure, jobs=[JOB])
    testing.check_order_free(pure, jobs=[JOB])


def test_a_plugin_that_counts_its_calls_is_not_pure(small_advisor):
    numbers = itertools.count()
    counting = plugin(
        gearrec_cautions=lambda: [Caution("shop/call", f"Call {next(numbers)}.", "invented")]
    )
    with pytest.raises(AssertionError, match="an invented job: gearrec_cautions answers diff"):
        testing.check_pure(counting, jobs=[JOB])


def test_a_plugin_that_makes_new_metrics_at_each_call_is_not_pure(small_advisor):
    fresh = plugin(gearrec_metrics=lambda: [metric(lambda at: at.lanes.axle_ratio)])
    with pytest.raises(AssertionError, match="gearrec_metrics answers differently"):
        testing.check_pure(fresh, jobs=[])


def test_a_plugin_that_changes_the_job_is_not_pure(small_advisor):
    changing = plugin(gearrec_cautions=lambda job: job.update(title="mine"))
    with pytest.raises(AssertionError, match="gearrec_cautions changes what it is given"):
        testing.check_pure(changing, jobs=[dict(JOB)])


def test_a_plugin_that_looks_at_what_others_left_behind_is_not_order_free(
    small_advisor, monkeypatch
):
    present = testing._Companion.gearrec_cautions
    left_behind = []

    @hookimpl
    def leaving(self, job, advice):
        left_behind.append(job)
        return present(self, job, advice)

    monkeypatch.setattr(testing._Companion, "gearrec_cautions", leaving)

    def looking():
        first = not left_behind
        left_behind.clear()
        return [Caution("shop/first", f"First: {first}.", "invented")]

    with pytest.raises(AssertionError, match="depends on the order"):
        testing.check_order_free(plugin(gearrec_cautions=looking), jobs=[JOB])


def test_the_fixture_runs_every_check(check_plugin, small_advisor, monkeypatch):  # noqa: F811
    ran = []
    names = [name for name in vars(testing) if name.startswith("check_") and name != "check_plugin"]
    for name in names:
        monkeypatch.setattr(testing, name, lambda *_, name=name, **__: ran.append(name))
    check_plugin(plugin(gearrec_cautions=lambda: None), jobs=[JOB])
    assert sorted(ran) == sorted(names)
    assert len(names) == 6


SHOP = {
    "catalog.yaml": """\
kind: catalog
format: 1
namespace: shop
title: Invented shop
about: Invented for a test.
version: "1.0"
source: {kind: invented, citation: invented for a test, confidence: low}
""",
    "trailer.yaml": """\
kind: trailer
format: 1
records:
  - id: shop/cart
    title: Cart
    mass: "2000 lb"
    drag_area: "0.5 m^2"
    rolling_coefficient: 0.01
    tongue_share: "12 %"
""",
    "rule.yaml": """\
kind: rule
format: 1
records:
  - id: shop/growth
    title: Growth
    since: "0.1.0"
    verdict: limit
    metric: tire_growth
    shape: {at_most: {limit: "20 %"}}
    what: Rules out tires that are far too tall.
    why: Invented for a test.
    when_to_doubt: Always.
    example: {words: Tires ten percent taller., value: "10 %", expect: {passes: true}}
    says: {limit: "The tires grow by {value}."}
""",
    "rule-set.yaml": """\
kind: rule-set
format: 1
records:
  - id: shop/strict
    title: Strict
    purpose: For a test.
    extends: core/default
    add: [shop/growth]
""",
    "case.yaml": """\
kind: case
format: 1
records:
  - id: shop/taller
    title: Taller tires
    why: The tires stay as they are.
    job:
      vehicle: demo/skep
      trailer: shop/cart
      use: core/some-towing
      rule_set: shop/strict
    expect: {metrics: [{metric: tire_growth, value: "0 %", tolerance: "0.1 %"}]}
""",
}
SHOP_JOB = {
    "title": "a cart (invented)",
    "vehicle": "demo/skep",
    "trailer": "shop/cart",
    "use": "core/some-towing",
    "rule_set": "shop/strict",
}


@pytest.fixture
def shop(tmp_path):
    """A plugin with a catalog of its own, some of whose text may be changed."""

    def made(name="", old="", new=""):
        for file, text in SHOP.items():
            assert name != file or text.count(old) == 1
            (tmp_path / file).write_text(text.replace(old, new) if name == file else text)
        return plugin(
            gearrec_catalogs=lambda: [CatalogFolder("shop", tmp_path)],
            gearrec_cautions=lambda job: [
                Caution("shop/cart", f"The cart weighs {job.trailer.mass:.0f} kg.", "invented")
            ],
        )

    return made


def test_a_plugin_passes_with_jobs_that_need_its_own_records(shop, check_plugin):  # noqa: F811
    check_plugin(shop(), jobs=[SHOP_JOB])


def test_a_rule_set_of_the_plugin_that_cannot_be_used_is_found(shop):
    with pytest.raises(CatalogError, match="shop/missing"):
        testing.check_catalogs(shop("rule-set.yaml", "[shop/growth]", "[shop/missing]"))
    with pytest.raises(CatalogError, match="tire_grwth"):
        testing.check_catalogs(shop("rule.yaml", "metric: tire_growth", "metric: tire_grwth"))


def test_a_rule_of_the_plugin_whose_example_is_wrong_is_found(shop):
    with pytest.raises(CatalogError, match=r"rule\.yaml:13:.*example"):
        testing.check_catalogs(shop("rule.yaml", "passes: true", "passes: false"))


def test_a_case_of_the_plugin_that_fails_is_found(shop):
    testing.check_cases(shop())
    with pytest.raises(AssertionError, match="shop/taller: Taller tires"):
        testing.check_cases(shop("case.yaml", 'value: "0 %"', 'value: "3 %"'))


def test_pytest_has_nothing_to_rewrite_in_the_kit():
    assert "PYTEST_DONT_REWRITE" in testing.__doc__
    tree = ast.parse(Path(testing.__file__).read_text())
    assert not [node for node in ast.walk(tree) if isinstance(node, ast.Assert)]


def test_no_entry_point_loads_the_kit_into_every_pytest():
    modules = {entry.module for entry in importlib.metadata.entry_points(group="pytest11")}
    assert modules
    assert not {module for module in modules if module.startswith("gearrec")}
