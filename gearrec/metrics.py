"""Metrics: the named quantities that rules judge, computed over a batch a chunk at a time."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from gearrec.built_in_metrics import BUILT_IN
from gearrec.errors import PluginError
from gearrec.evaluation import Evaluation, Metric, mix
from gearrec.lanes import CHUNK, Floats, Lanes, chunks

# Work arrays of some hundred kilobytes come and go thousands of times. The C library hands each
# back to the system, to be cleared again at the next use, until it has seen a larger one freed.
np.empty(8 << 20, dtype=np.uint8)

__all__ = ["BUILT_IN", "Columns", "Evaluation", "Metric", "by_name", "evaluate", "mix"]


@dataclass(frozen=True, slots=True)
class Columns(Mapping[str, Floats]):
    """Metric name -> its numbers, (C, N) or per leg (C, L, N), NaN where unknown.

    `unknown_reason` says why, for each metric that has an unknown number for a known candidate.
    """

    values_by_name: dict[str, Floats]
    unknown_reason: dict[str, str]

    def __getitem__(self, name: str) -> Floats:
        return self.values_by_name[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self.values_by_name)

    def __len__(self) -> int:
        return len(self.values_by_name)


def evaluate(
    lanes: Lanes,
    *,
    metrics: Sequence[Metric] | None = None,
    on_fault: Callable[[Metric, Exception], None] | None = None,
    chunk: int = CHUNK,
) -> Columns:
    """Compute metrics for a whole batch.

    Parameters
        lanes: the batch.
        metrics: which ones; all built-in ones if left out.
        on_fault: called once for a metric that cannot be computed, whose numbers are then unknown;
            without it the error is raised.
        chunk: lanes at a time.

    Returns
        Columns; numbers of padded candidates and legs are NaN.

    Raises
        PluginError: a metric's function fails or returns the wrong shape, without `on_fault`.
    """
    chosen = BUILT_IN if metrics is None else metrics
    columns: dict[str, Floats] = {}
    for metric in chosen:
        legs = (lanes.legs,) if metric.per_leg else ()
        columns[metric.name] = np.empty((lanes.candidates, *legs, lanes.size))
    reasons: dict[str, str] = {}
    faults: set[str] = set()
    for place, part in chunks(lanes, size=chunk):
        evaluation = Evaluation(part)
        padding = _padding(part)
        for metric in chosen:
            if metric.name in faults:
                continue
            column = columns[metric.name][..., place]
            try:
                values = metric.compute(evaluation)
                np.add(values, padding[metric.per_leg], out=column)
            except Exception as error:
                if on_fault is None:
                    text = f"metric '{metric.name}' cannot be computed: {error!r}"
                    raise PluginError(text) from error
                faults.add(metric.name)
                reasons[metric.name] = f"its function failed: {error!r}"
                on_fault(metric, error)
                continue
            # A sum is NaN if a summand is, and costs less than looking at each.
            if metric.name not in reasons and math.isnan(np.add.reduce(column, axis=None)):
                unknown = np.isnan(column) & ~np.isnan(padding[metric.per_leg])
                if unknown.any():
                    reasons[metric.name] = metric.unknown
    for name in faults:
        columns[name].fill(np.nan)
    return Columns(columns, reasons)


def by_name(metrics: Sequence[Metric]) -> dict[str, Metric]:
    """Metrics by their names.

    Raises
        ValueError: two metrics have the same name.
    """
    found = {metric.name: metric for metric in metrics}
    if len(found) < len(metrics):
        names = [metric.name for metric in metrics]
        twice = sorted({name for name in names if names.count(name) > 1})
        raise ValueError(f"two metrics are called {', '.join(twice)}; rename one")
    return found


def _padding(lanes: Lanes) -> tuple[Floats | float, Floats | float]:
    """What to add to a metric per candidate, (C, N), and per leg, (C, L, N): NaN where padded.

    Added and not written under a mask, which would cost ten times as much.
    """
    candidate: Floats | float = 0.0
    if not lanes.candidate_known.all():
        candidate = np.where(lanes.candidate_known, 0.0, np.nan)
    if lanes.leg_known.all():
        return candidate, candidate if isinstance(candidate, float) else candidate[:, None]
    leg = np.where(lanes.leg_known, 0.0, np.nan)
    return candidate, leg if isinstance(candidate, float) else candidate[:, None] + leg
