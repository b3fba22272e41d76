"""From the bytes of a request to the mapping that the library takes as a job."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from gearrec.errors import Place, Problem
from gearrec_shop_app.problems import ProblemError, unusable

if TYPE_CHECKING:
    from starlette.datastructures import Headers

JSON = "application/json"
MOST_LEVELS = 32
_KINDS = {
    list: "a list",
    str: "text",
    int: "a number",
    float: "a number",
    bool: "true or false",
    type(None): "null",
}


def check_media_type(headers: Headers) -> None:
    """That the body is said to be JSON. Raises ProblemError 415."""
    said = headers.get("content-type", "")
    name, _, parameters = said.partition(";")
    charset = parameters.strip().lower().removeprefix("charset=").strip('"')
    if name.strip().lower() != JSON or charset not in ("", "utf-8"):
        found = f"Content-Type {said[:80]!r}" if said else "no Content-Type"
        raise ProblemError(
            415, f"found {found}; allowed: {JSON}, in UTF-8", headers={"Accept": JSON}
        )
    coding = headers.get("content-encoding", "identity").strip().lower()
    if coding != "identity":
        raise ProblemError(
            415,
            f"found Content-Encoding {coding[:40]!r}; allowed: none",
            headers={"Accept-Encoding": "identity"},
        )


def job_mapping(body: bytes) -> dict[str, Any]:
    """The job of a body. Raises ProblemError: 400 for no JSON, 422 for no mapping.

    Only a mapping is handed on: for the library a text would be the path of a file.
    """
    value = _json(body)
    if not isinstance(value, dict):
        found = _KINDS[type(value)]
        raise unusable(422, [_problem(f"found {found}; allowed: a mapping", "wrong-form")])
    return value


def _json(body: bytes) -> Any:
    try:
        text = body.decode()
    except UnicodeDecodeError as error:
        raise _malformed(f"byte {error.start + 1} is not UTF-8", "encoding") from None
    try:
        value = json.loads(text, object_pairs_hook=_mapping, parse_constant=_constant)
    except json.JSONDecodeError as error:
        place = Place(line=error.lineno, column=error.colno)
        message = f"this is no JSON: {error.msg}"
        raise unusable(400, [Problem(place, message, "json")]) from None
    except (ValueError, RecursionError) as error:
        # A number of thousands of digits, or lists in lists in lists.
        words = "nested too deeply" if isinstance(error, RecursionError) else "a number too long"
        raise _malformed(f"this JSON cannot be read: {words}", "json") from None
    _check(value)
    return value


def _mapping(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    made = dict(pairs)
    if len(made) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise _malformed(f"the key {twice[:60]!r} stands twice in one mapping", "duplicate-key")
    return made


def _constant(name: str) -> Any:
    raise _malformed(f"found {name}; allowed: a finite number", "json")


def _check(value: Any) -> None:
    """Refuse what JSON can say and no text holds: half a character; and very deep nesting."""
    waiting: list[tuple[Any, int]] = [(value, 1)]
    while waiting:
        inner, level = waiting.pop()
        if level > MOST_LEVELS:
            raise _malformed(f"nested deeper than {MOST_LEVELS} levels", "too-deep")
        if isinstance(inner, str):
            try:
                inner.encode()
            except UnicodeEncodeError:
                raise _malformed("a text holds half a surrogate pair", "encoding") from None
        elif isinstance(inner, dict):
            waiting += [(key, level) for key in inner]
            waiting += [(item, level + 1) for item in inner.values()]
        elif isinstance(inner, list):
            waiting += [(item, level + 1) for item in inner]


def _malformed(message: str, code: str) -> ProblemError:
    return unusable(400, [_problem(message, code)])


def _problem(message: str, code: str) -> Problem:
    return Problem(Place(), message, code)
