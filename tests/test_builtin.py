"""The built-in catalogs and metrics enter as a plugin like any other."""

from __future__ import annotations

from pathlib import Path

import pytest

from gearrec import builtin, plugins
from gearrec.metrics import BUILT_IN


def test_the_built_in_plugin_keeps_the_contract_that_others_must_keep():
    loaded = plugins.load(allow=(), strict=True, environment={})
    assert loaded.names == ("builtin",)
    metrics = loaded.call("gearrec_metrics")
    assert {entry.record.name for entry in metrics} == {metric.name for metric in BUILT_IN}
    assert {entry.plugin for entry in metrics} == {"builtin"}


def test_catalogs_are_those_of_the_checkout_when_not_installed_from_a_wheel():
    folder = Path(__file__).parent.parent / "catalogs"
    assert builtin.catalogs_folder() == folder
    found = {record.name: record.path for record in builtin.gearrec_catalogs()}
    assert found == {path.parent.name: path.parent for path in folder.glob("*/catalog.yaml")}
    assert found


@pytest.mark.parametrize("inside", ["gearrec/_catalogs", "catalogs"])
def test_a_wheel_carries_its_catalogs_inside(inside, tmp_path, monkeypatch):
    (tmp_path / inside / "core").mkdir(parents=True)
    (tmp_path / inside / "core" / "catalog.yaml").write_text("kind: catalog\n", encoding="utf-8")
    (tmp_path / inside / "notes").mkdir()
    monkeypatch.setattr(builtin, "__file__", str(tmp_path / "gearrec" / "builtin.py"))
    (record,) = builtin.gearrec_catalogs()
    assert (record.name, record.path) == ("core", tmp_path / inside / "core")


def test_missing_catalogs_are_an_error_and_not_an_empty_list(tmp_path, monkeypatch):
    monkeypatch.setattr(builtin, "__file__", str(tmp_path / "gearrec" / "builtin.py"))
    with pytest.raises(FileNotFoundError, match="built-in catalogs are missing"):
        builtin.gearrec_catalogs()
