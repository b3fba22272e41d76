"""The page of a rule: what, why, shape with its numbers, when, weight, example, doubt, sources.

The page is made from the rule's record alone; its example is worked by the code that judges jobs.
"""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Literal

from gearrec import units
from gearrec.attributes import Attribute, decode, encode
from gearrec.rule_examples import WorkedExample, work_example
from gearrec.rule_figures import limit_drawing, shape_drawing

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gearrec.catalog.rule_records import Rule
    from gearrec.catalog.rule_shapes import Computed, Condition
    from gearrec.rule_reading import MetricLike
    from gearrec.rule_trace import RuleTrace

System = Literal["us", "metric"]
Section = tuple[str, str, bool]
"""Title, text, and whether the text is a drawing."""

_WIDTH = 88
_OPERATORS = {
    "is": "is",
    "is_not": "is not",
    "at_least": "is at least",
    "at_most": "is at most",
    "above": "is above",
    "below": "is below",
}
_ROLES = {
    "each": "every leg; the worst one decides",
    "weighted": "every leg, weighted by its share of the distance",
    "fastest": "the fastest leg",
    "slowest": "the slowest leg",
    "heaviest": "the heaviest leg",
    "steepest": "the steepest leg",
    "towing": "every leg with a trailer; the worst one decides",
}


def rule_list(rules: Sequence[Rule]) -> str:
    """One line per rule: id, verdict, title; sorted by id."""
    if not rules:
        return "no rules"
    wide = max(len(rule.id) for rule in rules)
    return "\n".join(
        f"{rule.id:<{wide}}  {rule.verdict:<10}  {rule.title}"
        for rule in sorted(rules, key=lambda rule: rule.id)
    )


def page_text(
    rule: Rule,
    *,
    metrics: Mapping[str, MetricLike],
    attributes: Mapping[str, Attribute],
    system: System = "us",
) -> str:
    """The rule's page for a terminal. Raises CatalogError for a rule that cannot be compiled."""
    lines = [f"{rule.id}: {rule.title}", "=" * (len(rule.id) + 2 + len(rule.title)), ""]
    for title, text, drawn in _sections(rule, metrics, attributes, system):
        lines.append(title)
        if drawn:
            lines += [f"  {line}".rstrip() for line in text.splitlines()]
        else:
            for paragraph in text.splitlines():
                lines += textwrap.wrap(
                    paragraph, _WIDTH, initial_indent="  ", subsequent_indent="  "
                )
        lines.append("")
    return "\n".join(lines).rstrip() + "\n"


def page_markdown(
    rule: Rule,
    *,
    metrics: Mapping[str, MetricLike],
    attributes: Mapping[str, Attribute],
    system: System = "us",
) -> str:
    """The rule's page for the documentation."""
    parts = [f"# {rule.title}", f"`{rule.id}`"]
    for title, text, drawn in _sections(rule, metrics, attributes, system):
        body = f"```text\n{text}\n```" if drawn else "\n\n".join(text.splitlines())
        parts.append(f"## {title}\n\n{body}")
    return "\n\n".join(parts) + "\n"


def format_value(value: float | None, metric: MetricLike | None, *, system: System = "us") -> str:
    """Text of a metric's value; "not known" for None."""
    if value is None:
        return "not known"
    if metric is None:
        return f"{value:g}"
    if not metric.dimension:
        return f"{value:.4g} {metric.unit}"
    return units.format(value, metric.dimension, system)


def _sections(
    rule: Rule,
    metrics: Mapping[str, MetricLike],
    attributes: Mapping[str, Attribute],
    system: System,
) -> list[Section]:
    worked = work_example(rule, metrics=metrics, attributes=attributes)
    metric = metrics[rule.metric] if rule.metric else None
    sections: list[Section] = [
        ("What", rule.what, False),
        ("Why", rule.why, False),
        ("Looks at", _looks_at(rule), False),
        ("When", _when(rule.when), False),
        ("Shape", _shape_words(rule), False),
    ]
    drawing = _drawing(rule, worked.trace, metric, system)
    if drawing:
        sections.append(("Drawn with the numbers of the example", drawing, True))
    if rule.weight is not None:
        sections.append(("Weight", _computed(rule.weight), False))
    sections += [
        ("Example", _example(rule, worked, metric, attributes, system), False),
        ("When to doubt it", rule.when_to_doubt, False),
        ("Source", _source(rule), False),
        ("Since", rule.since, False),
    ]
    if rule.notes:
        sections.append(("Notes", rule.notes, False))
    if rule.deprecated:
        use = f" Use {rule.deprecated.use}." if rule.deprecated.use else ""
        words = f"Since {rule.deprecated.since}: {rule.deprecated.why}{use}"
        sections.append(("Deprecated", words, False))
    return sections


