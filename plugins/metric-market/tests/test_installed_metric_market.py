"""The plugin as an installation finds it: by its entry point, with the hooks it means to use."""

from __future__ import annotations

from gearrec.plugins import load

HOOKS = ("gearrec_catalogs",)


def test_the_installed_plugin_is_active_with_its_hooks() -> None:
    plugins = load(allow=["metric-market"], strict=True)
    found = {item.name: item for item in plugins.installed}["metric-market"]
    assert found.state == "active"
    assert found.hooks == HOOKS
