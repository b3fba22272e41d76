"""Records of judgement: rules and rule sets, as a catalog file states them.

A rule is data with closed operators: a metric, the legs it looks at, conditions on attributes, one
shape, a weight, and the texts of its own page. There are no expressions. A record does not know
which metrics and attributes exist, so the quantities of edges stay texts here; names and dimensions
are checked when a rule set is compiled.
"""

from __future__ import annotations

import re
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, ConfigDict, Field, model_validator
from pydantic_core import PydanticCustomError

from gearrec.catalog.consistency import inconsistent
from gearrec.catalog.record_base import Grade, Identifier, Mass, Record, Share, Speed, Strict, Text
from gearrec.catalog.rule_shapes import (
    Amount,
    AttributeValue,
    Computed,
    Condition,
    Name,
    Shape,
    given_keys,
    one_of_form,
    require_one,
)
from gearrec.errors import allowed_words

Verdict = Literal["limit", "preference", "caution"]
LegRole = Literal["each", "weighted", "fastest", "slowest", "heaviest", "steepest", "towing"]

PLACEHOLDERS: dict[str, str] = {
    "value": "the metric's value for the candidate, with its unit",
    "ratio": "the candidate's axle ratio",
    "leg": "the name of the leg that decides",
    "edge": "the edge nearest to the value that costs score; for a limit or caution, the limit",
    "low": "lower end of the full-score range",
    "high": "upper end of the full-score range",
    "factory_ratio": "the axle ratio the vehicle left the factory with",
}

_PLACEHOLDER = re.compile(r"\{([^{}]*)\}")


class LegFilter(Strict):
    """Which legs a rule looks at, before its role picks among them."""

    range: Literal["high", "low"] | None = Field(default=None, description="transfer case range")
    towing: bool | None = Field(default=None, description="with, or without, trailer")
    speed_at_least: Speed | None = Field(default=None, description="legs this fast or faster")
    speed_below: Speed | None = Field(default=None, description="legs slower than this")


class ExampleLeg(Strict):
    """One leg of a worked example."""

    value: Amount = Field(description="value of the metric on the leg")
    share: Share = Field(description="share of the distance")
    speed: Speed = Field(default=27.0, description="road speed; default 27 m/s")
    mass: Mass = Field(default=2500.0, description="mass with trailer; default 2500 kg")
    grade_deviation: Grade = Field(default=0.0, description="standard deviation of the grade")
    towing: bool = False
    range: Literal["high", "low"] = "high"


_OUTCOMES = (("score",), ("passes",), ("fires",), ("applies",))


class Expected(Strict):
    """What a worked example must come to: exactly one."""

    model_config = one_of_form(one_of=_OUTCOMES)

    score: Annotated[float, Field(ge=0.0, le=1.0)] | None = None
    passes: bool | None = None
    fires: bool | None = None
    applies: Literal[False] | None = None

    @model_validator(mode="after")
    def _one_outcome(self) -> Self:
        require_one(self, _OUTCOMES)
        return self

    @property
    def outcome(self) -> str:
        """Which of the four is expected."""
        return next(iter(given_keys(self)))


class Example(Strict):
    """A worked example: its outcome is computed by the real code and printed on the rule's page."""

    model_config = ConfigDict(json_schema_extra={"not": {"required": ["value", "legs"]}})

    words: Text = Field(description="the job in words")
    value: Amount | None = Field(default=None, description="value of the metric")
    legs: Annotated[tuple[ExampleLeg, ...], Field(strict=False, min_length=1)] | None = Field(
        default=None, description="values of a per-leg metric"
    )
    attributes: dict[Name, AttributeValue] = Field(
        default_factory=dict, description="the attributes that the rule reads"
    )
    expect: Expected

    @model_validator(mode="after")
    def _one_value(self) -> Self:
        if self.value is not None and self.legs is not None:
            raise inconsistent("give 'value' or 'legs', not both")
        return self


def _closed_placeholders(text: str) -> str:
    for word in _PLACEHOLDER.findall(text):
        if word not in PLACEHOLDERS:
            raise PydanticCustomError(
                "placeholder",
                "unknown placeholder '{word}'; {words}",
                {"word": word, "words": allowed_words(list(PLACEHOLDERS), word)},
            )
    if set("{}") & set(_PLACEHOLDER.sub("", text)):
        raise PydanticCustomError("placeholder", "a brace stands alone; placeholders need both")
    return text


_SENTENCE_PATTERN = rf"^([^{{}}]|\{{({'|'.join(PLACEHOLDERS)})\}})+$"
Sentence = Annotated[
    Text,
    AfterValidator(_closed_placeholders),
    Field(json_schema_extra={"pattern": _SENTENCE_PATTERN}),
]


class Says(Strict):
    """Sentences for people, with placeholders from a closed list."""

    good: Sentence | None = Field(default=None, description="when the score is high")
    poor: Sentence | None = Field(default=None, description="when the score is low")
    limit: Sentence | None = Field(default=None, description="when the limit rules a ratio out")
    caution: Sentence | None = Field(default=None, description="when the caution fires")


