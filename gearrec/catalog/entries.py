"""Values of records between reading and checking: where each was written, what changed it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from gearrec.catalog.kinds import RECORD_KINDS
from gearrec.errors import Place, nearest

if TYPE_CHECKING:
    from collections.abc import Mapping

    from gearrec.catalog.reader import Document

Path = tuple[str | int, ...]


@dataclass(slots=True)
class Entry:
    """The value of one record after all layers, and where each of its fields was written."""

    kind: str
    id: str
    value: dict[str, Any]
    document: Document
    number: int
    layer: int
    written: dict[str, tuple[Document, int]] = field(default_factory=dict)
    overridden_by: tuple[str, ...] = ()
    orphan: bool = False
    """What it extends is not there, so that it cannot be known what is missing."""

    def place(self, path: Path = (), *, key: bool = False) -> Place:
        """Where the value at `path` in the record, or its key, was written."""
        document, number = self.document, self.number
        if self.written and path:
            document, number = self.written.get(str(path[0]), (document, number))
        return document.place(("records", number, *path), key=key)

    def where(self) -> str:
        """File, line and column, to be named in a message about another place."""
        place = self.place(("id",))
        return f"{place.file}:{place.line}:{place.column}"


@dataclass(frozen=True, slots=True)
class Merged:
    """All entries by kind and id, current ids by alias, and records without a place."""

    entries: Mapping[str, Mapping[str, Entry]]
    aliases: Mapping[str, Mapping[str, str]]
    loose: list[Entry] = field(default_factory=list)
    lost: Mapping[str, str] = field(default_factory=dict)
    """Namespaces of catalogs of which a file's records are not known, and the first such file."""

    def find(self, kind: str, record_id: str) -> Entry | None:
        """The entry of an id or an alias."""
        entries = self.entries[kind]
        return entries.get(record_id) or entries.get(self.aliases[kind].get(record_id, ""))


def no_record(kind: str, record_id: str, merged: Merged) -> str:
    """The words for an id that no record of the kind has, with the nearest spelling."""
    for other in RECORD_KINDS:
        if other != kind and merged.find(other, record_id) is not None:
            return (
                f"{record_id!r} is of the kind {other}; allowed: the id of a record of kind {kind}"
            )
    known = [*merged.entries[kind], *merged.aliases[kind]]
    guess = nearest(record_id, known)
    words = f"there is no record {record_id!r} of the kind {kind}"
    if guess:
        words += f"; did you mean '{guess}'?"
    file = merged.lost.get(record_id.partition("/")[0])
    return f"{words}; it may stand in {file}, which has to be mended first" if file else words
