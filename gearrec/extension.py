"""What hooks are given and what they return: small frozen records without behavior.

Names of preferences, cautions and sections are lower-case words with hyphens, best with the
plugin's own prefix (`"shop/stock-on-shelf"`), because a name may come from one plugin only. An axle
ratio is given by its name (3.62) or as the ratio of its teeth (47 / 13), see `same_ratio`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path


def same_ratio(first: float, second: float) -> bool:
    """Whether two axle ratios are one: a name has two decimals, and 37 / 8 is 4.62 or 4.63."""
    return abs(first - second) <= 0.005 + 1e-9


@dataclass(frozen=True, slots=True)
class CatalogFolder:
    """A folder that holds a `catalog.yaml` and its records; `name` is the catalog's namespace."""

    name: str
    path: Path


@dataclass(frozen=True, slots=True)
class CandidateAddition:
    """An axle ratio that can be fitted although the axle's own gear sets do not list it."""

    axle_ratio: float
    reason: str
    source: str


@dataclass(frozen=True, slots=True)
class CandidateRemoval:
    """An axle ratio that cannot be chosen; `reason` is a sentence shown to the owner."""

    axle_ratio: float
    reason: str
    source: str


@dataclass(frozen=True, slots=True)
class Preference:
    """One more preference in the aggregate score.

    `scores` gives each axle ratio 0 (worst) to 1 (best); None, or a ratio that is left out, is
    unknown, which is not zero. `weight` is on the scale of the rules' weights.
    """

    name: str
    weight: float
    scores: Mapping[float, float | None]
    sentence: str
    source: str


@dataclass(frozen=True, slots=True)
class Caution:
    """A sentence that the advice shall carry."""

    name: str
    sentence: str
    source: str


@dataclass(frozen=True, slots=True)
class ReportSection:
    """A titled section at the end of the report; each line is a sentence or a row of text."""

    name: str
    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class JobMetrics:
    """The metrics of one job, as a plugin sees them.

    `metrics[name]` holds one number per axle ratio, in the order of `axle_ratios`, in the metric's
    own unit; `leg_metrics[name][leg]` likewise for metrics that are computed per leg. None is
    unknown.
    """

    axle_ratios: tuple[float, ...]
    metrics: Mapping[str, tuple[float | None, ...]]
    leg_metrics: Mapping[str, Mapping[str, tuple[float | None, ...]]]

    def value(self, metric: str, axle_ratio: float, *, leg: str | None = None) -> float | None:
        """The number of one metric for one axle ratio, or None where it is unknown.

        Raises: KeyError when there is no such metric or leg; ValueError for another axle ratio.
        """
        column = self.metrics[metric] if leg is None else self.leg_metrics[metric][leg]
        for ratio, value in zip(self.axle_ratios, column, strict=True):
            if same_ratio(ratio, axle_ratio):
                return value
        raise ValueError(f"axle ratio {axle_ratio:g} is not among {self.axle_ratios}")
