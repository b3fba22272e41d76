"""Keeps what was costly to compute in files, in the cache folder of the platform.

A cache that cannot be used is never an error: what is absent, damaged, or of another version is
not found, and what cannot be written is not kept. `GEARREC_CACHE` names another folder, or is
`off`. Files are written beside their place and moved into it, so that two processes at once see
either nothing or all of a file. The names are given by the caller from the content of what was
read (`content_name`), so that a file is never out of date; the oldest make room for new ones.

A file is

    magic, length of the content, checksum of the head      24 bytes
    checksum of each block of the content                    4 bytes each
    content

so that a part of it can be read, and checked, without the rest.
"""

from __future__ import annotations

import contextlib
import os
import re
import struct
import sys
import zlib
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

FOLDER_LIMIT = 256 * 2**20
FILES_LIMIT = 256

_SUFFIX = ".gearrec-cache"
_WRITING = "writing-"
_HEAD = struct.Struct("<12sQI")
_MAGIC = b"gearrec 01\r\n"  # a transfer that changes line ends is seen at once
_BLOCK = 16_384  # [bytes]
_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,99}").fullmatch
_ABANDONED_S = 3600.0


class DamagedError(ValueError):
    """A part of a kept file is not what was written."""


def cache_folder(setting: str | None = None) -> Path | None:
    """The folder of the cache, which need not exist, or None when it is switched off.

    Parameters: `setting`, a path or `off`; without it the environment's `GEARREC_CACHE`, and
    without that the platform's folder for caches.
    """
    chosen = setting or os.environ.get("GEARREC_CACHE")
    platform: str = sys.platform
    try:
        if chosen:
            return None if chosen.strip().lower() == "off" else Path(chosen).expanduser()
        if platform == "win32":
            local = os.environ.get("LOCALAPPDATA")
            return Path(local or Path.home() / "AppData" / "Local") / "gearrec" / "Cache"
        if platform == "darwin":
            return Path.home() / "Library" / "Caches" / "gearrec"
        base = os.environ.get("XDG_CACHE_HOME", "")
        # The base directory specification: a relative path is invalid and to be ignored.
        return (Path(base) if base.startswith("/") else Path.home() / ".cache") / "gearrec"
    except RuntimeError:  # no home
        return None


def content_name(prefix: str, parts: Iterable[bytes]) -> str:
    """A name that tells the content of `parts`, each by itself, in their order."""
    import hashlib

    digest = hashlib.blake2b(digest_size=20)
    for part in parts:
        digest.update(len(part).to_bytes(8, "little"))
        digest.update(part)
    return f"{prefix}-{digest.hexdigest()}"


def load(name: str, *, setting: str | None = None) -> bytes | None:
    """The content that was kept under `name`, all of it checked; None when there is none."""
    path = _path(name, setting)
    try:
        # In one go: another process may put another file in this one's place at any time.
        return None if path is None else Kept(path, whole=_read(path, 0))[:]
    except DamagedError:
        return None


def look(name: str, *, setting: str | None = None) -> Kept | None:
    """What was kept under `name`, to be read in parts; None when there is none."""
    path = _path(name, setting)
    try:
        return None if path is None else Kept(path)
    except DamagedError:
        return None


def keep(name: str, content: bytes, *, setting: str | None = None) -> bool:
    """Keep `content` under `name`, in place of what was there. Returns: whether it is kept."""
    path = _path(name, setting)
    if path is None:
        return False
    import tempfile

    written = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(prefix=_WRITING, suffix=_SUFFIX, dir=path.parent)
        written = Path(temporary)
        with os.fdopen(handle, "wb") as file:
            file.write(_head_of(content))
            file.write(content)
        written.replace(path)
    except (OSError, ValueError):
        if written is not None:
            with contextlib.suppress(OSError):
                written.unlink()
        return False
    _make_room(path)
    return True


def remember(stamp: bytes, name: str, *, setting: str | None = None) -> bool:
    """Note that files with this stamp (`files.stamp`) are those kept under `name`."""
    return keep(content_name("stamp", [stamp]), name.encode(), setting=setting)


def recall(stamp: bytes, *, setting: str | None = None) -> str | None:
    """The name that was remembered for a stamp."""
    kept = load(content_name("stamp", [stamp]), setting=setting)
    name = (kept or b"").decode("ascii", "replace")
    return name if _NAME(name) else None


