"""What plugins add to one job, candidates and preferences, as the core's own records."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from gearrec.candidates import Candidate
from gearrec.extension import (
    CandidateAddition,
    CandidateRemoval,
    JobMetrics,
    Preference,
    same_ratio,
)
from gearrec.scoring import ExtraPreference

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gearrec.jobs import ResolvedJob
    from gearrec.judging import Measured
    from gearrec.metrics import Metric
    from gearrec.plugin_calls import Contribution


def with_candidates(
    resolved: ResolvedJob,
    changes: Sequence[Contribution[CandidateAddition | CandidateRemoval]],
) -> ResolvedJob:
    """The job with candidates added, or marked as taken out."""
    if not changes:
        return resolved
    found = list(resolved.vehicle.candidates)
    for change in changes:
        record, owner = change.record, change.plugin
        places = [
            place for place, item in enumerate(found) if same_ratio(item.ratio, record.axle_ratio)
        ]
        if isinstance(record, CandidateRemoval):
            for place in places:
                found[place] = replace(
                    found[place], taken_out=f"{record.reason} ({owner}: {record.source})"
                )
        elif not places:
            found.append(_added(resolved, record, owner))
    found.sort(key=lambda item: item.ratio)
    return replace(resolved, vehicle=replace(resolved.vehicle, candidates=tuple(found)))


def _added(resolved: ResolvedJob, record: CandidateAddition, owner: str) -> Candidate:
    # A set from outside the catalog is taken to come for both axles.
    driven = resolved.vehicle.front_axle is not None
    return Candidate(
        ratio=record.axle_ratio,
        front_ratio=record.axle_ratio if driven else None,
        added_by=f"{record.reason} ({owner}: {record.source})",
    )


def job_metrics(resolved: ResolvedJob, measured: Measured, metrics: Sequence[Metric]) -> JobMetrics:
    """The metrics of lane 0 as plugins see them."""
    count = len(resolved.vehicle.candidates)
    legs = resolved.use.names
    by_job: dict[str, tuple[float | None, ...]] = {}
    by_leg: dict[str, dict[str, tuple[float | None, ...]]] = {}
    for metric in metrics:
        numbers = measured.columns[metric.name]
        if metric.per_leg:
            by_leg[metric.name] = {
                leg: tuple(_known(x) for x in numbers[:count, place, 0])
                for place, leg in enumerate(legs)
            }
        else:
            by_job[metric.name] = tuple(_known(x) for x in numbers[:count, 0])
    return JobMetrics(
        axle_ratios=tuple(item.ratio for item in resolved.vehicle.candidates),
        metrics=by_job,
        leg_metrics=by_leg,
    )


def extra_preferences(
    resolved: ResolvedJob, found: Sequence[Contribution[Preference]]
) -> tuple[ExtraPreference, ...]:
    """Preferences of plugins as rows of scores, (C, 1), that any number of lanes can share."""
    return tuple(
        ExtraPreference(
            name=item.record.name,
            score=np.array(
                [[_score(item.record, one.ratio)] for one in resolved.vehicle.candidates]
            ),
            weight=item.record.weight,
        )
        for item in found
    )


def _score(preference: Preference, ratio: float) -> float:
    for other, score in preference.scores.items():
        if same_ratio(other, ratio):
            return math.nan if score is None else score
    return math.nan


def _known(value: float) -> float | None:
    return None if math.isnan(value) else float(value)