_SENTENCES = {"preference": ("good", "poor"), "limit": ("limit",), "caution": ("caution",)}
_OUTCOME = {"preference": "score", "limit": "passes", "caution": "fires"}


class Rule(Record):
    """A statement about a metric: a limit, a preference or a caution, with the text of its page."""

    since: Annotated[str, Field(pattern=r"^[0-9]+\.[0-9]+(\.[0-9]+)?$", examples=["0.1.0"])] = (
        Field(description="version of the catalog that brought the rule")
    )
    verdict: Verdict = Field(description="what the rule does to a candidate")
    metric: Name | None = Field(default=None, description="name of the metric judged")
    legs: LegRole | None = Field(default=None, description="which legs of a per-leg metric count")
    only_legs: LegFilter | None = Field(default=None, description="legs that `legs` picks from")
    when: Annotated[tuple[Condition, ...], Field(strict=False)] = Field(
        default=(), description="conditions on attributes, all of which must hold"
    )
    shape: Shape = Field(description="how the value becomes a score, a pass or a warning")
    weight: Computed | None = Field(default=None, description="weight of a preference, 0 or more")
    what: Text = Field(description="what the rule measures and does")
    why: Text = Field(description="why the trade holds it")
    when_to_doubt: Text = Field(description="when a specialist would overrule it")
    example: Example = Field(description="a worked example")
    says: Says = Field(description="sentences for people")

    @model_validator(mode="after")
    def _fits_verdict(self) -> Self:
        faults = [*self._shape_faults(), *self._text_faults()]
        if faults:
            raise inconsistent("; ".join(faults))
        return self

    def _shape_faults(self) -> list[str]:
        faults = []
        bare = self.shape.form == "none"
        if bare and self.verdict != "caution":
            faults.append(f"a {self.verdict} needs a shape; 'none' is for cautions")
        elif bare and not self.when:
            faults.append("a caution with 'shape: none' needs a 'when'")
        elif not bare and self.shape.is_limit == (self.verdict == "preference"):
            wanted = "soft edges" if self.verdict == "preference" else "at_least or at_most {limit}"
            faults.append(f"a {self.verdict} needs a shape with {wanted}")
        if not bare and self.metric is None:
            faults.append("a rule with a shape needs a 'metric'")
        if (self.weight is None) == (self.verdict == "preference"):
            faults.append("a preference needs a 'weight', and only a preference has one")
        if self.only_legs is not None and self.legs is None:
            faults.append("'only_legs' needs 'legs'")
        return faults

    def _text_faults(self) -> list[str]:
        faults = []
        wanted = _SENTENCES[self.verdict]
        if given_keys(self.says) != set(wanted):
            faults.append(f"'says' of a {self.verdict} needs exactly: {', '.join(wanted)}")
        outcome = _OUTCOME[self.verdict]
        if self.example.expect.outcome not in (outcome, "applies"):
            faults.append(f"'example.expect' of a {self.verdict} needs '{outcome}' or 'applies'")
        valued = self.example.value is not None or self.example.legs is not None
        if not valued and self.shape.form != "none":
            faults.append("'example' needs a 'value' or 'legs'")
        if self.example.legs is not None and self.legs is None:
            faults.append("'example.legs' is for rules with 'legs'; give 'value'")
        return faults


_FACTOR = Annotated[float, Field(ge=0.0, le=100.0)]
_Rules = Annotated[tuple[Identifier, ...], Field(strict=False)]


class RuleSet(Record):
    """Which rules judge, and with what weight factors; may build on another set explicitly.

    `extends` names the set to start from; `drop`, `replace`, `add` and `weights` then say what is
    different. Without `extends`, `rules` lists the rules.
    """

    purpose: Text = Field(description="for whom the set is, and what it is for")
    rules: _Rules = Field(default=(), description="the rules, where the set extends no other")
    add: _Rules = Field(default=(), description="rules that the other set does not have")
    replace: dict[Identifier, Identifier] = Field(
        default_factory=dict, description="rule of the other set: rule that takes its place"
    )
    drop: _Rules = Field(default=(), description="rules of the other set that are left out")
    weights: dict[Identifier, _FACTOR] = Field(
        default_factory=dict, description="factor on the weight of a preference of the set"
    )

    @model_validator(mode="after")
    def _one_start(self) -> Self:
        changes = [name for name in ("add", "replace", "drop") if getattr(self, name)]
        if self.extends is None and not self.rules:
            raise inconsistent("a rule set needs 'rules' or 'extends'")
        if self.extends is None and changes:
            raise inconsistent(f"{', '.join(changes)}: only with 'extends'")
        if self.extends is not None and self.rules:
            raise inconsistent("give 'rules' or 'extends', not both; use 'add'", at=("rules",))
        return self
