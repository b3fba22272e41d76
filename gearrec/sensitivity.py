"""How sure the pick is, and over which tires it holds: the same judging on disturbed copies."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from gearrec.lanes import CHUNK

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gearrec.batches import Batch
    from gearrec.catalog.use_records import Tolerances
    from gearrec.judging import Judge
    from gearrec.scoring import ExtraPreference

Floats = npt.NDArray[np.float64]
Indices = npt.NDArray[np.intp]

REACH_LOWEST = 0.88
REACH_HIGHEST = 1.26
"""Planned diameter / factory diameter between which the reach is looked for [1]."""
_REACH_STEP = 0.0025


@dataclass(frozen=True, slots=True)
class Reach:
    """Planned tire diameters over which a ratio is the pick [m].

    An open end lies at the end of the range that was looked at, or beyond it.
    """

    axle_ratio: float
    from_m: float
    to_m: float
    open_below: bool
    open_above: bool


def disturbances(count: int, tolerances: Tolerances) -> dict[str, Floats]:
    """Factors for `count` disturbed copies, spread evenly over the ranges of the tolerances.

    The points are an additive recurrence with the powers of the generalized golden ratio as steps:
    every run gives the same ones, and fewer are needed than with random numbers.
    Source: the root of x^(d+1) = x + 1, from memory.
    """
    widths = {
        "diameter_planned_m": tolerances.tire_diameter,
        "mass_factor": tolerances.mass,
        "drag_factor": tolerances.drag,
        "rolling_factor": tolerances.rolling,
        "torque_factor": tolerances.torque,
        "speed_factor": tolerances.speed,
    }
    step = 1.0
    for _ in range(40):
        step = (1.0 + step) ** (1.0 / (len(widths) + 1.0))
    number = np.arange(1, count + 1)
    factors = {
        name: 1.0 + width * (2.0 * ((0.5 + number * step ** -(place + 1.0)) % 1.0) - 1.0)
        for place, (name, width) in enumerate(widths.items())
    }
    factors["circumference_planned_m"] = factors["diameter_planned_m"]
    return factors


def confidence(
    judge: Judge,
    batch: Batch,
    *,
    pick: int,
    tolerances: Tolerances,
    samples: int,
    extra: Sequence[ExtraPreference] = (),
) -> float:
    """Share of the disturbed copies of one job in which the pick stays the pick [0 to 1]."""
    disturbed = batch.repeated(samples).changed(**disturbances(samples, tolerances))
    return float(np.mean(_picks(judge, disturbed, extra) == pick))


def reach(judge: Judge, batch: Batch, extra: Sequence[ExtraPreference] = ()) -> tuple[Reach, ...]:
    """The span of planned diameters over which each ratio of one job is the pick, rising."""
    planned = batch.columns[1, 0]
    factory = batch.vehicle_table.vehicles[int(batch.vehicle[0])].factory_tire.diameter_m
    shares = np.arange(REACH_LOWEST, REACH_HIGHEST + _REACH_STEP / 2.0, _REACH_STEP)
    factors = shares * factory / planned
    swept = batch.repeated(shares.size).changed(
        diameter_planned_m=factors, circumference_planned_m=factors
    )
    picks = _picks(judge, swept, extra)
    ratios = batch.vehicle_table.axle_ratio[:, int(batch.vehicle[0])]
    found = []
    # Not np.unique, for whose sake numpy would load its masked arrays.
    for candidate in sorted(set(picks[picks >= 0].tolist())):
        where = np.flatnonzero(picks == candidate)
        first, last = int(where[0]), int(where[-1])
        found.append(
            Reach(
                axle_ratio=float(ratios[candidate]),
                from_m=float(shares[first] - _REACH_STEP / 2.0) * factory,
                to_m=float(shares[last] + _REACH_STEP / 2.0) * factory,
                open_below=first == 0,
                open_above=last == shares.size - 1,
            )
        )
    return tuple(sorted(found, key=lambda item: (item.from_m, item.axle_ratio)))


def _picks(judge: Judge, batch: Batch, extra: Sequence[ExtraPreference]) -> Indices:
    picks = np.empty(batch.size, dtype=np.intp)
    for start in range(0, batch.size, CHUNK):
        part = slice(start, start + CHUNK)
        measured = judge.measure(batch.part(part))
        picks[part] = judge.order(measured, extra, ranks=1).order.pick
    return picks
