"""Checks of catalogs, jobs, and folders of both."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from gearrec import checking
from gearrec.builtin import catalogs_folder
from gearrec.checking import CheckReport, check

if TYPE_CHECKING:
    from collections.abc import Callable

EXAMPLES = Path(__file__).parent.parent / "docs" / "examples"
CATALOG = """\
kind: catalog
format: 1
namespace: shop
title: A shop (invented)
about: Invented for a test.
version: "1.0"
"""
SOURCE = "source: {kind: measured, citation: weighed by the shop (invented), confidence: high}\n"
TRAILER = """\
kind: trailer
format: 1
records:
  - id: shop/flat
    title: Flat trailer (invented)
    mass: "2000 lb"
    drag_area: "0.8 m^2"
    rolling_coefficient: 0.010
    tongue_share: "10 %"
"""
JOB = "kind: job\nvehicle: demo/fell\ntrailer: shop/flat\nuse: core/some-towing\n"
RULE = """\
kind: rule
format: 1
records:
  - id: shop/crawl
    title: Crawl ratio
    since: "0.1.0"
    verdict: limit
    metric: crawl_ratio
    shape: {at_least: {limit: 30}}
    what: Rules out a ratio that crawls too fast (invented).
    why: Invented for a test.
    when_to_doubt: Always.
    example: {words: A fast one., value: 20, attributes: {}, expect: {passes: true}}
    says: {limit: "With {ratio} it crawls at {value}; {edge} is due."}
"""


@pytest.fixture(autouse=True)
def _alone(monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory) -> None:
    monkeypatch.setenv("GEARREC_PLUGINS", "")
    monkeypatch.setenv("GEARREC_CACHE", str(tmp_path_factory.getbasetemp() / "cache"))


@pytest.fixture
def write(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Writes files below the working folder: `write({"shop/catalog.yaml": text})`."""
    monkeypatch.chdir(tmp_path)

    def files(texts: dict[str, str]) -> None:
        for name, text in texts.items():
            path = tmp_path / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")

    return files


def _lines(report: CheckReport) -> list[str]:
    return [str(problem) for problem in report.problems]


def test_the_shipped_catalogs_and_examples_have_no_errors() -> None:
    report = check([catalogs_folder(), EXAMPLES], sources=True)
    assert _lines(report) == []
    assert report.ok
    assert report.catalogs == 3  # core, demo and the one of the documentation
    assert report.jobs >= 5
    assert report.rules >= 10
    assert report.sources()["none"] == 0
    assert report.sources().total() == report.records


def test_a_catalog_and_jobs_that_build_on_the_shipped_ones(write: Callable[..., None]) -> None:
    write(
        {
            "shop/catalog.yaml": CATALOG + SOURCE,
            "shop/trailers.yaml": TRAILER,
            "shop/inner-job.yaml": JOB,
            "jobs/job.yaml": JOB,
        }
    )
    report = check(["."], sources=True, unused=True)
    assert _lines(report) == []
    assert (report.catalogs, report.files, report.records, report.jobs) == (1, 4, 1, 2)
    assert report.sources() == {"measured": 1}
    assert (report.provenance or ())[0].id == "shop/flat"
    assert check(["jobs"], catalogs=["shop"]).ok
    (problem,) = check(["jobs"]).problems
    assert (problem.place.file, problem.place.line) == ("jobs/job.yaml", 3)
    assert "no record 'shop/flat'" in problem.message


def test_all_problems_of_all_files_in_one_pass_sorted(write: Callable[..., None]) -> None:
    write(
        {
            "shop/catalog.yaml": CATALOG + SOURCE,
            "shop/a.yaml": "kind: trailer\nformat: 1\nrecords:\n  - id: shop/x\n    mass: off\n",
            "shop/b.yaml": TRAILER.replace("tongue_share", "tong_share"),
            "shop/inner-job.yaml": "kind: job\nvehicle: 3\n",
            "jobs/one.yaml": "kind: job\nvehicel: demo/barge\n",
            "jobs/two.yaml": "kind: job\n\tvehicle: demo/barge\n",
            "lost.yaml": TRAILER,
        }
    )
    report = check([".", "gone.yaml", "compose.yaml"])
    lines = _lines(report)
    assert list(report.problems) == sorted(set(report.problems))
    assert not report.ok
    for place, words in (
        ("shop/a.yaml:5:11", "found off"),
        ("shop/b.yaml:9:5: records[0].tong_share", "did you mean 'tongue_share'?"),
        ("shop/inner-job.yaml:2:10: vehicle", "found 3"),
        ("jobs/one.yaml:2:1: vehicel", "did you mean 'vehicle'?"),
        ("jobs/two.yaml:2:1", "a tab"),
        ("lost.yaml:1:7: kind", "there is no catalog.yaml"),
        ("gone.yaml", "there is nothing of this name"),
        ("compose.yaml", "there is nothing of this name"),
    ):
        assert any(line.startswith(place) and words in line for line in lines), (place, lines)


