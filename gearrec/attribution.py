"""Which changed rule or record changed an advice.

Each change is tried alone: the old catalog with that one record of the new, or the old rules with
that one rule of the new, judges the same jobs again. A change that gives the new pick alone did it;
where none does alone, they did it together. Beside that stand the rules whose points moved most
between the old pick and the new.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from gearrec import advices, attributes, batches, metrics, rule_compiler
from gearrec.catalog import rule_sets
from gearrec.catalog_changes import Swapped
from gearrec.errors import CatalogError, InputError, UnknownRecordError
from gearrec.jobs import Workshop
from gearrec.lanes import CHUNK

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gearrec.api import Advisor
    from gearrec.catalog.job_records import Job
    from gearrec.catalog.rule_records import Rule
    from gearrec.catalog_changes import RecordChange
    from gearrec.jobs import ResolvedJob
    from gearrec.judging import Judge
    from gearrec.lanes import Lanes

RATIO_TOLERANCE = 1e-6
_LEAST_SHIFT = 0.0005
_MOST_SHIFTS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """What changed an advice.

    alone: changes of which each gives the new pick without the others. side: whether the new rules
    do it on the old records ("rules"), the new records under the old rules ("records"), "either",
    or only both ("together").
    """

    side: str
    alone: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """How far a rule moved towards the new pick: its contribution to the new pick - to the old one,
    before and after [points of 1]."""

    rule: str
    before: float
    after: float

    @property
    def shift(self) -> float:
        """After - before."""
        return self.after - self.before


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """One job with its picks before and after; NaN where there is none."""

    job: Job
    before: float
    after: float


@dataclass(frozen=True, slots=True)
class RuleChange:
    """A rule that two sets do not share, or not with the same weight factor."""

    words: str
    id: str
    entry: tuple[Rule, float] | None


def same_pick(first: float, second: float) -> bool:
    """Whether two picks are one; NaN is none."""
    if math.isnan(first) or math.isnan(second):
        return math.isnan(first) and math.isnan(second)
    return abs(first - second) <= RATIO_TOLERANCE * first


class Attribution:
    """Two advisors, and the worlds between them."""

    def __init__(
        self,
        old: Advisor,
        new: Advisor,
        changes: Sequence[RecordChange],
        pairs: Sequence[Pair],
    ) -> None:
        self.old, self.new, self.pairs = old, new, pairs
        self.records = [
            change
            for change in changes
            if change.kind not in ("rule", "rule-set") and not change.words_only
        ]
        used = sorted({pair.job.rule_set or "" for pair in pairs})
        self._old_rules = _judges(old, used)
        self._new_rules = _judges(new, used)
        self._in_old = self._resolve(Workshop(old.catalog, old.defaults))
        self._in_new = self._resolve(Workshop(new.catalog, new.defaults))

    def causes(self) -> list[Cause]:
        """Why each pick changed."""
        pairs = self.pairs
        rules = self._picks(self._in_old, self._new_rules)
        records = self._picks(self._in_new, self._old_rules)
        alone: list[list[str]] = [[] for _ in pairs]
        for words, picks in (*self._by_record(), *self._by_rule()):
            for place, (pair, pick) in enumerate(zip(pairs, picks, strict=True)):
                if pick is not None and same_pick(pick, pair.after):
                    alone[place].append(words)
        return [
            Cause(side=_side(pair, by_rules, by_records), alone=tuple(found))
            for pair, by_rules, by_records, found in zip(pairs, rules, records, alone, strict=True)
        ]

    def shifts(self) -> list[tuple[Shift, ...]]:
        """The rules whose points moved most between the old pick and the new one of each job."""
        before = self._gaps(self._in_old, self._old_rules)
        after = self._gaps(self._in_new, self._new_rules)
        found: list[tuple[Shift, ...]] = []
        for first, second in zip(before, after, strict=True):
            if first is None or second is None:
                found.append(())
                continue
            moved = [
                Shift(rule=rule, before=first.get(rule, 0.0), after=second.get(rule, 0.0))
                for rule in sorted({*first, *second})
            ]
            moved = [one for one in moved if abs(one.shift) >= _LEAST_SHIFT]
            moved.sort(key=lambda one: (-abs(one.shift), one.rule))
            found.append(tuple(moved[:_MOST_SHIFTS]))
        return found

    def _by_record(self) -> list[tuple[str, list[float | None]]]:
        found = []
        for change in self.records:
            swapped: Any = Swapped(
                self.old.catalog, self.new.catalog, frozenset({(change.kind, change.id)})
            )
            defaults = self.new.defaults if change.kind == "defaults" else self.old.defaults
            jobs = self._resolve(Workshop(swapped, defaults))
            found.append((str(change), self._picks(jobs, self._old_rules, tie=defaults.tie)))
        return found

    def _by_rule(self) -> list[tuple[str, list[float | None]]]:
        """Each changed rule alone, in the sets that the jobs are judged by."""
        resolved, pairs = self._in_old, self.pairs
        found: dict[str, list[float | None]] = {}
        for rule_set in self._old_rules:
            places = [
                place for place, pair in enumerate(pairs) if (pair.job.rule_set or "") == rule_set
            ]
            for change in rule_changes(self.old, self.new, rule_set):
                judge = self._with_rule(rule_set, change)
                if judge is None:
                    continue
                picks = self._picks([resolved[place] for place in places], {rule_set: judge})
                column = found.setdefault(change.words, [None] * len(pairs))
                for place, pick in zip(places, picks, strict=True):
                    column[place] = pick
        return sorted(found.items())

    def _with_rule(self, rule_set: str, change: RuleChange) -> Judge | None:
        members = {rule.id: (rule, factor) for rule, factor in _members(self.old, rule_set)}
        members.pop(change.id, None)
        if change.entry is not None:
            members[change.id] = change.entry
        try:
            compiled = rule_compiler.compile_rules(
                list(members.values()),
                metrics=metrics.by_name(self.new.metrics),
                attributes=attributes.built_in(),
            )
        except CatalogError:
            return None  # an old rule that the new metrics cannot serve
        asked = {rule.metric for rule in compiled.rules}
        return replace(
            self._old_rules[rule_set],
            compiled=compiled,
            metrics=self.new.metrics,
            needed=tuple(metric for metric in self.new.metrics if metric.name in asked),
        )

    def _resolve(self, workshop: Workshop) -> list[ResolvedJob | None]:
        return [_resolved(workshop, pair.job) for pair in self.pairs]

    def _picks(
        self,
        jobs: Sequence[ResolvedJob | None],
        judges: Mapping[str, Judge],
        tie: float | None = None,
    ) -> list[float | None]:
        """Picks of those jobs that can be judged; None for the others."""
        picks: list[float | None] = [None] * len(jobs)
        known = [
            (place, job)
            for place, job in enumerate(jobs)
            if job is not None and (job.job.rule_set or "") in judges
        ]
        groups: dict[str, list[int]] = {}
        for number, (_, job) in enumerate(known):
            groups.setdefault(job.job.rule_set or "", []).append(number)
        if not known:
            return picks
        found = advices.judged(
            [job for _, job in known],
            {
                name: (judges[name] if tie is None else replace(judges[name], tie=tie), numbers)
                for name, numbers in groups.items()
            },
            _no_advice,
        )
        for (place, _), pick in zip(known, found.pick, strict=True):
            picks[place] = float(pick)
        return picks

    def _gaps(
        self, jobs: Sequence[ResolvedJob | None], judges: Mapping[str, Judge]
    ) -> list[dict[str, float] | None]:
        """Rule -> its contribution to the new pick - to the old one."""
        pairs = self.pairs
        found: list[dict[str, float] | None] = [None] * len(jobs)
        groups: dict[str, list[int]] = {}
        for place, job in enumerate(jobs):
            if job is not None and not math.isnan(pairs[place].before + pairs[place].after):
                groups.setdefault(job.job.rule_set or "", []).append(place)
        for name, places in groups.items():
            for first in range(0, len(places), CHUNK):
                part = places[first : first + CHUNK]
                self._part_gaps([jobs[place] for place in part], judges[name], part, found)
        return found

    def _part_gaps(
        self,
        jobs: Sequence[ResolvedJob | None],
        judge: Judge,
        places: Sequence[int],
        found: list[dict[str, float] | None],
    ) -> None:
        measured = judge.measure(batches.collect([job for job in jobs if job is not None]))
        total = judge.order(measured).aggregate.weight
        with np.errstate(invalid="ignore", divide="ignore"):
            parts = measured.scores.score * measured.scores.weight[:, None, :] / total
        parts = np.nan_to_num(parts, nan=0.0)
        for lane, place in enumerate(places):
            old, new = (
                _candidate(measured.lanes, lane, ratio)
                for ratio in (self.pairs[place].before, self.pairs[place].after)
            )
            if old is None or new is None:
                continue
            gaps = parts[:, new, lane] - parts[:, old, lane]
            rules = judge.compiled.rules[: judge.compiled.preferences]
            found[place] = {rule.id: float(gap) for rule, gap in zip(rules, gaps, strict=True)}


def rule_changes(old: Advisor, new: Advisor, rule_set: str = "") -> tuple[RuleChange, ...]:
    """Rules that differ in what they compute between the two versions of a rule set.

    rule_set: its id, or '' for the one that each advisor judges by where a job names none.
    """
    before = {rule.id: (rule, factor) for rule, factor in _members(old, rule_set)}
    after = {rule.id: (rule, factor) for rule, factor in _members(new, rule_set)}
    found = []
    for name in sorted({*before, *after}):
        if name not in after:
            found.append(RuleChange(f"rule {name} dropped", name, None))
        elif name not in before:
            found.append(RuleChange(f"rule {name} added", name, after[name]))
        else:
            words = _rule_difference(*before[name], *after[name])
            if words:
                found.append(RuleChange(f"rule {name} ({words})", name, after[name]))
    return tuple(found)


_COMPUTING = ("verdict", "metric", "legs", "only_legs", "when", "shape", "weight")


def _rule_difference(first: Rule, factor: float, second: Rule, other: float) -> str:
    words = [key for key in _COMPUTING if getattr(first, key) != getattr(second, key)]
    if factor != other:
        words.append(f"weight factor {factor:g} to {other:g}")
    return ", ".join(words)


def _members(advisor: Advisor, rule_set: str) -> tuple[tuple[Rule, float], ...]:
    catalog = advisor.catalog
    try:
        name = catalog.get("rule-set", rule_set or advisor.rule_set).id
    except UnknownRecordError:
        return ()
    return rule_sets.members(
        name,
        rule_sets=dict(catalog.records("rule-set")),
        rules=dict(catalog.records("rule")),
    )


def _judges(advisor: Advisor, names: Sequence[str]) -> dict[str, Judge]:
    """The judge of each rule set by id; '' is the advisor's own."""
    return {name: advisor._judge(name or advisor.rule_set) for name in names}


def _resolved(workshop: Workshop, job: Job) -> ResolvedJob | None:
    try:
        return workshop.resolve(job)
    except InputError:
        return None


def _side(pair: Pair, by_rules: float | None, by_records: float | None) -> str:
    rules = by_rules is not None and same_pick(by_rules, pair.after)
    records = by_records is not None and same_pick(by_records, pair.after)
    if rules and records:
        return "either"
    return "rules" if rules else "records" if records else "together"


def _candidate(lanes: Lanes, lane: int, ratio: float) -> int | None:
    known = lanes.candidate_known[:, lane]
    places = np.flatnonzero(known & (np.abs(lanes.axle_ratio[:, lane] - ratio) <= 1e-6 * ratio))
    return int(places[0]) if places.size else None


def _no_advice(job: ResolvedJob) -> Any:
    raise NotImplementedError(f"no advice is made of {job.vehicle.title}; columns only")
