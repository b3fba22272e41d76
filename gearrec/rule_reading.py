"""One rule record, read against the metrics and attributes that exist: plain numbers, or faults.

A quantity text of an edge is read in the dimension of the rule's metric, a condition's in that of
its attribute.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol

import numpy as np

from gearrec import units
from gearrec.attributes import Attribute, encode
from gearrec.errors import Place, Problem, QuantityError, allowed_words
from gearrec.rule_legs import FAR, LegChoice

if TYPE_CHECKING:
    from gearrec.catalog.rule_records import Rule
    from gearrec.catalog.rule_shapes import Computed, Condition, Shape, Side

PlaceOf = Callable[[str, str], Place]
"""Where in its file a rule's key stands: rule id and dotted place -> Place."""


class MetricLike(Protocol):
    """What compiling needs to know of a metric."""

    @property
    def name(self) -> str: ...
    @property
    def dimension(self) -> str: ...
    @property
    def unit(self) -> str: ...
    @property
    def per_leg(self) -> bool: ...


@dataclass(frozen=True, slots=True)
class Linear:
    """A number computed from attributes: base + sum(factor x attribute), between two bounds."""

    base: float = 0.0
    terms: tuple[tuple[str, float], ...] = ()
    least: float = -np.inf
    most: float = np.inf


# Prefix of the dimension of a metric whose unit is none of `gearrec.units`.
_OWN_UNIT = "unit "
# Units with an arbitrary zero, or reciprocal: a difference in them means nothing.
_NO_DIFFERENCES = {"fuel_use": ("mpg",), "temperature": ("degC", "degF")}


@dataclass(slots=True)
class RuleParts:
    """A rule as numbers: edges (four, or one limit), weight, conditions and legs."""

    rule: Rule
    edges: list[Linear] = field(default_factory=list)
    ratio_scale: bool = False
    near: bool = False
    sign: float = 0.0
    weight: Linear = field(default_factory=Linear)
    conditions: list[tuple[str, float, float, bool]] = field(default_factory=list)
    choice: LegChoice | None = None

    def needed(self) -> list[str]:
        """Attributes without which the edges or the weight are unknown."""
        linear = [*self.edges, self.weight]
        return sorted({name for number in linear for name, _ in number.terms})


