"""`overrides` and `extends`: records whose fields come from more than one place.

Overrides are put in first, in the order of the catalogs, and then what records extend: a child
takes over what an override made of its parent.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from gearrec.catalog.entries import no_record
from gearrec.catalog.kinds import model
from gearrec.catalog.record_base import ID_PATTERN
from gearrec.errors import Problem, allowed_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from gearrec.catalog.entries import Entry, Merged

NOT_INHERITED = frozenset({"id", "title", "aliases", "notes", "deprecated", "extends", "source"})
NOT_OVERRIDDEN = ("id", "aliases", "extends")
_DIRECTIVES = ("overrides", "without")


def left_out_fields(kind: str, *, overriding: bool) -> list[str]:
    """The fields that `without` can name in a record that overrides, or extends, another."""
    kept = {*NOT_OVERRIDDEN, "title"} if overriding else NOT_INHERITED
    return sorted({field.alias or name for name, field in model(kind).model_fields.items()} - kept)


def override(change: Entry, merged: Merged, problems: list[Problem]) -> None:
    """Put the fields of one `overrides` record into the record it names."""
    for name in NOT_OVERRIDDEN:
        if name in change.value:
            message = f"'{name}' cannot be overridden; leave it out"
            problems.append(Problem(change.place((name,), key=True), message, "override-key"))
    fields = {
        name: inner
        for name, inner in change.value.items()
        if name not in _DIRECTIVES and name not in NOT_OVERRIDDEN
    }
    left_out = [*_left_out(change, problems, overriding=True)]
    target = _target(change, merged, problems)
    if target is None:
        # Its fields are looked at all the same.
        change.orphan = True
        change.value = fields
        merged.loose.append(change)
        return
    value = dict(target.value)
    written = target.written or dict.fromkeys(value, (target.document, target.number))
    for number, name in left_out:
        if name in value:
            del value[name]
        elif "extends" in value and isinstance(value.get("without", []), list):
            value["without"] = [*value.get("without", []), name]
        else:
            problems.append(_nothing_left_out(change, number, name))
    target.value = value | fields
    target.written = written | dict.fromkeys(fields, (change.document, change.number))
    target.overridden_by = (*target.overridden_by, change.document.file)


def _target(change: Entry, merged: Merged, problems: list[Problem]) -> Entry | None:
    """The record that is to be changed, or None and why it cannot be."""
    place = change.place(("overrides",))
    named = change.value["overrides"]
    if not (isinstance(named, str) and re.search(ID_PATTERN, named)):
        message = f"found {named!r}; allowed: the id of a record of an earlier catalog"
        problems.append(Problem(place, message, "pattern"))
        return None
    target = merged.find(change.kind, named)
    if target is None:
        problems.append(Problem(place, no_record(change.kind, named, merged), "unknown-id"))
        return None
    if target.layer >= change.layer:
        message = (
            f"{target.id!r} is not in a catalog that comes before this one ({target.where()}); "
            "change the record itself, or give the catalogs in the other order"
        )
        problems.append(Problem(place, message, "override-order"))
        return None
    if change.document.file in target.overridden_by:
        message = f"{target.id!r} is overridden twice in this file; put the two together"
        problems.append(Problem(place, message, "duplicate-id"))
        return None
    return target


def extend_all(merged: Merged, problems: list[Problem]) -> None:
    """Fill in what records take over by `extends`, parents first."""
    done: set[tuple[str, str]] = set()
    for kind, by_id in merged.entries.items():
        if kind == "rule-set":
            continue
        for entry in by_id.values():
            if "extends" in entry.value:
                _extend(entry, merged, done, (), problems)
            elif "without" in entry.value:
                message = "'without' belongs to 'extends' or 'overrides'"
                place = entry.place(("without",), key=True)
                problems.append(Problem(place, message, "unknown-key"))
                entry.value = _without_directive(entry)


def _extend(
    entry: Entry,
    merged: Merged,
    done: set[tuple[str, str]],
    below: tuple[str, ...],
    problems: list[Problem],
) -> None:
    if (entry.kind, entry.id) in done or "extends" not in entry.value:
        return
    done.add((entry.kind, entry.id))
    left_out = [*_left_out(entry, problems, overriding=False)]
    parent = _parent(entry, merged, below, problems)
    own = _without_directive(entry)
    if parent is None:
        entry.orphan = True
        entry.value = own
        return
    _extend(parent, merged, done, (*below, entry.id), problems)
    inherited = {name: inner for name, inner in parent.value.items() if name not in NOT_INHERITED}
    for number, name in left_out:
        if name in inherited:
            del inherited[name]
        else:
            problems.append(_nothing_left_out(entry, number, name))
    written = {
        name: parent.written.get(name, (parent.document, parent.number)) for name in inherited
    }
    written |= entry.written or dict.fromkeys(own, (entry.document, entry.number))
    if "source" not in own and "source" in parent.value:
        own["source"] = parent.value["source"]
    entry.value = inherited | own
    entry.written = written
    entry.orphan = parent.orphan


def _parent(
    entry: Entry, merged: Merged, below: tuple[str, ...], problems: list[Problem]
) -> Entry | None:
    named = entry.value["extends"]
    parent = merged.find(entry.kind, named) if isinstance(named, str) else None
    if parent is None:
        # An id that is none is told of when the record is checked.
        if isinstance(named, str) and re.search(ID_PATTERN, named):
            message = no_record(entry.kind, named, merged)
            problems.append(Problem(entry.place(("extends",)), message, "unknown-id"))
        return None
    if parent.id == entry.id or parent.id in below:
        chain = " -> ".join([*below, entry.id, parent.id])
        message = f"a record extends itself: {chain}"
        problems.append(Problem(entry.place(("extends",)), message, "extends-itself"))
        return None
    return parent


def _left_out(
    entry: Entry, problems: list[Problem], *, overriding: bool
) -> Iterator[tuple[int, str]]:
    """Number and name of each field that `without` names; other things in it are problems."""
    given = entry.value.get("without", [])
    if not isinstance(given, list):
        message = "allowed: a list of names of fields"
        problems.append(Problem(entry.place(("without",)), message, "wrong-form"))
        return
    allowed = left_out_fields(entry.kind, overriding=overriding)
    for number, name in enumerate(given):
        if isinstance(name, str) and name in allowed:
            yield number, name
            continue
        words = allowed_words(allowed, name if isinstance(name, str) else None)
        message = f"{name!r} is no field that can be left out; {words}"
        problems.append(Problem(entry.place(("without", number)), message, "unknown-key"))


def _nothing_left_out(entry: Entry, number: int, name: str) -> Problem:
    message = f"there is no field {name!r} to leave out; take it off the list"
    return Problem(entry.place(("without", number)), message, "nothing-left-out")


def _without_directive(entry: Entry) -> dict[str, Any]:
    value: Mapping[str, Any] = entry.value
    return {name: inner for name, inner in value.items() if name != "without"}
