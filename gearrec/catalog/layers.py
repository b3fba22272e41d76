"""Several catalogs in an explicit order become one: nothing is replaced by accident.

- Every id begins with its catalog's namespace. The same id twice is an error that names both files.
- A record with `extends: <id>` takes over the fields of that record which it does not give itself,
  but for the id, aliases, notes, deprecation and title; `without: [field, ...]` leaves some out.
  (A rule set's `extends` is a list of changes and is worked out in `rule_sets`.)
- A record with `overrides: <id>` in place of an id changes fields of a record of a catalog that
  comes earlier in the order. Fields are replaced whole.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from gearrec.catalog.compiling import compile_record, ready
from gearrec.catalog.entries import Entry, Merged
from gearrec.catalog.inheritance import extend_all, override
from gearrec.catalog.kinds import RECORD_KINDS
from gearrec.catalog.record_base import Source
from gearrec.errors import Problem, allowed_words

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gearrec.catalog.reader import Document

Path = tuple[str | int, ...]

_HEADER_KEYS = ("kind", "format", "source", "records")
_HEADER_HINTS: Mapping[str, str] = {
    "kind": f"write 'kind: ...' with one of {', '.join(RECORD_KINDS)}",
    "format": "write 'format: 1'",
    "records": "write 'records:' and below it a list, each record beginning with '- id: ...'",
}


@dataclass(frozen=True, slots=True)
class Layer:
    """One catalog as it was read: its namespace, its manifest's source, and its other files.

    `lost`: names of files that could not be read.
    """

    namespace: str
    documents: Sequence[Document]
    source: Mapping[str, Any] | None = None
    lost: Sequence[str] = ()


def merge(layers: Sequence[Layer]) -> tuple[Merged, list[Problem]]:
    """The entries of all layers, in their order, and every problem of putting them together."""
    problems: list[Problem] = []
    entries: dict[str, dict[str, Entry]] = {kind: {} for kind in RECORD_KINDS}
    changes: list[Entry] = []
    loose: list[Entry] = []
    lost: dict[str, str] = {}
    for number, layer in enumerate(layers):
        for file in layer.lost:
            lost.setdefault(layer.namespace, file)
        for document in layer.documents:
            kind = _header(document, problems)
            if kind is not None:
                _collect(document, kind, number, layer, entries[kind], changes, loose, problems)
            else:
                lost.setdefault(layer.namespace, document.file)
    aliases = _aliases(entries, problems)
    merged = Merged(entries, aliases, loose, lost)
    for change in changes:
        override(change, merged, problems)
    extend_all(merged, problems)
    return merged, problems


def _header(document: Document, problems: list[Problem]) -> str | None:
    """The kind of the records in a file, if its top can be used at all."""
    value = document.value
    problems += [
        Problem(
            document.place((key,), key=True),
            f"unknown key '{key}'; {allowed_words(_HEADER_KEYS, key)}",
            "unknown-key",
        )
        for key in value
        if key not in _HEADER_KEYS
    ]
    for key in ("kind", "format", "records"):
        if key not in value:
            message = f"the key '{key}' is missing at the top of the file; {_HEADER_HINTS[key]}"
            problems.append(Problem(document.place(()), message, "missing-key"))
    kind = value.get("kind")
    if "kind" in value and kind not in RECORD_KINDS:
        words = allowed_words(RECORD_KINDS, kind if isinstance(kind, str) else None)
        message = f"found {kind!r}; {words}"
        problems.append(Problem(document.place(("kind",)), message, "wrong-form"))
        kind = None
    if "format" in value and (value["format"] is True or value["format"] != 1):
        message = f"format {value['format']!r} is not known to this version; allowed: 1"
        problems.append(Problem(document.place(("format",)), message, "wrong-form"))
    records = value.get("records")
    if "records" in value and not (isinstance(records, list) and records):
        message = "allowed: a list with at least one record, each beginning with '- id: ...'"
        problems.append(Problem(document.place(("records",)), message, "wrong-form"))
        return None
    return kind if isinstance(kind, str) and isinstance(records, list) else None


def _collect(
    document: Document,
    kind: str,
    layer_number: int,
    layer: Layer,
    entries: dict[str, Entry],
    changes: list[Entry],
    loose: list[Entry],
    problems: list[Problem],
) -> None:
    """Take the records of one file; those that override others are set aside."""
    source = _file_source(document, problems) or layer.source
    prefix = layer.namespace + "/"
    for number, record in enumerate(document.value["records"]):
        if not isinstance(record, dict):
            message = "allowed: a mapping of keys to values, beginning with 'id: ...'"
            problems.append(Problem(document.place(("records", number)), message, "wrong-form"))
            continue
        if "overrides" in record:
            changes.append(Entry(kind, "", record, document, number, layer_number))
            continue
        record_id = record.get("id")
        if not isinstance(record_id, str):
            where = ("records", number, "id") if "id" in record else ("records", number)
            message = f"a record needs an id, such as '{prefix}its-name'"
            problems.append(Problem(document.place(where), message, "missing-key"))
            rest = {name: inner for name, inner in record.items() if name != "id"}
            loose.append(_loose(kind, rest, document, number))
            continue
        if not record_id.startswith(prefix):
            message = (
                f"the id {record_id!r} is not in this catalog's namespace; allowed: {prefix}...; "
                "to change another catalog's record, write 'overrides:' in place of 'id:'"
            )
            problems.append(
                Problem(document.place(("records", number, "id")), message, "namespace")
            )
        first = entries.get(record_id)
        if first is not None:
            message = (
                f"the id {record_id!r} is already taken: {first.where()}; give one of the two "
                "another id, or write 'overrides:' in place of 'id:' to change it on purpose"
            )
            problems.append(
                Problem(document.place(("records", number, "id")), message, "duplicate-id")
            )
            loose.append(_loose(kind, record, document, number))
            continue
        value = record
        if source is not None and "source" not in record:
            value = {**record, "source": source}
        entries[record_id] = Entry(kind, record_id, value, document, number, layer_number)


def _loose(kind: str, record: dict[str, Any], document: Document, number: int) -> Entry:
    """A record that cannot be taken in; what it holds is looked at all the same."""
    value = {name: inner for name, inner in record.items() if name != "without"}
    orphan = "extends" in record or "id" not in record
    return Entry(kind, "", value, document, number, -1, orphan=orphan)


def _file_source(document: Document, problems: list[Problem]) -> dict[str, Any] | None:
    """The source that a file gives for its records; its problems are told once, not per record."""
    given = document.value.get("source")
    if given is None:
        return None
    _, found = compile_record(
        ready(Source),
        given,
        place=lambda path, key=False: document.place(("source", *path), key=key),
    )
    problems.extend(found)
    return None if found else given


def _aliases(
    entries: Mapping[str, Mapping[str, Entry]], problems: list[Problem]
) -> dict[str, dict[str, str]]:
    found: dict[str, dict[str, str]] = {}
    for kind, by_id in entries.items():
        aliases = found[kind] = {}
        for entry in by_id.values():
            given = entry.value.get("aliases", ())
            for number, alias in enumerate(given if isinstance(given, list) else ()):
                if not isinstance(alias, str):
                    continue
                holder = by_id.get(alias) or by_id.get(aliases.get(alias, ""))
                if holder is not None:
                    message = f"the alias {alias!r} is already taken: {holder.where()}"
                    place = entry.place(("aliases", number))
                    problems.append(Problem(place, message, "duplicate-id"))
                else:
                    aliases[alias] = entry.id
    return found
