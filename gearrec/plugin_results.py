"""What a hook's answer must look like: types, ranges, units, and names that may not clash."""

from __future__ import annotations

import dataclasses
import math
import re
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from gearrec.errors import PluginError
from gearrec.extension import (
    CandidateAddition,
    CandidateRemoval,
    CatalogFolder,
    Caution,
    Preference,
    ReportSection,
)

if TYPE_CHECKING:
    from gearrec.lanes import Floats
    from gearrec.metrics import Evaluation, Metric

_Check = tuple[tuple[type, ...], Callable[[Any], "Mismatch | None"]]

MOST_RECORDS = 10_000
MOST_CHARACTERS = 4_000
_MOST_LINES = 2_000
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f]")
_NAMESPACE = re.compile(r"[a-z][a-z0-9-]{1,39}")
_METRIC_NAME = re.compile(r"[a-z][a-z0-9_]{0,59}")
# SI units that no text at the boundary may use.
_INSIDE_ONLY = {
    "ratio": "1",
    "share": "1",
    "grade": "1",
    "volume": "m^3",
    "power": "W",
    "pressure": "Pa",
    "temperature": "K",
    "specific_consumption": "kg/J",
    "specific_energy": "J/kg",
    "revs_per_distance": "1/m",
}
_HYPHEN_NAME = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*(/[a-z0-9]+(-[a-z0-9]+)*)?")
_HYPHEN_NAME_WORDS = "lower-case words with hyphens, such as 'shop/stock-on-shelf'"


class Mismatch(NamedTuple):
    """What a part of an answer had to be, and what it was."""

    expected: str
    found: str


class MetricError(PluginError):
    """A plugin's metric cannot be computed."""

    def __init__(self, mismatch: Mismatch) -> None:
        super().__init__(f"expected {mismatch.expected}; found {mismatch.found}")
        self.mismatch = mismatch


def exception_text(error: BaseException) -> str:
    """Type and words of an exception on one line, also where its own `str` fails."""
    try:
        text = " ".join(str(error).split())
    except Exception:
        text = ""
    return f"{type(error).__name__}: {text[:300]}" if text else type(error).__name__


def shown(value: object) -> str:
    """A short text of any value, also of one whose own `repr` fails or never ends."""
    try:
        text = f"{type(value).__name__} {value!r}"
    except Exception:
        return type(value).__name__
    return text if len(text) <= 200 else text[:197] + "..."


def mismatch(hook: str, record: object) -> Mismatch | None:
    """The first thing that is wrong with one record of a hook's answer, or None."""
    types, check = _CHECKS.get(hook) or _metric_check()
    # A subclass could answer otherwise when it is read a second time.
    if type(record) not in types:
        return Mismatch(" or ".join(kind.__name__ for kind in types), shown(record))
    return check(record)


def name_of(record: Any) -> str:
    """The name by which a record is combined with those of other plugins."""
    if isinstance(record, CandidateAddition | CandidateRemoval):
        return f"axle ratio {record.axle_ratio:.2f}"
    return str(record.name)


def clashing(records: Iterable[Any]) -> bool:
    """Whether records of one name, from different plugins, contradict each other.

    Two plugins may add the same axle ratio, or take out the same one; all else must be told once.
    """
    records = tuple(records)
    if not all(isinstance(record, CandidateAddition | CandidateRemoval) for record in records):
        return len(records) > 1
    return len({type(record) for record in records}) > 1


def _metric_check() -> _Check:
    from gearrec.metrics import Metric

    return (Metric,), _metric


def _text(field: str, value: object) -> Mismatch | None:
    if not isinstance(value, str) or not value.strip():
        return Mismatch(f"{field}: a text that is not empty", shown(value))
    if len(value) > MOST_CHARACTERS:
        return Mismatch(f"{field}: at most {MOST_CHARACTERS} characters", f"{len(value)}")
    if _CONTROL.search(value):
        return Mismatch(f"{field}: one line without control characters", shown(value))
    return None


def _name(value: object) -> Mismatch | None:
    if isinstance(value, str) and len(value) <= 100 and _HYPHEN_NAME.fullmatch(value):
        return None
    return Mismatch(f"name: {_HYPHEN_NAME_WORDS}", shown(value))


def _number(field: str, value: object, *, least: float, most: float) -> Mismatch | None:
    usable = isinstance(value, int | float) and not isinstance(value, bool)
    if usable and math.isfinite(value) and least <= value <= most:  # type: ignore[arg-type,operator]
        return None
    return Mismatch(f"{field}: a number from {least:g} to {most:g}", shown(value))


def _first(problems: Iterable[Mismatch | None]) -> Mismatch | None:
    return next((problem for problem in problems if problem is not None), None)


def _catalog_folder(record: Any) -> Mismatch | None:
    if not isinstance(record.name, str) or not _NAMESPACE.fullmatch(record.name):
        return Mismatch("name: lower-case letters, digits and hyphens", shown(record.name))
    if not isinstance(record.path, Path):
        return Mismatch("path: a pathlib.Path", shown(record.path))
    if not (record.path / "catalog.yaml").is_file():
        return Mismatch("path: a folder that holds catalog.yaml", shown(record.path))
    return None


