"""A comparison of two revisions as text for people, Markdown for a review, and JSON."""

from __future__ import annotations

import json
from collections import Counter
from typing import TYPE_CHECKING, Any

from gearrec import __version__
from gearrec.wording import listed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gearrec.attribution import Cause, Shift
    from gearrec.catalog_changes import RecordChange
    from gearrec.comparing import AdviceChange, Answer, Comparison, Unanswered

FORMAT = 1
"""Format of the JSON that `json_text` gives."""

_TOGETHER = {
    "rules": "the changed rules together",
    "records": "the changed records together",
    "either": "the changed rules, or the changed records",
    "together": "changed rules and records together",
}


def text(comparison: Comparison) -> str:
    """For people: what differs, what did it, then each advice that changes."""
    lines = [_headline(comparison)]
    figures = [change for change in comparison.records if not change.words_only]
    lines += _block("Records that differ:", [_record_line(change) for change in figures])
    lines += _block("Rules that differ where a job names no rule set:", comparison.rules)
    lines += _block("What did it:", _causes(comparison.changes))
    for title, changes in _groups(comparison):
        lines += ["", title]
        for change in changes:
            lines += [f"  {change.words}", *(f"    {line}" for line in _detail(change))]
    lines += _block("Not asked of both:", [_unanswered(one) for one in comparison.unanswered])
    lines += _block("Cases with the same pick and other words:", comparison.reworded)
    words = sum(change.words_only for change in comparison.records)
    if words:
        lines += ["", f"{_count(words, 'record')} more in texts for people only."]
    return "\n".join(lines) + "\n"


def markdown(comparison: Comparison) -> str:
    """For a review: the same, with a table of the advices that change."""
    lines = [f"### {_headline(comparison)}"]
    figures = [change for change in comparison.records if not change.words_only]
    lines += _list("Records that differ", [_cell(_record_line(change)) for change in figures])
    rules = [_cell(rule) for rule in comparison.rules]
    lines += _list("Rules that differ where a job names no rule set", rules)
    lines += _list("What did it", [_cell(line) for line in _causes(comparison.changes)])
    for title, changes in _groups(comparison):
        lines += ["", f"**{title}**", ""]
        lines += ["| job | before | after | did it | points moved |", "|---|---|---|---|---|"]
        for change in changes:
            cells = [
                change.words,
                _answer(change.before),
                _answer(change.after),
                _cause(change.cause),
                "; ".join(_shift(shift) for shift in change.shifts) or "none",
            ]
            lines.append(f"| {' | '.join(_cell(cell) for cell in cells)} |")
    unanswered = [_cell(_unanswered(one)) for one in comparison.unanswered]
    lines += _list("Not asked of both", unanswered)
    reworded = [_cell(case) for case in comparison.reworded]
    lines += _list("Cases with the same pick and other words", reworded)
    words = sum(change.words_only for change in comparison.records)
    if words:
        lines += ["", f"{_count(words, 'record')} more in texts for people only."]
    return "\n".join(lines) + "\n"


