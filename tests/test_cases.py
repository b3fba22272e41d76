"""Cases of catalogs: the shipped ones hold, and a miss says where it stands and why."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

import gearrec
from gearrec.cases import CaseResult, run_cases
from gearrec.errors import UnknownRecordError

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    Run = Callable[..., CaseResult]

MANIFEST = (
    "kind: catalog\nformat: 1\nnamespace: shop\ntitle: A shop (invented)\nabout: for a test\n"
    'version: "1"\nsource: {kind: invented, citation: for a test, confidence: low}\n'
)
# The rules of these jobs force the pick: of 3.36 to 4.45 the first is the tallest, the last the
# deepest.
LIGHT = "{vehicle: demo/fell, use: core/unloaded-highway, rule_set: toy/taller-wins}"
TALL = (
    "{vehicle: demo/fell, trailer: demo/horses, use: core/some-towing, "
    'tires: {planned: "LT255/85R16 123/120Q E"}, rule_set: toy/deeper-wins}'
)


@pytest.fixture(scope="module")
def advisor() -> gearrec.Advisor:
    return gearrec.Advisor(plugins=())


@pytest.fixture
def run(tmp_path: Path, toy_rules: Path) -> Run:
    """Runs one case of a shop's catalog."""

    def one(expect: str, job: str = LIGHT) -> CaseResult:
        (tmp_path / "catalog.yaml").write_text(MANIFEST)
        (tmp_path / "cases.yaml").write_text(
            "kind: case\nformat: 1\nrecords:\n  - id: shop/one\n    title: One\n"
            f"    why: For a test.\n    job: {job}\n    expect: {expect}\n"
        )
        advisor = gearrec.Advisor([toy_rules, tmp_path], plugins=(), cache="off")
        (result,) = run_cases(advisor, only=["shop/one"])
        return result

    return one


def test_every_shipped_case_comes_out(advisor: gearrec.Advisor) -> None:
    missed = [str(result) for result in run_cases(advisor) if not result.passed]
    assert not missed, "\n".join(missed)


def test_the_shipped_cases_hold_arithmetic_over_all_platforms(advisor: gearrec.Advisor) -> None:
    cases = advisor.catalog.records("case")
    assert len(cases) >= 20
    asked = {case.job.vehicle for case in cases.values() if not isinstance(case.job, str)}
    assert set(advisor.catalog.ids("platform")) <= {one for one in asked if isinstance(one, str)}
    for name, case in cases.items():
        expect = case.expect
        assert expect.metrics or expect.ruled_out or expect.rules_fired, name
        # The trucks are invented: nobody can say which ratio they ought to get.
        assert (expect.pick, expect.runner_up, expect.borderline) == (None, None, None), name


def test_only_some_are_run_when_asked(advisor: gearrec.Advisor) -> None:
    (result,) = run_cases(advisor, only=["demo/sprig-post"])
    assert result.id == "demo/sprig-post"
    assert result.passed
    assert str(result) == "demo/sprig-post: as expected"
    with pytest.raises(UnknownRecordError, match="demo/sprig-psot"):
        run_cases(advisor, only=["demo/sprig-psot"])


def test_a_wrong_pick_is_placed_and_explained(tmp_path: Path, run: Run) -> None:
    result = run("{pick: 4.18}")
    (problem,) = result.problems
    assert not result.passed
    assert problem.place.file == str(tmp_path / "cases.yaml")
    assert problem.place.line == 8
    assert problem.place.dotted == "shop/one: expect.pick"
    assert "must be 4.18" in problem.message
    assert "found 3.36" in problem.message
    # The rule that speaks for 3.36, with both ratios' figures: 46/11 over 47/14 is 1.246.
    assert "toy/taller favors 3.36 by" in problem.message
    assert "+24.6 %" in problem.message
    assert "\n" not in problem.message
    lines = str(result).splitlines()
    assert lines[0] == "shop/one: One"
    assert lines[1].startswith("  pick: the pick must be 4.18")
    assert any(line.startswith("    toy/taller favors 3.36") for line in lines)


def test_contributions_in_the_trace_make_up_the_difference_of_the_scores(
    advisor: gearrec.Advisor,
) -> None:
    from gearrec.score_gaps import gaps

    advice = advisor.advise({"vehicle": "demo/fell", "use": "core/mixed"})
    first, second = advice.candidates[:2]
    assert first.score is not None
    assert second.score is not None
    total = sum(gap.difference for gap in gaps(advice, first, second))
    assert total == pytest.approx(first.score - second.score, abs=1e-9)


