"""Calls a hook of one plugin alone, checks its answer, and combines the answers of several."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from gearrec.plugin_results import (
    MOST_RECORDS,
    Mismatch,
    clashing,
    exception_text,
    mismatch,
    name_of,
    shown,
)

if TYPE_CHECKING:
    import pluggy

BUILTIN = "builtin"

Record = TypeVar("Record")


@dataclass(frozen=True, slots=True, order=True)
class Fault:
    """How a plugin breaks the contract; `hook` is empty when it is the plugin as a whole."""

    plugin: str
    hook: str
    expected: str
    found: str

    def __str__(self) -> str:
        where = f"plugin '{self.plugin}'" + (f", {self.hook}" if self.hook else "")
        return f"{where}: expected {self.expected}; found {self.found}"


@dataclass(frozen=True, slots=True)
class Contribution(Generic[Record]):
    """One record of a hook's answer and the plugin that gave it."""

    plugin: str
    record: Record


@dataclass(frozen=True, slots=True)
class LoadedPlugin:
    name: str
    manager: pluggy.PluginManager
    hooks: tuple[str, ...]


class BrokenError(Exception):
    """Carries a fault to where it is recorded or raised."""

    def __init__(self, fault: Fault) -> None:
        super().__init__(str(fault))
        self.fault = fault


def answer_of(plugin: LoadedPlugin, hook: str, arguments: Mapping[str, object]) -> tuple[Any, ...]:
    """What one plugin answers to one hook, checked. Raises: BrokenError."""
    if hook not in plugin.hooks:
        return ()
    problem: Mismatch | None = None
    records: tuple[Any, ...] = ()
    try:
        answer = getattr(plugin.manager.hook, hook)(**arguments)
        # pluggy drops an answer None: the plugin has nothing to say.
        items = answer[0] if answer else ()
        if isinstance(items, str | bytes | Mapping) or not isinstance(items, Iterable):
            problem = Mismatch("a list or another iterable of records", shown(items))
        else:
            records = tuple(islice(items, MOST_RECORDS + 1))
        if len(records) > MOST_RECORDS:
            problem = Mismatch(f"at most {MOST_RECORDS} records", "more, perhaps without end")
        if problem is None:
            problem = next(filter(None, (mismatch(hook, record) for record in records)), None)
    except KeyboardInterrupt:
        raise
    except BaseException as error:
        problem = Mismatch("an answer without an exception", exception_text(error))
        raise BrokenError(Fault(plugin.name, hook, *problem)) from error
    if problem is None:
        counts = Counter(name_of(record) for record in records)
        repeated = sorted(name for name, count in counts.items() if count > 1)
        if repeated:
            problem = Mismatch("each name once", f"'{repeated[0]}' more than once")
    if problem is not None:
        raise BrokenError(Fault(plugin.name, hook, *problem))
    return records


def clashes(hook: str, answers: Mapping[str, tuple[Any, ...]]) -> list[Fault]:
    """A fault for each plugin, but the built-in one, whose record contradicts another plugin's."""
    owners: dict[str, dict[str, Any]] = defaultdict(dict)
    for plugin, records in answers.items():
        for record in records:
            owners[name_of(record)][plugin] = record
    return [
        Fault(
            plugin,
            hook,
            "a name that one plugin uses",
            f"'{name}', also from plugin "
            + " and ".join(f"'{other}'" for other in sorted(plugins) if other != plugin),
        )
        for name, plugins in owners.items()
        if clashing(plugins.values())
        for plugin in plugins
        if plugin != BUILTIN
    ]


def combined(answers: Mapping[str, tuple[Any, ...]]) -> tuple[Contribution[Any], ...]:
    """All records: the built-in ones first in their own order, then the others by name.

    Catalogs are layers, and what comes later may override what comes before.
    """
    entries = [
        Contribution(plugin, record) for plugin, records in answers.items() for record in records
    ]
    return tuple(sorted(entries, key=_order))


def _order(entry: Contribution[Any]) -> tuple[str, ...]:
    return () if entry.plugin == BUILTIN else (name_of(entry.record), entry.plugin)
