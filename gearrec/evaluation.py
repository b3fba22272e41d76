"""What metrics are computed from: a batch's arrays, and what many metrics share.

A metric is a record with a function of an `Evaluation`. The built-in metrics and those of a plugin
are the same kind of record.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from gearrec import consumption, operating, performance

if TYPE_CHECKING:
    from collections.abc import Callable

    from gearrec.lanes import Floats, Lanes


class Evaluation:
    """A batch of lanes and what many metrics share; arrays are read, never written to.

    Shapes and units of `lanes` stand at `gearrec.lanes.Lanes`, those of `points` and `terrain` at
    `gearrec.operating.OperatingPoints` and `gearrec.consumption.Consumption`.
    """

    def __init__(self, lanes: Lanes) -> None:
        self.lanes = lanes

    @cached_property
    def points(self) -> operating.OperatingPoints:
        """Engine speeds, holdable grades and chosen gears on all legs."""
        return operating.solve(self.lanes)

    @cached_property
    def terrain(self) -> consumption.Consumption:
        """Fuel and gears over the distribution of grades."""
        return consumption.consume(self.lanes, self.points)

    @cached_property
    def full_load(self) -> dict[str, Floats]:
        """Launch, climb and acceleration with the heaviest load, each (C, N)."""
        return performance.full_load_metrics(self.lanes)

    @cached_property
    def top_shaft_rpm(self) -> Floats:
        """Speed of wheels x axle ratio at the fastest leg plus the passing margin, (C, N) [rpm]."""
        lanes = self.lanes
        fastest = np.where(lanes.leg_known, lanes.leg_speed_mps, 0.0).max(axis=0)
        wheel_rpm = (fastest + lanes.passing_margin_mps) * 60.0 / lanes.circumference_planned_m
        return np.asarray(lanes.axle_ratio * wheel_rpm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Metric:
    """A named quantity computed for every candidate.

    Fields
        name: lower-case words joined by underscores; a plugin's with its own prefix.
        dimension: of `gearrec.units`, or "" where `unit` is none of its units.
        unit: of the numbers that `compute` returns.
        definition: one sentence.
        source: where the definition or the method comes from.
        compute: Evaluation -> float64 array that broadcasts to (C, N), or to (C, L, N) where
            `per_leg`; NaN is unknown. Lanes do not depend on each other.
        per_leg: whether there is one value for each leg of the use.
        unknown: what a NaN means, as a sentence without a full stop.
    """

    name: str
    dimension: str
    unit: str
    definition: str
    source: str
    compute: Callable[[Evaluation], Floats]
    per_leg: bool = False
    unknown: str = "an input that it needs is not known"


def mix(lanes: Lanes, values: Floats) -> Floats:
    """Mean over the legs weighted by their shares of the distance, (C, L, N) -> (C, N).

    Unknown (NaN) where a leg with a share is.
    """
    weighted = np.where(lanes.leg_share > 0.0, values, 0.0)
    weighted *= lanes.leg_share
    return np.asarray(np.add.reduce(weighted, axis=1))
