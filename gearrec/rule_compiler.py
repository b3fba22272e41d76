"""From rule records to the arrays that `gearrec.rules` evaluates; every fault in one pass."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from gearrec.errors import CatalogError, Problem
from gearrec.rule_reading import Linear, MetricLike, PlaceOf, RuleParts, RuleReader
from gearrec.rules import CompiledRules, Places, ValueRows

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from gearrec.attributes import Attribute
    from gearrec.catalog.rule_records import Rule
    from gearrec.rule_legs import Floats

_VERDICTS = ("preference", "limit", "caution")


def compile_rules(
    members: Sequence[tuple[Rule, float]],
    *,
    metrics: Mapping[str, MetricLike],
    attributes: Mapping[str, Attribute],
    place_of: PlaceOf | None = None,
) -> CompiledRules:
    """Compile rules with their weight factors, as `gearrec.catalog.rule_sets.members` gives them.

    Raises CatalogError with every fault: unknown metric or attribute, a quantity of the wrong
    dimension, `legs` where they do not belong, constant edges out of order.
    """
    ordered = sorted(members, key=lambda member: (_VERDICTS.index(member[0].verdict), member[0].id))
    problems: list[Problem] = []
    parts = [
        RuleReader(rule, metrics, attributes, problems, place_of).read() for rule, _ in ordered
    ]
    if problems:
        raise CatalogError(problems)
    factors = [factor for rule, factor in ordered if rule.verdict == "preference"]
    return _assemble(parts, factors, metrics)


def _assemble(
    parts: Sequence[RuleParts], factors: Sequence[float], metrics: Mapping[str, MetricLike]
) -> CompiledRules:
    preferences = [part for part in parts if part.rule.verdict == "preference"]
    others = [part for part in parts if part.rule.verdict != "preference"]
    names = sorted(
        {name for part in parts for name in part.needed()}
        | {condition[0] for part in parts for condition in part.conditions}
    )
    row_of = {name: row for row, name in enumerate(names, start=1)}
    linear = [part.edges[slot] for slot in range(4) for part in preferences]
    linear += [part.weight for part in preferences]
    linear += [part.edges[0] for part in others]
    dependencies = [[0, *(row_of[name] for name in part.needed())] for part in parts]
    conditions = [
        [(row_of[name], low, high, negated) for name, low, high, negated in part.conditions]
        or [(0, 0.0, 2.0, False)]
        for part in parts
    ]
    flat = [condition for group in conditions for condition in group]
    return CompiledRules(
        rules=tuple(part.rule for part in parts),
        preferences=len(preferences),
        limits=sum(part.rule.verdict == "limit" for part in parts),
        factors=np.array(factors, dtype=np.float64)[:, None],
        attribute_names=tuple(names),
        linear_base=_column(number.base for number in linear),
        linear_terms=_term_levels(linear, row_of),
        linear_least=_column(number.least for number in linear),
        linear_most=_column(number.most for number in linear),
        near_rows=np.flatnonzero([part.near for part in preferences]),
        near_is_ratio=np.array([part.ratio_scale for part in preferences], dtype=np.bool_),
        dependency_attributes=np.array([row for group in dependencies for row in group], np.intp),
        dependency_starts=_starts(dependencies),
        condition_attributes=np.array([condition[0] for condition in flat], dtype=np.intp),
        condition_low=_column(condition[1] for condition in flat),
        condition_high=_column(condition[2] for condition in flat),
        condition_negated=np.array([condition[3] for condition in flat], dtype=np.bool_)[:, None],
        condition_starts=_starts(conditions),
        limit_signs=np.array([part.sign for part in others], dtype=np.float64)[:, None, None],
        weighted_rows=np.flatnonzero([part.rule.legs == "weighted" for part in preferences]),
        dimensions={
            part.rule.id: metrics[part.rule.metric].dimension
            for part in parts
            if part.rule.metric is not None
        },
        values=_value_rows(parts, metrics),
    )


def _value_rows(parts: Sequence[RuleParts], metrics: Mapping[str, MetricLike]) -> ValueRows:
    # A caution without a shape looks at no metric: its row of zeros passes its limit of zero.
    judged = [None if part.rule.shape.form == "none" else part.rule.metric for part in parts]
    jobs = sorted({name for name in judged if name is not None and not metrics[name].per_leg})
    chosen = [
        (name, part.choice)
        for name, part in zip(judged, parts, strict=True)
        if name is not None and part.choice is not None
    ]
    sources = list(dict.fromkeys(chosen))
    means = [row for row, (_, choice) in enumerate(sources) if choice.role == "weighted"]
    zeros = len(jobs) + 2 * len(sources) + len(means)
    table: list[tuple[int, int, int, int]] = []
    for name, part in zip(judged, parts, strict=True):
        if name is None:
            table.append((zeros, zeros, len(jobs) + len(sources), len(sources)))
        elif part.choice is None:
            row = jobs.index(name)
            table.append((row, row, row, len(sources)))
        else:
            source = sources.index((name, part.choice))
            lowest, highest = len(jobs) + source, len(jobs) + len(sources) + source
            if part.choice.role == "weighted":
                lowest = highest = len(jobs) + 2 * len(sources) + means.index(source)
            elif _worst_is_highest(part):
                lowest = highest
            table.append((lowest, highest, len(jobs) + source, source))
    rows = np.array(table, dtype=np.intp).reshape(-1, 4)
    return ValueRows(
        job_metrics=tuple(jobs),
        leg_sources=tuple(sources),
        mean_sources=np.array(means, dtype=np.intp),
        low=rows[:, 0].copy(),
        high=rows[:, 1].copy(),
        missing=rows[:, 2].copy(),
        source=rows[:, 3].copy(),
    )


def _worst_is_highest(part: RuleParts) -> bool:
    """Limits and cautions compare one value: that of the leg that decides."""
    if part.rule.verdict == "preference":
        return False
    return (part.sign > 0.0) == (part.rule.verdict == "caution")


def _column(numbers: Iterable[float]) -> Floats:
    return np.array(list(numbers), dtype=np.float64)[:, None]


def _starts(groups: Sequence[Sequence[object]]) -> Places:
    lengths = [len(group) for group in groups]
    return np.array([sum(lengths[:place]) for place in range(len(lengths))], dtype=np.intp)


def _term_levels(
    linear: Sequence[Linear], row_of: Mapping[str, int]
) -> tuple[tuple[Places, Places, Floats], ...]:
    """First terms of all rows, then second terms …: within one level every row occurs once."""
    levels = []
    for level in range(max((len(number.terms) for number in linear), default=0)):
        chosen = [
            (row, *number.terms[level])
            for row, number in enumerate(linear)
            if len(number.terms) > level
        ]
        levels.append(
            (
                np.array([row for row, _, _ in chosen], dtype=np.intp),
                np.array([row_of[name] for _, name, _ in chosen], dtype=np.intp),
                _column(factor for _, _, factor in chosen),
            )
        )
    return tuple(levels)
