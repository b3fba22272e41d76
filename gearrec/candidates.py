"""Candidates: the axle ratios that could be fitted to a vehicle, and why others could not."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One axle ratio to judge.

    `ratio` is the tooth ratio [1] where the teeth are known, else the ratio named. `front_ratio` is
    the tooth ratio of the nearest set of the other driven axle, None where that axle is not driven
    or has none. `taken_out` says why it cannot be fitted, `added_by` which plugin brought it.
    """

    ratio: float
    ring_teeth: int | None = None
    pinion_teeth: int | None = None
    carrier: str | None = None
    front_ratio: float | None = None
    fitted: bool = False
    factory: bool = False
    added_by: str = ""
    taken_out: str = ""

    @property
    def name(self) -> str:
        """The ratio as the trade writes it, to two decimals."""
        return f"{self.ratio:.2f}"

    @property
    def teeth(self) -> str:
        """'50/13', or '' where the teeth are not known."""
        return f"{self.ring_teeth}/{self.pinion_teeth}" if self.ring_teeth else ""


@dataclass(frozen=True, slots=True)
class Teeth:
    """A ring and pinion, and the carrier they need."""

    ring: int
    pinion: int
    carrier: str | None = None

    @property
    def ratio(self) -> float:
        """Tooth ratio [1]."""
        return self.ring / self.pinion


def named(ratio: float, sets: Iterable[Teeth], *, within: float) -> Teeth | None:
    """The gear set that a ratio's name stands for: the nearest one `within` that logarithm."""
    best = min(sets, key=lambda teeth: abs(math.log(teeth.ratio / ratio)), default=None)
    if best is None or abs(math.log(best.ratio / ratio)) > within:
        return None
    return best


def candidates(
    *,
    rear: Sequence[Teeth],
    front: Sequence[Teeth] | None,
    factory_ratio: float,
    fitted_ratio: float,
    asked: Sequence[float],
    name_tolerance: float,
    match_tolerance: float,
) -> tuple[Candidate, ...]:
    """All ratios to judge, rising.

    Parameters
        rear: gear sets of the rear axle.
        front: gear sets of the front axle; None where the front wheels are not driven.
        factory_ratio, fitted_ratio: [1], names or tooth ratios; both are always judged.
        asked: ratios that the job asks for; empty means every set of the rear axle.
        name_tolerance: how far a name may be from the tooth ratio it stands for, in the logarithm.
        match_tolerance: how far a front ratio may be from the rear one, in the logarithm.

    A ratio that no set of the axle gives stays as the bare number it was named by.
    """
    found: dict[float, Teeth | None] = {}
    for ratio in (*asked, factory_ratio, fitted_ratio):
        teeth = named(ratio, rear, within=name_tolerance)
        found[teeth.ratio if teeth else ratio] = teeth
    if not asked:
        found.update({teeth.ratio: teeth for teeth in rear})
    factory = _nearest(factory_ratio, found)
    fitted = _nearest(fitted_ratio, found)
    partners = {
        ratio: None if front is None else _partner(ratio, front, match_tolerance) for ratio in found
    }
    return tuple(
        Candidate(
            ratio=ratio,
            ring_teeth=teeth.ring if teeth else None,
            pinion_teeth=teeth.pinion if teeth else None,
            carrier=teeth.carrier if teeth else None,
            front_ratio=partners[ratio],
            fitted=ratio == fitted,
            factory=ratio == factory,
            taken_out=""
            if front is None or partners[ratio]
            else "no gear set of the front axle matches it",
        )
        for ratio, teeth in sorted(found.items())
    )


def _nearest(ratio: float, ratios: Iterable[float]) -> float:
    return min(ratios, key=lambda other: abs(math.log(other / ratio)))


def _partner(ratio: float, front: Sequence[Teeth], tolerance: float) -> float | None:
    teeth = named(ratio, front, within=tolerance)
    return teeth.ratio if teeth else None