def _metric(record: Any) -> Mismatch | None:
    if not isinstance(record.name, str) or not _METRIC_NAME.fullmatch(record.name):
        return Mismatch("name: lower-case words joined by underscores", shown(record.name))
    if not callable(record.compute):
        return Mismatch("compute: a function", shown(record.compute))
    if not isinstance(record.per_leg, bool):
        return Mismatch("per_leg: True or False", shown(record.per_leg))
    return _unit(record) or _first(
        _text(field, getattr(record, field)) for field in ("definition", "source", "unknown")
    )


def _unit(record: Any) -> Mismatch | None:
    """Whether a metric's numbers are in the unit that rules compare them in."""
    from gearrec import units

    if record.dimension == "":
        return _text("unit", record.unit)
    if record.dimension not in units.UNITS:
        names = ", ".join(sorted(units.UNITS))
        return Mismatch(f"dimension: empty or one of {names}", shown(record.dimension))
    allowed = [
        unit
        for unit in units.UNITS[record.dimension]
        if units.to(1.0, record.dimension, unit) == 1.0
    ]
    if record.dimension in _INSIDE_ONLY:
        allowed = [_INSIDE_ONLY[record.dimension]]
    if record.unit in allowed:
        return None
    return Mismatch(f"unit of {record.dimension}: {' or '.join(allowed)}", shown(record.unit))


def guarded_metric(metric: Metric) -> Metric:
    """The metric with a function that tells what it had to return, whatever goes wrong in it."""

    def compute(evaluation: Evaluation) -> Floats:
        lanes = evaluation.lanes
        legs = (lanes.legs,) if metric.per_leg else ()
        shape = (lanes.candidates, *legs, lanes.size)
        try:
            values = metric.compute(evaluation)
            problem = _array_problem(metric.name, values, shape)
        except KeyboardInterrupt:
            raise
        except BaseException as error:
            expected = f"numbers of '{metric.name}' without an exception"
            raise MetricError(Mismatch(expected, exception_text(error))) from error
        if problem is not None:
            raise MetricError(problem)
        return values

    return dataclasses.replace(metric, compute=compute)


def _array_problem(name: str, values: object, shape: tuple[int, ...]) -> Mismatch | None:
    import numpy as np

    if not isinstance(values, np.ndarray) or values.dtype != np.float64:
        kind = f"array of {values.dtype}" if isinstance(values, np.ndarray) else shown(values)
        return Mismatch(f"an array of float64 from '{name}'", kind)
    try:
        fits = np.broadcast_shapes(values.shape, shape) == shape
    except ValueError:
        fits = False
    if not fits:
        expected = f"an array from '{name}' that broadcasts to {shape}"
        return Mismatch(expected, f"shape {values.shape}")
    if np.isinf(values).any():
        return Mismatch(f"finite numbers from '{name}', or NaN where unknown", "infinity")
    return None


def _candidate(record: Any) -> Mismatch | None:
    return _first(
        (
            _number("axle_ratio", record.axle_ratio, least=1, most=20),
            _text("reason", record.reason),
            _text("source", record.source),
        )
    )


def _preference(record: Any) -> Mismatch | None:
    problem = _first(
        (
            _name(record.name),
            _number("weight", record.weight, least=0, most=1000),
            _text("sentence", record.sentence),
            _text("source", record.source),
        )
    )
    if problem is not None:
        return problem
    if not isinstance(record.scores, Mapping) or len(record.scores) > MOST_RECORDS:
        return Mismatch("scores: a mapping of axle ratio to score", shown(record.scores))
    for axle_ratio, score in tuple(record.scores.items()):
        problem = _number("scores: axle ratio", axle_ratio, least=1, most=20)
        if problem is None and score is not None:
            problem = _number(f"scores[{axle_ratio}]", score, least=0, most=1)
        if problem is not None:
            return problem
    return None


def _caution(record: Any) -> Mismatch | None:
    return _first(
        (_name(record.name), _text("sentence", record.sentence), _text("source", record.source))
    )


def _report_section(record: Any) -> Mismatch | None:
    problem = _first((_name(record.name), _text("title", record.title)))
    if problem is not None:
        return problem
    if not isinstance(record.lines, tuple) or not 1 <= len(record.lines) <= _MOST_LINES:
        return Mismatch(f"lines: a tuple of 1 to {_MOST_LINES} texts", shown(record.lines))
    return _first(_text(f"lines[{index}]", line) for index, line in enumerate(record.lines))


_CHECKS: Mapping[str, _Check] = {
    "gearrec_catalogs": ((CatalogFolder,), _catalog_folder),
    "gearrec_candidates": ((CandidateAddition, CandidateRemoval), _candidate),
    "gearrec_preferences": ((Preference,), _preference),
    "gearrec_cautions": ((Caution,), _caution),
    "gearrec_report_sections": ((ReportSection,), _report_section),
}
