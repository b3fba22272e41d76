"""The closed operators of rules: amounts, numbers computed from attributes, conditions, shapes."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any, Literal, Self

from pydantic import ConfigDict, Field, model_validator
from pydantic_core import PydanticCustomError, core_schema

from gearrec.catalog.consistency import inconsistent
from gearrec.catalog.record_base import Strict
from gearrec.errors import allowed_words

if TYPE_CHECKING:
    from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
    from pydantic.json_schema import JsonSchemaValue

# The units themselves are checked where the dimension is known.
_QUANTITY = r"^[-+]?[0-9]+(\.[0-9]+)?( +\S|[A-Za-z%]).{0,30}$"
_OPERATORS = ("is", "is_not", "at_least", "at_most", "above", "below")
_FORMS = ("band", "at_least", "at_most", "near")


@dataclass(frozen=True, slots=True)
class _Scalar:
    """A field type: quantity text and, where `number`, a bare number, where `flag`, true or false.

    One validator instead of a union of types, so that a fault is reported once and at its place.
    """

    number: bool = True
    flag: bool = False
    word: bool = False

    def read(self, value: object) -> object:
        if isinstance(value, bool):
            if self.flag:
                return value
        elif isinstance(value, int | float):
            if self.number and math.isfinite(value):
                return float(value)
        elif isinstance(value, str) and (self.word or re.fullmatch(_QUANTITY, value)):
            return value
        raise PydanticCustomError(
            "scalar",
            "{found} found; allowed: {allowed}",
            {"found": repr(value), "allowed": str(self)},
        )

    def __str__(self) -> str:
        quantity = "a number with its unit, for example '1900 rpm' or '6 %'"
        kinds = ["a word" if self.word else quantity]
        kinds += ["a bare number"] if self.number else []
        kinds += ["true or false"] if self.flag else []
        return ", ".join(kinds)

    def __get_pydantic_core_schema__(
        self, source: object, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        text: dict[str, Any] = {"type": "string"}
        if not self.word:
            text |= {"pattern": _QUANTITY, "examples": ["1900 rpm", "6 %"]}
        kinds = [text]
        kinds += [{"type": "number"}] if self.number else []
        kinds += [{"type": "boolean"}] if self.flag else []
        return {"anyOf": kinds} if len(kinds) > 1 else text


Amount = Annotated[str | float, _Scalar()]
Word = Annotated[str | bool, _Scalar(number=False, flag=True, word=True)]
AttributeValue = Annotated[str | float | bool, _Scalar(flag=True, word=True)]
Name = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=60)]


def one_of_form(*, one_of: tuple[tuple[str, ...], ...], **more: Any) -> ConfigDict:
    """The JSON Schema twin of `require_one`, so that schema and model refuse the same files."""
    extra: dict[str, Any] = {"oneOf": [{"required": list(keys)} for keys in one_of], **more}
    return ConfigDict(json_schema_extra=extra)


def given_keys(part: Strict) -> set[str]:
    """The keys that a file gave; one without a value is not given."""
    return {name.rstrip("_") for name in part.model_fields_set if getattr(part, name) is not None}


def require_one(part: Strict, one_of: tuple[tuple[str, ...], ...]) -> None:
    """Raise unless the part gives exactly one of the alternatives, completely."""
    given = given_keys(part)
    complete = [keys for keys in one_of if given.issuperset(keys)]
    every = {key for keys in one_of for key in keys}
    if len(complete) != 1 or given & every != set(complete[0]):
        ways = "; or ".join(" and ".join(keys) for keys in one_of)
        found = ", ".join(sorted(given & every)) or "none"
        raise inconsistent(f"give exactly one of: {ways} (found: {found})")


_STARTS = (("base",), ("of",))


class Computed(Strict):
    """A number computed from attributes: a base, or an attribute times a number, plus terms.

    A file may write a constant in its place: `"1900 rpm"` is read as `{base: "1900 rpm"}`.
    """

    model_config = one_of_form(one_of=_STARTS, dependentRequired={"times": ["of"]})

    base: Amount | None = Field(default=None, description="constant part", examples=["6 %"])
    of: Name | None = Field(
        default=None,
        description="attribute in place of a constant",
        examples=["engine_cruise_comfortable_low"],
    )
    times: float | None = Field(default=None, description="factor on the attribute of `of`")
    plus: dict[Name, Amount] = Field(
        default_factory=dict,
        description="amount added in proportion to each attribute, which must be a share or flag",
    )
    least: Amount | None = Field(default=None, description="never below this")
    most: Amount | None = Field(default=None, description="never above this")

    @model_validator(mode="before")
    @classmethod
    def _constant(cls, value: object) -> object:
        if isinstance(value, str | int | float) and not isinstance(value, bool):
            return {"base": value}
        if not isinstance(value, dict | cls):
            allowed = f"{_Scalar()}, or a mapping with 'base' or 'of'"
            raise PydanticCustomError(
                "computed",
                "{found} found; allowed: {allowed}",
                {"found": f"a {type(value).__name__}", "allowed": allowed},
            )
        return value

    @model_validator(mode="after")
    def _one_start(self) -> Self:
        require_one(self, _STARTS)
        if self.times is not None and self.of is None:
            raise inconsistent("'times' belongs to 'of'; leave it out with 'base'", at=("times",))
        return self

    @classmethod
    def __get_pydantic_json_schema__(
        cls, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        constant = _Scalar().__get_pydantic_json_schema__(schema, handler)["anyOf"]
        return {"anyOf": [*constant, handler(schema)]}


class Condition(Strict):
    """One condition on an attribute, with exactly one operator."""

    model_config = one_of_form(one_of=tuple((name,) for name in _OPERATORS))

    attribute: Name = Field(description="attribute looked at", examples=["use_towing"])
    is_: Word | None = Field(default=None, alias="is", description="equals this word or flag")
    is_not: Word | None = Field(default=None, description="differs from this word or flag")
    at_least: Amount | None = Field(default=None, description="is this or more")
    at_most: Amount | None = Field(default=None, description="is this or less")
    above: Amount | None = Field(default=None, description="is more than this")
    below: Amount | None = Field(default=None, description="is less than this")

    @model_validator(mode="after")
    def _one_operator(self) -> Self:
        require_one(self, tuple((name,) for name in _OPERATORS))
        return self

    @property
    def operator(self) -> str:
        """The operator given."""
        (name,) = given_keys(self) - {"attribute"}
        return name

    @property
    def operand(self) -> str | float | bool:
        """What the attribute is compared with."""
        operator = self.operator
        value: str | float | bool = getattr(self, "is_" if operator == "is" else operator)
        return value


class Band(Strict):
    """Full score between two edges, falling to zero on both sides."""

    zero_below: Computed = Field(description="score 0 here and below")
    full_from: Computed = Field(description="full score from here")
    full_to: Computed = Field(description="full score up to here")
    zero_above: Computed = Field(description="score 0 here and above")


_SIDES = (("zero", "full"), ("limit",))


class Side(Strict):
    """One-sided: `zero` and `full` score of a preference, or the `limit` of a limit or caution."""

    model_config = one_of_form(
        one_of=_SIDES, dependentRequired={"zero": ["full"], "full": ["zero"]}
    )

    zero: Computed | None = Field(default=None, description="score 0 from here on outwards")
    full: Computed | None = Field(default=None, description="full score from here on")
    limit: Computed | None = Field(default=None, description="passes, or fires, at this value")

    @model_validator(mode="after")
    def _one_form(self) -> Self:
        require_one(self, _SIDES)
        return self


_BEYOND = (("zero_beyond",), ("zero_below", "zero_above"))


class Near(Strict):
    """Full score near a target; the other numbers are distances from it.

    With `scale: ratio` distances are in the natural logarithm: 10 % means 0.10 in ln.
    """

    model_config = one_of_form(
        one_of=_BEYOND,
        dependentRequired={"zero_below": ["zero_above"], "zero_above": ["zero_below"]},
    )

    target: Computed = Field(description="best value")
    scale: Literal["linear", "ratio"] = Field(default="linear", description="how distance is taken")
    full_within: Computed = Field(description="distance up to which the score is full")
    zero_beyond: Computed | None = Field(default=None, description="distance to 0, both sides")
    zero_below: Computed | None = Field(default=None, description="distance to 0, below the target")
    zero_above: Computed | None = Field(default=None, description="distance to 0, above the target")

    @model_validator(mode="after")
    def _one_form(self) -> Self:
        require_one(self, _BEYOND)
        return self


class Shape(Strict):
    """How a metric's value becomes a score, a pass or a warning: exactly one form, or `none`."""

    model_config = one_of_form(one_of=tuple((name,) for name in _FORMS))

    band: Band | None = None
    at_least: Side | None = None
    at_most: Side | None = None
    near: Near | None = None

    @model_validator(mode="before")
    @classmethod
    def _none(cls, value: object) -> object:
        if isinstance(value, str):
            if value != "none":
                words = allowed_words(["none", *_FORMS], value)
                raise inconsistent(f"unknown shape {value!r}; {words}")
            return {}
        if value == {}:
            raise inconsistent(f"no shape; give one of: {', '.join(_FORMS)}, or 'shape: none'")
        return value

    @model_validator(mode="after")
    def _one_form(self) -> Self:
        if self.model_fields_set:
            require_one(self, tuple((name,) for name in _FORMS))
        return self

    @property
    def form(self) -> str:
        """Name of the form given, or "none"."""
        return next(iter(given_keys(self)), "none")

    @property
    def side(self) -> Side | None:
        """The one-sided form, if it is one."""
        return self.at_least or self.at_most

    @property
    def is_limit(self) -> bool:
        """Whether the shape is a limit instead of soft edges."""
        return self.side is not None and self.side.limit is not None

    @classmethod
    def __get_pydantic_json_schema__(
        cls, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        return {"anyOf": [{"const": "none"}, handler(schema)]}
