"""Words for people: the sentences of rules with their numbers filled in, and the cautions.

Everything here takes the system of units that the reader uses. What is said to the owner is put
together in `owner_sentences`, what is said about the owner's report in `story_sentences`.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from gearrec import units
from gearrec.rule_trace import fill

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gearrec.advice import Advice, TraceLine
    from gearrec.candidates import Candidate
    from gearrec.rule_trace import RuleTrace
    from gearrec.units import System
    from gearrec.vehicles import Assumption

SIGNED_METRICS = frozenset({"axle_mismatch", "gearing_change", "speedometer_error", "tire_growth"})
"""Metrics whose sign tells a direction, so that a plus is written too."""

ON_AVERAGE = "on average by distance"
"""Stands in a sentence for the name of a leg where no single leg decides."""

STANDING_CAUTIONS = (
    "People get hurt by work on axles, gears and tires, and by such work done wrong: support the "
    "vehicle safely, and leave the job to somebody who knows it.",
    "This advice is an estimate. The ratings on the vehicle's own labels and the instructions of "
    "the makers of vehicle, axle, gears and tires come before anything said here.",
    "Other gears make no truck stronger: what it may tow and what each axle may carry stay as they "
    "are rated.",
    "A truck that can drive all its wheels needs the same ratio in the front and the rear axle; "
    "never engage four-wheel drive with only one of the two changed.",
    "After a change of tires or gears check the speedometer against a known true speed; until it "
    "is recalibrated, shifting, brakes and the odometer may be wrong with it.",
    "Setting up a ring and pinion takes the right tools, and the training or license that the "
    "rules of the place ask for.",
)
"""Cautions that every advice for a person carries."""

_ASSUMED = {
    "use": "the use",
    "trailer_not_towed": "the trailer stays at home",
    "low_range_missing": "low range",
    "temperature_above_standard": "air temperature above the standard atmosphere",
    "driver_and_tools": "driver and tools",
    "tire_type": "kind of tire",
    "wheel_mass": "mass of a wheel with its tire",
    "automatic.direct": "efficiency of the automatic in direct gear",
    "automatic.other": "efficiency of the automatic in other gears",
    "automatic.drag_share": "drag of the automatic, share of peak torque",
    "automatic.torque_reserve": "torque the automatic keeps in reserve",
    "manual.direct": "efficiency of the gearbox in direct gear",
    "manual.other": "efficiency of the gearbox in other gears",
    "manual.drag_share": "drag of the gearbox, share of peak torque",
    "manual.torque_reserve": "torque a driver keeps in reserve",
    "axle_drag_constant": "constant drag of the axle",
    "axle_drag_per_ratio": "drag of the axle for each unit of ratio",
    "engine_inertia_per_liter": "inertia of the engine for each liter",
    "light_lug_share": "lowest engine speed at light load, share of the lug speed",
    "clutch_start_speed": "engine speed when starting on the clutch",
    "front_share": "share of the curb mass on the front axle",
    "payload_on_rear": "share of the payload on the rear axle",
    "hitch_overhang_share": "hitch overhang, share of the wheelbase",
    "transfer_efficiency_high": "efficiency of the transfer case in high range",
    "transfer_efficiency_low": "efficiency of the transfer case in low range",
    "reference_grade": "grade of the long climb",
    "passing_margin": "speed kept for passing, above the fastest leg",
}


def rule_sentence(
    trace: RuleTrace,
    *,
    candidate: Candidate,
    legs: Sequence[str],
    factory_ratio: float,
    units_of: Mapping[str, str],
    system: System,
) -> str:
    """What one rule says of one candidate, as a sentence.

    A rule that has nothing to say of it (unknown, not applying, a limit that is kept, a caution
    that does not fire) is reported with its title.

    Parameters
        legs: names of the legs, in the order of `RuleTrace.leg`.
        factory_ratio: [1].
        units_of: metric name -> unit of its numbers, for those with no dimension.
    """
    rule = trace.rule

    def shown(value: float | None) -> str | None:
        if value is None:
            return None
        unit = units_of.get(rule.metric or "", "")
        return value_text(
            value, metric=rule.metric or "", dimension=trace.dimension, unit=unit, system=system
        )

    value, limit = shown(trace.value), shown(trace.limit)
    if not trace.template:
        return f"{rule.title}: {_silent(trace, value, limit)}."
    low, high = trace.edges[1:3] if trace.edges else (None, None)
    words = {
        "value": value,
        "ratio": candidate.name,
        "leg": ON_AVERAGE if trace.leg is None else legs[trace.leg],
        "edge": shown(trace.edge),
        "low": shown(low),
        "high": shown(high),
        "factory_ratio": f"{factory_ratio:.2f}",
    }
    return _capital(fill(trace.template, {name: word for name, word in words.items() if word}))


def value_text(
    value: float, *, metric: str, dimension: str, unit: str = "", system: System = "us"
) -> str:
    """A metric's value as a person reads it: "1,820 rpm", "+13.0 %".

    `dimension` "" stands for a `unit` that is none of the library's; rules name it in their own
    words, so the bare number is given.
    """
    if not dimension:
        decimals = 0 if abs(value) >= 10.0 or unit.startswith("1/") else 2
        return f"{value:,.{decimals}f}"
    text = units.format(value, dimension, system)
    return signed(value, text) if metric in SIGNED_METRICS else text


def signed(value: float, text: str) -> str:
    """`text` of a number with a plus where it is more than nothing."""
    return f"+{text}" if value > 0.0 and any(digit in text for digit in "123456789") else text


def points(score: float | None) -> str:
    """A score from 0 to 1 as a person reads it: points of 100."""
    return "unknown" if score is None else f"{100.0 * score:.0f}"


def listed(words: Sequence[str], joint: str = "and") -> str:
    """'a', 'a and b', 'a, b and c'."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {joint} {words[-1]}"