def test_rules_are_tried_on_their_examples(write: Callable[..., None]) -> None:
    write(
        {
            "shop/catalog.yaml": CATALOG + SOURCE,
            "shop/rules.yaml": RULE,
            "shop/rule-sets.yaml": "kind: rule-set\nformat: 1\nrecords:\n"
            "  - {id: shop/set, title: A set, purpose: A test., extends: core/default,\n"
            "     drop: [core/crawl-ratio], weights: {core/crawl-ratio: 2.0}}\n",
            "job.yaml": "vehicle: demo/barg\n",
        }
    )
    report = check(["."])
    example, rule_set, job = sorted(report.problems, key=lambda problem: problem.code)
    assert example.code == "rule-example"
    assert (example.place.file, example.place.line) == ("shop/rules.yaml", 13)
    assert "the example comes to ruled out; it says passes" in example.message
    assert rule_set.place.file == "shop/rule-sets.yaml"
    assert "rule 'core/crawl-ratio' is not in the set" in rule_set.message
    assert job.place.file == "job.yaml"
    assert report.rules == 1
    write({"shop/rules.yaml": RULE.replace("passes: true", "passes: false")})
    assert "shop/rules.yaml" not in {problem.place.file for problem in check(["shop"]).problems}


def _case(pick: float) -> str:
    return (
        "kind: case\nformat: 1\nrecords:\n"
        "  - id: shop/keep\n"
        "    title: Nothing changed (invented)\n"
        "    why: >-\n      An empty truck on the tires it was built with keeps its gears.\n"
        "    job: {vehicle: demo/barge, use: core/unloaded-highway}\n"
        f"    expect: {{pick: {pick}}}\n"
    )


def test_cases_are_run(write: Callable[..., None]) -> None:
    # The expected pick is the factory's: an empty truck on factory tires keeps what it has.
    from gearrec import Advisor

    factory = Advisor().catalog.get("platform", "demo/barge").factory.axle_ratio
    write({"shop/catalog.yaml": CATALOG + SOURCE, "shop/cases.yaml": _case(factory)})
    report = check(["shop"])
    assert _lines(report) == []
    assert report.cases == 1
    write({"shop/cases.yaml": _case(4.45)})
    (problem, *_) = check(["shop"]).errors
    assert problem.place.file == "shop/cases.yaml"
    assert "4.45" in problem.message
    report = check(["shop"], run_cases=False)
    assert (report.ok, report.cases) == (True, 0)


def test_only_the_cases_of_the_checked_catalogs_count(
    write: Callable[..., None], monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []
    monkeypatch.setattr(checking.cases, "run_cases", lambda _, *, only: asked.extend(only) or ())
    write({"shop/catalog.yaml": CATALOG + SOURCE, "shop/cases.yaml": _case(3.0)})
    assert check(["shop"]).cases == 1
    assert asked == ["shop/keep"]


def test_sources_and_unused_are_warnings_on_request(write: Callable[..., None]) -> None:
    tire_type = (
        "kind: tire-type\nformat: 1\nrecords:\n"
        "  - {id: shop/slick, title: Slick (invented), rolling_coefficient: 0.01,\n"
        "     friction_coefficient: 0.9}\n"
    )
    write({"shop/catalog.yaml": CATALOG, "shop/types.yaml": tire_type})
    assert check(["shop"]).problems == ()
    report = check(["shop"], sources=True, unused=True)
    assert report.ok
    assert report.sources() == {"none": 1}
    assert {(problem.code, problem.place.line) for problem in report.warnings} == {
        ("no-source", 4),
        ("unused", 4),
    }


def test_a_checked_copy_of_a_shipped_catalog_stands_in_for_it(tmp_path: Path) -> None:
    copy = tmp_path / "old" / "core"
    shutil.copytree(catalogs_folder() / "core", copy)
    report = check([copy])
    assert _lines(report) == []
    assert report.catalogs == 1
    (copy / "terrains.yaml").unlink()
    problems = check([copy]).errors
    assert problems
    assert all("terrain" in problem.message for problem in problems)


def test_two_catalogs_of_one_namespace_are_told_once(write: Callable[..., None]) -> None:
    write(
        {
            "one/catalog.yaml": CATALOG + SOURCE,
            "one/trailers.yaml": TRAILER,
            "two/catalog.yaml": CATALOG + SOURCE,
        }
    )
    problems = check(["one", "two"]).errors
    assert [problem.code for problem in problems] == ["duplicate-namespace"]
    assert "one/catalog.yaml" in problems[0].message
    assert problems[0].place.file == "two/catalog.yaml"


def test_plugins_at_fault_are_warnings(
    write: Callable[..., None], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("GEARREC_PLUGINS", "nobody-has-this")
    write({"shop/catalog.yaml": CATALOG + SOURCE, "shop/trailers.yaml": TRAILER})
    (problem,) = check(["shop"]).problems
    assert (problem.code, problem.warning) == ("plugin", True)
    assert "nobody-has-this" in problem.message


def test_nothing_of_ours(write: Callable[..., None]) -> None:
    write({"compose.yaml": "services: {}\n"})
    assert [problem.code for problem in check(["."]).errors] == ["nothing-to-check"]
    assert [problem.code for problem in check(["compose.yaml"]).errors] == ["no-job"]
    report = check(["compose.yaml"], skip_others=True)
    assert (report.problems, report.files) == ((), 0)
