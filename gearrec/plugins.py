"""Loads plugins, each alone, and combines what their hooks answer.

A plugin that breaks the contract is left out and listed as a fault; under `strict` it raises. What
is combined does not depend on the order in which plugins are loaded: records are sorted by name,
and a clash of names leaves out every plugin that takes part in it, but for the built-in one.
"""

from __future__ import annotations

import importlib
import os
from collections import defaultdict
from dataclasses import dataclass, replace
from threading import Lock
from typing import TYPE_CHECKING, Any

from gearrec.errors import PluginError
from gearrec.extension import CatalogFolder
from gearrec.plugin_calls import (
    BUILTIN,
    BrokenError,
    Contribution,
    Fault,
    LoadedPlugin,
    answer_of,
    clashes,
    combined,
)
from gearrec.plugin_discovery import EntryPoint, installed_entry_points
from gearrec.plugin_interface import ARGUMENTS, check_interface, new_manager
from gearrec.plugin_results import MetricError, Mismatch, exception_text, guarded_metric

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from pathlib import Path

    from gearrec.metrics import Metric

ALLOW_VARIABLE = "GEARREC_PLUGINS"
BLOCK_VARIABLE = "GEARREC_BLOCK_PLUGINS"
_CALLED_ON_LOAD = ("gearrec_catalogs", "gearrec_metrics")
_MOST_FAULTS = 1_000


@dataclass(frozen=True, slots=True, order=True)
class InstalledPlugin:
    """A plugin that was found; `state` is active, left out, blocked or not allowed."""

    name: str
    target: str
    distribution: str
    version: str
    state: str
    hooks: tuple[str, ...]