def _looks_at(rule: Rule) -> str:
    kinds = {
        "limit": "A limit: a ratio that breaks it is ruled out.",
        "preference": "A preference: it scores each ratio from 0 to 1.",
        "caution": "A caution: it says something and changes no score.",
    }
    text = kinds[rule.verdict]
    if rule.metric is not None:
        text += f" Metric: {rule.metric}."
    if rule.legs is not None:
        text += f" Legs: {_ROLES[rule.legs]}."
    if rule.only_legs is not None:
        given = rule.only_legs
        words = [f"{given.range} range"] if given.range else []
        if given.towing is not None:
            words.append("with trailer" if given.towing else "without trailer")
        if given.speed_at_least is not None:
            words.append(f"at {units.format(given.speed_at_least, 'speed', 'us')} or faster")
        if given.speed_below is not None:
            words.append(f"below {units.format(given.speed_below, 'speed', 'us')}")
        text += f" Only legs: {', '.join(words)}."
    return text


def _when(conditions: Sequence[Condition]) -> str:
    if not conditions:
        return "Always."
    return "\n".join(
        f"{condition.attribute} {_OPERATORS[condition.operator]} {_plain(condition.operand)}"
        for condition in conditions
    )


def _plain(value: str | float | bool) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value if isinstance(value, str) else f"{value:g}"


def _computed(number: Computed) -> str:
    if number.of is not None:
        text = number.of if number.times in (None, 1.0) else f"{number.times:g} x {number.of}"
    else:
        text = _plain(number.base if number.base is not None else 0.0)
    for name, amount in number.plus.items():
        plain = _plain(amount)
        sign, size = ("-", plain[1:]) if plain.startswith("-") else ("+", plain)
        text += f" {sign} {size} x {name}"
    if number.least is not None:
        text += f", at least {_plain(number.least)}"
    if number.most is not None:
        text += f", at most {_plain(number.most)}"
    return text


def _shape_words(rule: Rule) -> str:
    shape = rule.shape
    if shape.form == "none":
        return "None: it speaks whenever the conditions hold."
    if shape.band is not None:
        parts = shape.band
        return (
            f"Score 0 up to {_computed(parts.zero_below)}\n"
            f"full from {_computed(parts.full_from)}\n"
            f"to {_computed(parts.full_to)}\n"
            f"and 0 again from {_computed(parts.zero_above)}"
        )
    if shape.near is not None:
        near = shape.near
        below = near.zero_beyond or near.zero_below
        above = near.zero_beyond or near.zero_above
        assert below is not None  # noqa: S101 (held by the record)
        assert above is not None  # noqa: S101 (held by the record)
        scale = "in the logarithm" if near.scale == "ratio" else "linear"
        return (
            f"Best at {_computed(near.target)}\n"
            f"full within {_computed(near.full_within)}\n"
            f"score 0 from {_computed(below)} below and {_computed(above)} above (distance {scale})"
        )
    side = shape.side
    assert side is not None  # noqa: S101 (held by the record)
    more = shape.at_least is not None
    if side.limit is not None:
        verb = {"limit": "Passes", "caution": "Speaks"}[rule.verdict]
        return f"{verb} at {_computed(side.limit)} or {'more' if more else 'less'}"
    assert side.zero is not None  # noqa: S101 (held by the record)
    assert side.full is not None  # noqa: S101 (held by the record)
    ends = (side.zero, side.full)
    return (
        f"Score 0 at {_computed(ends[0])} or {'less' if more else 'more'}\n"
        f"full at {_computed(ends[1])} or {'more' if more else 'less'}"
    )


def _drawing(rule: Rule, trace: RuleTrace, metric: MetricLike | None, system: System) -> str:
    def text(value: float) -> str:
        return format_value(value, metric, system=system)

    if trace.edges is not None and any(edge is not None for edge in trace.edges):
        note = rule.metric or ""
        return shape_drawing(trace.edges, text=text, value=trace.value, unit_note=note)
    if trace.limit is None or rule.shape.form == "none":
        return ""
    more = rule.shape.at_least is not None
    if rule.verdict == "limit":
        words = ("ruled out", "passes") if more else ("passes", "ruled out")
    else:
        words = ("silent", "speaks") if more else ("speaks", "silent")
    return limit_drawing(trace.limit, upwards=more, words=words, text=text)


def _example(
    rule: Rule,
    worked: WorkedExample,
    metric: MetricLike | None,
    attributes: Mapping[str, Attribute],
    system: System,
) -> str:
    example, trace = rule.example, worked.trace
    lines = [example.words]
    lines += [
        f"{name}: {_given(attributes[name], value, system)}"
        for name, value in example.attributes.items()
    ]
    if trace.value is not None:
        lines.append(f"{rule.metric}: {format_value(trace.value, metric, system=system)}")
    weight = "" if trace.weight is None else f", weight {trace.weight:.2f}"
    lines.append(f"Worked by the library: {worked.outcome}{weight}.")
    if not worked.agrees:
        lines.append(f"This does not agree with the record, which says: {worked.expected}.")
    return "\n".join(lines)


def _given(attribute: Attribute, value: str | float | bool, system: System) -> str:
    return decode(attribute, encode(attribute, value), system)


def _source(rule: Rule) -> str:
    source = rule.source
    assert source is not None  # noqa: S101 (compiling refuses a rule without source)
    date = f" ({source.date})" if source.date else ""
    kind = source.kind.replace("-", " ")
    return f"{source.citation}{date}. Kind: {kind}; confidence: {source.confidence}."