def cautions(advice: Advice, system: System) -> tuple[str, ...]:
    """What the rules warn of about the pick, what plugins warn of, and the standing cautions.

    Without a pick the rules' cautions are those about the ratio now fitted.
    """
    about = advice.pick or advice.fitted
    fired = [line.sentence for line in advice.traced(about.axle_ratio, system) if line.trace.fired]
    added = [caution.sentence for caution in advice.plugin_cautions]
    return tuple(dict.fromkeys([*fired, *added, *STANDING_CAUTIONS]))


def assumption_text(assumption: Assumption, system: System) -> str:
    """A value taken because nothing gave it: "payload: 200 lb (one passenger)"."""
    name = _ASSUMED.get(assumption.name, assumption.name.replace("_", " ").replace(".", ": "))
    if math.isnan(assumption.value):
        return f"{name}: {assumption.why}" if assumption.why else name
    value = units.format(assumption.value, assumption.dimension, system)
    return f"{name}: {value}" + (f" ({assumption.why})" if assumption.why else "")


def best_lines(lines: Sequence[TraceLine]) -> list[TraceLine]:
    """The preferences that are known, the largest contribution first."""
    known = [line for line in lines if line.trace.contribution is not None]
    return sorted(known, key=lambda line: -(line.trace.contribution or 0.0))


def _silent(trace: RuleTrace, value: str | None, limit: str | None) -> str:
    if trace.state == "does-not-apply":
        return f"does not apply, {trace.reason}"
    if trace.state == "unknown":
        return f"unknown, {trace.reason}"
    kept = trace.rule.verdict == "limit"
    words = "kept" if kept else "nothing to warn of"
    if value is None:
        return words
    return f"{words}, at {value}" + (f" against {limit}" if limit else "")


def _capital(sentence: str) -> str:
    return sentence[:1].upper() + sentence[1:]
