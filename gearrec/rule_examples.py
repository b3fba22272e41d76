"""The worked examples of rules, worked by the code that judges real jobs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gearrec.attributes import Attribute, encode
from gearrec.catalog.rule_records import ExampleLeg
from gearrec.errors import CatalogError, Place, Problem, QuantityError
from gearrec.rule_compiler import compile_rules
from gearrec.rule_reading import MetricLike, PlaceOf, RuleReader
from gearrec.rule_trace import RuleTrace, trace_rules
from gearrec.rules import Scores, score

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gearrec.catalog.rule_records import Rule
    from gearrec.rule_legs import Floats, Masks

SCORE_TOLERANCE = 0.005
"""Expected scores are written with two decimals."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExampleLegs:
    """The legs of an example, (L, 1), in the form that rules look at."""

    leg_known: Masks
    leg_share: Floats
    leg_speed_mps: Floats
    leg_grade_deviation: Floats
    leg_towing: Masks
    leg_low_range: Masks
    mass_kg: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkedExample:
    """What the real code made of a rule's example, and whether that is what the rule says."""

    rule: Rule
    trace: RuleTrace
    scores: Scores
    agrees: bool
    outcome: str
    expected: str


def work_example(
    rule: Rule,
    *,
    metrics: Mapping[str, MetricLike],
    attributes: Mapping[str, Attribute],
    place_of: PlaceOf | None = None,
) -> WorkedExample:
    """Compile the rule alone and evaluate it on its own example.

    Raises CatalogError for a rule that cannot be compiled, or an example with a wrong quantity.
    """
    compiled = compile_rules(
        [(rule, 1.0)], metrics=metrics, attributes=attributes, place_of=place_of
    )
    problems: list[Problem] = []
    given = _attributes(rule, attributes, problems, place_of)
    legs, columns = _columns(rule, metrics, attributes, problems, place_of)
    if problems:
        raise CatalogError(problems)
    scores = score(compiled, columns, given, legs)
    (trace,) = trace_rules(
        scores, candidate=0, lane=0, columns=columns, attributes=given, legs=legs
    )
    return _compare(rule, trace, scores)


def check_examples(
    rules: Sequence[Rule],
    *,
    metrics: Mapping[str, MetricLike],
    attributes: Mapping[str, Attribute],
    place_of: PlaceOf | None = None,
) -> tuple[Problem, ...]:
    """Every fault of the rules and of their examples, in one pass; empty when all agree."""
    problems: list[Problem] = []
    for rule in rules:
        try:
            worked = work_example(rule, metrics=metrics, attributes=attributes, place_of=place_of)
        except CatalogError as error:
            problems.extend(error.problems)
            continue
        if not worked.agrees:
            message = f"the example comes to {worked.outcome}; it says {worked.expected}"
            place = _place(rule, "example.expect", place_of)
            problems.append(Problem(place, message, code="rule-example"))
    return tuple(sorted(problems))


def _place(rule: Rule, dotted: str, place_of: PlaceOf | None) -> Place:
    return place_of(rule.id, dotted) if place_of else Place(dotted=f"{rule.id}: {dotted}")


def _attributes(
    rule: Rule,
    attributes: Mapping[str, Attribute],
    problems: list[Problem],
    place_of: PlaceOf | None,
) -> dict[str, Floats]:
    given: dict[str, Floats] = {}
    for name, value in rule.example.attributes.items():
        try:
            given[name] = np.array([encode(attributes[name], value)])
        except QuantityError as error:
            place = _place(rule, f"example.attributes.{name}", place_of)
            problems.append(Problem(place, str(error), code="rule-example"))
    return given


def _columns(
    rule: Rule,
    metrics: Mapping[str, MetricLike],
    attributes: Mapping[str, Attribute],
    problems: list[Problem],
    place_of: PlaceOf | None,
) -> tuple[ExampleLegs, dict[str, Floats]]:
    example = rule.example
    legs = _legs(rule)
    if rule.metric is None:
        return legs, {}
    metric = metrics[rule.metric]
    reader = RuleReader(rule, metrics, attributes, problems, place_of)
    texts: list[tuple[str | float | None, str]] = [
        (leg.value, f"example.legs[{number}].value")
        for number, leg in enumerate(example.legs or ())
    ]
    texts = texts or [(example.value, "example.value")]
    values = np.array(
        [
            np.nan if text is None else reader.metric_value(text, metric, dotted)
            for text, dotted in texts
        ]
    )
    column = values[None, :, None] if metric.per_leg else values[None, :1]
    return legs, {rule.metric: column}


def _legs(rule: Rule) -> ExampleLegs:
    """The legs given; without any, one leg that the rule looks at."""
    legs = rule.example.legs or (_fitting_leg(rule),)

    def column(values: list[float]) -> Floats:
        return np.array(values, dtype=np.float64)[:, None]

    return ExampleLegs(
        leg_known=np.ones((len(legs), 1), dtype=np.bool_),
        leg_share=column([leg.share for leg in legs]),
        leg_speed_mps=column([leg.speed for leg in legs]),
        leg_grade_deviation=column([leg.grade_deviation for leg in legs]),
        leg_towing=np.array([[leg.towing] for leg in legs], dtype=np.bool_),
        leg_low_range=np.array([[leg.range == "low"] for leg in legs], dtype=np.bool_),
        mass_kg=column([leg.mass for leg in legs]),
    )


def _fitting_leg(rule: Rule) -> ExampleLeg:
    chosen = rule.only_legs
    usual: float = ExampleLeg.model_fields["speed"].default
    lowest, highest = 0.0, usual
    if chosen is not None:
        lowest = chosen.speed_at_least or 0.0
        highest = usual if chosen.speed_below is None else 0.9 * chosen.speed_below
    return ExampleLeg.model_construct(
        value=0.0,
        share=1.0,
        speed=max(lowest, highest),
        towing=rule.legs == "towing" or bool(chosen and chosen.towing),
        range=(chosen.range if chosen else None) or "high",
    )


def _compare(rule: Rule, trace: RuleTrace, scores: Scores) -> WorkedExample:
    expect = rule.example.expect
    if trace.state == "does-not-apply":
        outcome = "the rule does not apply"
    elif trace.state == "unknown":
        outcome = f"unknown ({trace.reason})"
    elif rule.verdict == "preference":
        outcome = f"score {trace.score:.2f}"
    elif rule.verdict == "limit":
        outcome = "passes" if trace.passed else "ruled out"
    else:
        outcome = "fires" if trace.fired else "does not fire"
    if expect.score is not None:
        expected = f"score {expect.score:.2f}"
        agrees = trace.score is not None and abs(trace.score - expect.score) <= SCORE_TOLERANCE
    else:
        expected = {
            "passes": "passes" if expect.passes else "ruled out",
            "fires": "fires" if expect.fires else "does not fire",
            "applies": "the rule does not apply",
        }[expect.outcome]
        agrees = outcome == expected
    return WorkedExample(
        rule=rule,
        trace=trace,
        scores=scores,
        agrees=agrees,
        outcome=outcome,
        expected=expected,
    )
