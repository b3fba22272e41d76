"""The advice: pick, verdicts, traces, confidence, reach."""

from __future__ import annotations

import math
from typing import Any

import pytest

import gearrec

JOB: dict[str, Any] = {
    "vehicle": "demo/fell",
    "tires": {"planned": "LT215/85R16 115/112Q E"},
    "trailer": "demo/horses",
    "use": "core/some-towing",
}


@pytest.fixture(scope="module")
def advisor() -> gearrec.Advisor:
    return gearrec.Advisor(plugins=())


@pytest.fixture(scope="module")
def advice(advisor: gearrec.Advisor) -> gearrec.Advice:
    return advisor.advise(JOB)


def test_candidates_come_best_first_and_each_has_a_verdict(advice: gearrec.Advice) -> None:
    verdicts = [item.verdict for item in advice.candidates]
    assert verdicts[:2] == ["pick", "runner-up"]
    assert set(verdicts[2:]) <= {"possible", "ruled-out", "unknown"}
    scores = [item.score for item in advice.candidates if item.verdict != "ruled-out"]
    assert scores == sorted(scores, key=lambda score: -(score or 0.0))
    assert advice.pick is advice.candidates[0]
    assert advice.runner_up is advice.candidates[1]


def test_contributions_add_up_to_the_score(advice: gearrec.Advice) -> None:
    """Aggregate score = sum(weight x score) / sum(weight): the definition, from the design."""
    for item in advice.candidates:
        lines = [line.trace for line in advice.traces[item.axle_ratio]]
        known = [line for line in lines if line.score is not None and line.weight is not None]
        total = sum(line.weight or 0.0 for line in known)
        mean = sum((line.weight or 0.0) * (line.score or 0.0) for line in known) / total
        assert item.score == pytest.approx(mean)
        assert sum(line.contribution or 0.0 for line in known) == pytest.approx(mean)


def test_a_trace_can_be_asked_for_by_name(advice: gearrec.Advice) -> None:
    lines = advice.trace("cruise-engine-speed")
    assert lines == advice.trace("core/cruise-engine-speed")
    assert [line.axle_ratio for line in lines] == [item.axle_ratio for item in advice.candidates]
    assert all(line.sentence for line in lines)
    with pytest.raises(KeyError):
        advice.trace("no-such-rule")


def test_confidence_is_a_share_and_the_same_every_time(
    advisor: gearrec.Advisor, advice: gearrec.Advice
) -> None:
    assert advice.confidence is not None
    assert 0.0 <= advice.confidence <= 1.0
    assert advisor.advise(JOB).confidence == advice.confidence


def test_the_reach_names_the_pick_at_the_planned_diameter(advice: gearrec.Advice) -> None:
    assert advice.pick is not None
    planned = gearrec.tires.parse_size("LT215/85R16").diameter_m
    there = [item for item in advice.reach if item.from_m <= planned <= item.to_m]
    assert advice.pick.axle_ratio in [item.axle_ratio for item in there]
    ratios = [item.axle_ratio for item in advice.reach]
    assert ratios == sorted(ratios), "a taller tire never asks for a numerically lower ratio"


def test_records_and_rules_it_stood_on_are_listed_and_invented_ones_marked(
    advice: gearrec.Advice,
) -> None:
    by_kind: dict[str, list[str]] = {}
    for record in advice.records:
        by_kind.setdefault(record.kind, []).append(record.id)
    assert "core/gearing-change" in by_kind["rule"]
    assert by_kind["platform"] == ["demo/fell"]
    assert {record.invented for record in advice.records if record.id.startswith("demo/")} == {True}
    assert not any(record.invented for record in advice.records if record.kind == "rule")


def test_a_tire_that_cannot_carry_the_load_rules_every_ratio_out(advisor: gearrec.Advisor) -> None:
    advice = advisor.advise(
        {
            "vehicle": "demo/barge",
            "tires": {"planned": "P205/75R15 97S"},
            "load": {"payload": "1600 lb"},
        }
    )
    assert advice.pick is None
    assert advice.confidence is None
    assert {item.verdict for item in advice.candidates} == {"ruled-out"}
    assert all(any("rating" in why for why in item.ruled_out_by) for item in advice.candidates)


def test_a_size_without_a_load_index_leaves_the_tire_load_unknown(
    advisor: gearrec.Advisor,
) -> None:
    advice = advisor.advise({**JOB, "tires": {"planned": "LT215/85R16"}})
    assert advice.pick is not None
    (line, *_) = advice.trace("tire-load-limit")
    assert line.trace.state == "unknown"
    assert line.trace.reason
    assert any("Tire load" in text for text in advice.pick.unknown_limits)


def test_nothing_in_an_advice_can_be_changed(advice: gearrec.Advice) -> None:
    with pytest.raises(AttributeError):
        advice.candidates[0].score = 1.0  # type: ignore[misc]


@pytest.mark.parametrize("payload", ["0 lb", "600 lb"])
@pytest.mark.parametrize("use", ["core/mixed", "core/trail"])
def test_a_job_alone_and_in_a_batch_gives_identical_numbers(
    advisor: gearrec.Advisor, payload: str, use: str
) -> None:
    jobs = [
        {"vehicle": vehicle, "use": use, "load": {"payload": payload}}
        for vehicle in advisor.catalog.ids("platform")
    ]
    many = advisor.advise_many(jobs)
    assert len(many) == len(jobs)
    for number, job in enumerate(jobs):
        alone = advisor.advise(job)
        assert alone.pick is not None
        assert many.pick[number] == alone.pick.axle_ratio
        assert many.pick_score[number] == alone.pick.score
        for item in alone.candidates:
            place = [
                place
                for place, ratio in enumerate(many.axle_ratio[:, number])
                if ratio == item.axle_ratio
            ]
            assert len(place) == 1
            assert many.score[place[0], number] == item.score
        assert many.advice(number).pick == alone.pick
    assert math.isnan(many.axle_ratio[-1, 0])


def test_errors_in_a_batch_name_the_job(advisor: gearrec.Advisor) -> None:
    with pytest.raises(gearrec.JobError) as caught:
        advisor.advise_many([JOB, {"vehicle": "demo/nothing"}, {"vehicle": "demo/stile", "a": 1}])
    assert [problem.place.dotted for problem in caught.value.problems] == [
        "jobs[1].vehicle",
        "jobs[2].a",
    ]


def test_an_empty_batch_is_empty(advisor: gearrec.Advisor) -> None:
    assert len(advisor.advise_many([])) == 0


@pytest.mark.parametrize(("rear", "front"), [((50, 13), (27, 7)), ((27, 7), (50, 13))])
def test_gears_that_only_look_alike_are_ruled_out_whichever_end_is_higher(
    advisor: gearrec.Advisor, rear: tuple[int, int], front: tuple[int, int]
) -> None:
    """50/13 and 27/7 differ by 0.29 % (arithmetic), and four-wheel drive needs equal ratios."""

    def axle(position: str, teeth: tuple[int, int]) -> dict[str, Any]:
        sets = [{"ring_teeth": ring, "pinion_teeth": pinion} for ring, pinion in (teeth, (47, 14))]
        return {"position": position, "ring_gear": "8.3 in", "gear_sets": sets}

    found = advisor.advise(
        {
            "vehicle": "demo/fell",
            "axles": {"rear": axle("rear", rear), "front": axle("front", front)},
        }
    )
    verdicts = {item.axle_ratio: item.verdict for item in found.candidates}
    # Two sets, one of them gone: the other is what is left.
    assert verdicts == {rear[0] / rear[1]: "ruled-out", 47 / 14: "pick"}
