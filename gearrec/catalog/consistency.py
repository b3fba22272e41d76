"""Checks across fields, which a JSON Schema cannot state: their errors carry the place inside."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pydantic_core import PydanticCustomError

if TYPE_CHECKING:
    from collections.abc import Sequence

Path = tuple[str | int, ...]


def inconsistent(message: str, *, at: Path = ()) -> PydanticCustomError:
    """The error to raise in a validator; `at` is the place below the mapping that is checked."""
    return PydanticCustomError("inconsistent", "{reason}", {"reason": message, "at": at})


def rising(values: Sequence[float], *, at: Path, item: str | None = None) -> None:
    """Raise unless each value is above the one before; `item` is the key inside each element."""
    for place in range(1, len(values)):
        if values[place] <= values[place - 1]:
            where = (*at, place) if item is None else (*at, place, item)
            raise inconsistent("each value must be above the one before", at=where)
