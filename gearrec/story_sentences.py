"""What is said about the owner's report: the model's figures beside it, and what may explain it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearrec import units
from gearrec.owner_sentences import fuel_words
from gearrec.wording import signed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gearrec.story import EngineSpeedCheck, Explanation, FuelCheck, Story
    from gearrec.units import System

_NOTICEABLE = 0.005


def sentences(story: Story, system: System) -> tuple[str, ...]:
    """All sentences about the report; none where nothing is reported and nothing is off."""
    return (
        *_speedometer(story),
        *(_engine(story.engine_speed, story, system) if story.engine_speed else ()),
        *(_fuel(story.fuel, system) if story.fuel else ()),
    )


def _speedometer(story: Story) -> Iterator[str]:
    error = story.speedometer_error
    if abs(error) < _NOTICEABLE or story.speedometer_set:
        return
    amount = f"{abs(error) * 100.0:.1f} % too {'much' if error > 0.0 else 'little'}"
    known = "" if story.speedometer_set is False else ", unless it was reset (the job does not say)"
    yield (
        f"With the tires and gears now fitted the speedometer shows {amount}{known}; the odometer "
        "likewise."
    )


def _engine(check: EngineSpeedCheck, story: Story, system: System) -> Iterator[str]:
    speed = units.format(check.at_mps, "speed", system)
    gear = f"in gear {check.gear}" if check.gear_named else f"in top gear (gear {check.gear})"
    corrected = ", corrected for the speedometer" if story.speedometer_set is False else ""
    start = (
        f"The owner reports {_rpm(check.reported_rpm)} at {speed}{corrected}; the ratio and tires "
        f"now fitted make that {_rpm(check.expected_rpm)} {gear}"
    )
    off = signed(check.deviation, f"{check.deviation * 100.0:.1f} %")
    if check.agrees:
        yield (
            f"{start}. The two agree ({off}): as far as this can tell, ratio and tires are what "
            "they are said to be."
        )
        return
    yield (
        f"{start}. The two do not agree ({off}): the report speaks for an axle ratio of "
        f"{check.implied_ratio:.2f}. Find out why before gears are ordered."
    )
    if not check.explanations:
        yield "No simple cause explains it: read engine speed and true road speed again."
        return
    for explanation in check.explanations:
        yield f"It would fit if {_cause(explanation, story, system)}."
    if any(item.kind == "other-ratio" for item in check.explanations):
        yield "Count the teeth, or read the tag on the axle, to be sure of the ratio."


def _cause(item: Explanation, story: Story, system: System) -> str:
    rpm = f"({_rpm(item.engine_speed_rpm)})"
    if item.kind == "speedometer-not-set":
        change = signed(story.speedometer_error, f"{story.speedometer_error * 100.0:.1f} %")
        return (
            f"the speedometer was never set to these tires and gears, and is off by {change} {rpm}"
        )
    if item.kind == "other-gear":
        return f"it was in gear {item.gear} {rpm}"
    if item.kind == "other-ratio":
        return f"the axle holds {item.axle_ratio:.2f} gears {rpm}"
    if item.kind == "other-tires" and item.diameter_m is not None:
        height = units.format(item.diameter_m, "length", system)
        return f"the tires on the truck are {height} tall {rpm}"
    return "the torque converter was not locked, which lets the engine turn 3 to 8 % faster"


def _fuel(check: FuelCheck, system: System) -> Iterator[str]:
    source = "the display" if check.by == "display" else "fills at the pump"
    towing = "towing" if check.towing else "without trailer"
    reported = units.format(check.reported, "fuel_use", system)
    start = f"The owner reports {reported} by {source}, {towing}"
    if check.corrected != check.reported:
        start += (
            f", which is {units.format(check.corrected, 'fuel_use', system)} once the odometer is "
            "put right"
        )
    model = f"the model gives {fuel_words(check.model, system)} for the truck as it stands"
    if check.agrees is None:
        sort = "with" if check.towing else "without"
        yield f"{start}; {model}. The use has no leg {sort} trailer, so this says little."
    elif check.agrees:
        near = "are close enough to agree" if check.deviation else "agree"
        yield f"{start}; {model}. The two {near}."
    else:
        side = "thriftier" if check.deviation < 0.0 else "thirstier"
        yield (
            f"{start}; {model}. The report is {abs(check.deviation) * 100.0:.0f} % {side} than "
            "the range: roads and speeds may differ from those of the use, or the reading is off."
        )
    yield "The report stands beside the model here and changes none of its figures."


def _rpm(value: float) -> str:
    return units.format(value, "engine_speed")
