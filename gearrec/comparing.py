"""What changes between two revisions of catalogs: each advice that does, by how much, and why."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gearrec.attribution import Attribution, Cause, Pair, Shift, rule_changes, same_pick
from gearrec.catalog_changes import RecordChange, record_changes, revision
from gearrec.comparison_jobs import Question, questions
from gearrec.errors import InputError, UnknownRecordError
from gearrec.jobs import Workshop

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from gearrec.advices import Advices
    from gearrec.api import Advisor
    from gearrec.jobs import ResolvedJob
    from gearrec.plugins import Plugins

# These reach every advice; the others only those of jobs that name them.
_EVERYWHERE = ("rule", "rule-set", "defaults")


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """A pick [1], its score and how far it leads; None where there is none, or no runner-up."""

    pick: float | None
    score: float | None = None
    runner_up: float | None = None
    margin: float | None = None

    @property
    def name(self) -> str:
        """The pick to two decimals."""
        return "none" if self.pick is None else f"{self.pick:.2f}"


@dataclass(frozen=True, slots=True, kw_only=True)
class AdviceChange:
    """One advice that changes. `shifts` are the rules whose points moved most towards the new pick
    (less than nothing: away from it)."""

    words: str
    case: str
    before: Answer
    after: Answer
    cause: Cause
    shifts: tuple[Shift, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Unanswered:
    """A job that only one of the two can answer, or neither."""

    words: str
    case: str
    old: str
    new: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """What changes from `old` to `new`.

    compared: number of jobs that both answer, `cases` of them from cases. changes: the advices
    whose pick changes, cases first. unanswered: jobs that cannot be asked of both, with the reasons
    ('' where it can). records: every record that differs. rules: what differs in the rule set that
    jobs are judged by. reworded: cases with the same pick whose cautions, or reasons
    against a ratio, differ.
    """

    old: str
    new: str
    compared: int
    cases: int
    records: tuple[RecordChange, ...]
    rules: tuple[str, ...]
    changes: tuple[AdviceChange, ...]
    unanswered: tuple[Unanswered, ...]
    reworded: tuple[str, ...]

    @property
    def same(self) -> bool:
        """Whether no advice changes."""
        return not (self.changes or self.unanswered or self.reworded)


def compare(
    old: Path | str,
    new: Path | str,
    *,
    plugins: Iterable[str] | Plugins | None = None,
    cache: str | None = None,
) -> Comparison:
    """Ask two revisions of catalogs the same questions, and say where the pick differs and why.

    old, new: a catalog, a folder of several, or an exported revision, see
    `catalog_changes.revision`; both with the catalogs and metrics of the
    same plugins. Asked are the cases of both
    and a grid of tires and uses on every platform of the old one. Raises CatalogError with every
    problem of a revision that cannot be used.
    """
    first = revision(old, plugins=plugins, cache=cache)
    second = revision(new, plugins=plugins, cache=cache)
    records = record_changes(first.catalog, second.catalog)
    asked = questions(first, second)
    before, reasons_old = _resolve(first, asked)
    after, reasons_new = _resolve(second, asked)
    both = [place for place in range(len(asked)) if before[place] and after[place]]
    touched = [place for place in both if _touched(records, before[place], after[place])]
    changes, unchanged = _changes(first, second, [asked[place] for place in touched], records)
    return Comparison(
        old=str(old),
        new=str(new),
        compared=len(both),
        cases=sum(bool(asked[place].case) for place in both),
        records=records,
        rules=tuple(change.words for change in rule_changes(first, second)),
        changes=changes,
        unanswered=tuple(
            Unanswered(words=question.words, case=question.case, old=one, new=other)
            for question, one, other in zip(asked, reasons_old, reasons_new, strict=True)
            if one or other
        ),
        reworded=_reworded(first, second, unchanged),
    )


def _resolve(
    advisor: Advisor, asked: Sequence[Question]
) -> tuple[list[ResolvedJob | None], list[str]]:
    """The jobs found in one revision, and why those that are not cannot be."""
    workshop = Workshop(advisor.catalog, advisor.defaults)
    found: list[ResolvedJob | None] = []
    reasons: list[str] = []
    for question in asked:
        try:
            found.append(workshop.resolve(question.job))
            reasons.append("")
        except InputError as error:
            found.append(None)
            reasons.append("; ".join(problem.message for problem in error.problems))
    return found, reasons


def _touched(
    changes: Sequence[RecordChange], before: ResolvedJob | None, after: ResolvedJob | None
) -> bool:
    """Whether any change could reach the job's advice."""
    if any(change.kind in _EVERYWHERE for change in changes):
        return True
    used = {name for job in (before, after) if job is not None for name in job.records}
    return any((change.kind, change.id) in used for change in changes)


def _changes(
    old: Advisor, new: Advisor, asked: Sequence[Question], records: Sequence[RecordChange]
) -> tuple[tuple[AdviceChange, ...], list[Question]]:
    """The advices whose pick changes, and the questions whose does not."""
    jobs = [question.job for question in asked]
    before, after = old.advise_many(jobs), new.advise_many(jobs)
    changed, unchanged = [], []
    for place, question in enumerate(asked):
        if same_pick(float(before.pick[place]), float(after.pick[place])):
            unchanged.append(question)
        else:
            changed.append(place)
    pairs = [
        Pair(job=jobs[place], before=float(before.pick[place]), after=float(after.pick[place]))
        for place in changed
    ]
    if not pairs:
        return (), unchanged
    attribution = Attribution(old, new, records, pairs)
    return tuple(
        AdviceChange(
            words=asked[place].words,
            case=asked[place].case,
            before=_answer(before, place),
            after=_answer(after, place),
            cause=cause,
            shifts=shifts,
        )
        for place, cause, shifts in zip(
            changed, attribution.causes(), attribution.shifts(), strict=True
        )
    ), unchanged


def _answer(found: Advices, place: int) -> Answer:
    pick, second = float(found.pick[place]), float(found.runner_up[place])
    score, behind = float(found.pick_score[place]), float(found.runner_up_score[place])
    return Answer(
        pick=_known(pick),
        score=_known(score),
        runner_up=_known(second),
        margin=_known(score - behind),
    )


def _known(value: float) -> float | None:
    return None if math.isnan(value) else value


def _reworded(old: Advisor, new: Advisor, asked: Sequence[Question]) -> tuple[str, ...]:
    """Cases with the same pick whose cautions, or reasons against a ratio, are not the same."""
    return tuple(
        question.case
        for question in asked
        if question.case and _said(old, question) != _said(new, question)
    )


def _said(advisor: Advisor, question: Question) -> object:
    try:
        advice = advisor.advise(question.job)
    except (InputError, UnknownRecordError) as error:
        return str(error)
    against = {item.axle_ratio: item.ruled_out_by for item in advice.candidates}
    return advice.cautions(), sorted(against.items())
