"""Names, marks and arguments of a plugin's functions; objects and modules alike."""

from __future__ import annotations

import types

import pytest

from gearrec import hooks
from gearrec.hooks import hookimpl
from gearrec.plugin_interface import check_interface, new_manager


class Shelf:
    GEARREC_HOOK_API = 1
    gearrec_note = "a constant is no hook"

    @hookimpl
    def gearrec_metrics(self):
        return []

    @hookimpl
    def gearrec_preferences(self, evaluation):
        return [evaluation]

    def metrics(self):
        """A function of the plugin's own, whose name is not near enough to a hook's."""


def test_an_object_and_a_module_can_be_plugins():
    assert check_interface(Shelf()) == ("", None, ("gearrec_metrics", "gearrec_preferences"))
    module = types.ModuleType("shop")
    module.GEARREC_HOOK_API = 1
    module.gearrec_shop = types.ModuleType("gearrec_shop")
    module.gearrec_metrics = hookimpl(lambda: ())
    assert check_interface(module) == ("", None, ("gearrec_metrics",))


def test_a_hook_takes_only_the_arguments_that_it_needs():
    manager = new_manager(Shelf(), "shelf")
    assert manager.hook.gearrec_preferences(job=1, evaluation=2) == [[2]]


@pytest.mark.parametrize(
    "option", ["wrapper", "hookwrapper", "tryfirst", "trylast", "optionalhook"]
)
def test_options_that_ask_for_an_order_are_refused(option):
    class Pushy(Shelf):
        @hookimpl(**{option: True})
        def gearrec_metrics(self):
            yield

    hook, problem, _ = check_interface(Pushy())
    assert hook == "gearrec_metrics"
    assert problem is not None
    assert option in problem.found


@pytest.mark.parametrize(
    ("name", "guess"),
    [
        ("gearrec_catalogues", "gearrec_catalogs"),
        ("gearrec_metric", "gearrec_metrics"),
        ("gearrec_report_section", "gearrec_report_sections"),
        ("gear_rec_cautions", "gearrec_cautions"),
    ],
)
def test_a_slip_of_the_name_is_found_whether_marked_or_not(name, guess):
    for function in (hookimpl(lambda: None), lambda: None):
        shelf = Shelf()
        setattr(shelf, name, function)
        hook, problem, _ = check_interface(shelf)
        assert hook == name
        assert problem is not None
        assert f"did you mean '{guess}'" in problem.expected


def test_true_is_not_version_one():
    class Sloppy(Shelf):
        GEARREC_HOOK_API = True

    assert hooks.HOOK_API_VERSION == 1
    _, problem, _ = check_interface(Sloppy())
    assert problem is not None
