"""Whether the engine's torque makes other gears needless, in sentences for the owner."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearrec import comparison, units

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gearrec.advice import Advice, CandidateAdvice
    from gearrec.comparison import Pull
    from gearrec.units import System


def sentences(advice: Advice, pick: CandidateAdvice, system: System) -> Iterator[str]:
    """What the engine's torque comes to at the wheels: force, engine speed, gears on a grade."""
    fitted = advice.fitted
    rising = sorted(advice.candidates, key=lambda item: item.axle_ratio)
    other = pick
    if advice.keeps:
        higher = [item for item in rising if item.axle_ratio > fitted.axle_ratio]
        if not higher:
            return
        other = higher[0]
    gain = other.axle_ratio / fitted.axle_ratio - 1.0
    more = f"{abs(gain):.0%} {'more' if gain > 0.0 else 'less'}".replace("%", " %")
    lead = "What counts at the wheels is torque times gearing"
    if gain < 0.0:
        lead = "This job can do with less at the wheels"
    start = f"{lead}. In every gear, {other.name} puts {more} force on the road than {fitted.name}"
    growth = advice.judgement.resolved.tire_planned.circumference_m
    growth /= advice.judgement.resolved.vehicle.factory_tire.circumference_m
    if growth > 1.005:
        start += (
            f"; the planned tires alone, taller than the factory's, take "
            f"{(1.0 - 1.0 / growth) * 100.0:.0f} % away"
        )
    yield start + "."
    before = comparison.pull(advice, fitted.axle_ratio)
    after = comparison.pull(advice, other.axle_ratio)
    engine = advice.judgement.resolved.vehicle.engine
    if all(
        engine.idle_speed <= pull.engine_speed_rpm <= engine.governed_speed
        for pull in (before, after)
    ):
        yield (
            f"At {units.format(before.speed_mps, 'speed', system)} ({before.leg}) in top gear, "
            f"{fitted.name} {_pull_words(before, system)}; "
            f"{other.name} {_pull_words(after, system)}. "
            f"The engine's peak is {units.format(before.peak_torque_nm, 'torque', system)}."
        )
    grade = units.format(before.grade, "grade", system)
    yield f"On a {grade} grade, {_climbing(fitted, before, other, after, system)}."
    if advice.keeps:
        yield (
            f"So {other.name} would pull harder, but weighed with everything else this job does "
            "not ask for it."
        )


def _pull_words(pull: Pull, system: System) -> str:
    return (
        f"turns the engine at {units.format(pull.engine_speed_rpm, 'engine_speed', system)}, where "
        f"it has {units.format(pull.torque_nm, 'torque', system)}, worth "
        f"{units.format(pull.force_n, 'force', system)} at the wheels"
    )


def _climbing(
    fitted: CandidateAdvice, before: Pull, other: CandidateAdvice, after: Pull, system: System
) -> str:
    speed = units.format(before.speed_mps, "speed", system)
    if before.holds and after.holds:
        if before.gear == after.gear:
            return f"both keep {speed} in gear {before.gear}"
        return (
            f"{fitted.name} keeps {speed} in gear {before.gear}, {other.name} in gear {after.gear}"
        )
    if before.holds:
        return f"{fitted.name} keeps {speed} in gear {before.gear}, {other.name} in none"
    if after.holds:
        return f"{other.name} keeps {speed} in gear {after.gear}, {fitted.name} in none"
    return f"neither {fitted.name} nor {other.name} keeps {speed} in any gear"
