"""The files of a catalog folder: which there are, what is in them, and whether they changed."""

from __future__ import annotations

import os
import stat
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from gearrec.catalog.syntax import BYTES_LIMIT
from gearrec.errors import CatalogError, Place, Problem

if TYPE_CHECKING:
    from collections.abc import Iterable

FILES_LIMIT = 20_000

# A file that changed so short a time ago may change again without a sign in its times.
_SETTLED_S = 2.0


@dataclass(frozen=True, slots=True)
class Listing:
    """The catalog files of a folder, sorted by name, and what kept others from being listed.

    `names` are their paths as text: to make thousands of Path objects costs more than listing.
    """

    names: tuple[str, ...]
    problems: tuple[Problem, ...]

    @property
    def files(self) -> tuple[Path, ...]:
        """The catalog files as paths."""
        return tuple(map(Path, self.names))


def list_files(folder: Path | str) -> Listing:
    """List the `*.yaml` files of a folder and the folders below it.

    Names that begin with a point are left out. A folder that is reached twice, as by a link to a
    folder above it, is listed once. Returns: files in the order of their names, folder by folder;
    problems for what cannot be listed, and for `*.yml`, which would be overlooked.
    """
    root = Path(folder)
    files: list[str] = []
    problems: list[Problem] = []
    seen: set[tuple[int, int]] = set()
    waiting = [root]
    while waiting:
        inner = waiting.pop()
        try:
            found = inner.stat()
            names = sorted(os.listdir(inner))  # noqa: PTH208 - names only, and nothing stays open
        except (OSError, ValueError) as error:
            problems.append(_problem(inner, _why(error, wanted="a catalog folder")))
            continue
        # Windows may give 0 for what cannot be told apart.
        identity = (found.st_dev, found.st_ino)
        if found.st_ino and identity in seen:
            continue
        seen.add(identity)
        folders = []
        before = str(inner / "x")[:-1]
        for name in names:
            if name.startswith("."):
                continue
            if name.endswith(".yaml"):
                files.append(before + name)
            elif name.endswith(".yml"):
                message = "files of a catalog end in .yaml; rename it"
                problems.append(_problem(inner / name, message))
            else:
                try:
                    if (inner / name).is_dir():
                        folders.append(inner / name)
                except OSError as error:
                    problems.append(_problem(inner / name, _why(error, wanted="a catalog folder")))
        waiting.extend(reversed(folders))
        if len(files) > FILES_LIMIT:
            message = f"more than {FILES_LIMIT} files; allowed: at most so many in a catalog"
            problems.append(_problem(root, message))
            break
    files.sort(key=None if os.sep == "/" else lambda name: name.replace(os.sep, "/"))
    return Listing(tuple(files), tuple(sorted(problems)))


def read_file(path: Path | str, *, limit: int = BYTES_LIMIT) -> bytes:
    """Read a file once, at most `limit` bytes of it.

    Raises: CatalogError when it cannot be read, is no ordinary file (a folder, a pipe, a device),
    or is larger than `limit`.
    """
    # Without O_NONBLOCK the opening of a pipe waits for somebody to write into it.
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    try:
        handle = os.open(path, flags)
    except (OSError, ValueError) as error:
        raise CatalogError([_problem(path, _why(error, wanted="a file"))]) from None
    try:
        found = os.fstat(handle)
        if not stat.S_ISREG(found.st_mode):
            what = "a folder" if stat.S_ISDIR(found.st_mode) else "no ordinary file"
            raise CatalogError([_problem(path, f"this is {what}; allowed: a file of text")])
        if found.st_size > limit:
            raise CatalogError([_problem(path, _too_large(found.st_size, limit))])
        parts = []
        left = limit + 1
        while left and (part := os.read(handle, min(left, found.st_size + 1))):
            parts.append(part)
            left -= len(part)
    except OSError as error:
        raise CatalogError([_problem(path, _why(error, wanted="a file"))]) from None
    finally:
        os.close(handle)
    if not left:
        raise CatalogError([_problem(path, _too_large(limit + 1, limit))])
    return b"".join(parts)


def stamp(paths: Iterable[Path | str]) -> bytes | None:
    """What tells whether any of the files changed, without reading them.

    Returns: names, sizes, times and identities; None when a file is gone, or changed so lately that
    the next change might leave no trace.
    """
    lines = []
    unsettled = (time.time() - _SETTLED_S) * 1e9
    try:
        for path in paths:
            found = os.stat(path)  # noqa: PTH116 - as for `Listing.names`
            modified, changed = found.st_mtime_ns, found.st_ctime_ns
            if modified > unsettled or changed > unsettled:
                return None
            lines.append(
                f"{path}\0{found.st_dev} {found.st_ino} {found.st_size} {modified} {changed}\n"
            )
    except (OSError, ValueError):
        return None
    return "".join(lines).encode("utf-8", "surrogateescape")


def _problem(path: Path | str, message: str) -> Problem:
    # A name that is not UTF-8 must not break the terminal, or the JSON, it is shown in.
    shown = os.fsencode(path).decode("utf-8", "backslashreplace")
    return Problem(Place(shown), message, "unreadable")


def _why(error: OSError | ValueError, *, wanted: str) -> str:
    match error:
        case FileNotFoundError():
            return f"there is nothing of this name (any more); allowed: {wanted} that exists"
        case NotADirectoryError():
            return f"this is a file, or is looked for below one; allowed: {wanted}"
        case IsADirectoryError():
            return f"this is a folder; allowed: {wanted}"
        case PermissionError():
            return "no permission to read it; change its permissions, or run as another user"
        case OSError():
            return f"cannot be read: {error.strerror or error}"
        case _:
            return f"no name of a file: {error}"


def _too_large(size: int, limit: int) -> str:
    return f"{size} bytes or more; allowed: at most {limit}; split the file"
