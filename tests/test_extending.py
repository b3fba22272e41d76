"""What plugins add to a job: candidates and preferences, through the public face."""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import pytest

import gearrec
from gearrec.extension import CandidateAddition, CandidateRemoval, Preference
from gearrec.hooks import hookimpl

if TYPE_CHECKING:
    from collections.abc import Iterable

JOB: dict[str, Any] = {
    "vehicle": "demo/fell",
    "tires": {"planned": "LT255/85R16 123/120Q E"},
    "trailer": "demo/horses",
    "use": "core/some-towing",
}


def plugin(**hooks: Any) -> SimpleNamespace:
    return SimpleNamespace(GEARREC_HOOK_API=1, **{name: hookimpl(f) for name, f in hooks.items()})


def advisor(**hooks: Any) -> gearrec.Advisor:
    return gearrec.Advisor(plugins=(), extra={"shelf": plugin(**hooks)}, strict=True)


def test_a_ratio_taken_out_is_ruled_out_with_the_reason() -> None:
    before = gearrec.Advisor(plugins=()).advise(JOB)
    assert before.pick is not None
    assert before.runner_up is not None
    best = before.pick

    def gearrec_candidates(candidates: Any) -> Iterable[CandidateRemoval]:
        return [CandidateRemoval(best.axle_ratio, "not on the shelf", "stock list")]

    after = advisor(gearrec_candidates=gearrec_candidates).advise(JOB)
    out = next(item for item in after.candidates if item.name == best.name)
    assert out.verdict == "ruled-out"
    assert "not on the shelf" in out.ruled_out_by[0]
    assert after.pick is not None
    assert after.pick.name == before.runner_up.name


def test_a_ratio_added_is_judged_like_any_other() -> None:
    def gearrec_candidates(candidates: Any) -> Iterable[CandidateAddition]:
        return [CandidateAddition(4.07, "made to order", "price list")]

    advice = advisor(gearrec_candidates=gearrec_candidates).advise(JOB)
    added = next(item for item in advice.candidates if item.name == "4.07")
    assert added.verdict in ("pick", "runner-up", "possible")
    assert "made to order" in added.candidate.added_by
    assert added.metrics["gearing_change"] is not None


def test_a_preference_joins_the_score() -> None:
    def gearrec_preferences(evaluation: Any) -> Iterable[Preference]:
        scores = {ratio: float(abs(ratio - 3.62) < 0.01) for ratio in evaluation.axle_ratios}
        return [Preference("shelf/cheap", 1000.0, scores, "3.62 is on sale.", "price list")]

    one = advisor(gearrec_preferences=gearrec_preferences)
    assert one.advise(JOB).pick is not None
    assert one.advise(JOB).pick.name == "3.62"  # type: ignore[union-attr]
    # Samples and batches see it too.
    assert one.advise(JOB).confidence == 1.0
    many = one.advise_many([JOB, JOB])
    assert many.pick[0] == pytest.approx(47 / 13)
    assert many.pick_score[1] == one.advise(JOB).pick.score  # type: ignore[union-attr]


def test_an_unknown_preference_counts_for_nothing() -> None:
    def gearrec_preferences(evaluation: Any) -> Iterable[Preference]:
        return [Preference("shelf/none", 1000.0, {}, "Nothing is known.", "price list")]

    plain = gearrec.Advisor(plugins=()).advise(JOB)
    with_it = advisor(gearrec_preferences=gearrec_preferences).advise(JOB)
    assert [item.score for item in with_it.candidates] == pytest.approx(
        [item.score for item in plain.candidates]
    )
