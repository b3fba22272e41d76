"""The questions that two catalogs are asked: their cases, and a grid of tires and uses."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from gearrec import tires
from gearrec.cases import case_job
from gearrec.catalog.job_records import Job, JobTires
from gearrec.catalog.vehicle_records import TireData, TrailerData

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gearrec.api import Advisor
    from gearrec.catalog.records import Platform, UseProfile

GROWTHS = (0.0, 0.02, 0.04, 0.06, 0.09, 0.12, 0.16)
"""Planned diameter / factory diameter - 1: none, small, and up to the largest that people fit."""

# A trailer for every truck: four fifths of its curb mass, a box of usual size (invented).
_TRAILER_SHARE = 0.8
_TRAILER = {"drag_area": "1.5 m^2", "rolling_coefficient": 0.010, "tongue_share": "11 %"}


@dataclass(frozen=True, slots=True)
class Question:
    """A job with words for it; `case` is the id of the case that it comes from, or ''."""

    words: str
    job: Job
    case: str = ""


def questions(old: Advisor, new: Advisor) -> tuple[Question, ...]:
    """Everything both catalogs are asked. What is in both is asked in the old one's words.

    Cases: those of either. Grid: every platform of the old catalog with each of its powertrains,
    on `GROWTHS` of its factory tires, in every use that both have; where the use tows, with a
    trailer of four fifths of the curb mass.
    """
    return (*_cases(old, new), *_grid(old, new))


def _cases(old: Advisor, new: Advisor) -> Iterator[Question]:
    known = set(old.catalog.ids("case"))
    for advisor, names in (
        (old, old.catalog.ids("case")),
        (new, tuple(name for name in new.catalog.ids("case") if name not in known)),
    ):
        for name in names:
            case = advisor.catalog.get("case", name)
            job: Any = case_job(advisor, case)
            yield Question(f"case {name}: {case.title}", advisor.job(job), name)


def _grid(old: Advisor, new: Advisor) -> Iterator[Question]:
    shared = [use for use in old.catalog.ids("use-profile") if new.catalog.has("use-profile", use)]
    uses = [old.catalog.get("use-profile", use) for use in shared]
    for name in old.catalog.ids("platform"):
        platform: Platform = old.catalog.get("platform", name)
        factory: TireData = old.catalog.get("tire", platform.factory.tire)
        trailer = TrailerData(mass=f"{_TRAILER_SHARE * platform.curb_mass:.0f} kg", **_TRAILER)
        several = len(platform.powertrains) > 1
        for powertrain in platform.powertrains:
            for growth in GROWTHS:
                tire = None if growth == 0.0 else _grown(factory, growth)
                for use in uses:
                    words = [name, *([powertrain.transmission] if several else [])]
                    words += [_tire_words(growth), use.id]
                    yield Question(
                        ", ".join(words),
                        Job(
                            vehicle=name,
                            engine=powertrain.engine if several else None,
                            transmission=powertrain.transmission if several else None,
                            tires=JobTires(planned=tire),
                            trailer=trailer if _tows(use) else None,
                            use=use.id,
                        ),
                    )


def _grown(factory: TireData, growth: float) -> TireData:
    """The factory tire at another diameter; what it carries stays."""
    diameter = factory.diameter or tires.parse_size(factory.size).diameter_m
    return TireData(
        size=factory.size,
        type=factory.type,
        diameter=f"{1000.0 * diameter * (1.0 + growth):.1f} mm",
    )


def _tire_words(growth: float) -> str:
    return "factory tires" if growth == 0.0 else f"tires {growth:.0%} taller"


def _tows(use: UseProfile) -> bool:
    return any(leg.towing for leg in use.legs)
