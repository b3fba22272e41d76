"""Finds installed plugins by a scan of the folders on the import path, without loading any.

Reading the entry points of every installed distribution through `importlib.metadata` costs several
times the start of Python. Here each folder is listed once, only files that mention `gearrec` are
parsed, and the result is kept until the folder changes.
"""

from __future__ import annotations

import os
import re
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

GROUP = "gearrec"
_CLOCK_TICK_NS = 2_000_000_000
_NAME = re.compile(r"[^\s=,]+")
_TARGET = re.compile(r"[^\W\d]\w*(\.[^\W\d]\w*)*(:[^\W\d]\w*(\.[^\W\d]\w*)*)?")


@dataclass(frozen=True, slots=True, order=True)
class EntryPoint:
    """One line of the group `gearrec`; `problem` says why the line cannot be used, or is empty."""

    name: str
    target: str
    distribution: str
    version: str
    problem: str = ""


_Folder = tuple[tuple[str, tuple[EntryPoint, ...]], ...]

_cache: dict[str, tuple[int, _Folder]] = {}
_lock = Lock()


def installed_entry_points(path: Sequence[str] | None = None) -> tuple[EntryPoint, ...]:
    """All entry points of the group `gearrec`, sorted by name.

    `path`: folders to scan, by default the import path. As on import, a distribution in an earlier
    folder hides one of the same name in a later folder. Archives on the path are not scanned.
    """
    found: list[EntryPoint] = []
    seen: set[str] = set()
    for folder in dict.fromkeys(sys.path if path is None else path):
        here = _entry_points_of_folder(folder or ".")
        found.extend(entry for name, entries in here if name not in seen for entry in entries)
        seen.update(name for name, _ in here)
    return tuple(sorted(found))


def _entry_points_of_folder(folder: str) -> _Folder:
    """The distributions of one folder, each with its entry points, from the cache if unchanged."""
    try:
        changed = Path(folder).stat().st_mtime_ns
    except OSError:
        return ()
    key = str(Path(folder).absolute())
    with _lock:
        kept = _cache.get(key)
    if kept is not None and kept[0] == changed:
        return kept[1]
    result = _scan(folder)
    # What changed just now may change again within one tick of the file system's clock.
    if time.time_ns() - changed > _CLOCK_TICK_NS:
        with _lock:
            _cache[key] = (changed, result)
    return result


def _scan(folder: str) -> _Folder:
    try:
        # Path objects for hundreds of names would cost more than the listing itself.
        names = sorted(os.listdir(folder))  # noqa: PTH208
    except OSError:
        return ()
    result: dict[str, tuple[EntryPoint, ...]] = {}
    for name in names:
        if not name.endswith((".dist-info", ".egg-info")):
            continue
        stem = name.rpartition(".")[0]
        distribution, _, version = stem.partition("-")
        normal = re.sub(r"[-_.]+", "-", distribution).lower()
        if normal in result:
            continue
        content = _read(f"{folder}/{name}/entry_points.txt")
        entries = _parse(content, normal, version) if GROUP.encode() in content else ()
        result[normal] = entries
    return tuple(result.items())


def _read(file: str) -> bytes:
    try:
        descriptor = os.open(file, os.O_RDONLY)
    except OSError:
        return b""
    try:
        parts = []
        while part := os.read(descriptor, 1 << 16):
            parts.append(part)
        return b"".join(parts)
    except OSError:
        return b""
    finally:
        os.close(descriptor)


def _parse(content: bytes, distribution: str, version: str) -> tuple[EntryPoint, ...]:
    """The lines `name = module:attribute` of the section `[gearrec]`."""
    found: list[EntryPoint] = []
    inside = False
    for raw in content.decode("utf-8", errors="replace").splitlines():
        line = raw.strip()
        if line.startswith("["):
            inside = line.strip("[] \t") == GROUP
            continue
        if not inside or not line or line.startswith(("#", ";")):
            continue
        name, equals, rest = (part.strip() for part in line.partition("="))
        target = rest.partition("[")[0].strip()
        problem = ""
        if not equals or not _NAME.fullmatch(name) or not _TARGET.fullmatch(target):
            problem = f"the line {line!r}"
        found.append(EntryPoint(name or line, target, distribution, version, problem))
    return tuple(found)