@dataclass(slots=True)
class RuleReader:
    """Reads one rule; faults are added to `problems`, so that all rules are read in one pass."""

    rule: Rule
    metrics: Mapping[str, MetricLike]
    attributes: Mapping[str, Attribute]
    problems: list[Problem]
    place_of: PlaceOf | None

    def read(self) -> RuleParts:
        """The rule as numbers; meaningless where a problem was added."""
        parts = RuleParts(self.rule)
        dimension = self._metric(parts)
        if self.rule.source is None:
            self._fault("source", "no source; give one in the rule, its file or its catalog")
        for number, condition in enumerate(self.rule.when):
            self._condition(parts, condition, f"when[{number}]")
        if dimension is not None and self.rule.shape.form != "none":
            self._shape(parts, self.rule.shape, dimension)
        elif self.rule.shape.form == "none":
            parts.edges, parts.sign = [Linear()], 1.0
        if self.rule.weight is not None:
            weight = self._linear(self.rule.weight, "number", "weight")
            parts.weight = Linear(
                weight.base, weight.terms, max(weight.least, 0.0), max(weight.most, 0.0)
            )
        for name in self.rule.example.attributes:
            self._attribute(name, f"example.attributes.{name}")
        return parts

    def metric_value(self, value: str | float, metric: MetricLike, dotted: str) -> float:
        """A value of the metric, as an example gives it."""
        return self._amount(value, metric.dimension or f"{_OWN_UNIT}{metric.unit}", dotted)

    def _fault(self, dotted: str, message: str) -> None:
        place = self.place_of(self.rule.id, dotted) if self.place_of else None
        self.problems.append(
            Problem(place or Place(dotted=f"{self.rule.id}: {dotted}"), message, code="rule")
        )

    def _attribute(self, name: str, dotted: str) -> Attribute | None:
        if name not in self.attributes:
            words = allowed_words(list(self.attributes), name)
            self._fault(dotted, f"unknown attribute {name!r}; {words}")
            return None
        return self.attributes[name]

    def _metric(self, parts: RuleParts) -> str | None:
        name = self.rule.metric
        if name is None:
            return None
        metric = self.metrics.get(name)
        if metric is None:
            words = allowed_words(sorted(self.metrics), name)
            self._fault("metric", f"unknown metric {name!r}; {words}")
            return None
        if metric.per_leg and self.rule.legs is None:
            self._fault(
                "legs",
                f"metric {name!r} is computed per leg, so 'legs' is needed; allowed: each, "
                "weighted, fastest, slowest, heaviest, steepest, towing",
            )
        elif not metric.per_leg and self.rule.legs is not None:
            self._fault("legs", f"metric {name!r} is not computed per leg; leave 'legs' out")
        elif self.rule.legs is not None:
            parts.choice = self._choice()
        return metric.dimension or f"{_OWN_UNIT}{metric.unit}"

    def _choice(self) -> LegChoice:
        chosen = self.rule.only_legs
        role = self.rule.legs or "each"
        if chosen is None:
            return LegChoice(role=role)
        least, below = chosen.speed_at_least, chosen.speed_below
        return LegChoice(
            role=role,
            low_range=None if chosen.range is None else chosen.range == "low",
            towing=chosen.towing,
            speed_at_least_mps=0.0 if least is None else least,
            speed_below_mps=FAR if below is None else below,
        )

    def _amount(
        self, value: str | float, dimension: str, dotted: str, *, difference: bool = False
    ) -> float:
        if dimension.startswith(_OWN_UNIT):
            return self._own_unit(value, dimension.removeprefix(_OWN_UNIT), dotted)
        if dimension == "number":
            if not isinstance(value, str):
                return float(value)
            self._fault(dotted, f"{value!r} has a unit; allowed: a bare number")
            return 0.0
        if difference and isinstance(value, str):
            for unit in _NO_DIFFERENCES.get(dimension, ()):
                if unit in value:
                    self._fault(dotted, f"{value!r}: a difference cannot be given in {unit}")
                    return 0.0
        sign = 1.0
        if difference:
            # A speed cannot be negative, but a difference of speeds can.
            sign, value = _signed(value)
        try:
            parsed = sign * units.parse(value, dimension)
        except QuantityError as error:
            self._fault(dotted, str(error))
            return 0.0
        return parsed

    def _own_unit(self, value: str | float, unit: str, dotted: str) -> float:
        number, _, given = str(value).partition(" ")
        if isinstance(value, str) and given.strip() == unit:
            try:
                return float(number)
            except ValueError:
                pass
        example = f"20 {unit}"
        self._fault(dotted, f"{value!r} is no number of {unit}; allowed: for example {example!r}")
        return 0.0

    def _linear(
        self,
        given: Computed,
        dimension: str,
        dotted: str,
        *,
        difference: bool = False,
    ) -> Linear:
        terms: list[tuple[str, float]] = []
        base = 0.0
        if given.of is not None:
            source = self._attribute(given.of, f"{dotted}.of")
            if source is not None:
                if attribute_dimension(source) != dimension:
                    self._fault(
                        f"{dotted}.of",
                        f"attribute {source.name!r} is a {attribute_dimension(source)}; "
                        f"needed: {dimension}",
                    )
                terms.append((source.name, 1.0 if given.times is None else given.times))
        elif given.base is not None:
            place = f"{dotted}.base" if given.model_fields_set != {"base"} else dotted
            base = self._amount(given.base, dimension, place, difference=difference)
        for name, amount in given.plus.items():
            place = f"{dotted}.plus.{name}"
            scale = self._attribute(name, place)
            if scale is not None and not scale.scales:
                scaling = [each.name for each in self.attributes.values() if each.scales]
                words = allowed_words(scaling, name)
                self._fault(place, f"attribute {name!r} is no share and no flag; {words}")
            terms.append((name, self._amount(amount, dimension, place, difference=True)))
        bounds = [
            default if bound is None else self._amount(bound, dimension, f"{dotted}.{key}")
            for key, bound, default in (
                ("least", given.least, -np.inf),
                ("most", given.most, np.inf),
            )
        ]
        if bounds[0] > bounds[1]:
            self._fault(f"{dotted}.least", "'least' is above 'most'")
        return Linear(base, tuple(terms), *bounds)

    def _condition(self, parts: RuleParts, condition: Condition, dotted: str) -> None:
        attribute = self._attribute(condition.attribute, f"{dotted}.attribute")
        if attribute is None:
            return
        operator = condition.operator
        equality = operator in ("is", "is_not")
        if equality != (attribute.kind in ("word", "flag")):
            allowed = "is, is_not" if not equality else "at_least, at_most, above, below"
            self._fault(
                f"{dotted}.{operator}",
                f"{operator!r} does not fit attribute {attribute.name!r} (a {attribute.kind}); "
                f"allowed: {allowed}",
            )
            return
        try:
            value = encode(attribute, condition.operand)
        except QuantityError as error:
            self._fault(f"{dotted}.{operator}", str(error))
            return
        low, high = {
            "is": (value, value),
            "is_not": (value, value),
            "at_least": (value, np.inf),
            "at_most": (-np.inf, value),
            "above": (float(np.nextafter(value, np.inf)), np.inf),
            "below": (-np.inf, float(np.nextafter(value, -np.inf))),
        }[operator]
        parts.conditions.append((attribute.name, low, high, operator == "is_not"))

    def _shape(self, parts: RuleParts, shape: Shape, dimension: str) -> None:
        def edge(given: Computed | None, name: str, kind: str = "") -> Linear:
            assert given is not None  # noqa: S101 (held by the record)
            return self._linear(
                given, kind or dimension, f"shape.{shape.form}.{name}", difference=bool(kind)
            )

        faults = len(self.problems)
        low, low_full = Linear(-FAR), Linear(-FAR / 10)
        high_full, high = Linear(FAR / 10), Linear(FAR)
        side: Side | None = shape.side
        if side is not None and side.limit is not None:
            parts.edges = [edge(side.limit, "limit")]
            upwards = shape.at_least is not None
            parts.sign = 1.0 if upwards else -1.0
            return
        if shape.band is not None:
            names = ("zero_below", "full_from", "full_to", "zero_above")
            parts.edges = [edge(getattr(shape.band, name), name) for name in names]
        elif shape.at_least is not None:
            zero, full = edge(shape.at_least.zero, "zero"), edge(shape.at_least.full, "full")
            parts.edges = [zero, full, high_full, high]
        elif shape.at_most is not None:
            full, zero = edge(shape.at_most.full, "full"), edge(shape.at_most.zero, "zero")
            parts.edges = [low, low_full, full, zero]
        elif shape.near is not None:
            near = shape.near
            parts.near, parts.ratio_scale = True, near.scale == "ratio"
            distance = "share" if parts.ratio_scale else dimension
            below, above = ("zero_below", "zero_above")
            if near.zero_beyond is not None:
                below = above = "zero_beyond"
            parts.edges = [
                edge(getattr(near, below), below, distance),
                edge(near.target, "target"),
                edge(near.full_within, "full_within", distance),
                edge(getattr(near, above), above, distance),
            ]
        if len(self.problems) == faults:
            self._order(parts, shape)

    def _order(self, parts: RuleParts, shape: Shape) -> None:
        if any(number.terms for number in parts.edges):
            return
        a, b, c, d = (number.base for number in parts.edges)
        if parts.near:
            if parts.ratio_scale and b <= 0.0:
                self._fault("shape.near.target", "a target on a ratio scale must be above 0")
            if not (0.0 <= c < a and c < d):
                self._fault(
                    "shape.near",
                    "distances out of order; needed: 0 <= full_within < distance to zero",
                )
        elif not (a < b <= c < d):
            rising = {
                "band": "zero_below < full_from <= full_to < zero_above",
                "at_least": "zero < full",
                "at_most": "full < zero",
            }[shape.form]
            self._fault(f"shape.{shape.form}", f"edges out of order; needed: {rising}")


def _signed(value: str | float) -> tuple[float, str | float]:
    if isinstance(value, str):
        return (-1.0, value[1:]) if value.startswith("-") else (1.0, value)
    return (-1.0, -value) if value < 0.0 else (1.0, value)


def attribute_dimension(attribute: Attribute) -> str:
    """Dimension of an attribute's values; a count is a plain number."""
    if attribute.kind == "quantity":
        return attribute.dimension
    return {"share": "share", "count": "number"}.get(attribute.kind, attribute.kind)