def json_text(comparison: Comparison) -> str:
    """The whole comparison as a JSON object; scores from 0 to 1."""
    value = {
        "kind": "comparison",
        "format": FORMAT,
        "generator": {"name": "gearrec", "version": __version__},
        "old": comparison.old,
        "new": comparison.new,
        "same": comparison.same,
        "compared": comparison.compared,
        "cases": comparison.cases,
        "records": [_record_value(change) for change in comparison.records],
        "rules": list(comparison.rules),
        "changes": [
            {
                "job": change.words,
                "case": change.case or None,
                "before": _answer_value(change.before),
                "after": _answer_value(change.after),
                "side": change.cause.side,
                "alone": list(change.cause.alone),
                "shifts": [
                    {"rule": shift.rule, "before": shift.before, "after": shift.after}
                    for shift in change.shifts
                ],
            }
            for change in comparison.changes
        ],
        "unanswered": [
            {"job": one.words, "case": one.case or None, "old": one.old, "new": one.new}
            for one in comparison.unanswered
        ],
        "reworded": list(comparison.reworded),
    }
    return json.dumps(value, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _headline(comparison: Comparison) -> str:
    changed = len(comparison.changes)
    cases = sum(bool(change.case) for change in comparison.changes)
    asked = f"{_count(comparison.compared, 'job')} ({_count(comparison.cases, 'case')})"
    if not changed:
        return f"No pick changes; compared {asked}."
    verb = "changes" if changed == 1 else "change"
    return f"{_count(changed, 'pick')} {verb}, {cases} of them in cases; compared {asked}."


def _groups(comparison: Comparison) -> list[tuple[str, list[AdviceChange]]]:
    cases = [change for change in comparison.changes if change.case]
    grid = [change for change in comparison.changes if not change.case]
    groups = [("Cases", cases), ("Tires and uses on every platform", grid)]
    return [(title, changes) for title, changes in groups if changes]


def _detail(change: AdviceChange) -> list[str]:
    lines = [
        f"{_answer(change.before)} becomes {_answer(change.after)}",
        f"did it: {_cause(change.cause)}",
    ]
    if change.shifts:
        moved = "; ".join(_shift(shift) for shift in change.shifts)
        lines.append(f"points for {change.after.name} over {change.before.name}: {moved}")
    return lines


def _answer(answer: Answer) -> str:
    if answer.pick is None or answer.score is None:
        return "no pick"
    words = f"{100.0 * answer.score:.1f} points"
    if answer.runner_up is None or answer.margin is None:
        return f"{answer.name} ({words}, no runner-up)"
    against = f"{answer.runner_up:.2f}"
    if answer.margin <= 0.0:
        return f"{answer.name} ({words}, tied with {against})"
    return f"{answer.name} ({words}, {100.0 * answer.margin:.1f} ahead of {against})"


def _cause(cause: Cause) -> str:
    if cause.alone:
        return f"{listed(cause.alone, 'or')} alone"
    return _TOGETHER[cause.side]


def _shift(shift: Shift) -> str:
    return f"{shift.rule} {100.0 * shift.before:+.1f} to {100.0 * shift.after:+.1f}"


def _causes(changes: Sequence[AdviceChange]) -> list[str]:
    """How many advices each cause changed, the most first."""
    counts = Counter(_cause(change.cause) for change in changes)
    rising = sorted(counts.items(), key=lambda item: (-item[1], item[0]))
    return [f"{words}: {_count(number, 'pick')}" for words, number in rising]


def _unanswered(one: Unanswered) -> str:
    reasons = [f"{name}: {words}" for name, words in (("old", one.old), ("new", one.new)) if words]
    return f"{one.words} ({'; '.join(reasons)})"


def _record_line(change: RecordChange) -> str:
    at = change.place
    where = f", {at.file}:{at.line}" if at.file and at.line else ""
    return f"{change}{where}"


def _block(title: str, lines: Sequence[str]) -> list[str]:
    return ["", title, *(f"  {line}" for line in lines)] if lines else []


def _list(title: str, lines: Sequence[str]) -> list[str]:
    return ["", f"**{title}**", "", *(f"- {line}" for line in lines)] if lines else []


def _cell(words: str) -> str:
    """Text that stays in its cell and starts no markup."""
    flat = " ".join(words.split())
    for sign in ("\\", "|", "<", "*", "_", "`", "["):
        flat = flat.replace(sign, f"\\{sign}")
    return flat


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def _record_value(change: RecordChange) -> dict[str, Any]:
    value: dict[str, Any] = {
        "kind": change.kind,
        "id": change.id,
        "how": change.how,
        "keys": list(change.keys),
        "words_only": change.words_only,
    }
    if change.place.file:
        value |= {"file": change.place.file, "line": change.place.line}
    return value


def _answer_value(answer: Answer) -> dict[str, float | None]:
    return {
        "pick": answer.pick,
        "score": answer.score,
        "runner_up": answer.runner_up,
        "margin": answer.margin,
    }