class Kept:
    """The content of a kept file; a slice `kept[start:end]` reads and checks no more than it needs.

    Nothing stays open between two slices, and small parts are read once. A slice raises
    DamagedError when that part is not what was written, or the file is gone.
    """

    __slots__ = ("_blocks", "_length", "_path", "_rows", "_start", "_whole")

    def __init__(self, path: Path, *, whole: bytes | None = None) -> None:
        self._path = path
        self._whole = whole
        head = _read(path, 0, _BLOCK) if whole is None else whole
        if len(head) < _HEAD.size:
            raise DamagedError("the head is cut off")
        magic, length, checksum = _HEAD.unpack_from(head)
        blocks = -(-length // _BLOCK)
        start = _HEAD.size + 4 * blocks
        if magic != _MAGIC or length > FOLDER_LIMIT:
            raise DamagedError("no kept file")
        if start > len(head) and whole is None:
            head += _read(path, len(head), start - len(head))
        checked = zlib.crc32(head[_HEAD.size : start], length & 0xFFFFFFFF)
        if len(head) < start or checked != checksum:
            raise DamagedError("the head is damaged")
        self._length: int = length
        self._start: int = start
        self._rows = struct.unpack_from(f"<{blocks}I", head, _HEAD.size)
        self._blocks: dict[int, bytes] = {}

    def __len__(self) -> int:
        return self._length

    def __getitem__(self, part: slice) -> bytes:
        start, end, step = part.indices(self._length)
        if step != 1:
            raise ValueError("a part is taken whole, without steps")
        if end <= start:
            return b""
        first, last = start // _BLOCK, (end - 1) // _BLOCK
        block = self._blocks.get(first)
        if block is None or first != last:
            block = self._checked(first, last)
        return block[start - first * _BLOCK : end - first * _BLOCK]

    def _checked(self, first: int, last: int) -> bytes:
        """The blocks from `first` to `last`, in one piece."""
        at = first * _BLOCK
        length = min((last + 1) * _BLOCK, self._length) - at
        if self._whole is None:
            data = _read(self._path, self._start + at, length)
        else:
            data = self._whole[self._start + at :]
        if len(data) != length:
            raise DamagedError("the file is cut off")
        view = memoryview(data)
        for number in range(first, last + 1):
            inside = (number - first) * _BLOCK
            if zlib.crc32(view[inside : inside + _BLOCK]) != self._rows[number]:
                raise DamagedError("a part of the file is damaged")
        if first == last:
            self._blocks[first] = data
        return data


def _read(path: Path, at: int, length: int = FOLDER_LIMIT) -> bytes:
    try:
        with path.open("rb", buffering=0) as file:
            file.seek(at)
            parts = []
            left = length
            while left and (part := file.read(min(left, os.fstat(file.fileno()).st_size))):
                parts.append(part)
                left -= len(part)
            return b"".join(parts)
    except (OSError, ValueError) as error:
        raise DamagedError(str(error)) from None


def _head_of(content: bytes) -> bytes:
    view = memoryview(content)
    rows = b"".join(
        zlib.crc32(view[at : at + _BLOCK]).to_bytes(4, "little")
        for at in range(0, len(content), _BLOCK)
    )
    checksum = zlib.crc32(rows, len(content) & 0xFFFFFFFF)
    return _HEAD.pack(_MAGIC, len(content), checksum) + rows


def _path(name: str, setting: str | None) -> Path | None:
    if not _NAME(name):
        raise ValueError(f"{name!r} is no name of a kept file; allowed: a-z, 0-9 and hyphens")
    folder = cache_folder(setting)
    return None if folder is None else folder / f"{name}{_SUFFIX}"


def _make_room(newest: Path) -> None:
    """Take the oldest files away until number and size are in bounds; others may do so too."""
    found = []
    with contextlib.suppress(OSError):
        for path in list(newest.parent.iterdir()):
            if path.suffix == _SUFFIX:
                with contextlib.suppress(OSError):
                    state = path.stat()
                    found.append((path == newest, state.st_mtime, state.st_size, path))
    if not found:
        return
    found.sort(key=lambda entry: entry[:2], reverse=True)
    now = found[0][1]
    size = count = 0
    for _, changed, length, path in found:
        if path.name.startswith(_WRITING):
            useless = changed < now - _ABANDONED_S
        else:
            size += length
            count += 1
            useless = size > FOLDER_LIMIT or count > FILES_LIMIT
        if useless and path != newest:
            with contextlib.suppress(OSError):
                path.unlink()
