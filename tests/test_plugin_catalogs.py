"""Plugins whose catalogs cannot be used: left out with a fault, and the advice goes on."""

from __future__ import annotations

import json
from functools import partial
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

import gearrec
from gearrec import checking, cli, plugin_catalogs, plugins
from gearrec.errors import CatalogError, UnknownRecordError
from gearrec.extension import CatalogFolder, Caution
from gearrec.hooks import hookimpl
from gearrec.metrics import Metric

JOB = {"vehicle": "demo/barge"}
TIRE = "kind: tire\nformat: 1\nrecords:\n  - {id: NAME/tall, title: Tall, size: SIZE}\n"
# Takes effect in the library's own rule set, and names a metric that there is not.
WRONG_RULE = (
    "kind: rule\nformat: 1\nrecords:\n"
    "  - {overrides: core/overloaded, metric: no_such_metric, why: invented}\n"
)
OWN_RULE = (
    "kind: rule\nformat: 1\nrecords:\n  - id: good/own\n    title: Own\n    since: '1.0'\n"
    "    extends: core/governed-speed\n    metric: good_measure\n"
    "    shape: {at_most: {limit: '3900 rpm'}}\n"
    "    example: {words: invented, value: 3000 rpm, expect: {passes: true}}\n"
)


def catalog(folder: Path, name: str, body: str) -> Path:
    folder.mkdir()
    (folder / "catalog.yaml").write_text(
        f"kind: catalog\nformat: 1\nnamespace: {name}\ntitle: {name} (invented)\nabout: x\n"
        'version: "1"\nsource: {kind: invented, citation: test, confidence: low}\n'
    )
    (folder / "records.yaml").write_text(body.replace("NAME", name))
    return folder


def plugin(folder: Path, **functions: Any) -> SimpleNamespace:
    def gearrec_catalogs() -> list[CatalogFolder]:
        return [CatalogFolder(folder.name, folder)]

    def gearrec_cautions() -> list[Caution]:
        return [Caution(f"{folder.name}/note", f"Words of {folder.name}.", "invented")]

    marked = {"gearrec_catalogs": gearrec_catalogs, "gearrec_cautions": gearrec_cautions}
    made = {name: hookimpl(function) for name, function in (marked | functions).items()}
    return SimpleNamespace(GEARREC_HOOK_API=1, **made)


@pytest.fixture
def good(tmp_path: Path) -> SimpleNamespace:
    return plugin(catalog(tmp_path / "good", "good", TIRE.replace("SIZE", "34X10.5-16")))


@pytest.fixture(params=["a file", "a rule in the library's own rule set"])
def bad(request: pytest.FixtureRequest, tmp_path: Path) -> SimpleNamespace:
    body = WRONG_RULE if "rule" in request.param else TIRE.replace("SIZE", "2355/70R16")
    return plugin(catalog(tmp_path / "bad", "bad", body))


@pytest.mark.parametrize("order", [("good", "bad"), ("bad", "good")])
def test_the_plugin_is_left_out_whole_and_the_others_go_on(
    good: SimpleNamespace, bad: SimpleNamespace, order: tuple[str, str], tmp_path: Path
) -> None:
    both = {"good": good, "bad": bad}
    advisor = gearrec.Advisor(plugins=(), extra={name: both[name] for name in order})
    (fault,) = advisor.faults
    assert (fault.plugin, fault.hook) == ("bad", "gearrec_catalogs")
    assert str(tmp_path / "bad" / "records.yaml") + ":4:" in fault.found
    assert advisor.catalog.has("tire", "good/tall")
    assert not advisor.catalog.has("tire", "bad/tall")
    assert advisor.plugins.names == ("builtin", "good")
    advice = advisor.advise(JOB | {"tires": {"planned": "good/tall"}})
    assert advice.pick is not None
    assert advice.faults == (fault,)
    assert "Words of good." in advice.cautions()
    assert "Words of bad." not in advice.cautions()


def test_strict_raises_with_every_place(good: SimpleNamespace, bad: SimpleNamespace) -> None:
    with pytest.raises(CatalogError, match=r"bad.records\.yaml:4:"):
        gearrec.Advisor(plugins=(), extra={"good": good, "bad": bad}, strict=True)


