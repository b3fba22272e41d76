"""The plugin as an installation finds it: by its entry point, with the hooks it means to use."""

from __future__ import annotations

from gearrec.plugins import load

HOOKS = (
    "gearrec_catalogs",
    "gearrec_cautions",
    "gearrec_metrics",
)


def test_the_installed_plugin_is_active_with_its_hooks() -> None:
    plugins = load(allow=["towing"], strict=True)
    found = {item.name: item for item in plugins.installed}["towing"]
    assert found.state == "active"
    assert found.hooks == HOOKS
