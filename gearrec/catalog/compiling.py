"""From values as they were read to records, with every problem in words and in its place."""

from __future__ import annotations

import re
import threading
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from gearrec.catalog.describing import field_at, keys_at
from gearrec.errors import JobError, Place, Problem, nearest

if TYPE_CHECKING:
    from pydantic import BaseModel

    from gearrec.catalog.job_records import Job
    from gearrec.catalog.reader import Document

Path = tuple[str | int, ...]
PlaceOf = Callable[..., Place]
"""`place(path, key=False)`: where the value at a path stands, or its key."""

_SHOWN_LIMIT = 60
_compiling = threading.RLock()
UNFILLED = "FILL IN"
"""What stands in brackets in a skeleton where something is to be written."""

_COMMA_NUMBER = re.compile(r"-?[0-9]{1,9},[0-9]{1,9}", re.ASCII)
_NUMBER = re.compile(r"-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?", re.ASCII)


def compile_record(
    model: type[BaseModel], value: object, *, place: PlaceOf
) -> tuple[Any, list[Problem]]:
    """The record of one value, or None and everything that is wrong with it.

    Parameters: `model`, the kind's model; `value`, what the file holds; `place`, tells where the
    value at a path inside `value` stands.
    """
    try:
        return model.__pydantic_validator__.validate_python(value), []
    except ValidationError as error:
        return None, problems_of(error, model, value, place=place)


def compile_job(
    value: Mapping[str, Any], *, document: Document | None = None, at: Path = ()
) -> Job:
    """The job of a mapping. Raises JobError with every problem, placed in `document` if given."""
    from gearrec.catalog.job_records import Job

    def place(path: Path, *, key: bool = False) -> Place:
        if document is not None:
            return document.place((*at, *path), key=key)
        return Place(dotted=dotted((*at, *path)))

    job, problems = compile_record(ready(Job), dict(value), place=place)
    if problems:
        raise JobError(problems)
    found: Job = job
    return found


def ready(model: type[BaseModel]) -> type[BaseModel]:
    """The same model, compiled; safe between threads."""
    if not model.__pydantic_complete__:
        with _compiling:
            if not model.__pydantic_complete__:
                model.model_rebuild()
    return model


def dotted(path: Path) -> str:
    """A path as people write it: `records[3].axles.rear`."""
    text = ""
    for step in path:
        if isinstance(step, int):
            text += f"[{step}]"
        else:
            text += f".{step}" if text else step
    return text


def problems_of(
    error: ValidationError,
    model: type[BaseModel],
    value: object,
    *,
    place: PlaceOf,
    partial: bool = False,
) -> list[Problem]:
    """One problem for each place that pydantic complains of; `partial`: keys may be missing."""
    found: dict[tuple[Path, str], list[Mapping[str, Any]]] = {}
    for detail in error.errors(include_url=False):
        path = _path_in(value, detail)
        if partial and detail["type"] == "missing" and len(path) == 1:
            continue
        # An unknown key and a bad value at one place are two problems; the forms of a choice that
        # all fail at one place are one.
        code = "unknown-key" if detail["type"] == "extra_forbidden" else ""
        found.setdefault((path, code), []).append(detail)
    problems = []
    for (path, _), details in _without_idle_forms(found):
        problems.append(_problem(path, details, model, value, place))
    return problems


def _path_in(value: object, detail: Mapping[str, Any]) -> Path:
    """Where in `value` an error is: pydantic's steps without the names of the forms of a choice."""
    path: list[str | int] = []
    inner: Any = value
    steps = (*detail["loc"], *detail.get("ctx", {}).get("at", ()))
    for number, step in enumerate(steps):
        if isinstance(inner, Mapping):
            missing = detail["type"] == "missing" and number == len(steps) - 1
            if step in inner:
                inner = inner[step]
            elif not missing and (detail["type"] != "inconsistent" or number < len(detail["loc"])):
                continue
        elif isinstance(inner, list | tuple) and isinstance(step, int) and step < len(inner):
            inner = inner[step]
        else:
            continue
        path.append(step)
    return tuple(path)


