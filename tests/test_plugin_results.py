"""Types, ranges and names of what hooks answer."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from gearrec import units
from gearrec.extension import (
    CandidateAddition,
    CandidateRemoval,
    CatalogFolder,
    Caution,
    Preference,
    ReportSection,
)
from gearrec.metrics import BUILT_IN, Metric, evaluate
from gearrec.plugin_results import (
    MetricError,
    clashing,
    guarded_metric,
    mismatch,
    name_of,
    shown,
)
from gearrec.testing import sample_lanes

GOOD = {
    "gearrec_candidates": CandidateAddition(3.85, "On the shelf.", "invented"),
    "gearrec_preferences": Preference(
        name="shop/price",
        weight=2,
        scores={3.62: 0.0, 3.85: 1, 4.18: None},
        sentence="Cheaper is better.",
        source="invented",
    ),
    "gearrec_cautions": Caution("shop/tag", "Read the axle tag.", "invented"),
    "gearrec_report_sections": ReportSection("shop/stock", "Stock", ("3.85: two sets",)),
}

WRONG = [
    ("gearrec_candidates", "axle_ratio", "3.85", "axle_ratio: a number from 1 to 20"),
    ("gearrec_candidates", "axle_ratio", math.nan, "axle_ratio: a number"),
    ("gearrec_candidates", "axle_ratio", 50, "axle_ratio: a number"),
    ("gearrec_candidates", "axle_ratio", True, "axle_ratio: a number"),
    ("gearrec_candidates", "reason", " ", "reason: a text"),
    ("gearrec_candidates", "source", None, "source: a text"),
    ("gearrec_preferences", "name", "Shop price", "name: lower-case words"),
    ("gearrec_preferences", "weight", -1, "weight: a number from 0"),
    ("gearrec_preferences", "weight", math.inf, "weight: a number from 0"),
    ("gearrec_preferences", "scores", [0.5], "scores: a mapping"),
    ("gearrec_preferences", "scores", {3.85: 1.01}, "scores[3.85]: a number from 0 to 1"),
    ("gearrec_preferences", "scores", {3.85: math.nan}, "scores[3.85]: a number from 0 to 1"),
    ("gearrec_preferences", "scores", {"3.85": 1}, "scores: axle ratio: a number"),
    ("gearrec_preferences", "sentence", "", "sentence: a text"),
    ("gearrec_cautions", "name", "", "name: lower-case words"),
    ("gearrec_cautions", "sentence", "two\nlines", "sentence: one line"),
    ("gearrec_report_sections", "title", 3, "title: a text"),
    ("gearrec_report_sections", "lines", ["a list"], "lines: a tuple"),
    ("gearrec_report_sections", "lines", (), "lines: a tuple of 1 to"),
    ("gearrec_report_sections", "lines", ("fine", 4), "lines[1]: a text"),
]


@pytest.mark.parametrize("hook", GOOD)
def test_a_good_record_is_taken(hook):
    assert mismatch(hook, GOOD[hook]) is None


@pytest.mark.parametrize(("hook", "field", "value", "expected"), WRONG)
def test_a_wrong_field_is_named(hook, field, value, expected):
    found = mismatch(hook, dataclasses.replace(GOOD[hook], **{field: value}))
    assert found is not None
    assert found.expected.startswith(expected)
    assert found.found


@pytest.mark.parametrize("hook", GOOD)
def test_a_record_of_another_hook_is_refused(hook):
    found = mismatch(hook, CatalogFolder("shop", None))
    assert found is not None
    assert type(GOOD[hook]).__name__ in found.expected


def test_a_subclass_is_refused():
    class Sly(Caution):
        pass

    assert mismatch("gearrec_cautions", Sly("a", "b", "c")) is not None


def test_a_catalog_folder_must_hold_a_catalog(tmp_path):
    record = CatalogFolder("shop", tmp_path)
    assert "catalog.yaml" in mismatch("gearrec_catalogs", record).expected
    (tmp_path / "catalog.yaml").write_text("kind: catalog\n", encoding="utf-8")
    assert mismatch("gearrec_catalogs", record) is None
    assert mismatch("gearrec_catalogs", CatalogFolder("shop/more", tmp_path)) is not None
    assert mismatch("gearrec_catalogs", CatalogFolder("shop", str(tmp_path))) is not None


METRIC = Metric(
    name="shop_force",
    dimension="force",
    unit="N",
    definition="an invented force",
    source="invented",
    compute=lambda at: at.lanes.axle_ratio * 1000.0,
)


@pytest.mark.parametrize("metric", BUILT_IN, ids=lambda metric: metric.name)
def test_the_built_in_metrics_keep_the_contract(metric):
    assert mismatch("gearrec_metrics", metric) is None


@pytest.mark.parametrize(
    ("field", "value", "expected", "found"),
    [
        ("name", "Shop-Force", "name: lower-case words", "Shop-Force"),
        ("unit", "lbf", "unit of force: N", "lbf"),
        ("unit", "", "unit of force: N", "str"),
        ("dimension", "forces", "dimension: empty or one of", "forces"),
        ("dimension", "power", "unit of power: W", "str 'N'"),
        ("definition", "", "definition: a text", "str"),
        ("source", None, "source: a text", "None"),
        ("compute", 4, "compute: a function", "int 4"),
        ("per_leg", 1, "per_leg: True or False", "int 1"),
    ],
)
def test_a_metric_with_a_wrong_field_is_named(field, value, expected, found):
    problem = mismatch("gearrec_metrics", dataclasses.replace(METRIC, **{field: value}))
    assert problem is not None
    assert problem.expected.startswith(expected)
    assert found in problem.found


def test_every_dimension_has_a_unit_that_a_metric_can_use():
    for dimension in units.UNITS:
        metric = dataclasses.replace(METRIC, dimension=dimension, unit="furlong")
        problem = mismatch("gearrec_metrics", metric)
        assert problem is not None
        unit = problem.expected.partition(": ")[2]
        assert mismatch("gearrec_metrics", dataclasses.replace(metric, unit=unit)) is None


def test_a_unit_of_its_own_needs_no_dimension():
    metric = dataclasses.replace(METRIC, dimension="", unit="starts/h")
    assert mismatch("gearrec_metrics", metric) is None
    assert mismatch("gearrec_metrics", dataclasses.replace(metric, unit=" ")) is not None


def test_a_guarded_metric_gives_the_same_numbers():
    lanes = sample_lanes()
    (name, plain), (_, guarded) = (
        *evaluate(lanes, metrics=[METRIC]).items(),
        *evaluate(lanes, metrics=[guarded_metric(METRIC)]).items(),
    )
    assert name == "shop_force"
    np.testing.assert_array_equal(plain, guarded)
    np.testing.assert_array_equal(plain, lanes.axle_ratio * 1000.0)


def leave(at):
    raise SystemExit(5)


@pytest.mark.parametrize(
    ("compute", "expected", "found"),
    [
        (lambda at: at.lanes.no_such_array, "without an exception", "AttributeError"),
        (leave, "without an exception", "SystemExit: 5"),
        (lambda at: 3.85, "an array of float64", "float 3.85"),
        (lambda at: at.lanes.axle_ratio.astype(np.float32), "float64", "array of float32"),
        (lambda at: at.lanes.axle_ratio > 4, "float64", "array of bool"),
        (lambda at: at.lanes.axle_ratio.T, "broadcasts to (3, 5)", "shape (5, 3)"),
        (lambda at: at.lanes.axle_ratio[None], "broadcasts to (3, 5)", "shape (1, 3, 5)"),
        (lambda at: at.lanes.axle_ratio + np.inf, "finite numbers", "infinity"),
    ],
)
def test_a_metric_that_cannot_be_computed_tells_why(compute, expected, found):
    metric = guarded_metric(dataclasses.replace(METRIC, compute=compute))
    seen = []
    columns = evaluate(
        sample_lanes(), metrics=[metric], on_fault=lambda _, error: seen.append(error)
    )
    assert np.isnan(columns["shop_force"]).all()
    (error,) = seen
    assert isinstance(error, MetricError)
    assert expected in error.mismatch.expected
    assert found in error.mismatch.found


def test_only_contradicting_candidates_clash():
    adding = CandidateAddition(3.85, "On the shelf.", "invented")
    removing = CandidateRemoval(50 / 13, "Out of production.", "invented")
    assert name_of(adding) == name_of(removing) == "axle ratio 3.85"
    assert not clashing([adding, adding])
    assert not clashing([removing, removing])
    assert clashing([adding, removing])
    caution = GOOD["gearrec_cautions"]
    assert not clashing([caution])
    assert clashing([caution, caution])


def test_any_value_can_be_shown():
    class Silent:
        def __repr__(self):
            raise ValueError

    assert shown(Silent()) == "Silent"
    assert len(shown("long" * 1000)) == 200
