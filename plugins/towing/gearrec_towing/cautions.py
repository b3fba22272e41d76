"""What a job with a trailer must be told: labels and brakes decide, not an axle ratio.

Numbers that the job and the catalog give are compared; where they give none, the label is pointed
to. Figures without a source here are common practice.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearrec import units
from gearrec.extension import Caution

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gearrec.advice import Advice
    from gearrec.jobs import ResolvedJob

LIGHT_TONGUE, HEAVY_TONGUE = 0.10, 0.25
"""Share of a trailer's mass on the hitch: below it sways, above it lifts the front axle."""

_PRACTICE = "common practice, no source"
_LABEL = "the catalog's ratings, which the labels of vehicle, hitch and trailer overrule"


def for_job(job: ResolvedJob, advice: Advice) -> list[Caution]:
    """Cautions for a job that tows; none for one that does not."""
    if job.trailer is None:
        return []
    attributes = advice.judgement.measured.attributes
    vehicle_kg = float(attributes["vehicle_mass"][0])
    trailer_kg = float(attributes["trailer_mass"][0])
    tongue_kg = trailer_kg * job.trailer.tongue_share
    return [
        *_brakes(trailer_kg),
        *_hitch(trailer_kg, tongue_kg),
        *_combined(job, vehicle_kg + trailer_kg),
        *_gross(job, vehicle_kg + tongue_kg),
        *_tongue(job.trailer.tongue_share),
        *_descent(job, advice),
    ]


def _brakes(trailer_kg: float) -> Iterator[Caution]:
    yield Caution(
        "towing/trailer-brakes",
        f"The trailer weighs {_mass(trailer_kg)}: see that its own brakes work and are set. How "
        "heavy a trailer needs brakes is law where it is towed, and the maker's manual may ask "
        "for them earlier.",
        _PRACTICE,
    )


def _hitch(trailer_kg: float, tongue_kg: float) -> Iterator[Caution]:
    yield Caution(
        "towing/hitch-rating",
        "Read the labels of hitch, ball mount and ball: each must be rated for "
        f"{_mass(trailer_kg)} with {_mass(tongue_kg)} on the hitch. The lowest rating counts.",
        _PRACTICE,
    )


def _combined(job: ResolvedJob, combined_kg: float) -> Iterator[Caution]:
    rating_kg = job.vehicle.platform.gross_combined_rating
    if rating_kg is None:
        yield Caution(
            "towing/combined-rating",
            f"Vehicle and trailer weigh {_mass(combined_kg)} together. The catalog knows no "
            "combined rating for this vehicle: read its label before it tows that.",
            _LABEL,
        )
    elif combined_kg > rating_kg:
        yield Caution(
            "towing/combined-rating",
            f"Vehicle and trailer weigh {_mass(combined_kg)} together, more than the combined "
            f"rating of {_mass(rating_kg)}. No axle ratio makes that right, unless the maker's "
            "label states a higher rating: take a lighter trailer.",
            _LABEL,
        )


def _gross(job: ResolvedJob, loaded_kg: float) -> Iterator[Caution]:
    rating_kg = job.vehicle.platform.gross_rating
    if loaded_kg > rating_kg:
        yield Caution(
            "towing/gross-rating",
            f"With the trailer's weight on the hitch the vehicle weighs {_mass(loaded_kg)}, more "
            f"than its gross rating of {_mass(rating_kg)}: load less, and go by its label.",
            _LABEL,
        )


def _tongue(share: float) -> Iterator[Caution]:
    if LIGHT_TONGUE <= share <= HEAVY_TONGUE:
        return
    fault = "may sway" if share < LIGHT_TONGUE else "takes load off the front axle"
    yield Caution(
        "towing/tongue-share",
        f"{share:.0%} of the trailer's weight on the hitch {fault}; common practice is 10 to 15 % "
        "on a ball and 15 to 25 % over the axle. The trailer maker's figure comes first.",
        _PRACTICE,
    )


def _descent(job: ResolvedJob, advice: Advice) -> Iterator[Caution]:
    """The towing leg on which the pick holds back least by its engine."""
    about = advice.pick or advice.fitted
    grades = about.leg_metrics["towing_engine_braking_grade"]
    gears = about.leg_metrics["towing_engine_braking_gear"]
    known = [
        (grade, gear, leg)
        for grade, gear, leg, tows in zip(
            grades, gears, advice.legs, job.use.arrays["leg_towing"], strict=True
        )
        if tows and grade is not None and gear is not None
    ]
    if not known:
        return
    grade, gear, leg = min(known)
    yield Caution(
        "towing/descent",
        f"With {about.name} the engine alone holds about {units.format(grade, 'grade', 'us')} "
        f"downhill in gear {gear:.0f} on the leg '{leg}', by the model and without an exhaust "
        "brake. What is steeper takes the service brakes: go slower and lower before the hill.",
        "friction after Heywood (1988) by engine class",
    )


def _mass(mass_kg: float) -> str:
    return f"{units.format(mass_kg, 'mass', 'us')} ({units.format(mass_kg, 'mass', 'metric')})"
