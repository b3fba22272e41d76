"""Cases of catalogs: the shipped ones hold, and a miss says where it stands and why."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

import gearrec
from gearrec.cases import CaseResult, run_cases
from gearrec.errors import UnknownRecordError

if TYPE_CHECKING:
    from pathlib import Path

MANIFEST = (
    "kind: catalog\nformat: 1\nnamespace: shop\ntitle: A shop (invented)\nabout: for a test\n"
    'version: "1"\nsource: {kind: invented, citation: for a test, confidence: low}\n'
)
LIGHT = "{vehicle: demo/harrow-diesel, use: core/unloaded-highway}"
TALL = (
    "{vehicle: demo/harrow-diesel, trailer: demo/medium-box, use: core/some-towing, "
    'tires: {planned: "LT285/70R17 121/118S E"}}'
)


@pytest.fixture(scope="module")
def advisor() -> gearrec.Advisor:
    return gearrec.Advisor(plugins=())


def run(folder: Path, expect: str, job: str = LIGHT) -> CaseResult:
    (folder / "catalog.yaml").write_text(MANIFEST)
    (folder / "cases.yaml").write_text(
        "kind: case\nformat: 1\nrecords:\n  - id: shop/one\n    title: One\n    why: For a test.\n"
        f"    job: {job}\n    expect: {expect}\n"
    )
    advisor = gearrec.Advisor([folder], plugins=(), cache="off")
    (result,) = run_cases(advisor, only=["shop/one"])
    return result


def test_every_shipped_case_comes_out(advisor: gearrec.Advisor) -> None:
    missed = [str(result) for result in run_cases(advisor) if not result.passed]
    assert not missed, "\n".join(missed)


def test_the_shipped_cases_are_forty_or_more_over_all_platforms(advisor: gearrec.Advisor) -> None:
    cases = advisor.catalog.records("case")
    assert len(cases) >= 40
    asked = {case.job.vehicle for case in cases.values() if not isinstance(case.job, str)}
    assert set(advisor.catalog.ids("platform")) <= {one for one in asked if isinstance(one, str)}
    with_picks = [case for case in cases.values() if case.expect.pick is not None]
    assert len(with_picks) >= 40


def test_only_some_are_run_when_asked(advisor: gearrec.Advisor) -> None:
    (result,) = run_cases(advisor, only=["demo/mesa-v8-light"])
    assert result.id == "demo/mesa-v8-light"
    assert result.passed
    assert str(result) == "demo/mesa-v8-light: as expected"
    with pytest.raises(UnknownRecordError, match="demo/mesa-v8-lihgt"):
        run_cases(advisor, only=["demo/mesa-v8-lihgt"])


def test_a_wrong_pick_is_placed_and_explained(tmp_path: Path) -> None:
    result = run(tmp_path, "{pick: 4.56}")
    (problem,) = result.problems
    assert not result.passed
    assert problem.place.file == str(tmp_path / "cases.yaml")
    assert problem.place.line == 8
    assert problem.place.dotted == "shop/one: expect.pick"
    assert "must be 4.56" in problem.message
    assert "found 3.42" in problem.message
    # The rule that speaks for the factory gears on factory tires, with both ratios' figures.
    assert "core/gearing-change favors 3.42 by" in problem.message
    assert "+33.3 %" in problem.message
    assert "\n" not in problem.message
    lines = str(result).splitlines()
    assert lines[0] == "shop/one: One"
    assert lines[1].startswith("  pick: the pick must be 4.56")
    assert any(line.startswith("    core/gearing-change favors 3.42") for line in lines)


def test_contributions_in_the_trace_make_up_the_difference_of_the_scores(
    advisor: gearrec.Advisor,
) -> None:
    from gearrec.score_gaps import gaps

    advice = advisor.advise({"vehicle": "demo/harrow-diesel", "use": "core/mixed"})
    first, second = advice.candidates[:2]
    assert first.score is not None
    assert second.score is not None
    total = sum(gap.difference for gap in gaps(advice, first, second))
    assert total == pytest.approx(first.score - second.score, abs=1e-9)


def test_acceptable_ratios_and_names_of_ratios_pass(tmp_path: Path) -> None:
    assert run(tmp_path, "{pick: 3.73, acceptable: [3.42]}").passed
    assert run(tmp_path, "{pick: 3.41666667}").passed


def test_a_ratio_that_cannot_be_fitted_is_no_pick(tmp_path: Path) -> None:
    (problem,) = run(tmp_path, "{pick: 4.88}").problems
    assert "4.88 is no candidate of this job; allowed: 3.42, 3.73, 4.10, 4.56" in problem.message


def test_an_expected_pick_that_is_ruled_out_says_by_what(tmp_path: Path) -> None:
    weak = (
        '{vehicle: demo/mesa-v8, tires: {planned: 245/65R17 105S}, load: {payload: "1200 lb"}, '
        "trailer: demo/travel, use: core/some-towing}"
    )
    (problem,) = run(tmp_path, "{pick: 4.10}", weak).problems
    assert "there is none; 4.10 is ruled out: The planned tires would carry" in problem.message


@pytest.mark.parametrize(
    ("expect", "words"),
    [
        ("{runner_up: 4.56}", ["the runner-up must be 4.56", "found 3.73"]),
        ("{ruled_out: [4.10]}", ["4.10 must be ruled out", "no limit does"]),
        ("{borderline: true}", ["must be borderline", "of the disturbed copies"]),
        (
            "{rules_fired: [core/tire-growth-large]}",
            ["core/tire-growth-large must warn of 3.42", "does not apply"],
        ),
        (
            "{rules_fired: [core/driveshaft-limit]}",
            ["core/driveshaft-limit must rule out a ratio", "3.42: Driveshaft speed: kept"],
        ),
        ("{rules_fired: [core/gearing-change]}", ["a preference, which does not fire"]),
        (
            '{metrics: [{metric: gearing_change, ratio: 4.10, value: "10 %", tolerance: "1 %"}]}',
            ["gearing_change of 4.10 must be 10 % within 1 %", "found 20 %", "3.42: 0.0 %"],
        ),
        (
            '{metrics: [{metric: gearing_chnage, value: "10 %", tolerance: "1 %"}]}',
            ["no metric is called 'gearing_chnage'", "did you mean 'gearing_change'?"],
        ),
        (
            '{metrics: [{metric: cruise_engine_speed, value: "1640 rpm", tolerance: "1 rpm"}]}',
            ["a number for each leg", "allowed: highway, country road, town"],
        ),
        (
            '{metrics: [{metric: crawl_ratio, leg: town, value: 40, tolerance: "1 %"}]}',
            ["crawl_ratio is one number for all legs; leave `leg` out"],
        ),
        (
            '{metrics: [{metric: cruise_engine_speed, leg: twon, value: "1640 rpm", '
            'tolerance: "1 rpm"}]}',
            ["no leg is called 'twon'", "did you mean 'town'?"],
        ),
        (
            '{metrics: [{metric: fuel_rate_mix, value: "9 L/100km", tolerance: "2 mpg (US)"}]}',
            ["a difference in mpg is no fixed amount of fuel"],
        ),
        (
            "{metrics: [{metric: climb_speed, value: 55, tolerance: 5}]}",
            ["climb_speed: 55.0 has no unit", "allowed units: m/s"],
        ),
    ],
)
def test_each_miss_says_what_was_due_and_what_came(
    tmp_path: Path, expect: str, words: list[str]
) -> None:
    result = run(tmp_path, expect)
    assert len(result.problems) == 1
    for word in words:
        assert word in result.problems[0].message


def test_all_misses_of_a_case_come_at_once(tmp_path: Path) -> None:
    result = run(tmp_path, "{pick: 4.56, runner_up: 4.56, borderline: true, ruled_out: [4.10]}")
    assert [miss.key for miss in result.misses] == [
        "pick",
        "runner_up",
        "ruled_out[0]",
        "borderline",
    ]


def test_a_tolerance_may_be_a_share_of_the_value(tmp_path: Path) -> None:
    # By hand: 65 mph, 3.05 x 0.7633 m rolled in a turn, 0.64 x 41/12: 1,638 rpm.
    metric = "{metric: cruise_engine_speed, leg: highway, value: '1600 rpm', tolerance: '%s %%'}"
    assert run(tmp_path, f"{{metrics: [{metric % 3}]}}").passed
    assert not run(tmp_path, f"{{metrics: [{metric % 2}]}}").passed


def test_a_job_may_stand_in_a_file_of_its_own(tmp_path: Path) -> None:
    (tmp_path / "jobs").mkdir()
    (tmp_path / "jobs" / "light.yaml").write_text(
        "kind: job\nformat: 1\nvehicle: demo/harrow-diesel\nuse: core/unloaded-highway\n"
    )
    assert run(tmp_path, "{pick: 3.42}", "jobs/light.yaml").passed


def test_a_job_that_cannot_be_used_is_a_problem_in_the_case(tmp_path: Path) -> None:
    job = "{vehicle: demo/harrow-diesel, use: core/some-towing}"
    (problem,) = run(tmp_path, "{pick: 3.42}", job).problems
    assert problem.place.file == str(tmp_path / "cases.yaml")
    assert problem.place.dotted == "shop/one: job.use"
    assert "names no trailer" in problem.message


def test_a_missing_job_file_is_a_problem(tmp_path: Path) -> None:
    result = run(tmp_path, "{pick: 3.42}", "jobs/nothing.yaml")
    assert not result.passed
    assert "nothing.yaml" in str(result.problems[0])


def test_the_case_that_fails_on_taller_tires_passes_with_the_trade_answer(tmp_path: Path) -> None:
    # Common practice, no source: 4.56 above 32 in for a mid-size pickup that tows.
    assert run(tmp_path, "{pick: 4.56, rules_fired: [core/tire-growth-large]}", TALL).passed
    assert not run(tmp_path, "{pick: 3.42}", TALL).passed
