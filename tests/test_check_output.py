"""The report of a check in its four forms."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft4Validator

import gearrec
from gearrec import check_output
from gearrec.catalog.record_base import Source
from gearrec.checking import CheckReport, Provenance
from gearrec.errors import Place, Problem

# OASIS SARIF 2.1.0, the schema as published (2.1.0-rtm.5), unchanged, as the npm package
# @microsoft/jest-sarif 1.0.0-beta.0 (MIT) carries it.
SARIF_SCHEMA = Path(__file__).parent / "reference" / "data" / "sarif-2.1.0-rtm.5.schema.json"

PROBLEMS = (
    Problem(Place("shop/a b.yaml", 3, 7, "records[0].mass"), "found off; 50 % more", "truth-word"),
    Problem(Place("/tmp/x.yaml", 1, 1), "a tab", "tab"),
    Problem(Place("shop/big.yaml"), "too large", "unreadable"),
    Problem(Place(), "a plugin\nis at fault", "plugin", warning=True),
    Problem(Place(dotted="vehicle"), "no such thing", "unknown-record"),
)
SOURCE = Source(kind="measured", citation="weighed (invented)", confidence="high")
REPORT = CheckReport(
    problems=tuple(sorted(PROBLEMS)),
    catalogs=1,
    files=2,
    records=2,
    provenance=(
        Provenance("tire", "shop/a", SOURCE, Place("shop/t.yaml", 4, 9, "shop/a")),
        Provenance("tire", "shop/b", None, Place("shop/t.yaml", 9, 9, "shop/b")),
    ),
)
CLEAN = CheckReport(problems=(), catalogs=1, files=3, records=7, rules=1, cases=2)


@pytest.fixture(scope="module")
def validator() -> Draft4Validator:
    schema = json.loads(SARIF_SCHEMA.read_text(encoding="utf-8"))
    Draft4Validator.check_schema(schema)
    return Draft4Validator(schema, format_checker=Draft4Validator.FORMAT_CHECKER)


def test_text_for_people() -> None:
    assert check_output.text(REPORT).splitlines() == [
        "warning: a plugin\\nis at fault",
        "vehicle: no such thing",
        "/tmp/x.yaml:1:1: a tab",
        "shop/a b.yaml:3:7: records[0].mass: found off; 50 % more",
        "shop/big.yaml: too large",
        "",
        "Records by the kind of their source:",
        "      1  measured",
        "      1  none",
        "",
        "4 errors, 1 warning; looked at 1 catalog, 2 files, 2 records.",
    ]


def test_text_without_problems() -> None:
    assert check_output.text(CLEAN) == (
        "no errors; looked at 1 catalog, 3 files, 7 records, 1 rule example, 2 cases.\n"
    )
    assert check_output.text(CheckReport(problems=())) == "no errors; looked at nothing.\n"


def test_what_a_terminal_would_obey_is_shown_instead() -> None:
    problem = Problem(Place("\x1b[2J\udcff.yaml", 1, 2), "bad\r\n\x07")
    assert check_output.line(problem) == "\\x1b[2J\\udcff.yaml:1:2: bad\\r\\n\\x07"


def test_json() -> None:
    value = json.loads(check_output.json_text(REPORT))
    assert (value["kind"], value["format"], value["ok"]) == ("check", 1, False)
    assert (value["errors"], value["warnings"]) == (4, 1)
    assert value["problems"][3] == {
        "level": "error",
        "file": "shop/a b.yaml",
        "line": 3,
        "column": 7,
        "place": "records[0].mass",
        "code": "truth-word",
        "message": "found off; 50 % more",
    }
    assert value["problems"][0] == {
        "level": "warning",
        "code": "plugin",
        "message": "a plugin\nis at fault",
    }
    assert [entry["source"] for entry in value["sources"]] == [
        {"kind": "measured", "citation": "weighed (invented)", "confidence": "high"},
        None,
    ]
    assert "sources" not in json.loads(check_output.json_text(CLEAN))
    assert json.loads(check_output.json_text(CLEAN))["ok"] is True


def test_sarif_is_what_the_published_schema_allows(validator: Draft4Validator) -> None:
    for report in (REPORT, CLEAN):
        validator.validate(json.loads(check_output.sarif(report)))


def test_the_published_schema_refuses_what_is_not_sarif(validator: Draft4Validator) -> None:
    log = json.loads(check_output.sarif(REPORT))
    for change in (
        {"version": "2.0.0"},
        {"runs": [{"results": []}]},
        {"runs": [log["runs"][0] | {"columnKind": "letters"}]},
    ):
        assert not validator.is_valid(log | change)


def test_sarif_names_rule_level_and_place() -> None:
    log: dict[str, Any] = json.loads(check_output.sarif(REPORT))
    (run,) = log["runs"]
    driver = run["tool"]["driver"]
    assert (driver["name"], driver["version"]) == ("gearrec", gearrec.__version__)
    ids = [rule["id"] for rule in driver["rules"]]
    assert ids == sorted({problem.code for problem in PROBLEMS})
    for result, problem in zip(run["results"], REPORT.problems, strict=True):
        assert ids[result["ruleIndex"]] == result["ruleId"] == problem.code
        assert result["level"] == ("warning" if problem.warning else "error")
        assert result["message"]["text"] == problem.message
    plugin, logical, absolute, full, whole_file = run["results"]
    assert "locations" not in plugin
    assert logical["locations"] == [{"logicalLocations": [{"fullyQualifiedName": "vehicle"}]}]
    (location,) = absolute["locations"]
    assert location["physicalLocation"]["artifactLocation"] == {"uri": "file:///tmp/x.yaml"}
    (location,) = full["locations"]
    assert location["physicalLocation"] == {
        "artifactLocation": {"uri": "shop/a%20b.yaml"},
        "region": {"startLine": 3, "startColumn": 7},
    }
    (location,) = whole_file["locations"]
    assert "region" not in location["physicalLocation"]


def test_annotations() -> None:
    assert check_output.annotation_lines(REPORT).splitlines() == [
        "::warning::a plugin%0Ais at fault",
        "::error::vehicle: no such thing",
        "::error file=/tmp/x.yaml,line=1,col=1::a tab",
        "::error file=shop/a b.yaml,line=3,col=7::records[0].mass: found off; 50 %25 more",
        "::error file=shop/big.yaml::too large",
    ]
    assert check_output.annotation_lines(CLEAN) == ""


def test_an_annotation_cannot_be_broken_out_of() -> None:
    problem = Problem(Place("a,b:c%\n::error::x", 1, 2), "x\r\n::error file=y::z")
    (line,) = check_output.annotation_lines(CheckReport(problems=(problem,))).splitlines()
    assert line == (
        "::error file=a%2Cb%3Ac%25%0A%3A%3Aerror%3A%3Ax,line=1,col=2::x%0D%0A::error file=y::z"
    )


@given(
    file=st.text(max_size=20),
    dotted=st.text(max_size=10),
    message=st.text(max_size=40),
    line=st.integers(min_value=0, max_value=10**6),
)
def test_every_form_holds_any_text(file: str, dotted: str, message: str, line: int) -> None:
    problem = Problem(Place(file, line, 1 if line else 0, dotted), message)
    report = CheckReport(problems=(problem,))
    assert check_output.text(report).count("\n") == 2
    assert check_output.annotation_lines(report).count("\n") == 1
    assert json.loads(check_output.json_text(report))["problems"][0]["message"] == message
    assert json.loads(check_output.sarif(report))["runs"][0]["results"]
