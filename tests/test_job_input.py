"""Jobs as people and programs give them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import gearrec
from gearrec import job_input
from gearrec.catalog.job_records import Job
from gearrec.errors import InputError, JobError, Place

EXAMPLES = sorted((Path(__file__).parent.parent / "docs" / "examples").glob("*.yaml"))


@pytest.fixture(scope="module")
def advisor() -> gearrec.Advisor:
    return gearrec.Advisor(plugins=())


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_a_yaml_file_is_read_as_the_advisor_reads_it(advisor: gearrec.Advisor, path: Path) -> None:
    job, place = job_input.read(path)
    assert job == advisor.job(path)
    assert place(("vehicle",)).line > 1


def test_json_that_is_yaml_keeps_its_places() -> None:
    _, place = job_input.parse(b'{"vehicle": "demo/a",\n "use": "core/b"}', file="x.json")
    assert place(("use",)) == Place("x.json", 2, 9, "use")


@pytest.mark.parametrize(
    "text",
    [
        '{"vehicle": "demo/a",\n\t"axle_ratio": 3.36}',
        '{"vehicle": "demo/a", "axle_ratio": 336e-2}',
        '{"vehicle": "demo/a", "axle_ratio": 3.36, "trailer": null}',
        '{"vehicle": "demo\\/a", "axle_ratio": 3.36, "trailer": null}',
    ],
    ids=["tab", "exponent", "null", "escaped slash"],
)
def test_json_that_catalog_files_may_not_hold(text: str) -> None:
    job, place = job_input.parse(text.encode(), file="x.json")
    assert job == Job(vehicle="demo/a", axle_ratio=3.36)
    assert place(("tires", "now")) == Place("x.json", dotted="tires.now")


@pytest.mark.parametrize(
    "text",
    [
        '{"vehicle": "demo/a",\t"vehicle": "demo/b"}',
        '{"vehicle": "demo/a",\t"axle_ratio": Infinity}',
        '{\t"vehicle": ' + "[" * 5000,
        '["vehicle",\t"demo/a"]',
        '\ufeff{"vehicle": "demo/a"}',
    ],
    ids=["key twice", "infinity", "deep", "list", "byte order mark"],
)
def test_what_is_no_good_json_is_told_as_yaml(text: str) -> None:
    with pytest.raises(InputError) as caught:
        job_input.parse(text.encode(), file="x.json")
    assert all(problem.place.line for problem in caught.value.problems)


def test_problems_of_json_name_the_file() -> None:
    with pytest.raises(JobError) as caught:
        job_input.parse(b'{"vehicle": 1,\t"uze": 2}', file="x.json")
    assert [str(problem.place) for problem in caught.value.problems] == [
        "x.json: uze",
        "x.json: vehicle",
    ]


@given(
    value=st.recursive(
        st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=9),
        lambda inner: (
            st.lists(inner, max_size=3)
            | st.dictionaries(st.sampled_from(["vehicle", "tires", "kind", "a"]), inner, max_size=3)
        ),
        max_leaves=8,
    ),
    indent=st.sampled_from([None, 2, "\t"]),
)
@settings(max_examples=80, deadline=None)
def test_any_json_is_a_job_or_an_error_of_ours(value: object, indent: int | str | None) -> None:
    text = json.dumps(value, indent=indent)
    try:
        job_input.parse(text.encode(), file="x.json")
    except InputError as error:
        found = error.problems
    else:
        return
    assert found
    assert all(problem.place.file == "x.json" for problem in found)
