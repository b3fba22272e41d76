"""The check that the formulas of the truck make of their arguments.

A formula takes numbers or arrays of them. NaN means unknown and passes through, so that the result
is unknown too; anything else outside the range of validity is an error that names the argument.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from gearrec.errors import InputError, Place, Problem

if TYPE_CHECKING:
    from collections.abc import Iterator

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Span:
    """The values that an argument may take: from `low` to `high`, `low` itself if so stated."""

    words: str
    low: float = -math.inf
    high: float = math.inf
    low_allowed: bool = True

    def refuses(self, values: Floats) -> npt.NDArray[np.bool_]:
        """Mask of the values outside; infinities are, NaN is not."""
        below = values < self.low if self.low_allowed else values <= self.low
        return np.asarray(below | (values > self.high) | np.isinf(values), dtype=np.bool_)


ANY = Span("any finite number")
ABOVE_ZERO = Span("a number above 0", low=0.0, low_allowed=False)
ZERO_OR_MORE = Span("0 or more", low=0.0)
EFFICIENCY = Span("above 0, at most 1", low=0.0, high=1.0, low_allowed=False)


def numbers(**arguments: tuple[npt.ArrayLike, Span]) -> tuple[Floats, ...]:
    """The arguments as float64 arrays, in the order given.

    Parameters
        arguments: name of each argument = (its value, the span allowed for it).

    Raises
        InputError: values are no numbers or lie outside their span; every argument at fault is
            named at once, an array's with the index of its first bad value.
    """
    values: dict[str, Floats] = {}
    problems: list[Problem] = []
    for name, (given, span) in arguments.items():
        raw = np.asarray(given)
        # Text and truth values would convert without complaint, and hide a mistake.
        if raw.dtype.kind not in "fiu":
            message = f"{given!r} is not a number; allowed: {span.words}"
            problems.append(Problem(Place(dotted=name), message))
            continue
        values[name] = raw.astype(np.float64)
        problems.extend(_outside(name, values[name], span))
    if problems:
        raise InputError(problems)
    return tuple(values.values())


def _outside(name: str, values: Floats, span: Span) -> Iterator[Problem]:
    refused = span.refuses(values)
    if not np.any(refused):
        return
    index = np.unravel_index(int(np.argmax(refused)), values.shape)
    where = f"{name}[{', '.join(str(int(place)) for place in index)}]" if index else name
    message = f"{float(values[index]):g} is not allowed; allowed: {span.words}"
    yield Problem(Place(dotted=where), message)
