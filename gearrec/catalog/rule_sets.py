"""Rule sets that build on others: from the records to the list of rules with weight factors."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import TYPE_CHECKING, Any

from gearrec.errors import CatalogError, Place, Problem, UnknownRecordError, allowed_words, nearest

if TYPE_CHECKING:
    from gearrec.catalog.rule_records import Rule, RuleSet

PlaceOf = Callable[[str, str], Place]
"""Where in its file a record's key stands: record id and dotted place -> Place."""


def members(
    rule_set_id: str,
    *,
    rule_sets: Mapping[str, RuleSet],
    rules: Mapping[str, Rule],
    place_of: PlaceOf | None = None,
) -> tuple[tuple[Rule, float], ...]:
    """The rules of a set with their weight factors, sorted by id.

    A set that extends another starts from its members, drops, replaces (the new rule keeps the
    factor of the old), adds, then multiplies factors. Every change must change something. Raises
    UnknownRecordError for an unknown set, CatalogError with every other fault.
    """
    rules = {**_by_alias(rules), **rules}
    rule_sets = {**_by_alias(rule_sets), **rule_sets}
    if rule_set_id not in rule_sets:
        words = allowed_words(sorted(rule_sets), rule_set_id)
        raise UnknownRecordError(f"no rule set {rule_set_id!r}; {words}")
    chain = _chain(rule_set_id, rule_sets, place_of)
    problems: list[Problem] = []
    factors: dict[str, float] = {}
    for rule_set in reversed(chain):
        faults = [*_change(factors, rule_set, rules)]
        problems += [
            Problem(_place(rule_set.id, dotted, place_of), message, code="rule-set")
            for dotted, message in faults
        ]
    if problems:
        raise CatalogError(problems)
    return tuple((rules[rule_id], factors[rule_id]) for rule_id in sorted(factors))


def _by_alias(records: Mapping[str, Any]) -> dict[str, Any]:
    return {alias: record for record in records.values() for alias in record.aliases}


def _place(record_id: str, dotted: str, place_of: PlaceOf | None) -> Place:
    return place_of(record_id, dotted) if place_of else Place(dotted=f"{record_id}: {dotted}")


def _chain(
    rule_set_id: str, rule_sets: Mapping[str, RuleSet], place_of: PlaceOf | None
) -> list[RuleSet]:
    chain = [rule_sets[rule_set_id]]
    while (base := chain[-1].extends) is not None:
        ids = [rule_set.id for rule_set in chain]
        message = None
        if base not in rule_sets:
            message = f"no rule set {base!r}; {allowed_words(sorted(rule_sets), base)}"
        elif rule_sets[base].id in ids:
            message = f"a rule set extends itself: {' -> '.join([*ids, base])}"
        if message is not None:
            place = _place(ids[-1], "extends", place_of)
            raise CatalogError([Problem(place, message, code="rule-set")])
        chain.append(rule_sets[base])
    return chain


def _change(
    factors: dict[str, float], rule_set: RuleSet, rules: Mapping[str, Rule]
) -> Iterable[tuple[str, str]]:
    """Apply one set's changes to `factors`; yields (dotted place, message) of each fault."""

    def current(rule_id: str) -> str:
        return rules[rule_id].id if rule_id in rules else rule_id

    for rule_id in rule_set.drop:
        if factors.pop(current(rule_id), None) is None:
            yield f"drop.{rule_id}", _absent(rule_id, factors)
    for old, new in rule_set.replace.items():
        if current(old) not in factors:
            yield f"replace.{old}", _absent(old, factors)
        elif new not in rules:
            yield f"replace.{old}", _no_rule(new, rules)
        elif current(new) != current(old) and current(new) in factors:
            yield f"replace.{old}", f"rule {new!r} is already in the set"
        else:
            factors[rules[new].id] = factors.pop(current(old))
    for key, listed in (("rules", rule_set.rules), ("add", rule_set.add)):
        for number, rule_id in enumerate(listed):
            if rule_id not in rules:
                yield f"{key}[{number}]", _no_rule(rule_id, rules)
            elif rules[rule_id].id in factors:
                yield f"{key}[{number}]", f"rule {rule_id!r} is already in the set"
            else:
                factors[rules[rule_id].id] = 1.0
    for rule_id, factor in rule_set.weights.items():
        if current(rule_id) not in factors:
            yield f"weights.{rule_id}", _absent(rule_id, factors)
        elif rules[rule_id].verdict != "preference":
            yield f"weights.{rule_id}", f"rule {rule_id!r} is a {rules[rule_id].verdict}: no weight"
        else:
            factors[current(rule_id)] *= factor


def _absent(rule_id: str, factors: Mapping[str, float]) -> str:
    guess = nearest(rule_id, factors)
    return f"rule {rule_id!r} is not in the set" + (f"; did you mean {guess!r}?" if guess else "")


def _no_rule(rule_id: str, rules: Mapping[str, Rule]) -> str:
    guess = nearest(rule_id, rules)
    return f"no rule {rule_id!r}" + (f"; did you mean {guess!r}?" if guess else "")
