"""The report of a check as text for people, JSON, SARIF 2.1.0, and annotations of a CI run."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from gearrec import __version__

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gearrec.checking import CheckReport, Provenance
    from gearrec.errors import Place, Problem

FORMAT = 1
"""Format of the JSON that `json_text` gives."""

_SARIF_SCHEMA = (
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
)
_SOURCE_KINDS = ("published", "measured", "common-practice", "invented", "none")


def text(report: CheckReport) -> str:
    """For people: one line per problem, where figures come from, and a closing line."""
    lines = [line(problem) for problem in report.problems]
    if report.provenance is not None:
        lines += [*([""] if lines else []), *_sources(report), ""]
    lines.append(_summary(report))
    return "\n".join(lines) + "\n"


def line(problem: Problem) -> str:
    """A problem as one line: its place, whether it is only a warning, what is wrong."""
    where = str(problem.place)
    words = [where] if where else []
    if problem.warning:
        words.append("warning")
    return printable(": ".join([*words, problem.message]))


def printable(words: str) -> str:
    """`words` on one line and without what a terminal would obey; file names may hold anything."""
    return "".join(
        letter if letter.isprintable() else letter.encode("unicode_escape").decode()
        for letter in words
    )


def problem_value(problem: Problem) -> dict[str, Any]:
    """A problem as a JSON object; line and column are left out where they are not known."""
    place = problem.place
    value: dict[str, Any] = {"level": "warning" if problem.warning else "error"}
    if place.file:
        value["file"] = place.file
    if place.line:
        value |= {"line": place.line, "column": place.column}
    if place.dotted:
        value["place"] = place.dotted
    return value | {"code": problem.code, "message": problem.message}


def json_text(report: CheckReport) -> str:
    """The whole report as a JSON object."""
    value: dict[str, Any] = {
        "kind": "check",
        "format": FORMAT,
        "generator": {"name": "gearrec", "version": __version__},
        "ok": report.ok,
        "errors": len(report.errors),
        "warnings": len(report.warnings),
        "catalogs": report.catalogs,
        "files": report.files,
        "records": report.records,
        "rules": report.rules,
        "jobs": report.jobs,
        "cases": report.cases,
        "problems": [problem_value(problem) for problem in report.problems],
    }
    if report.provenance is not None:
        value["sources"] = [_source_value(entry) for entry in report.provenance]
    return json.dumps(value, indent=2, ensure_ascii=False) + "\n"


def sarif(report: CheckReport) -> str:
    """The problems as a SARIF 2.1.0 log (OASIS): one run, a rule for each kind of problem."""
    codes = sorted({problem.code for problem in report.problems})
    driver = {
        "name": "gearrec",
        "version": __version__,
        "rules": [{"id": code, "shortDescription": {"text": _code_words(code)}} for code in codes],
    }
    run = {
        "tool": {"driver": driver},
        "columnKind": "unicodeCodePoints",
        "invocations": [{"executionSuccessful": True}],
        "results": [_result(problem, codes) for problem in report.problems],
    }
    log = {"$schema": _SARIF_SCHEMA, "version": "2.1.0", "runs": [run]}
    return json.dumps(log, indent=2, ensure_ascii=False) + "\n"


def annotation_lines(report: CheckReport) -> str:
    """One command per problem, in the form that CI services read from the log of a run."""
    return "".join(_annotation(problem) + "\n" for problem in report.problems)


def _sources(report: CheckReport) -> list[str]:
    counts = report.sources()
    found = [f"  {counts[kind]:>5}  {kind}" for kind in _SOURCE_KINDS if counts[kind]]
    return ["Records by the kind of their source:", *(found or ["  none: no catalog was checked"])]


def _summary(report: CheckReport) -> str:
    looked = [
        _count(report.catalogs, "catalog"),
        _count(report.files, "file"),
        _count(report.records, "record"),
        _count(report.rules, "rule example"),
        _count(report.jobs, "job"),
        _count(report.cases, "case"),
    ]
    errors, warnings = len(report.errors), len(report.warnings)
    found = _count(errors, "error") if errors else "no errors"
    if warnings:
        found += f", {_count(warnings, 'warning')}"
    seen = ", ".join(words for words in looked if not words.startswith("0 "))
    return f"{found}; looked at {seen or 'nothing'}."


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def _source_value(entry: Provenance) -> dict[str, Any]:
    value: dict[str, Any] = {"kind": entry.kind, "id": entry.id, "file": entry.place.file}
    if entry.place.line:
        value |= {"line": entry.place.line, "column": entry.place.column}
    source = None if entry.source is None else entry.source.model_dump(exclude_none=True)
    return value | {"source": source}


def _code_words(code: str) -> str:
    return code.replace("-", " ")


def _result(problem: Problem, codes: Sequence[str]) -> dict[str, Any]:
    result: dict[str, Any] = {
        "ruleId": problem.code,
        "ruleIndex": codes.index(problem.code),
        "level": "warning" if problem.warning else "error",
        "message": {"text": problem.message},
    }
    location = _location(problem.place)
    return result | ({"locations": [location]} if location else {})


def _location(place: Place) -> dict[str, Any]:
    location: dict[str, Any] = {}
    if place.file:
        physical: dict[str, Any] = {"artifactLocation": {"uri": _uri(place.file)}}
        if place.line:
            physical["region"] = {"startLine": place.line, "startColumn": place.column}
        location["physicalLocation"] = physical
    if place.dotted:
        location["logicalLocations"] = [{"fullyQualifiedName": place.dotted}]
    return location


def _uri(file: str) -> str:
    """A file's name as a URI, relative where the name is."""
    path = Path(file)
    if path.is_absolute():
        return path.as_uri()
    return quote(path.as_posix(), safe="/", errors="surrogateescape")


def _annotation(problem: Problem) -> str:
    place = problem.place
    parts = []
    if place.file:
        parts.append(f"file={_property(place.file)}")
    if place.line:
        parts += [f"line={place.line}", f"col={place.column}"]
    words = f"{place.dotted}: {problem.message}" if place.dotted else problem.message
    command = "warning" if problem.warning else "error"
    return f"::{command} {','.join(parts)}".rstrip() + f"::{_data(words)}"


def _data(words: str) -> str:
    return words.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


def _property(words: str) -> str:
    return _data(words).replace(":", "%3A").replace(",", "%2C")
