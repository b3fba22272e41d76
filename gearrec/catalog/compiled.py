"""Catalogs in compiled form: checked records as JSON behind an index that needs no parsing.

    magic, length of the head              12 bytes
    head (JSON): files, warnings, kinds    for each kind: where its index stands, its length, ...
    index of each kind                     sorted: digest of the id or alias, position, length
    records (JSON), and list of ids of each kind (JSON)

One record is found by a binary search over the bytes, so that a catalog of thousands costs nothing
to open; memory holds the bytes and the records asked for.
"""

from __future__ import annotations

import hashlib
import struct
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

from pydantic_core import from_json, to_json

from gearrec.catalog.cache import DamagedError
from gearrec.errors import Place, Problem

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from gearrec.catalog.entries import Entry, Merged

MAGIC = b"gearrec1"
_START = struct.Struct("<8sI")
_ROW = struct.Struct("<8sQI")
# Rules are checked further when a rule set is compiled, and cases when they are run; their keys'
# places are kept so that what is found then can still be told with line and column.
_PLACED_KINDS = frozenset({"rule", "rule-set", "case"})


class Bytes(Protocol):
    """What records are read from: bytes, or a kept file that checks each part when it is read."""

    def __len__(self) -> int: ...

    def __getitem__(self, part: slice, /) -> bytes: ...


@dataclass(frozen=True, slots=True)
class Found:
    """One record in compiled form: its value as it was checked, and where it was written."""

    value: dict[str, Any]
    place: Place
    keys: Mapping[str, Place]
    overridden_by: tuple[str, ...]


def pack(merged: Merged, *, layers: Sequence[str], warnings: Iterable[Problem] = ()) -> bytes:
    """The compiled form of what was merged and checked."""
    files: dict[str, int] = {}

    def number(place: Place) -> tuple[int, int, int]:
        return files.setdefault(place.file, len(files)), place.line, place.column

    kinds: dict[str, tuple[int, int, int, int]] = {}
    indexes: list[bytes] = []
    blobs: list[bytes] = []
    rows_before = position = 0
    for kind, by_id in merged.entries.items():
        rows: dict[str, tuple[int, int]] = {}
        for record_id, entry in by_id.items():
            blob = _blob_of(entry, number)
            rows[record_id] = (position, len(blob))
            blobs.append(blob)
            position += len(blob)
        for alias, record_id in merged.aliases[kind].items():
            rows[alias] = rows[record_id]
        ids = to_json(list(by_id))
        blobs.append(ids)
        kinds[kind] = (rows_before, len(rows), position, len(ids))
        indexes += sorted(_ROW.pack(_digest(name), *row) for name, row in rows.items())
        rows_before += len(rows)
        position += len(ids)
    head = to_json(
        {
            "files": list(files),
            "layers": list(layers),
            "kinds": kinds,
            "warnings": [
                [w.place.file, w.place.line, w.place.column, w.place.dotted, w.message, w.code]
                for w in warnings
            ],
        }
    )
    return b"".join([_START.pack(MAGIC, len(head)), head, *indexes, *blobs])


def _blob_of(entry: Entry, number: Callable[[Place], tuple[int, int, int]]) -> bytes:
    blob: dict[str, Any] = {"value": entry.value, "at": number(entry.place())}
    if entry.kind in _PLACED_KINDS:
        blob["keys"] = {key: number(entry.place((key,))) for key in entry.value}
    if entry.overridden_by:
        blob["overridden_by"] = entry.overridden_by
    return to_json(blob)


class Compiled:
    """Reads records out of the compiled form; the bytes may be those of a mapped file."""

    __slots__ = ("_blobs", "_data", "_head", "_indexes")

    def __init__(self, data: Bytes) -> None:
        try:
            magic, length = _START.unpack(data[: _START.size])
            self._indexes = _START.size + length
            self._head: dict[str, Any] = from_json(data[_START.size : self._indexes])
            rows = sum(row[1] for row in self._head["kinds"].values())
        except (struct.error, ValueError, KeyError, TypeError) as error:
            raise DamagedError(f"not a compiled catalog: {error}") from None
        if magic != MAGIC:
            raise DamagedError("not a compiled catalog, or one of another version")
        self._data = data
        self._blobs = self._indexes + rows * _ROW.size

    @property
    def layers(self) -> tuple[str, ...]:
        """Namespaces of the catalogs, in their order."""
        return tuple(self._head["layers"])

    @property
    def files(self) -> tuple[str, ...]:
        """Files that hold records."""
        return tuple(self._head["files"])

    def warnings(self) -> tuple[Problem, ...]:
        """Problems that do not make the catalogs unusable."""
        return tuple(
            Problem(Place(file, line, column, dotted), message, code, warning=True)
            for file, line, column, dotted, message, code in self._head["warnings"]
        )

    def ids(self, kind: str) -> tuple[str, ...]:
        """Ids of all records of a kind, in the order of the files."""
        row = self._head["kinds"].get(kind)
        return () if row is None else tuple(from_json(self._blob(row[2], row[3])))

    def find(self, kind: str, record_id: str) -> Found | None:
        """The record of an id or an alias, or None."""
        row = self._head["kinds"].get(kind)
        if row is None:
            return None
        first = self._indexes + row[0] * _ROW.size
        wanted = _digest(record_id)
        low, high = 0, row[1]
        while low < high:
            middle = (low + high) // 2
            at = first + middle * _ROW.size
            if self._data[at : at + 8] < wanted:
                low = middle + 1
            else:
                high = middle
        if low == row[1]:
            return None
        at = first + low * _ROW.size
        digest, position, length = _ROW.unpack(self._data[at : at + _ROW.size])
        if digest != wanted:
            return None
        blob = from_json(self._blob(position, length))
        return Found(
            value=blob["value"],
            place=self._place(blob["at"]),
            keys={key: self._place(at) for key, at in blob.get("keys", {}).items()},
            overridden_by=tuple(blob.get("overridden_by", ())),
        )

    def _blob(self, position: int, length: int) -> bytes:
        start = self._blobs + position
        return self._data[start : start + length]

    def _place(self, at: Sequence[int]) -> Place:
        return Place(self._head["files"][at[0]], at[1], at[2])


def _digest(record_id: str) -> bytes:
    return hashlib.blake2b(record_id.encode(), digest_size=8).digest()
