"""The report for a person: plain text of 80 columns, the answer first, what it rests on after."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from gearrec import comparison, story_sentences, units
from gearrec.owner_sentences import reach_words
from gearrec.wording import assumption_text, listed, points, signed, value_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from gearrec.advice import Advice, CandidateAdvice
    from gearrec.units import System

WIDTH = 80
"""Columns that no line of the report exceeds, but for words that are longer themselves."""

_VERDICTS = {
    "pick": "pick",
    "runner-up": "runner-up",
    "possible": "possible",
    "ruled-out": "ruled out",
    "unknown": "unknown",
}


def text(advice: Advice, system: System = "us") -> str:
    """The whole report, ending in a line end."""
    lines = [
        *_head(advice),
        *_section("The answer", _items(advice.sentences(system))),
        *_section("The ratios looked at", _candidates(advice, system)),
        *_section("Which tires for which ratio", _reach(advice, system)),
        *_section(
            "The owner's report beside the model",
            _items(story_sentences.sentences(advice.story, system)),
        ),
        *_section(_judged_title(advice), _rules(advice, system)),
        *_section(
            "Taken because the job does not say",
            _items(assumption_text(item, system) for item in advice.assumptions),
        ),
        *_section("Where the figures come from", _sources(advice)),
        *_section("Notices", _items(advice.notices)),
        *_plugins(advice),
        *_section("Cautions", _items(advice.cautions(system), mark="!")),
    ]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _head(advice: Advice) -> Iterator[str]:
    job = advice.job
    yield "AXLE RATIO ADVICE"
    yield "=" * WIDTH
    facts = (
        ("Job", job.title),
        ("For", job.owner),
        ("Vehicle", advice.vehicle),
        ("Tires", _tires(advice)),
        ("Use", advice.judgement.resolved.use.title),
        ("Trailer", _trailer(advice)),
        ("Asked", job.question),
    )
    for name, value in facts:
        if value:
            yield from _wrapped(value, first=f"{name + ':':<9}", rest=" " * 9)
    if any(record.invented for record in advice.records):
        yield ""
        yield from _wrapped(
            "INVENTED DATA: some records behind this advice are made up for demonstration. No "
            "such vehicle exists; do not choose gears for a real one from it.",
            first="*** ",
            rest="*** ",
        )


def _tires(advice: Advice) -> str:
    at = advice.judgement.resolved
    now, planned = at.tire_now, at.tire_planned
    return now.text if now.text == planned.text else f"{now.text} now, {planned.text} planned"


def _trailer(advice: Advice) -> str | None:
    trailer = advice.judgement.resolved.trailer
    if trailer is None:
        return None
    named: str = getattr(trailer, "title", "as the job describes it")
    return named


def _candidates(advice: Advice, system: System) -> Iterator[str]:
    lanes = advice.judgement.measured.lanes
    fast, heavy = comparison.fastest_leg(lanes), comparison.heaviest_leg(lanes)
    fuel_unit = units.unit_of("fuel_use", system)
    head = (
        ("ratio", "teeth", "verdict", "score", "cruise", "gearing", "top gear", "fuel"),
        ("", "", "", "of 100", "rpm", "change", "holds", fuel_unit),
    )
    widths = (7, 7, 11, 8, 8, 10, 10, 10)
    for words in head:
        yield _row(words, widths)
    yield "-" * sum(widths)
    for item in sorted(advice.candidates, key=lambda item: item.axle_ratio):
        mark = "*" if item.candidate.fitted else ""
        fuel = item.metrics.get("fuel_rate_mix")
        yield _row(
            (
                item.name + mark,
                item.teeth or "-",
                _VERDICTS[item.verdict],
                "-" if item.score is None else points(item.score),
                _cell(_of_leg(item, "cruise_engine_speed", fast), "engine_speed", system),
                _signed_cell(item.metrics.get("gearing_change"), system),
                _cell(_of_leg(item, "top_gear_grade", heavy), "grade", system),
                "-" if fuel is None else f"{units.to(fuel, 'fuel_use', fuel_unit):.1f}",
            ),
            widths,
        )
    yield ""
    speed = units.format(float(lanes.leg_speed_mps[fast, 0]), "speed", system)
    yield from _wrapped(
        f"* now fitted. Cruise: on the leg '{advice.legs[fast]}' at {speed}. Gearing: with the "
        f"planned tires, against the factory's. Top gear: grade held on the leg "
        f"'{advice.legs[heavy]}'. Fuel: middle of the model's range over the whole use."
    )
    for lead, reasons in (
        ("Ruled out", _by_reason(advice, "ruled_out_by")),
        ("Could not be checked", _by_reason(advice, "unknown_limits")),
    ):
        for reason, names in reasons.items():
            yield from _wrapped(reason, first=f"{lead}: {listed(names)}. ", rest="  ")


def _by_reason(advice: Advice, field: str) -> dict[str, list[str]]:
    """Reason -> names of the ratios it holds for: many hold for all of them."""
    found: dict[str, list[str]] = {}
    for item in sorted(advice.candidates, key=lambda item: item.axle_ratio):
        for reason in getattr(item, field):
            found.setdefault(reason, []).append(item.name)
    return found


def _of_leg(item: CandidateAdvice, metric: str, leg: int) -> float | None:
    values = item.leg_metrics.get(metric)
    return values[leg] if values else None


def _cell(value: float | None, dimension: str, system: System) -> str:
    if value is None:
        return "-"
    return units.format(value, dimension, system).removesuffix(" rpm")


def _signed_cell(value: float | None, system: System) -> str:
    return "-" if value is None else signed(value, units.format(value, "share", system))


def _row(words: Sequence[str], widths: Sequence[int]) -> str:
    cells = [
        word.ljust(width) if place < 3 else word.rjust(width)
        for place, (word, width) in enumerate(zip(words, widths, strict=True))
    ]
    return "".join(cells)


def _reach(advice: Advice, system: System) -> Iterator[str]:
    for span in advice.reach:
        yield from _wrapped(reach_words(span, system), first="  ", rest="        ")


def _judged_title(advice: Advice) -> str:
    about = advice.pick or advice.fitted
    return f"How {about.name} was judged ({advice.rule_set})"


def _rules(advice: Advice, system: System) -> Iterator[str]:
    """The preferences with their numbers; limits and cautions speak elsewhere."""
    about = advice.pick or advice.fitted
    widths = (40, 16, 8, 8, 8)
    yield _rule_row(("rule", "value", "score", "weight", "points"), widths)
    yield "-" * sum(widths)
    units_of = advice.judgement.judge.units_of
    unknown = []
    lines = [
        line
        for line in advice.traced(about.axle_ratio, system)
        if line.trace.rule.verdict == "preference"
    ]
    for line in sorted(lines, key=lambda line: -(line.trace.contribution or 0.0)):
        trace = line.trace
        if trace.state == "unknown":
            unknown.append(line.sentence)
        if trace.state != "known" or trace.score is None or not trace.weight:
            continue
        metric = trace.rule.metric or ""
        value = (
            "on each leg"
            if trace.value is None
            else value_text(
                trace.value,
                metric=metric,
                dimension=trace.dimension,
                unit=units_of.get(metric, ""),
                system=system,
            )
        )
        yield _rule_row(
            (
                textwrap.shorten(_clean(trace.rule.title), widths[0] - 1, placeholder="..."),
                value,
                points(trace.score),
                f"{trace.weight:.2f}",
                f"{100.0 * (trace.contribution or 0.0):.1f}",
            ),
            widths,
        )
    for item in advice.judgement.preferences:
        yield from _wrapped(
            f"{item.record.sentence} (plugin {item.plugin}, weight {item.record.weight:g})",
            first="+ ",
            rest="  ",
        )
    for sentence in unknown:
        yield from _wrapped(sentence, first="? ", rest="  ")


def _rule_row(words: Sequence[str], widths: Sequence[int]) -> str:
    return "".join(
        word.rjust(width) if place else word.ljust(width)
        for place, (word, width) in enumerate(zip(words, widths, strict=True))
    )


def _sources(advice: Advice) -> Iterator[str]:
    """Records by kind of source; rules are named by their number, their pages tell more."""
    rules = 0
    for record in advice.records:
        if record.kind == "rule":
            rules += 1
            continue
        source = "no source given" if record.source is None else record.source.kind
        yield from _wrapped(f"{record.kind} {record.id} ({source})", first="- ", rest="  ")
    if rules:
        yield f"- {rules} rules; `gearrec rules ID` shows what each says, why, and its source"


def _plugins(advice: Advice) -> Iterator[str]:
    for section in advice.sections:
        lines = (
            line for text in section.lines for line in (_wrapped(text) if _clean(text) else ("",))
        )
        yield from _section(section.title, lines)
    yield from _section("Plugins at fault", _items(str(fault) for fault in advice.faults))


def _section(title: str, lines: Iterable[str]) -> Iterator[str]:
    """A titled section, or nothing where it has no lines."""
    body = list(lines)
    if not body:
        return
    yield ""
    heading = textwrap.shorten(_clean(title), WIDTH, placeholder="...")
    yield heading
    yield "-" * len(heading)
    yield from body


def _items(sentences: Iterable[str], mark: str = "-") -> Iterator[str]:
    for sentence in sentences:
        yield from _wrapped(sentence, first=f"{mark} ", rest="  ")


def _wrapped(text: str, first: str = "", rest: str = "") -> list[str]:
    return textwrap.wrap(
        _clean(text),
        WIDTH,
        initial_indent=first,
        subsequent_indent=rest,
        break_long_words=False,
        break_on_hyphens=False,
    )


def _clean(text: str) -> str:
    # Titles and plugins' texts come from outside; a terminal obeys control characters.
    return "".join(letter if letter.isprintable() else " " for letter in text).strip()
