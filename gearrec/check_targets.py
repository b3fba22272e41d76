"""What there is to check at the paths a person gives: folders of catalogs, and files of jobs."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from gearrec.catalog import files
from gearrec.catalog.kinds import KINDS
from gearrec.catalog.trees import MANIFEST
from gearrec.errors import CatalogError, Place, Problem

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

# A folder may hold YAML of other programs. A file is ours when a line at its left edge says so;
# that can be told of files with faults in them, too.
_OURS = re.compile(
    rb"^(?:kind[ \t]*:[ \t]*[\"']?(?:%s)\b|vehicle[ \t]*:)" % "|".join(KINDS).encode(), re.MULTILINE
)
_JOB = re.compile(rb"^kind[ \t]*:[ \t]*[\"']?job\b", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Targets:
    """Catalog folders and job files, each once, and what cannot be looked at.

    `inner_jobs` are files of jobs inside the catalogs.
    """

    catalogs: tuple[Path, ...]
    jobs: tuple[Path, ...]
    inner_jobs: tuple[Path, ...]
    problems: tuple[Problem, ...]


def find(paths: Iterable[Path | str], *, skip_others: bool = False) -> Targets:
    """What to check: a path is a folder or a file of a catalog, a job, or a folder of several.

    A path inside a catalog stands for the whole catalog, because what is wrong in one file shows in
    another. In a folder that is no part of a catalog, YAML files of other programs are passed over;
    a file that is named itself must be a catalog's or a job, but under `skip_others`.
    """
    catalogs: dict[Path, Path] = {}
    jobs: dict[Path, Path] = {}
    problems: list[Problem] = []
    for given in paths:
        path = Path(given)
        home = _catalog_of(path)
        if home is not None:
            catalogs.setdefault(real(home), home)
        elif path.is_dir():
            folders, loose = _inside(path, problems)
            for folder in folders:
                catalogs.setdefault(real(folder), folder)
            for file in loose:
                jobs.setdefault(real(file), file)
        elif not skip_others or not path.is_file() or _matches(path, _OURS):
            jobs.setdefault(real(path), path)
    inner = [
        file
        for folder in catalogs.values()
        for file in catalog_files(folder)
        if _matches(file, _JOB)
    ]
    return Targets(
        tuple(catalogs.values()), tuple(jobs.values()), tuple(inner), tuple(sorted(set(problems)))
    )


def catalog_files(folder: Path) -> Sequence[Path]:
    """The files of a catalog that can be listed."""
    return files.list_files(folder).files


def real(path: Path) -> Path:
    """The path without links, as far as it can be followed; `Path.resolve` raises at a loop."""
    try:
        return Path(os.path.realpath(path))
    except (OSError, ValueError):
        return path


def _catalog_of(path: Path) -> Path | None:
    """The folder of the catalog that a path belongs to: itself or the nearest above."""
    try:
        inner = path if path.is_dir() else path.parent
        if not inner.is_dir():
            return None
        above = [inner, *inner.parents]
        known = {real(folder) for folder in above}
        # A relative path ends at '.', but the catalog may begin above it.
        above += [folder for folder in real(inner).parents if folder not in known]
        for folder in above:
            if (folder / MANIFEST).is_file():
                return folder if not folder.is_absolute() else _shortest(folder, path)
    except (OSError, ValueError):
        pass
    return None


def _shortest(folder: Path, given: Path) -> Path:
    """An absolute folder as the person would write it: relative where the given path is."""
    return folder if given.is_absolute() else Path(os.path.relpath(folder))


def _inside(folder: Path, problems: list[Problem]) -> tuple[list[Path], list[Path]]:
    """Catalogs and jobs below a folder that is no part of a catalog."""
    listing = files.list_files(folder)
    # Elsewhere than in a catalog, a *.yml is another program's.
    problems += [one for one in listing.problems if not one.place.file.endswith(".yml")]
    catalogs: list[Path] = []
    manifests = sorted(file.parent for file in listing.files if file.name == MANIFEST)
    for home in sorted(manifests, key=lambda path: len(path.parts)):
        if not any(home.is_relative_to(outer) for outer in catalogs):
            catalogs.append(home)
    catalogs.sort()
    jobs = [
        file
        for file in listing.files
        if not any(file.is_relative_to(home) for home in catalogs) and _matches(file, _OURS)
    ]
    if not catalogs and not jobs and not listing.problems:
        message = (
            f"nothing to check: neither a catalog (a folder with {MANIFEST} at its top) nor a job "
            "file (*.yaml with 'kind: job') is in the folder or below it"
        )
        problems.append(Problem(Place(str(folder)), message, "nothing-to-check"))
    return catalogs, jobs


def _matches(file: Path, pattern: re.Pattern[bytes]) -> bool:
    try:
        return pattern.search(files.read_file(file)) is not None
    except CatalogError:
        return False