def _without_idle_forms(
    found: dict[tuple[Path, str], list[Mapping[str, Any]]],
) -> list[tuple[tuple[Path, str], list[Mapping[str, Any]]]]:
    """Leave out 'should be text' where another form of the same choice was tried in earnest."""
    deeper = {path[:length] for path, _ in found for length in range(len(path))}
    kept = []
    for key, details in found.items():
        # A list that holds a bad item is also called too short, by the items that are left out.
        idle = all(_wanted(detail) or detail["type"] == "too_short" for detail in details)
        if not (idle and key[0] in deeper):
            kept.append((key, details))
    return kept


# Where people write one value for the whole, an example says more than "a mapping".
_MAPPINGS: dict[str, str] = {
    "GearSet": "{ring_teeth: 47, pinion_teeth: 11}",
    "TorquePoint": '{speed: "1830 rpm", torque: "310 N*m"}',
    "JobTires": "{planned: 235/70R16 109T}",
}
_WANTED: dict[str, str] = {
    "string_type": "text",
    "model_type": "a mapping",
    "model_attributes_type": "a mapping",
    "dict_type": "a mapping",
    "tuple_type": "a list",
    "list_type": "a list",
    "float_type": "a number",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "bool_type": "true or false",
}


def _wanted(detail: Mapping[str, Any]) -> str | None:
    """What the form of a value should have been, where that is what is wrong."""
    name = detail.get("ctx", {}).get("class_name")
    if detail["type"] == "model_type" and detail["loc"][-1:] == ("<inline>",):
        if name == "TireData":
            return "text (an id, or a size such as 235/70R16 109T) or a mapping"
        return "text (an id) or a mapping"
    if detail["type"] == "model_type":
        return f"a mapping, such as {_MAPPINGS[name]}" if name in _MAPPINGS else "a mapping"
    if detail["type"] in ("literal_error", "enum"):
        return str(detail["ctx"]["expected"])
    return _WANTED.get(detail["type"])


def _problem(
    path: Path,
    details: list[Mapping[str, Any]],
    model: type[BaseModel],
    value: object,
    place: PlaceOf,
) -> Problem:
    kind = details[0]["type"]
    key = str(path[-1]) if path else ""
    if kind == "missing":
        where = place(path[:-1])
        outer = Place(where.file, where.line, where.column, place(path).dotted)
        return Problem(outer, f"the key '{key}' is missing; {_about(model, path)}", "missing-key")
    if kind == "extra_forbidden":
        allowed = keys_at(model, path[:-1], _at(value, path[:-1]))
        guess = nearest(key, allowed)
        message = f"unknown key '{key}'; allowed: {', '.join(sorted(allowed))}"
        if guess:
            message += f"; did you mean '{guess}'?"
        return Problem(place(path, key=True), message, "unknown-key")
    if _unfilled(_at(value, path)):
        return Problem(place(path), _to_fill_in(details), "unfilled")
    wanted = [text for detail in details if (text := _wanted(detail))]
    if wanted and len(wanted) == len(details):
        return Problem(place(path), _mismatch(_at(value, path), wanted, kind), "wrong-form")
    earnest = next(detail for detail in details if not _wanted(detail))
    code, message = _words(earnest, _at(value, path))
    if code == "limit" and isinstance(_at(value, path), int | float):
        field = field_at(model, path)
        if field is not None and field.description:
            message += f" ({field.description})"
    return Problem(place(path), message, code)


def _unfilled(found: object) -> bool:
    return found in (UNFILLED, [UNFILLED])


def _to_fill_in(details: list[Mapping[str, Any]]) -> str:
    """The words for a place of a skeleton where nothing was written yet."""
    message = f"[{UNFILLED}] still stands here; write the value in place of it and its brackets"
    wanted = [text for detail in details if (text := _wanted(detail))]
    if wanted:
        return f"{message}; allowed: {' or '.join(dict.fromkeys(wanted))}"
    if details[0]["type"] == "quantity":
        return f"{message}; {str(details[0]['msg']).partition('; ')[2].removeprefix('write ')}"
    return message


