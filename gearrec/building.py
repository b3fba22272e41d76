"""What it takes to build the pick: carrier, pattern of the teeth, both axles."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gearrec import gearing

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gearrec.advice import Advice, CandidateAdvice


def notes(advice: Advice) -> tuple[str, ...]:
    """Sentences for whoever orders the parts; none where the gears stay or nothing is known."""
    pick = advice.pick
    if pick is None or advice.keeps:
        return ()
    return (*_carrier(advice, pick), *_teeth(pick), *_added(pick))


def _carrier(advice: Advice, pick: CandidateAdvice) -> Iterator[str]:
    needed, there = pick.candidate.carrier, advice.fitted.candidate.carrier
    if needed is None or needed == there:
        return
    now = f"the {there} carrier that goes with {advice.fitted.name}" if there else "the one fitted"
    yield f"{pick.name} needs the {needed} carrier; {now} does not take it. Allow for its price."


def _teeth(pick: CandidateAdvice) -> Iterator[str]:
    ring, pinion = pick.candidate.ring_teeth, pick.candidate.pinion_teeth
    if ring is None or pinion is None:
        return
    pattern = gearing.mesh_pattern(ring_teeth=ring, pinion_teeth=pinion)
    if pattern != "hunting":
        yield (
            f"{pick.teeth} is a {pattern} set: the same teeth meet again and again, so it must be "
            "put together by its timing marks."
        )


def _added(pick: CandidateAdvice) -> Iterator[str]:
    if pick.candidate.added_by:
        yield f"{pick.name} is not in the catalog of the axle: {pick.candidate.added_by}."
