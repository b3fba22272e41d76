"""Checks that a plugin's functions are hooks, before any of them is called."""

from __future__ import annotations

import difflib
import inspect
from typing import TYPE_CHECKING, Any

import pluggy

from gearrec import hooks
from gearrec.errors import allowed_words
from gearrec.plugin_results import Mismatch, shown

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

PREFIX = "gearrec_"
VERSION_NAME = "GEARREC_HOOK_API"

ARGUMENTS: Mapping[str, tuple[str, ...]] = {
    name: tuple(inspect.signature(value).parameters)
    for name, value in sorted(vars(hooks).items())
    if name.startswith(PREFIX) and inspect.isfunction(value)
}
"""The names of the arguments of each hook."""

# A function spelled almost like a hook is taken for a slip; 'metrics' alone is not close enough.
_SPELLED_ALIKE = 0.85


def check_interface(plugin: object) -> tuple[str, Mismatch | None, tuple[str, ...]]:
    """The hooks that a plugin implements, or the first thing that is wrong with it.

    Returns: name of the hook that is wrong (or empty), what is wrong (or None), the plugin's hooks.
    """
    version = getattr(plugin, VERSION_NAME, None)
    if type(version) is not int or version != hooks.HOOK_API_VERSION:
        found = "no version" if version is None else shown(version)
        return "", Mismatch(f"{VERSION_NAME} = {hooks.HOOK_API_VERSION}", found), ()
    implemented = []
    for name in dir(plugin):
        problem, is_hook = _check_member(name, getattr(plugin, name))
        if problem is not None:
            return name, problem, ()
        if is_hook:
            implemented.append(name)
    if not implemented:
        problem = Mismatch(
            "at least one hook: " + ", ".join(ARGUMENTS), "no function with @hookimpl"
        )
        return "", problem, ()
    return "", None, tuple(implemented)


def new_manager(plugin: object, name: str) -> pluggy.PluginManager:
    """A manager that holds this plugin alone, so that another one's exception cannot reach it."""
    manager = pluggy.PluginManager("gearrec")
    manager.add_hookspecs(hooks)
    manager.register(plugin, name=name)
    manager.check_pending()
    return manager


def _check_member(name: str, value: object) -> tuple[Mismatch | None, bool]:
    """What is wrong with one member of a plugin, and whether it implements a hook."""
    is_function = inspect.isroutine(value)
    options = getattr(value, "gearrec_impl", None) if is_function else None
    marked = isinstance(options, dict)
    if name not in ARGUMENTS:
        alike = difflib.get_close_matches(name, ARGUMENTS, n=1, cutoff=_SPELLED_ALIKE)
        if marked or (is_function and (name.startswith(PREFIX) or alike)):
            allowed = allowed_words(tuple(ARGUMENTS), name)
            return Mismatch(f"the name of a hook ({allowed})", f"'{name}'"), False
        return None, False
    if not callable(value) or not is_function:
        return Mismatch("a function", shown(value)), False
    if not marked:
        return Mismatch("a function marked with @gearrec.hooks.hookimpl", "no mark"), False
    if any((options or {}).values()):
        used = ", ".join(sorted(key for key, set_to in (options or {}).items() if set_to))
        return Mismatch("@hookimpl without options, as order has no meaning", used), False
    return _check_signature(name, value), True


def _check_signature(name: str, function: Callable[..., Any]) -> Mismatch | None:
    if inspect.iscoroutinefunction(function) or inspect.isasyncgenfunction(function):
        return Mismatch("a plain function", "an async one")
    known = ARGUMENTS[name]
    expected = "arguments " + ", ".join(known) if known else "no arguments"
    for argument, parameter in inspect.signature(function).parameters.items():
        if parameter.kind is not inspect.Parameter.POSITIONAL_OR_KEYWORD:
            return Mismatch(
                f"{expected}, each plain", f"'{parameter}', {parameter.kind.description}"
            )
        if argument not in known:
            return Mismatch(expected, f"'{argument}'")
        if parameter.default is not inspect.Parameter.empty:
            return Mismatch(f"{expected}, without defaults", f"'{parameter}'")
    return None