class Plugins:
    """The plugins of one advisor. Safe to share between threads; made by `load`."""

    def __init__(
        self,
        *,
        loaded: Sequence[LoadedPlugin],
        installed: Sequence[InstalledPlugin],
        kept: Mapping[str, tuple[Contribution[Any], ...]],
        faults: Iterable[Fault],
        strict: bool,
    ) -> None:
        self.strict = strict
        self.installed = tuple(sorted(installed))
        self._loaded = tuple(loaded)
        self._kept = dict(kept)
        self._faults = set(faults)
        self._lock = Lock()

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the plugins that are active, sorted."""
        return tuple(sorted(plugin.name for plugin in self._loaded))

    @property
    def hooks(self) -> frozenset[str]:
        """Names of the hooks that some active plugin implements."""
        return frozenset(hook for plugin in self._loaded for hook in plugin.hooks)

    @property
    def faults(self) -> tuple[Fault, ...]:
        """All faults since loading, each once, sorted by plugin."""
        with self._lock:
            return tuple(sorted(self._faults))

    def record(self, fault: Fault) -> None:
        """Keep a fault that was seen outside a hook call, such as in a metric's function.

        Raises: PluginError under `strict`.
        """
        with self._lock:
            if len(self._faults) < _MOST_FAULTS:
                self._faults.add(fault)
        if self.strict:
            raise PluginError(str(fault))

    def with_catalogs(self, folders: Sequence[Path]) -> Plugins:
        """The same plugins with other folders in the places of their catalogs, in their order."""
        changed = tuple(
            Contribution(entry.plugin, CatalogFolder(entry.record.name, folder))
            for entry, folder in zip(self._kept["gearrec_catalogs"], folders, strict=True)
        )
        return Plugins(
            loaded=self._loaded,
            installed=self.installed,
            kept={**self._kept, "gearrec_catalogs": changed},
            faults=self.faults,
            strict=self.strict,
        )

    def without(self, faults: Iterable[Fault]) -> Plugins:
        """The plugins without those that the faults name; the faults are kept."""
        faults = tuple(faults)
        names = {fault.plugin for fault in faults}
        kept = {
            hook: tuple(entry for entry in entries if entry.plugin not in names)
            for hook, entries in self._kept.items()
        }
        return Plugins(
            loaded=[plugin for plugin in self._loaded if plugin.name not in names],
            installed=[
                replace(one, state="left out", hooks=())
                if one.name in names and one.state == "active"
                else one
                for one in self.installed
            ],
            kept=kept,
            faults=(*self.faults, *faults),
            strict=self.strict,
        )

    def session(self) -> Session:
        """The hook calls of one advice, in which a plugin with a fault is left out from then on."""
        return Session(self)

    def call(self, hook: str, **arguments: object) -> tuple[Contribution[Any], ...]:
        """The records that all active plugins answer, sorted by name, then plugin.

        Raises: PluginError under `strict` when a plugin breaks the contract; TypeError when the
        arguments are not those of the hook.
        """
        return self.session().call(hook, **arguments)


class Session:
    """The hook calls of one advice. Used by one thread."""

    def __init__(self, plugins: Plugins) -> None:
        self._plugins = plugins
        self._faults: set[Fault] = set()

    @property
    def faults(self) -> tuple[Fault, ...]:
        """Faults seen in this session, sorted by plugin."""
        return tuple(sorted(self._faults))

    def call(self, hook: str, **arguments: object) -> tuple[Contribution[Any], ...]:
        """As `Plugins.call`, without the plugins that had a fault earlier in this session."""
        if hook not in ARGUMENTS or set(arguments) != set(ARGUMENTS[hook]):
            raise TypeError(f"{hook} is called with {sorted(arguments)}, see gearrec.hooks")
        left_out = {fault.plugin for fault in self._faults}
        if hook in _CALLED_ON_LOAD:
            kept = self._plugins._kept[hook]
            return tuple(entry for entry in kept if entry.plugin not in left_out)
        answers: dict[str, tuple[Any, ...]] = {}
        for plugin in self._plugins._loaded:
            if plugin.name in left_out:
                continue
            try:
                answers[plugin.name] = answer_of(plugin, hook, arguments)
            except BrokenError as broken:
                self._keep(broken.fault, broken.__cause__)
        for fault in clashes(hook, answers):
            self._keep(fault, None)
            answers.pop(fault.plugin, None)
        return combined(answers)

    def metric_fault(self, metric: Metric, error: Exception) -> None:
        """Keep the fault of a plugin's metric; the `on_fault` of `gearrec.metrics.evaluate`.

        Raises: `error` itself for a built-in metric; PluginError under `strict`.
        """
        owners = (
            entry.plugin
            for entry in self._plugins._kept["gearrec_metrics"]
            if entry.record.name == metric.name
        )
        owner = next(owners, BUILTIN)
        if owner == BUILTIN or not isinstance(error, MetricError):
            raise error
        self._keep(Fault(owner, "gearrec_metrics", *error.mismatch), error)

    def _keep(self, fault: Fault, cause: BaseException | None) -> None:
        self._faults.add(fault)
        try:
            self._plugins.record(fault)
        except PluginError as error:
            raise error from cause


def load(
    *,
    allow: Iterable[str] | None = None,
    block: Iterable[str] = (),
    extra: Mapping[str, object] | None = None,
    strict: bool = False,
    path: Sequence[str] | None = None,
    environment: Mapping[str, str] | None = None,
) -> Plugins:
    """Load the built-in plugin, the installed ones and those given as objects.

    `allow`: names of the installed plugins to load; None is what the environment variable
    GEARREC_PLUGINS lists ("a,b"; set but empty is none), or all when it is not set. `block`: names
    to leave out, beside those that GEARREC_BLOCK_PLUGINS lists. `extra`: plugins by name that need
    not be installed; no list applies to them. `strict`: raise instead of leaving out. `path`:
    folders to scan for installed plugins, by default the import path.

    Raises: PluginError under `strict`, with all faults; ValueError for an `extra` named 'builtin'.
    """
    environment = os.environ if environment is None else environment
    allowed = _allowed(allow, environment)
    blocked = {*block, *_names(environment.get(BLOCK_VARIABLE, ""))}
    if BUILTIN in (extra or {}):
        raise ValueError(f"extra: the name '{BUILTIN}' is the library's own; use another")
    given: dict[str, object] = {BUILTIN: "gearrec.builtin", **(extra or {})}
    entries = installed_entry_points(path)
    states = _states(entries, allowed, blocked)
    chosen = [entry for entry in entries if not states[entry]]
    duplicates = _duplicates(chosen, given)
    faults = [*duplicates, *_not_installed(allowed, entries, blocked)]
    twice = {fault.plugin for fault in duplicates}
    wanted = [entry for entry in given.items() if entry[0] == BUILTIN or entry[0] not in twice]
    for entry in chosen:
        if entry.name in twice:
            continue
        if entry.problem:
            expected = "an entry point 'name = module' or 'name = module:attribute'"
            faults.append(Fault(entry.name, "", expected, entry.problem))
        else:
            wanted.append((entry.name, entry.target))

    causes: list[BaseException] = []
    loaded: list[LoadedPlugin] = []
    for name, target in wanted:
        try:
            loaded.append(_loaded(name, target))
        except BrokenError as broken:
            faults.append(broken.fault)
            causes.extend([broken.__cause__] if broken.__cause__ else [])
    answers = _answers_on_load(loaded, faults, causes)
    if strict and faults:
        text = "\n".join(str(fault) for fault in sorted(faults))
        raise PluginError(text) from (causes[0] if causes else None)
    active = {plugin.name: plugin for plugin in loaded if plugin.name in answers}
    return Plugins(
        loaded=tuple(active.values()),
        installed=[
            _installed(entry, states[entry], None if entry.name in given else active)
            for entry in entries
        ],
        kept={
            hook: combined({name: answers[name][hook] for name in active})
            for hook in _CALLED_ON_LOAD
        },
        faults=faults,
        strict=strict,
    )


def _states(
    entries: Sequence[EntryPoint], allowed: set[str] | None, blocked: set[str]
) -> dict[EntryPoint, str]:
    """'blocked', 'not allowed', or empty for those to load."""
    states = dict.fromkeys(entries, "")
    for entry in entries:
        if entry.name in blocked:
            states[entry] = "blocked"
        elif allowed is not None and entry.name not in allowed:
            states[entry] = "not allowed"
    return states


def _installed(
    entry: EntryPoint, state: str, active: Mapping[str, LoadedPlugin] | None
) -> InstalledPlugin:
    plugin = (active or {}).get(entry.name) if not state else None
    return InstalledPlugin(
        name=entry.name,
        target=entry.target,
        distribution=entry.distribution,
        version=entry.version,
        state=state or ("active" if plugin else "left out"),
        hooks=plugin.hooks if plugin else (),
    )


def _names(text: str) -> set[str]:
    return {name for part in text.split(",") if (name := part.strip())}


def _allowed(allow: Iterable[str] | None, environment: Mapping[str, str]) -> set[str] | None:
    if allow is not None:
        return set(allow)
    listed = environment.get(ALLOW_VARIABLE)
    return None if listed is None else _names(listed)


def _not_installed(
    allowed: set[str] | None, entries: Sequence[EntryPoint], blocked: set[str]
) -> list[Fault]:
    names = sorted({entry.name for entry in entries})
    missing = (allowed or set()) - set(names) - blocked
    there = "none of that name; installed: " + (", ".join(names) or "none")
    return [Fault(name, "", "an installed plugin", there) for name in missing]


def _duplicates(entries: Sequence[EntryPoint], given: Mapping[str, object]) -> list[Fault]:
    """Faults for entry-point names that more than one plugin uses."""
    owners: dict[str, list[str]] = defaultdict(list)
    for name in given:
        owners[name].append("gearrec itself" if name == BUILTIN else "a plugin given by argument")
    for entry in entries:
        owners[entry.name].append(f"distribution '{entry.distribution}'")
    return [
        Fault(name, "", "a name that one plugin uses", "it in " + " and in ".join(sorted(places)))
        for name, places in owners.items()
        if len(places) > 1
    ]


def _loaded(name: str, target: object) -> LoadedPlugin:
    """Import and check one plugin. Raises: BrokenError, whatever the plugin's code does."""
    try:
        plugin = _resolved(target) if isinstance(target, str) else target
    except KeyboardInterrupt:
        raise
    except BaseException as error:
        problem = Mismatch("that it can be imported", exception_text(error))
        raise BrokenError(Fault(name, "", *problem)) from error
    try:
        hook, found, hooks = check_interface(plugin)
        if found is not None:
            raise BrokenError(Fault(name, hook, *found))
        return LoadedPlugin(name, new_manager(plugin, name), hooks)
    except (KeyboardInterrupt, BrokenError):
        raise
    except BaseException as error:
        problem = Mismatch("functions that can be inspected", exception_text(error))
        raise BrokenError(Fault(name, "", *problem)) from error


