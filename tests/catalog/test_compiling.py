"""Problems in words: what was found, what is allowed, nearest spelling, and the place."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gearrec.catalog.compiling import compile_job, compile_record, dotted, ready
from gearrec.catalog.kinds import KINDS, model
from gearrec.catalog.reader import read_text
from gearrec.catalog.records import Trailer
from gearrec.errors import JobError, Place, UnknownRecordError

if TYPE_CHECKING:
    from gearrec.errors import Problem

TRAILER: dict[str, Any] = {
    "id": "shop/box",
    "title": "Box",
    "mass": "3000 kg",
    "drag_area": "2 m^2",
    "rolling_coefficient": 0.01,
    "tongue_share": "12 %",
}


def place(path: tuple[str | int, ...], *, key: bool = False) -> Place:
    return Place(dotted=dotted(path) + ("!key" if key else ""))


def problems_of(**changes: Any) -> list[Problem]:
    value = {name: inner for name, inner in (TRAILER | changes).items() if inner is not ...}
    record, problems = compile_record(ready(Trailer), value, place=place)
    assert (record is None) == bool(problems)
    return problems


def test_a_good_record_has_no_problem() -> None:
    assert problems_of() == []


@pytest.mark.parametrize(
    ("changes", "where", "code", "words"),
    [
        ({"masss": "1 kg"}, "masss!key", "unknown-key", "did you mean 'mass'?"),
        ({"masss": "1 kg"}, "masss!key", "unknown-key", "allowed: aliases, deprecated, drag_area"),
        ({"mass": ...}, "mass", "missing-key", "add it: mass as towed, load included"),
        ({"mass": 3000}, "mass", "quantity", "3000 has no unit"),
        ({"mass": "9 kg"}, "mass", "sane-limit", "allowed: 50 kg to 20000 kg"),
        ({"rolling_coefficient": "0.01"}, "rolling_coefficient", "wrong-form", "without quotes"),
        ({"rolling_coefficient": True}, "rolling_coefficient", "wrong-form", "found true"),
        ({"rolling_coefficient": 4}, "rolling_coefficient", "limit", "at most 0.2 (rolling"),
        ({"id": "Box"}, "id", "pattern", "namespace/name"),
        ({"title": ""}, "title", "limit", "at least 1 characters"),
        ({"title": 5}, "title", "wrong-form", 'found 5; allowed: text; write "5" in quotes'),
        ({"aliases": "shop/a"}, "aliases", "wrong-form", "allowed: a list"),
        ({"aliases": ["shop/a", "B"]}, "aliases[1]", "pattern", "found 'B'"),
        ({"source": "me"}, "source", "wrong-form", "allowed: a mapping"),
        (
            {"source": {"kind": "inventd", "citation": "x", "confidence": "low"}},
            "source.kind",
            "wrong-form",
            "did you mean 'invented'?",
        ),
    ],
)
def test_each_problem_in_words(changes: dict[str, Any], where: str, code: str, words: str) -> None:
    (problem,) = problems_of(**changes)
    assert (problem.place.dotted, problem.code) == (where, code)
    assert words in problem.message


def test_all_problems_are_told_at_once() -> None:
    found = problems_of(mass="x", drag_area=1, colour="red", tongue_share=...)
    assert {problem.place.dotted for problem in found} == {
        "mass",
        "drag_area",
        "colour!key",
        "tongue_share",
    }


def test_a_list_with_a_bad_item_is_not_called_too_short() -> None:
    use = {"legs": [{"name": "a", "share": "100 %", "speed": "fast", "terrain": "core/flat"}]}
    with pytest.raises(JobError) as caught:
        compile_job({"vehicle": "demo/x", "use": use})
    assert [problem.place.dotted for problem in caught.value.problems] == ["use.legs[0].speed"]


def test_a_choice_of_id_or_inline_tells_both_forms() -> None:
    with pytest.raises(JobError, match=re.escape("found 3; allowed: text (an id) or a mapping")):
        compile_job({"vehicle": 3})


def test_problems_of_an_inline_part_stand_in_that_part() -> None:
    with pytest.raises(JobError) as caught:
        compile_job({"vehicle": "demo/x", "trailer": {"mass": "3000 kg", "drag": "2 m^2"}})
    assert {problem.place.dotted for problem in caught.value.problems} == {
        "trailer.drag",
        "trailer.drag_area",
        "trailer.rolling_coefficient",
        "trailer.tongue_share",
    }


def test_a_job_from_a_file_has_line_and_column() -> None:
    document = read_text(b"kind: job\nvehicle: demo/x\naxle_ratio: high\n", file="job.yaml")
    with pytest.raises(JobError, match=r"^job\.yaml:3:13: axle_ratio: found 'high'"):
        compile_job(document.value, document=document)


def test_unknown_kind_names_the_nearest() -> None:
    with pytest.raises(UnknownRecordError, match="did you mean 'tire-type'"):
        model("tyre-type")


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(["id", "title", "legs", "shape", "job", "vehicle", "records", "x"]),
            inner,
            max_size=4,
        )
    ),
    max_leaves=12,
)


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=40)
@given(value=JSON)
def test_no_value_escapes_as_another_error(kind: str, value: object) -> None:
    record, problems = compile_record(ready(model(kind)), value, place=place)
    assert (record is None) == bool(problems)
    for problem in problems:
        assert problem.message


@pytest.mark.parametrize(
    ("changes", "where", "words"),
    [
        ({"mass": ["FILL IN"]}, "mass", "its brackets; for example '"),
        ({"title": ["FILL IN"]}, "title", "its brackets; allowed: text"),
        ({"rolling_coefficient": ["FILL IN"]}, "rolling_coefficient", "allowed: a number"),
    ],
)
def test_a_place_of_a_skeleton_that_is_not_filled(
    changes: dict[str, Any], where: str, words: str
) -> None:
    (problem,) = problems_of(**changes)
    assert (problem.place.dotted, problem.code) == (where, "unfilled")
    assert problem.message.startswith("[FILL IN] still stands here; write the value")
    assert words in problem.message


def test_a_decimal_comma_is_told() -> None:
    (problem,) = problems_of(rolling_coefficient="0,01")
    assert "write decimals after a point: 0.01" in problem.message


@pytest.mark.parametrize(
    ("tires", "words"),
    [
        (28.7, "a mapping, such as {planned: 235/70R16 109T}"),
        ({"planned": 28.7}, "text (an id, or a size such as 235/70R16 109T) or a mapping"),
    ],
)
def test_tires_of_another_form_show_what_is_due(tires: object, words: str) -> None:
    with pytest.raises(JobError, match=re.escape(words)):
        compile_job({"vehicle": "demo/x", "tires": tires})
