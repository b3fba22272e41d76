"""Rules on columns: scores, limits and cautions of a whole batch in a few array operations.

Every preference, whatever its shape, is one trapezoid: zero below `a`, full from `b` to `c`, zero
above `d`; a missing side lies at a huge finite number. So rules of all shapes are one stacked array
operation. The worst leg of a trapezoid follows from the lowest and the highest value among its
legs, because the score is the smaller of a rising and a falling function. Sums run in a fixed order
that does not depend on the size of the batch: one job and ten thousand give identical numbers.

Letters of the shapes: R rules in compiled order (P preferences, then Q limits, then K cautions),
C candidates, L legs, N lanes; the lane axis is last. Unknown is NaN, and never zero.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from gearrec.rule_legs import Floats, LegChoice, Legs, Masks, leg_mask

if TYPE_CHECKING:
    from collections.abc import Mapping

    from gearrec.catalog.rule_records import Rule

Places = npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True)
class ValueRows:
    """Where each rule finds its values among the stacked ones.

    Stacked are the job metrics, then lowest, highest and mean of each leg source (a metric and a
    choice of legs; means only of `mean_sources`), then a row of zeros. `low` and `high` (R,) point
    there; `missing` and `source` (R,) into the tables of job metrics and leg sources, whose last
    row stands for "none".
    """

    job_metrics: tuple[str, ...]
    leg_sources: tuple[tuple[str, LegChoice], ...]
    mean_sources: Places
    low: Places
    high: Places
    missing: Places
    source: Places


@dataclass(frozen=True, slots=True, kw_only=True)
class CompiledRules:
    """A rule set ready to be evaluated; made by `gearrec.rule_compiler.compile_rules`.

    `rules` are in compiled order. `linear_*` describe the rows of numbers computed from attributes:
    4 P edges (all a, all b, all c, all d), P weights, Q + K limits. `condition_*` describe the
    conditions, sorted by rule.
    """

    rules: tuple[Rule, ...]
    preferences: int
    limits: int
    factors: Floats
    attribute_names: tuple[str, ...]
    linear_base: Floats
    linear_terms: tuple[tuple[Places, Places, Floats], ...]
    linear_least: Floats
    linear_most: Floats
    near_rows: Places
    near_is_ratio: Masks
    dependency_attributes: Places
    dependency_starts: Places
    condition_attributes: Places
    condition_low: Floats
    condition_high: Floats
    condition_negated: Masks
    condition_starts: Places
    values: ValueRows
    limit_signs: Floats
    weighted_rows: Places
    dimensions: Mapping[str, str]

    def index(self, rule_id: str) -> int:
        """Place of a rule in compiled order; the namespace may be left out. Raises KeyError."""
        found = [
            place
            for place, rule in enumerate(self.rules)
            if rule.id == rule_id or rule.id.rpartition("/")[2] == rule_id
        ]
        exact = [place for place in found if self.rules[place].id == rule_id]
        if len(exact or found) != 1:
            raise KeyError(rule_id)
        return (exact or found)[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scores:
    """What the rules say of each candidate of each lane.

    applies (R, N): the conditions hold, or may hold, and a leg is left to look at. known (R, C, N):
    applies, and everything needed is known. score (P, C, N): 0 to 1, NaN where not known. weight
    (P, N): 0 or more, NaN where an attribute is unknown. passed, failed (Q, C, N); fired (K, C, N).
    edges (4, P, N) and limit (Q + K, N): as computed for the job; logarithms where the scale is a
    ratio. disordered (P, N): computed edges cross, so the rule is unknown.
    """

    compiled: CompiledRules
    applies: Masks
    known: Masks
    score: Floats
    weight: Floats
    passed: Masks
    failed: Masks
    fired: Masks
    edges: Floats
    limit: Floats
    disordered: Masks

    @property
    def ruled_out(self) -> Masks:
        """(C, N): some limit is known to be broken."""
        return np.asarray(self.failed.any(axis=0))

    @property
    def limits_unknown(self) -> Masks:
        """(C, N): some limit that applies can be neither passed nor failed."""
        first = self.compiled.preferences
        limits = slice(first, first + self.compiled.limits)
        unsettled = self.applies[limits, None, :] & ~self.known[limits]
        return np.asarray(unsettled.any(axis=0))


def score(
    compiled: CompiledRules,
    columns: Mapping[str, Floats],
    attributes: Mapping[str, npt.ArrayLike],
    legs: Legs,
) -> Scores:
    """Evaluate all rules on all candidates of all lanes.

    columns: metric name -> (C, N), or (C, L, N) for a per-leg metric, NaN where unknown.
    attributes: name -> (N,) encoded as in `gearrec.attributes`, NaN where unknown; a name that is
    left out is unknown. legs: arrays (L, N). Returns `Scores`. Meant for chunks of a few hundred
    lanes: work arrays grow with N.
    """
    given, known_or_zero, unknown = _attribute_rows(compiled, attributes, legs.leg_share.shape[1])
    linear = _linear_rows(compiled, known_or_zero)
    applies, undecided = _conditions(compiled, given)
    lost = np.logical_or.reduceat(
        unknown[compiled.dependency_attributes], compiled.dependency_starts, axis=0
    )
    values = _leg_values(compiled, columns, legs)
    applies &= values.has_legs

    number = compiled.preferences
    edges = _edges(compiled, linear)
    disordered = ~((edges[0] < edges[1]) & (edges[1] <= edges[2]) & (edges[2] < edges[3]))
    usable = applies & ~undecided & ~lost
    usable[:number] &= ~disordered
    known = usable[:, None, :] & ~values.missing

    scores = _trapezoids(compiled, values, edges, disordered)
    np.copyto(scores, np.nan, where=~known[:number])
    weight = linear[4 * number : 5 * number] * compiled.factors
    weight[lost[:number]] = np.nan

    limit = linear[5 * number :]
    margin = compiled.limit_signs * (
        values.stacked[compiled.values.low[number:]] - limit[:, None, :]
    )
    met = margin >= 0.0
    last = compiled.limits
    # A leg that is known to break a limit, or to fire a caution, settles it for all legs.
    settled = usable[number:, None, :]
    failed = settled[:last] & (margin[:last] < 0.0)
    fired = settled[last:] & met[last:]
    known[number : number + last] |= failed
    known[number + last :] |= fired
    return Scores(
        compiled=compiled,
        applies=applies,
        known=known,
        score=scores,
        weight=weight,
        passed=known[number : number + last] & met[:last],
        failed=failed,
        fired=fired,
        edges=edges,
        limit=limit,
        disordered=disordered,
    )


def fold(values: Floats) -> Floats:
    """Sum over the first axis, in an order that depends on its length alone.

    A plain sum changes its order of addition, and so its last digits, with the shape of the rest.
    """
    if values.shape[0] == 0:
        return np.zeros(values.shape[1:])
    while (length := values.shape[0]) > 1:
        half = (length + 1) // 2
        head = values[:half].copy()
        head[: length - half] += values[half:]
        values = head
    return np.asarray(values[0])


def _attribute_rows(
    compiled: CompiledRules, attributes: Mapping[str, npt.ArrayLike], lanes: int
) -> tuple[Floats, Floats, Masks]:
    # Row 0 is a constant, so that every rule has at least one condition and one dependency.
    given = np.empty((len(compiled.attribute_names) + 1, lanes))
    given[0] = 1.0
    for row, name in enumerate(compiled.attribute_names, start=1):
        given[row] = attributes.get(name, np.nan)
    unknown = np.isnan(given)
    return given, np.where(unknown, 0.0, given), unknown


def _linear_rows(compiled: CompiledRules, attributes: Floats) -> Floats:
    rows = np.empty((compiled.linear_base.shape[0], attributes.shape[1]))
    rows[:] = compiled.linear_base
    for places, names, factors in compiled.linear_terms:
        rows[places] += factors * attributes[names]
    np.maximum(rows, compiled.linear_least, out=rows)
    np.minimum(rows, compiled.linear_most, out=rows)
    return rows


def _edges(compiled: CompiledRules, linear: Floats) -> Floats:
    number = compiled.preferences
    edges = linear[: 4 * number].reshape(4, number, linear.shape[1])
    near = compiled.near_rows
    if near.size:
        below, target, within, above = edges[:, near]
        if compiled.near_is_ratio.any():
            with np.errstate(invalid="ignore", divide="ignore"):
                target = np.where(compiled.near_is_ratio[near, None], np.log(target), target)
        edges[0, near] = target - below
        edges[1, near] = target - within
        edges[2, near] = target + within
        edges[3, near] = target + above
    return edges


def _conditions(compiled: CompiledRules, attributes: Floats) -> tuple[Masks, Masks]:
    """(R, N) not known to be refused; (R, N) and of those, the undecided."""
    values = attributes[compiled.condition_attributes]
    unknown = np.isnan(values)
    holds = (values >= compiled.condition_low) & (values <= compiled.condition_high)
    holds ^= compiled.condition_negated
    holds |= unknown
    applies = np.logical_and.reduceat(holds, compiled.condition_starts, axis=0)
    undecided = np.logical_or.reduceat(unknown, compiled.condition_starts, axis=0)
    return applies, applies & undecided


@dataclass(frozen=True, slots=True)
class _Values:
    stacked: Floats
    missing: Masks
    has_legs: Masks
    per_leg: Floats
    masks: Masks
    share: Floats


def _leg_values(compiled: CompiledRules, columns: Mapping[str, Floats], legs: Legs) -> _Values:
    rows = compiled.values
    shape = _candidates_and_lanes(compiled, columns, legs)
    jobs, sources = len(rows.job_metrics), len(rows.leg_sources)
    means = rows.mean_sources.size
    stacked = np.empty((jobs + 2 * sources + means + 1, *shape))
    missing = np.empty((jobs + sources + 1, *shape), dtype=np.bool_)
    for row, name in enumerate(rows.job_metrics):
        stacked[row] = columns[name]
    np.isnan(stacked[:jobs], out=missing[:jobs])
    stacked[-1] = 0.0
    missing[-1] = False
    leg_count = legs.leg_share.shape[0]
    per_leg = np.empty((sources, shape[0], leg_count, shape[1]))
    masks = np.empty((sources + 1, leg_count, shape[1]), dtype=np.bool_)
    masks[-1] = True
    share = np.empty((0, leg_count, shape[1]))
    if sources:
        known_masks: dict[LegChoice, Masks] = {}
        for row, (name, choice) in enumerate(rows.leg_sources):
            if choice not in known_masks:
                known_masks[choice] = leg_mask(choice, legs)
            per_leg[row] = columns[name]
            masks[row] = known_masks[choice]
        looked_at = masks[:-1, None]
        shown = np.where(looked_at, per_leg, np.nan)
        np.fmin.reduce(shown, axis=2, out=stacked[jobs : jobs + sources])
        np.fmax.reduce(shown, axis=2, out=stacked[jobs + sources : jobs + 2 * sources])
        absent = np.isnan(per_leg) & looked_at
        np.any(absent, axis=2, out=missing[jobs:-1])
    if means:
        chosen = masks[rows.mean_sources]
        share = np.where(chosen, legs.leg_share, 0.0)
        total = fold(share.swapaxes(0, 1))
        share /= np.where(total > 0.0, total, 1.0)[:, None, :]
        part = np.where(chosen[:, None], per_leg[rows.mean_sources], 0.0)
        mean = fold((part * share[:, None]).transpose(2, 0, 1, 3))
        stacked[jobs + 2 * sources : -1] = mean
    present = np.asarray(masks.any(axis=1))
    return _Values(
        stacked=stacked,
        missing=missing[rows.missing],
        has_legs=present[rows.source],
        per_leg=per_leg,
        masks=masks,
        share=share,
    )


def _candidates_and_lanes(
    compiled: CompiledRules, columns: Mapping[str, Floats], legs: Legs
) -> tuple[int, int]:
    names = (*compiled.values.job_metrics, *(name for name, _ in compiled.values.leg_sources))
    given = [columns[name] for name in names] or list(columns.values())
    candidates = given[0].shape[0] if given else 1
    return candidates, legs.leg_share.shape[1]


def _trapezoid(low: Floats, high: Floats, edges: Floats, widths: Floats) -> Floats:
    rising = low - edges[0]
    rising /= widths[0]
    falling = edges[3] - high
    falling /= widths[1]
    np.minimum(rising, falling, out=rising)
    np.maximum(rising, 0.0, out=rising)
    np.minimum(rising, 1.0, out=rising)
    return np.asarray(rising)


def _trapezoids(
    compiled: CompiledRules, values: _Values, edges: Floats, disordered: Masks
) -> Floats:
    number = compiled.preferences
    low = values.stacked[compiled.values.low[:number]]
    high = values.stacked[compiled.values.high[:number]]
    ratios = np.flatnonzero(compiled.near_is_ratio)
    if ratios.size:
        low[ratios] = _logarithm(low[ratios])
        high[ratios] = _logarithm(high[ratios])
    widths = np.where(disordered, 1.0, edges[1::2] - edges[::2])
    result = _trapezoid(low, high, edges[:, :, None, :], widths[:, :, None, :])
    rows = compiled.weighted_rows
    if rows.size:
        sources = compiled.values.source[rows]
        per_leg = values.per_leg[sources]
        if ratios.size:
            scaled = compiled.near_is_ratio[rows][:, None, None, None]
            per_leg = np.where(scaled, _logarithm(per_leg), per_leg)
        each = _trapezoid(
            per_leg, per_leg, edges[:, rows, None, None, :], widths[:, rows, None, None, :]
        )
        # Legs outside the choice may hold NaN; they must not reach the sum.
        each = np.where(values.masks[sources][:, None], each, 0.0)
        share = values.share[np.searchsorted(compiled.values.mean_sources, sources)]
        result[rows] = fold((each * share[:, None]).transpose(2, 0, 1, 3))
        # Shares add up to 1 only to the last digit.
        np.minimum(result, 1.0, out=result)
    return result


def _logarithm(values: Floats) -> Floats:
    with np.errstate(invalid="ignore"):
        return np.asarray(np.log(np.where(values > 0.0, values, np.nan)))