def test_a_catalog_that_is_no_plugins_is_never_left_out(
    good: SimpleNamespace, bad: SimpleNamespace, tmp_path: Path
) -> None:
    own = catalog(tmp_path / "own", "own", TIRE.replace("SIZE", "28.7"))
    with pytest.raises(CatalogError, match=r"own.records\.yaml:4:"):
        gearrec.Advisor([own], plugins=(), extra={"good": good, "bad": bad})


def test_a_rule_set_that_went_with_its_plugin_is_asked_for(tmp_path: Path) -> None:
    bad = plugin(catalog(tmp_path / "bad", "bad", TIRE.replace("SIZE", "2355/70R16")))
    with pytest.raises(CatalogError, match=r"bad.records\.yaml:4:"):
        gearrec.Advisor(plugins=(), extra={"bad": bad}, rule_set="bad/set")
    with pytest.raises(UnknownRecordError, match="no-such-set"):
        gearrec.Advisor(plugins=(), rule_set="core/no-such-set")


def test_it_is_seen_in_check_and_in_the_list_of_plugins(
    good: SimpleNamespace,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    bad = plugin(catalog(tmp_path / "bad", "bad", TIRE.replace("SIZE", "2355/70R16")))
    both = {"good": good, "bad": bad}
    monkeypatch.setattr(plugins, "load", partial(plugins.load, allow=(), extra=both))
    assert cli.run(["plugins", "--json"]) == 1
    (fault,) = json.loads(capsys.readouterr().out)["faults"]
    assert (fault["plugin"], fault["hook"]) == ("bad", "gearrec_catalogs")
    report = checking.check([tmp_path / "good"])
    assert report.ok
    assert [(one.code, one.warning) for one in report.problems] == [("plugin", True)]
    # The catalog itself may be the one that is checked: then its problems are errors.
    assert not checking.check([tmp_path / "bad"]).ok


def test_nothing_is_left_out_for_problems_that_lie_elsewhere(good: SimpleNamespace) -> None:
    loaded = plugins.load(allow=(), extra={"good": good}, environment={})
    with pytest.raises(CatalogError):
        gearrec.Advisor(["no-such-folder"], plugins=loaded)
    assert plugin_catalogs.usable(loaded) is loaded


def test_a_plugins_metric_is_usable_in_its_rules_at_once(tmp_path: Path) -> None:
    """The trace shows it with its number, and the document with unit, definition and source."""
    folder = catalog(tmp_path / "good", "good", OWN_RULE)
    (folder / "set.yaml").write_text(
        "kind: rule-set\nformat: 1\nrecords:\n  - {id: good/set, title: Set, purpose: test,"
        " extends: core/default, add: [good/own]}\n"
    )
    measure = Metric(
        name="good_measure",
        dimension="engine_speed",
        unit="rpm",
        definition="axle ratio x 1000",
        source="invented",
        compute=lambda at: at.lanes.axle_ratio * 1000.0,
    )
    advisor = gearrec.Advisor(
        plugins=(),
        extra={"good": plugin(folder, gearrec_metrics=lambda: [measure])},
        rule_set="good/set",
    )
    assert advisor.faults == ()
    advice = advisor.advise(JOB)
    for line in advice.trace("good/own"):
        assert line.trace.value == pytest.approx(line.axle_ratio * 1000.0)
        assert line.trace.passed is (line.axle_ratio <= 3.9)
    shown = json.loads(advice.to_json())["metrics"]["good_measure"]
    assert (shown["unit"], shown["source"]) == ("rpm", "invented")


def test_deprecation_is_told_with_version_and_replacement(tmp_path: Path) -> None:
    body = (
        TIRE.replace("SIZE", "34X10.5-16").replace(
            "Tall,", 'Tall, deprecated: {since: "1.4", use: own/new, why: Measured again.},'
        )
        + "  - {id: own/new, title: New, size: 34X10.5-16}\n"
    )
    advisor = gearrec.Advisor([catalog(tmp_path / "own", "own", body)], plugins=())
    advice = advisor.advise(JOB | {"tires": {"planned": "own/tall"}})
    words = "own/tall is deprecated since 1.4: Measured again. Use own/new."
    assert advice.notices == (words,)
    assert words in " ".join(advice.text().split())
    assert json.loads(advice.to_json())["notices"] == [words]
