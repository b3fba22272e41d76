"""Judging a batch: lanes made, metrics computed, rules applied, candidates ordered.

One way for one job, ten thousand jobs, and the disturbed copies behind a confidence.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from gearrec import assembly, attribute_values, metrics, rules, scoring
from gearrec.metrics import Columns, Metric

if TYPE_CHECKING:
    from gearrec.batches import Batch
    from gearrec.lanes import Lanes
    from gearrec.rules import CompiledRules, Scores
    from gearrec.scoring import Aggregate, ExtraPreference, Order

Floats = npt.NDArray[np.float64]
Masks = npt.NDArray[np.bool_]
OnFault = Callable[[Metric, Exception], None]


@dataclass(frozen=True, slots=True)
class Measured:
    """A batch with its metrics and what the rules say of each candidate."""

    lanes: Lanes
    columns: Columns
    attributes: dict[str, Floats]
    scores: Scores

    @property
    def eligible(self) -> Masks:
        """(C, N): candidates that exist and that no limit rules out."""
        return np.asarray(self.lanes.candidate_known & ~self.scores.ruled_out)


@dataclass(frozen=True, slots=True)
class Verdicts:
    """The order of the candidates of a batch."""

    aggregate: Aggregate
    order: Order


@dataclass(frozen=True, slots=True)
class Judge:
    """A rule set and the metrics it is judged by.

    `metrics` are all there are, `needed` those that the rules ask for. `tie` is the difference of
    aggregate scores that is still a tie, `units_of` the units of the metrics' numbers by name.
    """

    compiled: CompiledRules
    metrics: tuple[Metric, ...]
    needed: tuple[Metric, ...]
    tie: float
    units_of: Mapping[str, str]

    def measure(
        self, batch: Batch, *, every_metric: bool = False, on_fault: OnFault | None = None
    ) -> Measured:
        """Metrics and scores of a batch; batches of more than a few hundred lanes go in parts."""
        lanes = assembly.lanes(batch)
        columns = metrics.evaluate(
            lanes, metrics=self.metrics if every_metric else self.needed, on_fault=on_fault
        )
        attributes = attribute_values.job_attributes(batch)
        scores = rules.score(self.compiled, columns, attributes, lanes)
        return Measured(lanes, columns, attributes, scores)

    def order(
        self,
        measured: Measured,
        extra: Sequence[ExtraPreference] = (),
        ranks: int | None = None,
    ) -> Verdicts:
        """Aggregate scores and ranks."""
        aggregate = scoring.aggregate(measured.scores, extra)
        order = scoring.rank(
            score=aggregate.score,
            eligible=measured.eligible,
            axle_ratio=measured.lanes.axle_ratio,
            factory_ratio=measured.lanes.factory_ratio,
            tolerance=self.tie,
            ranks=ranks,
        )
        return Verdicts(aggregate, order)
