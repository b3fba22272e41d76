"""Heavy towing for gearrec: metrics, rules and cautions after SAE J2807 for the loaded combination.

The rules are in the rule set `towing/heavy-towing`, which a job asks for by `rule_set`.
"""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from gearrec.extension import CatalogFolder
from gearrec.hooks import hookimpl
from gearrec.metrics import Metric
from gearrec_towing import braking, cautions, pull

if TYPE_CHECKING:
    from gearrec.advice import Advice
    from gearrec.extension import Caution
    from gearrec.jobs import ResolvedJob

GEARREC_HOOK_API = 1

CATALOG = Path(__file__).parent / "catalog"

_STANDARD = "SAE J2807 by name, quoted by a second source"
_NO_GEAR = "no gear of the gearbox can be used at that speed"


def _gradeability(mph: int) -> Metric:
    return Metric(
        name=f"towing_gradeability_{mph}mph",
        dimension="grade",
        unit="1",
        definition=f"steepest grade held at {mph} mph with the heaviest load, at full torque in "
        "the gear that pulls best; negative where level ground is not held",
        source=f"{_STANDARD}: long climb; see gearrec_towing.pull",
        compute=partial(pull.gradeability, speed_mps=mph * pull.MPH_MPS),
        unknown=_NO_GEAR,
    )


METRICS = (
    Metric(
        name="towing_startability",
        dimension="grade",
        unit="1",
        definition="steepest grade on which the heaviest load starts forward in first gear, high "
        "range, by torque and by grip; negative where it takes a descent",
        source=f"{_STANDARD}: start on 12 %; see gearrec_towing.pull",
        compute=pull.startability,
    ),
    Metric(
        name="towing_startability_reverse",
        dimension="grade",
        unit="1",
        definition="steepest grade on which the heaviest load starts in reverse, high range, by "
        "torque and by grip; negative where it takes a descent",
        source=f"{_STANDARD}: start on 12 %; see gearrec_towing.pull",
        compute=pull.startability_reverse,
        unknown="the ratio of reverse is not known",
    ),
    Metric(
        name="towing_time_0_30mph",
        dimension="time",
        unit="s",
        definition="time from rest to 30 mph at full load with the heaviest load, with shifts",
        source=f"{_STANDARD}: 0 to 30 mph; see gearrec_towing.pull",
        compute=pull.time_0_30mph,
        unknown="the heaviest load does not reach 30 mph on level ground",
    ),
    _gradeability(30),
    _gradeability(35),
    _gradeability(40),
    Metric(
        name="towing_gradeability_gear_40mph",
        dimension="",
        unit="gear",
        definition="gear that pulls best at 40 mph, counted from 1",
        source="geometry and the engine's curve; see gearrec_towing.pull",
        compute=partial(pull.gradeability_gear, speed_mps=40.0 * pull.MPH_MPS),
        unknown=_NO_GEAR,
    ),
    Metric(
        name="towing_engine_braking_grade",
        dimension="grade",
        unit="1",
        definition="steepest descent held at the leg's speed by engine friction and road load in "
        "the best low gear, converter locked, without service or exhaust brakes",
        source="friction after Heywood (1988) by engine class; see gearrec_towing.braking",
        compute=braking.engine_braking_grade,
        per_leg=True,
        unknown="in every gear that locks, the engine would idle or pass its governed speed",
    ),
    Metric(
        name="towing_engine_braking_gear",
        dimension="",
        unit="gear",
        definition="gear in which engine friction holds that descent, counted from 1",
        source="friction after Heywood (1988) by engine class; see gearrec_towing.braking",
        compute=braking.engine_braking_gear,
        per_leg=True,
        unknown="in every gear that locks, the engine would idle or pass its governed speed",
    ),
)


@hookimpl
def gearrec_catalogs() -> list[CatalogFolder]:
    """The rules, the rule set and the cases, with invented trucks to try them on."""
    return [CatalogFolder(name="towing", path=CATALOG)]


@hookimpl
def gearrec_metrics() -> tuple[Metric, ...]:
    """What a loaded combination can pull and hold back."""
    return METRICS


@hookimpl
def gearrec_cautions(job: ResolvedJob, advice: Advice) -> list[Caution]:
    """Ratings and brakes that the labels decide, for jobs that tow."""
    return cautions.for_job(job, advice)
