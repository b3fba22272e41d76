"""The advisor: catalogs of a shop, rule sets, jobs in every form, threads."""

from __future__ import annotations

import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

import gearrec
from gearrec.errors import CatalogError, JobError, UnknownRecordError

EXAMPLES = Path(__file__).parent.parent / "docs" / "examples"
JOBS = sorted(EXAMPLES.glob("*.yaml"))


@pytest.fixture(scope="module")
def advisor() -> gearrec.Advisor:
    return gearrec.Advisor(plugins=())


@pytest.mark.parametrize("path", JOBS, ids=lambda path: path.stem)
def test_every_example_job_has_an_answer(advisor: gearrec.Advisor, path: Path) -> None:
    assert advisor.advise(path).pick is not None


def test_a_job_can_be_a_path_a_mapping_or_a_record(advisor: gearrec.Advisor) -> None:
    path = EXAMPLES / "post-round.yaml"
    record = advisor.job(path)
    assert isinstance(record, gearrec.Job)
    picks = [
        advisor.advise(job).candidates
        for job in (str(path), path, record, {"vehicle": "demo/sprig", "use": "demo/plain"})
    ]  # fmt: skip
    assert all(pick == picks[0] for pick in picks)


def test_a_job_file_gives_line_and_column(advisor: gearrec.Advisor, tmp_path: Path) -> None:
    file = tmp_path / "job.yaml"
    file.write_text("kind: job\nformat: 1\nvehicle: demo/barge\ntires:\n  planned: 2155/85R16\n")
    with pytest.raises(JobError, match=r"job\.yaml:5:12: tires\.planned"):
        advisor.advise(file)


def test_a_file_of_another_kind_is_refused(advisor: gearrec.Advisor, tmp_path: Path) -> None:
    file = tmp_path / "tire.yaml"
    file.write_text("kind: tire\nformat: 1\nrecords: []\n")
    with pytest.raises(JobError, match="kind 'tire'; allowed: job"):
        advisor.advise(file)


def test_a_file_that_is_not_there_is_an_error_of_the_library(advisor: gearrec.Advisor) -> None:
    with pytest.raises(CatalogError, match="no-such-job"):
        advisor.advise("no-such-job.yaml")


def shop_catalog(folder: Path, body: str) -> Path:
    (folder / "catalog.yaml").write_text(
        "kind: catalog\nformat: 1\nnamespace: shop\ntitle: A shop (invented)\nabout: x\n"
        'version: "1"\nsource: {kind: invented, citation: test, confidence: low}\n'
    )
    (folder / "records.yaml").write_text(body)
    return folder


def test_a_shop_can_change_the_weight_of_a_rule(tmp_path: Path, toy_rules: Path) -> None:
    folder = shop_catalog(
        tmp_path,
        "kind: rule-set\nformat: 1\nrecords:\n  - id: shop/usual\n    title: Usual\n"
        "    purpose: two rules\n    rules: [toy/deeper, core/fuel-economy]\n"
        "  - id: shop/thrifty\n    title: Thrifty\n    purpose: fuel first\n"
        "    extends: shop/usual\n    weights: {toy/deeper: 0, core/fuel-economy: 100}\n",
    )
    # Level road, one gear: a deeper axle costs fuel, so what is left once its rule weighs nothing
    # asks for the tallest.
    job = {"vehicle": "demo/fell", "use": "core/unloaded-highway"}
    usual, thrifty = (
        gearrec.Advisor([toy_rules, folder], plugins=(), rule_set=name).advise(job)
        for name in ("shop/usual", "shop/thrifty")
    )
    assert usual.pick is not None
    assert thrifty.pick is not None
    assert usual.pick.axle_ratio == max(item.axle_ratio for item in usual.candidates)
    assert thrifty.pick.axle_ratio == min(item.axle_ratio for item in thrifty.candidates)
    assert thrifty.rule_set == "shop/thrifty"


def test_a_job_can_name_its_rule_set_and_a_batch_may_mix_them(
    tmp_path: Path, toy_rules: Path
) -> None:
    folder = shop_catalog(
        tmp_path,
        "kind: rule-set\nformat: 1\nrecords:\n  - id: shop/two\n    title: Two rules\n"
        "    purpose: test\n    rules: [core/fuel-economy, core/governed-speed]\n",
    )
    advisor = gearrec.Advisor([toy_rules, folder], plugins=())
    tall = {"vehicle": "demo/fell", "tires": {"planned": "LT255/85R16"}}
    plain = {**tall, "rule_set": "toy/deeper-wins"}
    other = {**tall, "use": "core/unloaded-highway", "rule_set": "shop/two"}
    many = advisor.advise_many([plain, other, tall])
    for number, job in enumerate([plain, other, tall]):
        alone = advisor.advise(job)
        assert alone.pick is not None
        assert many.pick[number] == alone.pick.axle_ratio
        assert many.pick_score[number] == alone.pick.score
    assert many.pick[0] != many.pick[1]


def test_an_unknown_rule_set_is_named(advisor: gearrec.Advisor) -> None:
    with pytest.raises(UnknownRecordError, match=r"core/defualt.*did you mean 'core/default'"):
        gearrec.Advisor(plugins=(), rule_set="core/defualt")
    with pytest.raises(JobError, match=r"rule_set.*core/nothing"):
        advisor.advise({"vehicle": "demo/barge", "rule_set": "core/nothing"})


def test_one_advisor_serves_many_threads() -> None:
    advisor = gearrec.Advisor(plugins=())
    expected = {path: advisor.advise(path).to_json() for path in JOBS}
    fresh = gearrec.Advisor(plugins=())
    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(lambda path: (path, fresh.advise(path).to_json()), JOBS * 6))
    assert all(expected[path] == text for path, text in found)


def test_importing_the_package_imports_nothing_third_party() -> None:
    code = (
        "import sys; before = set(sys.modules); import gearrec;"
        "new = {name.split('.')[0] for name in set(sys.modules) - before};"
        "print(sorted(new - set(sys.stdlib_module_names) - {'gearrec'}))"
    )
    found = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert found.stdout.strip() == "[]"


def test_the_public_names_are_sorted_and_there() -> None:
    assert list(gearrec.__all__) == sorted(gearrec.__all__)
    for name in gearrec.__all__:
        assert getattr(gearrec, name) is not None
    assert dir(gearrec) == list(gearrec.__all__)
    with pytest.raises(AttributeError, match="no_such_name"):
        gearrec.no_such_name  # noqa: B018


@pytest.mark.parametrize("nonsense", [None, 5, [], [{"vehicle": "demo/barge"}]])
def test_what_is_no_job_is_told_what_a_job_may_be(
    advisor: gearrec.Advisor, nonsense: object
) -> None:
    with pytest.raises(JobError, match="a mapping, or the path of a job file"):
        advisor.advise(nonsense)  # type: ignore[arg-type]
    with pytest.raises(JobError, match=r"jobs\[1\]"):
        advisor.advise_many([JOBS[0], nonsense])  # type: ignore[list-item]


@pytest.mark.parametrize("name", ["catalogs", "plugins", "block"])
def test_one_text_is_not_read_as_its_letters(name: str) -> None:
    with pytest.raises(TypeError, match=rf"{name}: found '/shop'.*\['/shop'\]"):
        gearrec.Advisor(**{name: "/shop"})  # type: ignore[arg-type]