def _resolved(target: str) -> object:
    module, _, attributes = target.partition(":")
    plugin: object = importlib.import_module(module)
    for attribute in filter(None, attributes.split(".")):
        plugin = getattr(plugin, attribute)
    return plugin


def _answers_on_load(
    loaded: Sequence[LoadedPlugin], faults: list[Fault], causes: list[BaseException]
) -> dict[str, dict[str, tuple[Any, ...]]]:
    """Answers of the hooks without arguments, by plugin; a plugin with a fault is not in it."""
    answers: dict[str, dict[str, tuple[Any, ...]]] = {}
    for plugin in loaded:
        try:
            answers[plugin.name] = {hook: answer_of(plugin, hook, {}) for hook in _CALLED_ON_LOAD}
        except BrokenError as broken:
            faults.append(broken.fault)
            causes.extend([broken.__cause__] if broken.__cause__ else [])
    found = [
        fault
        for hook in _CALLED_ON_LOAD
        for fault in clashes(hook, {name: answer[hook] for name, answer in answers.items()})
    ]
    for fault in found:
        answers.pop(fault.plugin, None)
    faults.extend(found)
    for plugin_name, answer in answers.items():
        if plugin_name != BUILTIN:
            answer["gearrec_metrics"] = tuple(map(guarded_metric, answer["gearrec_metrics"]))
    return answers
