"""Every error the library raises on purpose, in one place.

`GearrecError` is the root. Errors about input carry `problems`: all that was found in one pass,
each with its place, so that a caller can show them beside the input.
"""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """Where something stands: file, line and column (from 1; 0 = not known), dotted place."""

    file: str = ""
    line: int = 0
    column: int = 0
    dotted: str = ""

    def __str__(self) -> str:
        where = self.file
        if self.line:
            where += f":{self.line}:{self.column}"
        if self.dotted:
            where += f": {self.dotted}" if where else self.dotted
        return where


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """One thing that is wrong with an input.

    `message` says what was found, what is allowed and what to do; `code` is a permanent name of the
    kind of problem; `warning` problems do not make an input unusable.
    """

    place: Place
    message: str
    code: str = "invalid"
    warning: bool = False

    def __str__(self) -> str:
        where = str(self.place)
        return f"{where}: {self.message}" if where else self.message


class GearrecError(Exception):
    """Root of the errors that the library raises on purpose."""


class InputError(GearrecError, ValueError):
    """An input cannot be used; `problems` holds every reason, sorted by place."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = tuple(sorted(problems))
        super().__init__("\n".join(str(problem) for problem in self.problems))


class QuantityError(GearrecError, ValueError):
    """A text is not a quantity of the dimension asked for."""


class TireSizeError(GearrecError, ValueError):
    """A text is not a tire size that can be used."""


class CatalogError(InputError):
    """A catalog, or the layers of several, cannot be used."""


class JobError(InputError):
    """A job cannot be used."""


class UnknownRecordError(GearrecError, LookupError):
    """No record has the id asked for."""


class PluginError(GearrecError):
    """A plugin breaks the contract of a hook."""


def nearest(word: str, allowed: Iterable[str]) -> str | None:
    """The allowed word that is spelled most like `word`, if any is close."""
    found = difflib.get_close_matches(word, list(allowed), n=1, cutoff=0.6)
    return found[0] if found else None


def allowed_words(allowed: Sequence[str], word: str | None = None) -> str:
    """'allowed: a, b; did you mean 'a'?' for the end of an error message."""
    text = "allowed: " + ", ".join(allowed)
    guess = nearest(word, allowed) if word else None
    return f"{text}; did you mean '{guess}'?" if guess else text
