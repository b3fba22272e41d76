"""A file as it was read, with the place of everything in it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from gearrec.catalog import syntax
from gearrec.errors import Place

if TYPE_CHECKING:
    from array import array

Steps = Sequence[str | int]


class Document:
    """One file as it was read: `file`, its name, and `value`, what it holds.

    `value` must not be changed as long as places are asked for: they are told from its order.
    """

    __slots__ = ("_lines", "_marks", "_sizes", "_starts", "_text", "file", "value")

    def __init__(
        self,
        *,
        file: str,
        value: dict[str, Any],
        marks: array[int],
        starts: dict[int, int],
        text: bytes,
    ) -> None:
        self.file = file
        self.value = value
        self._marks = marks
        self._starts = starts
        self._text = text
        self._lines: syntax.Lines | None = None
        self._sizes: dict[int, int] = {}

    def place(self, path: Steps, *, key: bool = False) -> Place:
        """Where the value at `path` stands (or its key), or the nearest value around it.

        Parameters: `path`, the keys and list positions from the top of the file; `key`, the place
        of the key instead of the value's. Returns: line and column of what of the path exists; the
        dotted place always names the whole path.
        """
        value: Any = self.value
        at = found = 0  # positions in the marks: of `value`, and of what is to be told
        step: Any
        for step in path:
            if isinstance(value, dict) and step in value:
                start = self._starts.get(id(value[step]))
                if start is None or key:
                    start = ordinal(value, at, step, self._sizes) + 1
                found, at = (start - 1 if key else start), start
            elif isinstance(value, list) and isinstance(step, int) and 0 <= step < len(value):
                known = self._starts.get(id(value[step]))
                if known is None:
                    known = at + 1 + sum(_size(item, self._sizes) for item in value[:step])
                found = at = known
            else:
                break
            value = value[step]
        if self._lines is None:
            self._lines = syntax.Lines(self._text.decode())
        line, column = self._lines.line_and_column(self._marks[found])
        return Place(self.file, line, column, dotted(path))


def ordinal(mapping: dict[Any, Any], start: int, key: str, sizes: dict[int, int]) -> int:
    """Which mark is the one of `key`, in the mapping whose own mark is the one at `start`."""
    at = start + 1
    for other, value in mapping.items():
        if other == key:
            break
        at += 1 + _size(value, sizes)
    return at


def _size(value: Any, sizes: dict[int, int]) -> int:
    """How many marks a value has: its own, and those of what it holds."""
    if not isinstance(value, dict | list):
        return 1
    size = sizes.get(id(value))
    if size is None:
        inside = value.values() if isinstance(value, dict) else value
        size = 1 + sum(_size(item, sizes) for item in inside)
        if isinstance(value, dict):
            size += len(value)
        sizes[id(value)] = size
    return size


def dotted(path: Steps) -> str:
    """A path as people write it: `records[3].axles.rear`."""
    text = ""
    for step in path:
        if isinstance(step, int):
            text += f"[{step}]"
        else:
            shown = step if step.isprintable() and len(step) <= 60 else syntax.shown(step)
            text += f".{shown}" if text else shown
    return text
