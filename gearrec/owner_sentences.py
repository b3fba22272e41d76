"""Plain sentences that a person at the counter can say to the owner.

In this order: the answer, how sure it is, why, why not the neighbors, up to which tire it holds,
whether the engine's torque makes it needless, fuel, and what taller tires do to the display.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearrec import building, comparison, pull_sentences, units
from gearrec.wording import best_lines, listed, points, signed, value_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gearrec.advice import Advice, CandidateAdvice, TraceLine
    from gearrec.comparison import FuelRange
    from gearrec.sensitivity import Reach
    from gearrec.units import System

PHYSICS = (
    "At a steady speed in the same gear, with the converter locked, a numerically higher axle "
    "ratio costs fuel, because the engine turns more often for the same work. It can save fuel "
    "only by keeping the truck out of lower gears, out of an open converter, or out of the rich "
    "mixture of full load."
)
"""What the physics says of axle ratio and fuel; part of every advice with a pick."""

_REASONS = 3
_SPEAKS_FOR = 0.5
"""Score of a preference from which it speaks for a ratio."""
_NEAR_EDGE = 0.01
_MOVES = 0.001
"""Relative difference of fuel that is worth a word."""


def sentences(advice: Advice, system: System) -> tuple[str, ...]:
    """All sentences about one advice, in the order in which they are best said."""
    if advice.pick is None:
        return tuple(_no_pick(advice))
    pick = advice.pick
    return (
        _answer(advice, pick),
        *_sureness(advice, pick),
        *_unchecked(pick),
        *building.notes(advice),
        *_why(advice, pick, system),
        *_why_not(advice, pick, system),
        *_none_higher(advice, pick, system),
        *_reach(advice, pick, system),
        *pull_sentences.sentences(advice, pick, system),
        *_fuel(advice, pick, system),
        *_display(advice, system),
    )


def _answer(advice: Advice, pick: CandidateAdvice) -> str:
    score = f"{points(pick.score)} of 100 points"
    if advice.keeps:
        keep = f"Keep what you have: the {pick.name} that is fitted"
        if len(advice.candidates) == 1:
            return f"{keep} is the only ratio looked at ({score})."
        end = "" if _short_of_gearing(advice, pick) else "; no other gears are needed"
        return f"{keep} suits this job best ({score}){end}."
    both = "" if advice.judgement.resolved.vehicle.front_axle is None else ", front and rear"
    teeth = f" ({pick.teeth} teeth)" if pick.teeth else ""
    return f"Go from {advice.fitted.name} to {pick.name}{teeth}{both}: it scores {score}."


def _sureness(advice: Advice, pick: CandidateAdvice) -> Iterator[str]:
    if len(advice.candidates) == 1:
        return
    second = advice.runner_up
    share = advice.confidence
    assert share is not None  # noqa: S101 (there is a pick)
    found = (
        f"{pick.name} stays the pick in {100.0 * share:.0f} % of the trials in which tires, "
        "weight, air drag, rolling resistance, torque and speed are a little off"
    )
    if second is None:
        yield f"It is the only ratio left; {found}."
        return
    if advice.borderline:
        text = f"It is borderline: {found}, and {second.name} ({points(second.score)}) is close."
    else:
        text = f"It is not borderline: {found}; next comes {second.name} ({points(second.score)})."
    if advice.tied:
        text += " The scores tie; the smaller change from the factory ratio stands first."
    yield text


def _unchecked(pick: CandidateAdvice) -> Iterator[str]:
    if pick.unknown_limits:
        reasons = "; ".join(_lower(reason) for reason in pick.unknown_limits)
        yield f"Could not be checked, and must be before gears are ordered: {reasons}."


def _why(advice: Advice, pick: CandidateAdvice, system: System) -> Iterator[str]:
    """The rules that speak most for the pick, against what is fitted or, if kept, the next best."""
    other = advice.runner_up if advice.keeps else advice.fitted
    lines = best_lines(advice.traced(pick.axle_ratio, system))
    lead = _gains(advice, pick, other) if other is not None else {}
    spoken = [line for line in lines if (line.trace.score or 0.0) >= _SPEAKS_FOR]
    ahead = [line for line in spoken if lead.get(line.trace.rule.id, 0.0) > 0.0]
    ahead.sort(key=lambda line: -lead[line.trace.rule.id])
    chosen = [*ahead, *(line for line in spoken if line not in ahead)][:_REASONS]
    for number, line in enumerate(chosen):
        yield f"Why: {line.sentence}" if number == 0 else line.sentence


def _why_not(advice: Advice, pick: CandidateAdvice, system: System) -> Iterator[str]:
    rising = sorted(advice.candidates, key=lambda item: item.axle_ratio)
    place = rising.index(pick)
    around = [rising[at] for at in (place - 1, place + 1) if 0 <= at < len(rising)]
    if advice.fitted not in (pick, *around):
        around.insert(0, advice.fitted)
    for other in around:
        yield f"Why not {other.name}: {_against(advice, pick, other, system)}"


def _against(advice: Advice, pick: CandidateAdvice, other: CandidateAdvice, system: System) -> str:
    if other.ruled_out_by:
        reasons = " ".join(_sentence(reason) for reason in other.ruled_out_by)
        return f"it is ruled out. {reasons}"
    if other.verdict == "unknown" or other.score is None:
        return f"it cannot be judged. {' '.join(_sentence(text) for text in other.unknown_limits)}"
    text = f"it scores {points(other.score)} against {points(pick.score)}."
    lost = _gains(advice, pick, other)
    largest = max(lost.values(), default=0.0)
    if largest <= 0.0:
        return text
    worst = max(lost, key=lambda rule: lost[rule])
    theirs, ours = (
        next(line for line in advice.traced(ratio, system) if line.trace.rule.id == worst)
        for ratio in (other.axle_ratio, pick.axle_ratio)
    )
    if theirs.trace.voice == "poor":
        return f"{text} {theirs.sentence}"
    text += f" It loses most on {_lower(theirs.trace.rule.title)}"
    values = [_value(advice, line, system) for line in (theirs, ours)]
    if values[0] == values[1]:
        return f"{text}."
    return f"{text}: {values[0]}, where {pick.name} has {values[1]}."


def _value(advice: Advice, line: TraceLine, system: System) -> str:
    if line.trace.value is None:
        return ""
    metric = line.trace.rule.metric or ""
    return value_text(
        line.trace.value,
        metric=metric,
        dimension=line.trace.dimension,
        unit=advice.judgement.judge.units_of.get(metric, ""),
        system=system,
    )


def _gains(advice: Advice, first: CandidateAdvice, second: CandidateAdvice) -> dict[str, float]:
    """Rule -> contribution to the first - contribution to the second, where both are known."""
    ours, theirs = (_contributions(advice.traces[item.axle_ratio]) for item in (first, second))
    return {rule: ours[rule] - theirs[rule] for rule in ours if rule in theirs}


def _contributions(lines: tuple[TraceLine, ...]) -> dict[str, float]:
    return {
        line.trace.rule.id: line.trace.contribution
        for line in lines
        if line.trace.contribution is not None
    }


def _none_higher(advice: Advice, pick: CandidateAdvice, system: System) -> Iterator[str]:
    line = _short_of_gearing(advice, pick, system)
    if line is None:
        return
    trace = line.trace
    asked, given = (
        value_text(value, metric="gearing_change", dimension=trace.dimension, system=system)
        for value in (trace.edge or 0.0, trace.value or 0.0)
    )
    at = advice.judgement.resolved
    grown = at.tire_planned.diameter_m > (1.0 + _NEAR_EDGE) * at.vehicle.factory_tire.diameter_m
    yield (
        f"No higher ratio than {pick.name} was on offer, and this use asks for more ({asked} "
        f"against the factory's gearing, where {pick.name} gives {given}): ask whether the axle "
        f"takes a higher one{', or choose smaller tires' if grown else ''}."
    )


def _short_of_gearing(
    advice: Advice, pick: CandidateAdvice, system: System = "us"
) -> TraceLine | None:
    """The weightiest rule that asks for more gearing than the highest ratio on offer gives."""
    if any(item.axle_ratio > pick.axle_ratio for item in advice.candidates):
        return None
    short = [
        line
        for line in advice.traced(pick.axle_ratio, system)
        if line.trace.rule.metric == "gearing_change"
        and line.trace.voice == "poor"
        and line.trace.edge is not None
        and line.trace.value is not None
        and line.trace.value < line.trace.edge
    ]
    return max(short, key=lambda line: line.trace.weight or 0.0, default=None)


def _reach(advice: Advice, pick: CandidateAdvice, system: System) -> Iterator[str]:
    spans = [span for span in advice.reach if span.axle_ratio == pick.axle_ratio]
    if not spans:
        return
    span = spans[0]

    def inches(length_m: float) -> str:
        return units.format(length_m, "length", system)

    planned = advice.judgement.resolved.tire_planned.diameter_m
    beyond = "" if span.from_m <= planned <= span.to_m else ", beyond what was looked at"
    yield (
        f"{pick.name} is the pick for {_span_words(span, system)}; the tires asked about are "
        f"{inches(planned)}{beyond}."
    )
    above = min(
        (other for other in advice.reach if other.to_m > span.to_m and other.from_m > span.from_m),
        key=lambda other: other.from_m,
        default=None,
    )
    if above is not None and not span.open_above:
        skipped = [
            item.name
            for item in sorted(advice.candidates, key=lambda item: item.axle_ratio)
            if pick.axle_ratio < item.axle_ratio < above.axle_ratio
        ]
        step = (
            f"go straight to {above.axle_ratio:.2f}, past {listed(skipped)}"
            if skipped
            else (f"the next step is {above.axle_ratio:.2f}")
        )
        yield f"On taller tires than {inches(span.to_m)}, {step}."
    for edge, is_open in ((span.from_m, span.open_below), (span.to_m, span.open_above)):
        if not is_open and abs(planned / edge - 1.0) <= _NEAR_EDGE:
            yield (
                f"The tires asked about stand close to the edge at {inches(edge)}: measure one "
                "first, for tires are seldom exactly as tall as their size says."
            )


def reach_words(span: Reach, system: System) -> str:
    """A span of diameters in words, with the ratio that holds there."""
    return f"{span.axle_ratio:.2f}: {_span_words(span, system)}"


def _span_words(span: Reach, system: System) -> str:
    low, high = (units.format(edge, "length", system) for edge in (span.from_m, span.to_m))
    if span.open_below and span.open_above:
        return f"tires of any height looked at ({low} to {high})"
    if span.open_below:
        return f"tires up to {high} tall"
    if span.open_above:
        return f"tires from {low} tall on (looked at up to {high})"
    return f"tires from {low} to {high} tall"


def _fuel(advice: Advice, pick: CandidateAdvice, system: System) -> Iterator[str]:
    ours = comparison.planned_fuel(advice, pick.axle_ratio)
    theirs = comparison.planned_fuel(advice, advice.fitted.axle_ratio)
    if ours is not None:
        text = (
            "Fuel by the model, over the whole use on the tires asked about: "
            f"{fuel_words(ours, system)} with {pick.name}"
        )
        if not advice.keeps and theirs is not None:
            change = ours.mid / theirs.mid - 1.0
            more = "more" if change > 0.0 else "less"
            size = f"{abs(change) * 100.0:.1f} % {more}" if abs(change) >= _MOVES else "no more"
            text += (
                f", {fuel_words(theirs, system)} with {advice.fitted.name}: {size} fuel with "
                f"{pick.name}. The difference is surer than either figure"
            )
        yield f"{text}."
    yield PHYSICS


def fuel_words(fuel: FuelRange, system: System) -> str:
    """A range of fuel use: "21.0 mpg (US) (19.5 to 22.6)"."""
    unit = units.unit_of("fuel_use", system)
    ends = sorted(units.to(end, "fuel_use", unit) for end in (fuel.low, fuel.high))
    mid = units.format(fuel.mid, "fuel_use", system)
    return f"{mid} ({ends[0]:.1f} to {ends[1]:.1f})"


def _display(advice: Advice, system: System) -> Iterator[str]:
    effect = comparison.tire_effect(advice)
    if effect is None:
        return
    unit = units.unit_of("fuel_use", system)
    # Rounded first, so that the parts printed add up to the change printed.
    now, real, shown = (
        round(units.to(value, "fuel_use", unit), 1)
        for value in (effect.fuel_now, effect.fuel_planned, effect.shown)
    )
    height = "taller" if effect.growth > 0.0 else "shorter"
    miles = "few" if effect.growth > 0.0 else "many"
    distance = "miles" if system == "us" else "kilometers"
    legs = "" if effect.towed_only else ", without the trailer" if _tows(advice) else ""
    yield (
        f"The {height} tires alone, with the gears now fitted{legs}, take a display that is "
        f"right today from {now:.1f} to {shown:.1f} {unit}, {_change(shown - now)}: "
        f"{_change(shown - real)} of that is the odometer, which counts too {miles} {distance} "
        "until it is reset, and "
        f"{_change(real - now)} is real (their rolling resistance and mass, against the change in "
        "engine speed)."
    )


def _change(value: float) -> str:
    return signed(value, f"{value:.1f}").replace("-0.0", "0.0")


def _tows(advice: Advice) -> bool:
    return advice.judgement.resolved.use.tows


def _no_pick(advice: Advice) -> Iterator[str]:
    out = [item for item in advice.candidates if item.verdict == "ruled-out"]
    yield "None of the ratios on offer can be recommended for this job as it stands."
    reasons: dict[str, list[str]] = {}
    for item in sorted(advice.candidates, key=lambda item: item.axle_ratio):
        for reason in item.ruled_out_by or item.unknown_limits or ("no preference is known",):
            reasons.setdefault(reason, []).append(item.name)
    for reason, names in reasons.items():
        yield f"{listed(names)}: {_sentence(reason)}"
    if len(out) == len(advice.candidates):
        yield "Change what rules them out (tires, load, speed or use), then ask again."


def _sentence(text: str) -> str:
    text = text[:1].upper() + text[1:]
    return text if text.endswith((".", "!", "?")) else f"{text}."


def _lower(title: str) -> str:
    # An abbreviation such as SAE stays as it is.
    return title if title[1:2].isupper() else title[:1].lower() + title[1:]
