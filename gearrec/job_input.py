"""Reads jobs as people and other programs give them: YAML, or JSON, from a file or a stream.

JSON is nearly YAML and mostly read as such, with the line and column of each problem. What JSON
allows and catalog files do not (tabs, `null` for what is left out, exponents) is read as JSON.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from gearrec.catalog import files
from gearrec.catalog.compiling import compile_job, dotted, shown
from gearrec.catalog.kinds import KINDS
from gearrec.catalog.reader import read_text
from gearrec.catalog.syntax import BYTES_LIMIT
from gearrec.errors import CatalogError, JobError, Place, Problem, allowed_words

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from gearrec.catalog.job_records import Job
    from gearrec.jobs import Placing


def read(path: Path) -> tuple[Job, Placing]:
    """The job of a file, and where each part of it stands.

    Raises CatalogError for a file that cannot be read or is neither YAML nor JSON, JobError for one
    that is no job, each with every problem.
    """
    return parse(files.read_file(path), file=str(path))


def parse(data: bytes, *, file: str) -> tuple[Job, Placing]:
    """The job in the bytes of a file; as `read`."""
    try:
        document = read_text(data, file=file)
    except CatalogError:
        value = _json(data)
        if value is None:
            raise
        return _job_of_json(value, file)
    _refuse_others(document.value, document.place)
    return compile_job(document.value, document=document), document.place


def _job_of_json(value: Mapping[str, Any], file: str) -> tuple[Job, Placing]:
    def place(path: tuple[str | int, ...]) -> Place:
        return Place(file, dotted=dotted(path))

    _refuse_others(value, place)
    try:
        return compile_job(value), place
    except JobError as error:
        raise JobError(
            Problem(Place(file, dotted=one.place.dotted), one.message, one.code, one.warning)
            for one in error.problems
        ) from None


def _refuse_others(value: Mapping[str, Any], place: Placing) -> None:
    """One plain problem for a file of something else, instead of one for each of its keys."""
    kind = value.get("kind", "job")
    if kind == "job":
        if "kind" in value or "vehicle" in value:
            return
        message = (
            "no job: there is neither 'kind: job' nor the key 'vehicle'; allowed: a job file "
            "(see `gearrec schema job`), or the files of a catalog below its catalog.yaml"
        )
        raise JobError([Problem(place(()), message, "no-job")])
    if kind in KINDS:
        message = (
            f"found the kind {kind!r}; allowed: job; records belong below the folder of a "
            "catalog, and there is no catalog.yaml in this one or above it"
        )
    else:
        guess = kind if isinstance(kind, str) else None
        message = f"found the kind {shown(kind)}; {allowed_words(KINDS, guess)}"
    raise JobError([Problem(place(("kind",)), message, "kind")])


def _json(data: bytes) -> Mapping[str, Any] | None:
    """The JSON object in the bytes; None where that is not what they hold."""
    if len(data) > BYTES_LIMIT:
        return None
    try:
        value = json.loads(
            data.decode("utf-8"), object_pairs_hook=_unique, parse_constant=_no_number
        )
    except (ValueError, RecursionError):
        return None
    return value if isinstance(value, dict) else None


def _unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        raise ValueError("a key is given twice")
    return found


def _no_number(text: str) -> float:
    raise ValueError(f"{text} is no number of JSON")
