"""From the layers of several catalogs to checked, compiled records: every problem in one pass."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import starmap
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from gearrec.catalog.compiling import problems_of, ready
from gearrec.catalog.entries import no_record
from gearrec.catalog.kinds import RECORD_KINDS, model
from gearrec.catalog.layers import merge
from gearrec.catalog.reader import collector_paused
from gearrec.catalog.references import fitting_problems, named_by_platforms, references
from gearrec.catalog.trees import list_tree, read_contents, read_layers
from gearrec.errors import CatalogError, Problem

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from gearrec.catalog.entries import Entry, Merged
    from gearrec.catalog.layers import Layer

# What nothing but other records can name; a job may name the rest, which are never "unused".
_NAMED_BY_RECORDS = (
    "engine-class",
    "tire-type",
    "terrain",
    "engine",
    "transmission",
    "axle",
    "rule",
)

Records = dict[str, dict[str, Any]]


@dataclass(frozen=True, slots=True)
class Inspection:
    """Everything to be said about catalogs; `problems` make them unusable."""

    problems: tuple[Problem, ...]
    warnings: tuple[Problem, ...] = ()
    unused: tuple[Problem, ...] = ()
    without_source: tuple[Problem, ...] = ()


def inspect(paths: Sequence[Path | str]) -> Inspection:
    """Read and check catalogs without the cache, and report all that is found."""
    with collector_paused():
        tree = list_tree(paths)
        contents, problems = read_contents(tree)
        layers, found = read_layers(tree, contents)
        try:
            merged, records, warnings = check_layers(layers, problems=[*problems, *found])
        except CatalogError as error:
            return Inspection(error.problems)
        return Inspection(
            problems=(),
            warnings=tuple(sorted(warnings)),
            unused=tuple(sorted(unused(merged, records))),
            without_source=tuple(sorted(without_source(merged))),
        )


def check_layers(
    layers: Sequence[Layer], *, problems: Sequence[Problem] = ()
) -> tuple[Merged, Records, list[Problem]]:
    """Merge and check catalogs.

    Parameters: `layers`, in their order; `problems`, what reading the files found. Returns: the
    merged values, the records by kind and id, and warnings. Raises: CatalogError with every
    problem, those of reading included.
    """
    merged, found = merge(layers)
    records = _compile(merged, found)
    warnings: list[Problem] = []
    _check_references(merged, records, found, warnings)
    errors = [*(problem for problem in problems if not problem.warning), *found]
    if errors:
        raise CatalogError(errors)
    return merged, records, [*(problem for problem in problems if problem.warning), *warnings]


def _compile(merged: Merged, problems: list[Problem]) -> Records:
    records: Records = {}
    for kind in RECORD_KINDS:
        entries = merged.entries[kind]
        good = records[kind] = {}
        if not entries:
            continue
        kind_model = ready(model(kind))
        validate = kind_model.__pydantic_validator__.validate_python
        for record_id, entry in entries.items():
            try:
                good[record_id] = validate(entry.value)
            except ValidationError as error:
                problems += _told(error, entry)
    for entry in merged.loose:
        try:
            ready(model(entry.kind)).__pydantic_validator__.validate_python(entry.value)
        except ValidationError as error:
            problems += _told(error, entry)
    return records


def _told(error: ValidationError, entry: Entry) -> list[Problem]:
    return problems_of(
        error, model(entry.kind), entry.value, place=entry.place, partial=entry.orphan
    )


def _check_references(
    merged: Merged, records: Records, problems: list[Problem], warnings: list[Problem]
) -> None:
    def plain(target: str, named: str) -> bool:
        known = merged.entries[target].get(named)
        return known is not None and "deprecated" not in known.value

    for kind, by_id in records.items():
        entries = merged.entries[kind]
        if kind == "platform":
            _check_fit(merged, records, problems)
            if all(starmap(plain, named_by_platforms(by_id.values()))):
                continue
        for record_id, record in by_id.items():
            for path, target, named in references(kind, record):
                if not plain(target, named):
                    entry = entries[record_id]
                    _look_closer(entry, path, target, named, merged, problems, warnings)


def _check_fit(merged: Merged, records: Records, problems: list[Problem]) -> None:
    # Platforms share their axles: each pair is looked at once for each factory ratio.
    fitting: set[tuple[str, str | None, float]] = set()
    for record_id, platform in records["platform"].items():
        axles = platform.axles
        pair = (axles.rear, axles.front, platform.factory.axle_ratio)
        if pair not in fitting:
            entry = merged.entries["platform"][record_id]
            found = [*fitting_problems(entry, platform, records["axle"], merged)]
            problems += found
            if not found:
                fitting.add(pair)


def _look_closer(
    entry: Entry,
    path: tuple[str | int, ...],
    target: str,
    named: str,
    merged: Merged,
    problems: list[Problem],
    warnings: list[Problem],
) -> None:
    """A reference that is not plainly right: unknown, by an alias, or to a deprecated record."""
    known = merged.find(target, named)
    if known is None:
        if path != ("extends",) or target == "rule-set":
            message = no_record(target, named, merged)
            problems.append(Problem(entry.place(path), message, "unknown-id"))
        return
    if known.id != named:
        message = f"{named!r} was renamed; write {known.id!r}"
        warnings.append(Problem(entry.place(path), message, "renamed", warning=True))
    deprecated = known.value.get("deprecated")
    if isinstance(deprecated, dict):
        use = f"; use {deprecated['use']!r}" if "use" in deprecated else ""
        message = f"{known.id!r} is deprecated since {deprecated.get('since')}{use}"
        warnings.append(Problem(entry.place(path), message, "deprecated", warning=True))


def unused(merged: Merged, records: Records) -> Iterator[Problem]:
    """Records that only other records could name, and none does."""
    named: set[tuple[str, str]] = set()
    for kind, by_id in records.items():
        for record in by_id.values():
            for _, target, record_id in references(kind, record):
                known = merged.find(target, record_id)
                if known is not None:
                    named.add((target, known.id))
    for kind in _NAMED_BY_RECORDS:
        for record_id, entry in merged.entries[kind].items():
            if (kind, record_id) not in named:
                message = f"no record uses {record_id!r}"
                yield Problem(entry.place(("id",)), message, "unused", warning=True)


def without_source(merged: Merged) -> Iterator[Problem]:
    """Records that state no source, and take none over from their file or catalog."""
    for by_id in merged.entries.values():
        for entry in by_id.values():
            if "source" not in entry.value:
                message = "no source: give one here, at the top of the file, or in catalog.yaml"
                yield Problem(entry.place(("id",)), message, "no-source", warning=True)
