"""Fields that hold a quantity: text with a unit in a file, an SI float in the record.

`Annotated[float, Quantity("mass", low="300 kg", high="40000 kg")]` is a field type for pydantic.
The text is read by `gearrec.units`; what was read once is remembered, since a catalog repeats
itself.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache, partial
from typing import TYPE_CHECKING, Any

from pydantic_core import PydanticCustomError, core_schema

from gearrec import units
from gearrec.errors import QuantityError

if TYPE_CHECKING:
    from collections.abc import Callable

    from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
    from pydantic.json_schema import JsonSchemaValue

# A service that reads jobs for months must not keep every text it ever saw.
_REMEMBERED = 50_000

# As many characters of a number as `units.parse` reads; the tests hold the two together.
_LONGEST_NUMBER = 40


@dataclass(frozen=True, slots=True)
class Quantity:
    """A field's dimension, its sane limits (text, included in what is allowed) and an example."""

    dimension: str
    low: str | None = None
    high: str | None = None
    example: str | None = None

    def __get_pydantic_core_schema__(
        self, source: object, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(
            validator(self.dimension, self.low, self.high),
            serialization=core_schema.plain_serializer_function_ser_schema(
                _writer(self.dimension), when_used="json"
            ),
        )

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        return json_schema(self.dimension, self.low, self.high, self.example)


@cache
def validator(
    dimension: str, low: str | None = None, high: str | None = None
) -> Callable[[object], float]:
    """The plain function that turns a file's text into the SI value of `dimension`, or raises."""
    lowest = None if low is None else units.parse(low, dimension)
    highest = None if high is None else units.parse(high, dimension)
    remembered: dict[object, float] = {}

    def read(value: object) -> float:
        # Only texts are ever stored: a number can never equal a key, whatever its hash.
        try:
            return remembered[value]
        except (KeyError, TypeError):
            pass
        try:
            found = units.parse(value, dimension)
        except QuantityError as error:
            raise PydanticCustomError(
                "quantity", "{reason}", {"reason": str(error), "dimension": dimension}
            ) from None
        if (lowest is not None and found < lowest) or (highest is not None and found > highest):
            raise PydanticCustomError(
                "sane-limit",
                "{found} is outside the sane limits; allowed: {limits}",
                {"found": repr(value), "limits": limits_text(low, high)},
            )
        if len(remembered) >= _REMEMBERED:
            remembered.clear()
        remembered[value] = found
        return found

    return read


def limits_text(low: str | None, high: str | None) -> str:
    """'300 kg to 40000 kg', 'at least 300 kg', 'at most 40000 kg' or ''."""
    if low is not None and high is not None:
        return f"{low} to {high}"
    if low is not None:
        return f"at least {low}"
    return f"at most {high}" if high is not None else ""


@cache
def pattern(dimension: str) -> str:
    """The regular expression (ECMA) of the texts that `units.parse` reads."""
    number = r"(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)"
    sign = r"[+-]?" if _signed(dimension) else r"(?:\+|-(?=[0.]+(?![0-9.])))?"
    names = sorted(units.UNITS[dimension], key=lambda name: (-len(name), name))
    blanks = " +" if names[0][0].isdigit() else " *"
    choice = "|".join(_escaped(name) for name in names)
    # Python's `$` also matches before a line end, which ECMA's does not.
    return rf"^(?![0-9.+-]{{{_LONGEST_NUMBER + 1}}}){sign}{number}{blanks}(?:{choice})$(?!\n)"


def _signed(dimension: str) -> bool:
    try:
        units.parse(f"-1 {next(iter(units.UNITS[dimension]))}", dimension)
    except QuantityError:
        return False
    return True


def _escaped(text: str) -> str:
    # re.escape also escapes what ECMA, in Unicode mode, does not allow to be escaped.
    return re.sub(r"([\^$.*+?()\[\]{}|\\])", r"\\\1", text)


def json_schema(
    dimension: str, low: str | None = None, high: str | None = None, example: str | None = None
) -> dict[str, Any]:
    """The JSON Schema of a field of `dimension`.

    A schema cannot compare numbers inside a text, so limits stand in `x-limits` for people and
    tools; everything else about the text is in the pattern.
    """
    schema: dict[str, Any] = {
        "type": "string",
        "pattern": pattern(dimension),
        "x-dimension": dimension,
        "x-units": list(units.UNITS[dimension]),
    }
    if low is not None or high is not None:
        schema["x-limits"] = limits_text(low, high)
    if example is not None:
        schema["examples"] = [example]
    return schema


def _writer(dimension: str) -> Callable[[float], str]:
    """Writes the SI value as text that reads back as the same value, for JSON."""
    return partial(units.exact_text, dimension=dimension)
