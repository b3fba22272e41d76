"""The answers to many jobs as columns; the full advice of any one is made when asked for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from gearrec import batches
from gearrec.lanes import CHUNK

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from gearrec.advice import Advice
    from gearrec.batches import Batch
    from gearrec.jobs import ResolvedJob
    from gearrec.judging import Judge

Floats = npt.NDArray[np.float64]

_BLOCK = 10 * CHUNK


@dataclass(frozen=True, slots=True, kw_only=True)
class Advices:
    """Columns over N jobs, in the order of the jobs.

    pick, runner_up (N,) [1]: axle ratios, NaN where there is none. pick_score, runner_up_score
    (N,): aggregate scores. axle_ratio (C, N) [1]: all candidates, NaN where a job has fewer.
    score (C, N): their aggregate scores; ruled_out (C, N): whether a limit rules them out.
    """

    pick: Floats
    runner_up: Floats
    pick_score: Floats
    runner_up_score: Floats
    axle_ratio: Floats
    score: Floats
    ruled_out: npt.NDArray[np.bool_]
    _jobs: Sequence[ResolvedJob]
    _advise: Callable[[ResolvedJob], Advice]

    def __len__(self) -> int:
        return int(self.pick.size)

    def advice(self, number: int) -> Advice:
        """The full advice of one job."""
        return self._advise(self._jobs[number])


class _Columns:
    """The columns while they are filled, NaN where nothing was written."""

    def __init__(self, candidates: int, jobs: int) -> None:
        self.axle_ratio = np.full((candidates, jobs), np.nan)
        self.score = np.full((candidates, jobs), np.nan)
        self.ruled_out = np.zeros((candidates, jobs), dtype=np.bool_)
        # The pick, then the runner-up.
        self.best = np.full((2, jobs), np.nan)
        self.best_score = np.full((2, jobs), np.nan)

    def advices(
        self, jobs: Sequence[ResolvedJob], advise: Callable[[ResolvedJob], Advice]
    ) -> Advices:
        return Advices(
            pick=self.best[0],
            runner_up=self.best[1],
            pick_score=self.best_score[0],
            runner_up_score=self.best_score[1],
            axle_ratio=self.axle_ratio,
            score=self.score,
            ruled_out=self.ruled_out,
            _jobs=tuple(jobs),
            _advise=advise,
        )


def judged(
    jobs: Sequence[ResolvedJob],
    groups: Mapping[str, tuple[Judge, Sequence[int]]],
    advise: Callable[[ResolvedJob], Advice],
) -> Advices:
    """Judge jobs in parts that fit the processor's cache, one rule set after the other."""
    found = _Columns(max((len(job.vehicle.candidates) for job in jobs), default=0), len(jobs))
    for judge, places in groups.values():
        # Neighbors in vehicle and legs waste least on padding.
        ordered = sorted(places, key=lambda place: _shape(jobs[place]))
        for batch, at in _parts(jobs, ordered):
            measured = judge.measure(batch)
            verdicts = judge.order(measured, ranks=2)
            lanes = measured.lanes
            height = lanes.candidates
            known = lanes.candidate_known
            found.axle_ratio[:height, at] = np.where(known, lanes.axle_ratio, np.nan)
            found.score[:height, at] = np.where(known, verdicts.aggregate.score, np.nan)
            found.ruled_out[:height, at] = measured.scores.ruled_out & known
            lane = np.arange(at.size)
            for rank, chosen in enumerate(verdicts.order.candidate):
                there = chosen >= 0
                found.best[rank, at] = np.where(there, lanes.axle_ratio[chosen, lane], np.nan)
                found.best_score[rank, at] = np.where(
                    there, verdicts.aggregate.score[chosen, lane], np.nan
                )
    return found.advices(jobs, advise)


def from_advices(
    jobs: Sequence[ResolvedJob],
    made: Sequence[Advice],
    advise: Callable[[ResolvedJob], Advice],
) -> Advices:
    """The same columns from advices made one by one, as plugins that look at each job need it."""
    found = _Columns(max((len(item.candidates) for item in made), default=0), len(made))
    for lane, advice in enumerate(made):
        rising = sorted(advice.candidates, key=lambda item: item.axle_ratio)
        for place, item in enumerate(rising):
            if not item.candidate.taken_out:
                found.axle_ratio[place, lane] = item.axle_ratio
                found.score[place, lane] = np.nan if item.score is None else item.score
                found.ruled_out[place, lane] = item.verdict == "ruled-out"
        for rank, chosen in enumerate((advice.pick, advice.runner_up)):
            if chosen is not None and chosen.score is not None:
                found.best[rank, lane] = chosen.axle_ratio
                found.best_score[rank, lane] = chosen.score
    return found.advices(jobs, advise)


def _parts(
    jobs: Sequence[ResolvedJob], ordered: Sequence[int]
) -> Iterator[tuple[Batch, npt.NDArray[np.intp]]]:
    """Chunks of the jobs and where their answers go; collected in blocks to bound the memory."""
    for first in range(0, len(ordered), _BLOCK):
        block = np.array(ordered[first : first + _BLOCK], dtype=np.intp)
        batch = batches.collect([jobs[place] for place in block])
        for start in range(0, batch.size, CHUNK):
            part = slice(start, start + CHUNK)
            yield batch.part(part), block[part]


def _shape(job: ResolvedJob) -> tuple[int, int, int, int]:
    vehicle = job.vehicle
    return (
        len(vehicle.candidates),
        len(vehicle.transmission.gears),
        len(job.use.names),
        id(vehicle),
    )
