"""The plugin as an installation finds it: by its entry point, with the hooks it means to use."""

from __future__ import annotations

from gearrec.plugins import load

HOOKS = (
    "gearrec_candidates",
    "gearrec_cautions",
    "gearrec_preferences",
    "gearrec_report_sections",
)


def test_the_installed_plugin_is_active_with_its_hooks() -> None:
    plugins = load(allow=["stock"], strict=True)
    found = {item.name: item for item in plugins.installed}["stock"]
    assert found.state == "active"
    assert found.hooks == HOOKS