def _mismatch(found: object, wanted: list[str], kind: str) -> str:
    allowed = " or ".join(dict.fromkeys(wanted))
    message = f"found {shown(found)}; allowed: {allowed}"
    if kind in ("literal_error", "enum") and isinstance(found, str):
        guess = nearest(
            found, [word.strip("'") for word in allowed.replace(" or ", ", ").split(", ")]
        )
        if guess:
            message += f"; did you mean '{guess}'?"
    if isinstance(found, str) and wanted == ["a number"] and _NUMBER.fullmatch(found):
        message += f"; write {found} without quotes"
    elif isinstance(found, str) and wanted == ["a number"] and _COMMA_NUMBER.fullmatch(found):
        message += f"; write decimals after a point: {found.replace(',', '.')}"
    if isinstance(found, int | float) and not isinstance(found, bool) and "text" in wanted:
        message += f'; write "{found}" in quotes when it is text'
    return message


def _words(detail: Mapping[str, Any], found: object) -> tuple[str, str]:
    """Code and message of an error that is not about the form of a value."""
    kind, context = detail["type"], detail.get("ctx", {})
    if kind in ("quantity", "sane-limit", "inconsistent", "tire-size"):
        return kind, str(detail["msg"])
    if kind in ("greater_than_equal", "less_than_equal", "greater_than", "less_than"):
        side = {"ge": "at least", "le": "at most", "gt": "more than", "lt": "less than"}
        limits = ", ".join(
            f"{words} {context[name]:g}" for name, words in side.items() if name in context
        )
        return "limit", f"found {shown(found)}; allowed: {limits}"
    if kind in ("too_short", "too_long"):
        limit = context.get("min_length", context.get("max_length"))
        words = "at least" if kind == "too_short" else "at most"
        return "limit", f"found {context['actual_length']} items; allowed: {words} {limit}"
    if kind in ("string_too_short", "string_too_long"):
        limit = context.get("min_length", context.get("max_length"))
        words = "at least" if kind == "string_too_short" else "at most"
        return "limit", f"found {shown(found)}; allowed: {words} {limit} characters"
    if kind == "string_pattern_mismatch":
        words = f"found {shown(found)}; allowed: {_pattern_words(context['pattern'])}"
        return "pattern", words + _missing_namespace(context["pattern"], found)
    if kind == "finite_number":
        return "limit", f"found {shown(found)}; allowed: a finite number"
    return "invalid", str(detail["msg"]).removeprefix("Value error, ")


def _pattern_words(pattern: str) -> str:
    from gearrec.catalog import record_base

    words = {
        record_base.ID_PATTERN: "an id: namespace/name in lower-case letters, digits, hyphens and "
        "points, such as demo/fell",
        record_base.NAMESPACE_PATTERN: "lower-case letters, digits and hyphens, such as demo",
        record_base.DATE_PATTERN: 'a year, year-month or year-month-day, such as "2026-03-01"',
    }
    return words.get(pattern, f"text that matches {pattern}")


def _missing_namespace(pattern: str, found: object) -> str:
    from gearrec.catalog import record_base

    bare = isinstance(found, str) and re.fullmatch(r"[a-z0-9][a-z0-9.-]*", found)
    if pattern != record_base.ID_PATTERN or not bare:
        return ""
    return f"; write NAMESPACE/{found}, where NAMESPACE is core, demo or your own catalog's"


def shown(value: object) -> str:
    """A value for a message, shortened."""
    if isinstance(value, Mapping):
        return "a mapping"
    if isinstance(value, list | tuple):
        return "a list"
    if isinstance(value, bool):
        return "true" if value else "false"
    text = repr(value)
    return text if len(text) <= _SHOWN_LIMIT else f"{text[:_SHOWN_LIMIT]}..."


def _at(value: object, path: Path) -> Any:
    inner: Any = value
    for step in path:
        try:
            inner = inner[step]
        except (KeyError, IndexError, TypeError):
            return None
    return inner


def _about(model: type[BaseModel], path: Path) -> str:
    """What a missing key is for: its description, found by walking the models."""
    field = field_at(model, path)
    if field is None:
        return "add it"
    example = f", such as {field.examples[0]}" if field.examples else ""
    return f"add it: {field.description}{example}"