def test_acceptable_ratios_and_names_of_ratios_pass(run: Run) -> None:
    assert run("{pick: 3.62, acceptable: [3.36]}").passed
    assert run("{pick: 3.35714286}").passed


def test_a_ratio_that_cannot_be_fitted_is_no_pick(run: Run) -> None:
    (problem,) = run("{pick: 4.70}").problems
    assert (
        "4.70 is no candidate of this job; allowed: 3.36, 3.62, 3.85, 4.18, 4.45" in problem.message
    )


def test_an_expected_pick_that_is_ruled_out_says_by_what(run: Run) -> None:
    weak = (
        '{vehicle: demo/barge, tires: {planned: 235/65R18 106S}, load: {payload: "1200 lb"}, '
        "trailer: demo/boat, use: demo/river-trips}"
    )
    (problem,) = run("{pick: 3.85}", weak).problems
    assert "there is none; 3.85 is ruled out: The planned tires would carry" in problem.message


@pytest.mark.parametrize(
    ("expect", "words"),
    [
        ("{runner_up: 4.18}", ["the runner-up must be 4.18", "found 3.62"]),
        ("{ruled_out: [3.85]}", ["3.85 must be ruled out", "no limit does"]),
        ("{borderline: true}", ["must be borderline", "of the disturbed copies"]),
        (
            "{rules_fired: [core/tow-rating]}",
            ["core/tow-rating must warn of 3.36", "does not apply"],
        ),
        (
            "{rules_fired: [core/driveshaft-limit]}",
            ["core/driveshaft-limit must rule out a ratio", "3.36: Driveshaft speed: kept"],
        ),
        ("{rules_fired: [core/gearing-change]}", ["a preference, which does not fire"]),
        (
            '{metrics: [{metric: gearing_change, ratio: 3.85, value: "10 %", tolerance: "1 %"}]}',
            ["gearing_change of 3.85 must be 10 % within 1 %", "found 14.57 %", "3.36: 0.0 %"],
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
def test_each_miss_says_what_was_due_and_what_came(run: Run, expect: str, words: list[str]) -> None:
    result = run(expect)
    assert len(result.problems) == 1
    for word in words:
        assert word in result.problems[0].message


def test_all_misses_of_a_case_come_at_once(run: Run) -> None:
    result = run("{pick: 4.18, runner_up: 4.18, borderline: true, ruled_out: [3.85]}")
    assert [miss.key for miss in result.misses] == [
        "pick",
        "runner_up",
        "ruled_out[0]",
        "borderline",
    ]


def test_a_tolerance_may_be_a_share_of_the_value(run: Run) -> None:
    # By hand: 65 mph, 3.05 x 0.7354 m rolled in a turn, 0.68 x 47/14: 1,775 rpm.
    metric = "{metric: cruise_engine_speed, leg: highway, value: '1730 rpm', tolerance: '%s %%'}"
    assert run(f"{{metrics: [{metric % 3}]}}").passed
    assert not run(f"{{metrics: [{metric % 2}]}}").passed


def test_a_job_may_stand_in_a_file_of_its_own(tmp_path: Path, run: Run) -> None:
    (tmp_path / "jobs").mkdir()
    (tmp_path / "jobs" / "light.yaml").write_text(
        "kind: job\nformat: 1\nvehicle: demo/fell\nuse: core/unloaded-highway\n"
        "rule_set: toy/taller-wins\n"
    )
    assert run("{pick: 3.36}", "jobs/light.yaml").passed


def test_a_job_that_cannot_be_used_is_a_problem_in_the_case(tmp_path: Path, run: Run) -> None:
    job = "{vehicle: demo/fell, use: core/some-towing}"
    (problem,) = run("{pick: 3.36}", job).problems
    assert problem.place.file == str(tmp_path / "cases.yaml")
    assert problem.place.dotted == "shop/one: job.use"
    assert "names no trailer" in problem.message


def test_a_missing_job_file_is_a_problem(run: Run) -> None:
    result = run("{pick: 3.36}", "jobs/nothing.yaml")
    assert not result.passed
    assert "nothing.yaml" in str(result.problems[0])


def test_a_pick_and_what_it_is_warned_of_are_held_in_one_case(run: Run) -> None:
    assert run("{pick: 4.45, rules_fired: [core/tire-growth-truck]}", TALL).passed
    assert not run("{pick: 3.36}", TALL).passed
