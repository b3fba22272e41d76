"""Which legs of a use a rule looks at."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Masks = npt.NDArray[np.bool_]

FAR = 1e300
"""A finite number beyond every metric: where a missing bound lies."""


class Legs(Protocol):
    """What rules need to know of the legs, each (L, N); `gearrec.lanes.Lanes` has it."""

    @property
    def leg_known(self) -> Masks: ...
    @property
    def leg_share(self) -> Floats: ...
    @property
    def leg_speed_mps(self) -> Floats: ...
    @property
    def leg_grade_deviation(self) -> Floats: ...
    @property
    def leg_towing(self) -> Masks: ...
    @property
    def leg_low_range(self) -> Masks: ...
    @property
    def mass_kg(self) -> Floats: ...


@dataclass(frozen=True, slots=True)
class LegChoice:
    """Which legs a rule looks at: a filter, then a role among the legs that pass it."""

    role: str = "each"
    low_range: bool | None = None
    towing: bool | None = None
    speed_at_least_mps: float = 0.0
    speed_below_mps: float = FAR


def leg_mask(choice: LegChoice, legs: Legs) -> Masks:
    """(L, N): the legs that a choice looks at; legs that tie for a role are all taken."""
    mask = legs.leg_known
    if choice.low_range is not None:
        mask = mask & (legs.leg_low_range == choice.low_range)
    if choice.towing is not None:
        mask = mask & (legs.leg_towing == choice.towing)
    if choice.speed_at_least_mps > 0.0:
        mask = mask & (legs.leg_speed_mps >= choice.speed_at_least_mps)
    if choice.speed_below_mps < FAR:
        mask = mask & (legs.leg_speed_mps < choice.speed_below_mps)
    if choice.role in ("each", "weighted"):
        return mask
    if choice.role == "towing":
        return mask & legs.leg_towing
    key = {
        "fastest": legs.leg_speed_mps,
        "slowest": -legs.leg_speed_mps,
        "heaviest": legs.mass_kg,
        "steepest": legs.leg_grade_deviation,
    }[choice.role]
    candidates = np.where(mask, key, -np.inf)
    return np.asarray(mask & (candidates == candidates.max(axis=0)))
