"""From scores to an order: the aggregate score of each candidate, and who comes first.

    aggregate = sum(weight x score) / sum(weight)      over the preferences that are known

Limits come first: a candidate that breaks one is not ranked. Candidates whose aggregates differ by
no more than the tolerance tie; the one with the smaller change from the factory ratio,
|ln(ratio / factory ratio)|, then stands first, and the order says that it was a tie.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gearrec.rules import fold

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from gearrec.rule_legs import Floats, Masks
    from gearrec.rules import Scores


@dataclass(frozen=True, slots=True, kw_only=True)
class ExtraPreference:
    """A preference from outside the rule set, for example of a plugin.

    score (C, N): 0 to 1, NaN unknown. weight: scalar or (N,), on the scale of the rules' weights.
    """

    name: str
    score: Floats
    weight: npt.ArrayLike


@dataclass(frozen=True, slots=True, kw_only=True)
class Aggregate:
    """Aggregate scores. score (C, N): 0 to 1, NaN where no preference is known. weight (C, N): sum
    of the weights that went into it. known (C, N): how many preferences did."""

    score: Floats
    weight: Floats
    known: npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """Candidates in order of rank, for as many ranks as were asked for.

    candidate (K, N): index of the candidate at each rank, -1 where no more can be ranked.
    tied (K, N): the rank was won by the smaller change from the factory ratio among equals.
    """

    candidate: npt.NDArray[np.intp]
    tied: Masks

    @property
    def pick(self) -> npt.NDArray[np.intp]:
        """(N,): index of the first candidate, -1 where every one is ruled out or unknown."""
        return np.asarray(self.candidate[0])


def aggregate(scores: Scores, extra: Sequence[ExtraPreference] = ()) -> Aggregate:
    """Weighted mean of the preferences that are known, rules and extras alike.

    An unknown preference counts for nothing: neither as zero nor as one.
    """
    candidates, lanes = scores.known.shape[1:]
    rows = scores.score.shape[0]
    score = np.empty((rows + len(extra), candidates, lanes))
    weight = np.empty_like(score)
    score[:rows] = scores.score
    weight[:rows] = scores.weight[:, None, :]
    for row, preference in enumerate(extra, start=rows):
        score[row] = preference.score
        weight[row] = preference.weight
    unknown = np.isnan(score)
    np.copyto(weight, 0.0, where=unknown)
    np.copyto(score, 0.0, where=unknown)
    total = fold(weight)
    score *= weight
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = fold(score) / total
    mean[total <= 0.0] = np.nan
    np.minimum(mean, 1.0, out=mean)
    return Aggregate(score=mean, weight=total, known=(weight > 0.0).sum(axis=0))


def rank(
    *,
    score: Floats,
    eligible: Masks,
    axle_ratio: Floats,
    factory_ratio: Floats,
    tolerance: float,
    ranks: int | None = None,
) -> Order:
    """Order the candidates of every lane.

    score (C, N): aggregate, NaN cannot be ranked. eligible (C, N): a real candidate that no limit
    rules out. axle_ratio (C, N) [1]; factory_ratio (N,) [1]. tolerance: difference of aggregate
    scores that still is a tie, >= 0. ranks: how many to find; all when None. Equal changes from
    the factory ratio go to the numerically lower ratio.
    """
    if tolerance < 0.0:
        raise ValueError("tolerance must be 0 or more")
    count = score.shape[0] if ranks is None else min(ranks, score.shape[0])
    lanes = score.shape[1]
    left = np.where(eligible & ~np.isnan(score), score, -np.inf)
    with np.errstate(invalid="ignore", divide="ignore"):
        change = np.abs(np.log(axle_ratio / factory_ratio))
    # Far below any step between real ratios, far above rounding.
    key = np.round(change, 9) + 1e-12 * axle_ratio
    key = np.where(np.isnan(key), np.finfo(np.float64).max, key)
    chosen = np.full((count, lanes), -1, dtype=np.intp)
    tied = np.zeros((count, lanes), dtype=np.bool_)
    lane = np.arange(lanes)
    for place in range(count):
        best = left.max(axis=0)
        found = best > -np.inf
        # Rounding of the last digit must not break a tie that the tolerance makes.
        equals = (left >= best - tolerance - 1e-12) & found
        winner = np.where(equals, key, np.inf).argmin(axis=0)
        chosen[place] = np.where(found, winner, -1)
        tied[place] = found & (equals.sum(axis=0) > 1)
        left[winner, lane] = -np.inf
    return Order(candidate=chosen, tied=tied)
