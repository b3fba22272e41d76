"""Catalog folders: from paths to the layers that are merged and checked."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from gearrec.catalog import files
from gearrec.errors import CatalogError, Place, Problem

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gearrec.catalog.layers import Layer
    from gearrec.catalog.reader import Document

MANIFEST = "catalog.yaml"


@dataclass(frozen=True, slots=True)
class Tree:
    """The files of catalog folders, in the order of the folders."""

    folders: tuple[tuple[Path, tuple[str, ...]], ...]
    problems: tuple[Problem, ...]

    @property
    def files(self) -> tuple[str, ...]:
        """The paths of all files, folder by folder."""
        return tuple(file for _, inner in self.folders for file in inner)


def list_tree(paths: Sequence[Path | str]) -> Tree:
    """The files below each catalog folder; a folder without `catalog.yaml` is a problem."""
    folders = []
    problems: list[Problem] = []
    for path in paths:
        folder = Path(path)
        listing = files.list_files(folder)
        problems += listing.problems
        folders.append((folder, listing.names))
        if not listing.problems and str(folder / MANIFEST) not in listing.names:
            message = (
                f"there is no {MANIFEST} in the folder; allowed: a catalog's folder, with "
                f"{MANIFEST} at its top (kind, format, namespace, title, about, version)"
            )
            problems.append(Problem(Place(str(folder)), message, "no-manifest"))
    return Tree(tuple(folders), tuple(problems))


def read_contents(tree: Tree) -> tuple[dict[str, bytes], list[Problem]]:
    """The bytes of each file, and what cannot be read."""
    contents: dict[str, bytes] = {}
    problems: list[Problem] = list(tree.problems)
    for file in tree.files:
        try:
            contents[file] = files.read_file(file)
        except CatalogError as error:
            problems += error.problems
    return contents, problems


def read_layers(tree: Tree, contents: Mapping[str, bytes]) -> tuple[list[Layer], list[Problem]]:
    """The layers of the files, and every problem of their syntax and their manifests."""
    from gearrec.catalog.layers import Layer
    from gearrec.catalog.reader import read_text

    layers = []
    problems: list[Problem] = []
    for folder, inner in tree.folders:
        documents = []
        lost = []
        manifest = None
        manifest_file = str(folder / MANIFEST)
        for file in inner:
            if file not in contents:
                lost.append(file)
                continue
            try:
                document = read_text(contents[file], file=file)
            except CatalogError as error:
                problems += error.problems
                lost.append(file)
                continue
            if file == manifest_file:
                manifest = document
            elif document.value.get("kind") == "job":
                problems += _job_problems(document)
            else:
                documents.append(document)
        namespace, source = _manifest(manifest, documents, problems)
        layers.append(Layer(namespace, documents, source, lost))
    return layers, problems


def _manifest(
    manifest: Document | None, documents: Sequence[Document], problems: list[Problem]
) -> tuple[str, dict[str, object] | None]:
    from gearrec.catalog.compiling import compile_record, ready
    from gearrec.catalog.records import Catalog

    if manifest is not None:
        record, found = compile_record(ready(Catalog), manifest.value, place=manifest.place)
        problems += found
        if record is not None:
            return record.namespace, manifest.value.get("source")
        namespace = manifest.value.get("namespace")
        if isinstance(namespace, str):
            return namespace, None
    # Without a namespace every id would be reported; the missing manifest is the one problem.
    for document in documents:
        for record in document.value.get("records", ()):
            if isinstance(record, dict) and isinstance(record.get("id"), str):
                return record["id"].partition("/")[0], None
    return "", None


def _job_problems(document: Document) -> list[Problem]:
    """A job's file may stand beside the cases that name it; it holds no record."""
    from gearrec.catalog.compiling import compile_job
    from gearrec.errors import JobError

    try:
        compile_job(document.value, document=document)
    except JobError as error:
        return list(error.problems)
    return []
