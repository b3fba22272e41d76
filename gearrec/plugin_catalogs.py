"""Leaves out plugins whose catalogs cannot be used, so that the others and the advice go on."""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path
from typing import TYPE_CHECKING

from gearrec.catalog import store
from gearrec.errors import CatalogError
from gearrec.plugin_calls import BUILTIN, Fault

if TYPE_CHECKING:
    from gearrec.errors import Problem
    from gearrec.plugins import Plugins

_HOOK = "gearrec_catalogs"


def without_broken(loaded: Plugins, error: CatalogError) -> Plugins:
    """The plugins without those in whose catalogs the problems lie, each with a fault.

    Raises: `error` itself under `strict`, and when a problem lies elsewhere: a plugin's problems
    may then be no more than what follows from it.
    """
    blamed: dict[str, list[Problem]] = defaultdict(list)
    for problem in error.problems:
        owner = _owner(loaded, problem)
        if owner is None or loaded.strict:
            raise error
        blamed[owner].append(problem)
    return loaded.without(
        Fault(name, _HOOK, "catalogs without problems", _told(problems))
        for name, problems in blamed.items()
    )


def usable(loaded: Plugins) -> Plugins:
    """The plugins whose catalogs can be used on top of the built-in ones, with the faults of the
    others; all of them when what is wrong is no plugin's."""
    while any(entry.plugin != BUILTIN for entry in loaded.call(_HOOK)):
        try:
            store.load([entry.record.path for entry in loaded.call(_HOOK)])
            break
        except CatalogError as error:
            try:
                loaded = without_broken(loaded, error)
            except CatalogError:
                break
    return loaded


def _owner(loaded: Plugins, problem: Problem) -> str | None:
    """The plugin, but the built-in one, in one of whose folders the problem's file lies."""
    file = problem.place.file
    if not file:
        return None
    for entry in loaded.call(_HOOK):
        if entry.plugin != BUILTIN and Path(file).is_relative_to(entry.record.path):
            return entry.plugin
    return None


def _told(problems: list[Problem]) -> str:
    more = f"; and {len(problems) - 1} more, see `gearrec check`" if len(problems) > 1 else ""
    return f"{problems[0]}{more}"
