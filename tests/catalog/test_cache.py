"""The cache: what is kept is found whole or not at all, and nothing about it is ever an error."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from gearrec.catalog import cache
from gearrec.catalog.cache import DamagedError, cache_folder, content_name, keep, load, look

CONTENT = bytes(range(256)) * 300  # five blocks, the last one not full


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    chosen = tmp_path / "not" / "there yet"
    monkeypatch.setenv("GEARREC_CACHE", str(chosen))
    return chosen


def only_file(folder: Path) -> Path:
    (path,) = folder.iterdir()
    return path


@pytest.mark.parametrize("content", [b"", b"x", CONTENT, b"y" * 16_384, b"z" * 32_769])
def test_what_was_kept_is_loaded(folder: Path, content: bytes) -> None:
    assert load("pack-1") is None
    assert keep("pack-1", content)
    assert load("pack-1") == content
    assert load("pack-2") is None
    assert [path.name for path in folder.iterdir()] == ["pack-1.gearrec-cache"]
    assert keep("pack-1", b"other")
    assert load("pack-1") == b"other"


def test_parts_are_read_without_the_rest(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    keep("pack", CONTENT)
    kept = look("pack")
    assert kept is not None
    assert len(kept) == len(CONTENT)
    for start, end in [(0, 10), (16_000, 17_000), (40_000, 40_001), (0, None), (76_000, 99_999)]:
        assert kept[start:end] == CONTENT[start:end]
    assert kept[5:5] == b""
    assert kept[10:5] == b""
    assert kept[-3:] == CONTENT[-3:]
    with pytest.raises(ValueError, match="without steps"):
        kept[::2]
    read: list[int] = []
    real = cache._read
    monkeypatch.setattr(
        cache, "_read", lambda path, at, size: read.append(size) or real(path, at, size)
    )
    assert kept[40_002:40_010] == CONTENT[40_002:40_010]
    assert not read  # the block is here already
    assert kept[60_000:60_010] == CONTENT[60_000:60_010]
    assert sum(read) <= 16_384


def test_a_damaged_part_is_told_and_the_others_are_read(folder: Path) -> None:
    keep("pack", CONTENT)
    path = only_file(folder)
    data = bytearray(path.read_bytes())
    start = len(data) - len(CONTENT)
    data[start + 20_000] ^= 1
    path.write_bytes(data)
    kept = look("pack")
    assert kept is not None
    assert kept[:100] == CONTENT[:100]
    with pytest.raises(DamagedError):
        kept[20_100:20_110]
    assert load("pack") is None


def test_any_damage_is_not_found(folder: Path) -> None:
    keep("pack", b"some content")
    path = only_file(folder)
    good = path.read_bytes()
    for at in range(len(good)):
        for bit in (1, 128):
            path.write_bytes(good[:at] + bytes([good[at] ^ bit]) + good[at + 1 :])
            assert load("pack") is None, at
    for length in range(len(good)):
        path.write_bytes(good[:length])
        assert load("pack") is None, length
    for wrong in (b"", b"\0" * 100, os.urandom(1_000), good.replace(b"\r\n", b"\n")):
        path.write_bytes(wrong)
        assert load("pack") is None
    assert keep("pack", b"again")
    assert load("pack") == b"again"


def test_a_file_that_goes_away_between_two_parts(folder: Path) -> None:
    keep("pack", CONTENT)
    kept = look("pack")
    assert kept is not None
    only_file(folder).unlink()
    with pytest.raises(DamagedError):
        kept[:10]


def test_off(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    for word in ("off", "OFF", " off "):
        monkeypatch.setenv("GEARREC_CACHE", word)
        assert cache_folder() is None
        assert not keep("pack", b"x")
        assert load("pack") is None
        assert look("pack") is None
    assert not list(tmp_path.iterdir())


def test_a_setting_goes_before_the_environment(folder: Path, tmp_path: Path) -> None:
    assert keep("pack", b"x", setting=str(tmp_path / "other"))
    assert load("pack", setting=str(tmp_path / "other")) == b"x"
    assert load("pack") is None
    assert not keep("pack", b"x", setting="off")
    assert cache_folder() == folder


@pytest.mark.parametrize(
    ("platform", "environment", "expected"),
    [
        ("linux", {"XDG_CACHE_HOME": "/var/xdg", "HOME": "/home/u"}, "/var/xdg/gearrec"),
        ("linux", {"XDG_CACHE_HOME": "relative", "HOME": "/home/u"}, "/home/u/.cache/gearrec"),
        ("linux", {"HOME": "/home/u"}, "/home/u/.cache/gearrec"),
        ("darwin", {"HOME": "/home/u"}, "/home/u/Library/Caches/gearrec"),
        ("win32", {"LOCALAPPDATA": "/local"}, "/local/gearrec/Cache"),
        ("win32", {"HOME": "/home/u"}, "/home/u/AppData/Local/gearrec/Cache"),
        ("linux", {"GEARREC_CACHE": "~/here", "HOME": "/home/u"}, "/home/u/here"),
    ],
)
@pytest.mark.skipif(sys.platform == "win32", reason="takes the home from HOME")
def test_folder_of_each_platform(
    platform: str, environment: dict[str, str], expected: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """XDG base directory specification; the other two are the platforms' custom, from memory."""
    for name in ("GEARREC_CACHE", "XDG_CACHE_HOME", "LOCALAPPDATA"):
        monkeypatch.delenv(name, raising=False)
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(sys, "platform", platform)
    found = cache_folder()
    assert found is not None
    assert found.as_posix() == expected


def test_without_a_home_nothing_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("GEARREC_CACHE", "XDG_CACHE_HOME"):
        monkeypatch.delenv(name, raising=False)

    def no_home() -> Path:
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.setattr(Path, "home", no_home)
    assert cache_folder() is None
    assert not keep("pack", b"x")


def test_a_folder_that_cannot_be_written_is_tolerated(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_bytes(b"")
    monkeypatch.setenv("GEARREC_CACHE", str(tmp_path / "file"))
    assert not keep("pack", b"x")
    assert load("pack") is None
    monkeypatch.setenv("GEARREC_CACHE", str(tmp_path / "file" / "below"))
    assert not keep("pack", b"x")
    assert load("pack") is None


@pytest.mark.skipif(
    sys.platform == "win32" or os.geteuid() == 0, reason="permissions do not hold here"
)
def test_a_read_only_folder_is_read_but_not_written(folder: Path) -> None:
    keep("pack", b"x")
    folder.chmod(0o500)
    try:
        assert load("pack") == b"x"
        assert not keep("other", b"y")
    finally:
        folder.chmod(0o700)


def test_a_read_only_file_system_is_tolerated(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def read_only(*_: object, **__: object) -> tuple[int, str]:
        raise OSError(30, "Read-only file system")

    keep("pack", b"x")
    monkeypatch.setattr(tempfile, "mkstemp", read_only)
    assert not keep("pack", b"y")
    assert load("pack") == b"x"


def test_a_full_disk_leaves_nothing_behind(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    keep("pack", b"old")

    def full(_self: Path, _target: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    assert not keep("pack", b"new")
    monkeypatch.undo()
    monkeypatch.setenv("GEARREC_CACHE", str(folder))
    assert load("pack") == b"old"
    assert len(list(folder.iterdir())) == 1


@pytest.mark.parametrize("name", ["", "../up", "a/b", "A", "a.b", "-a", "x" * 101, "a\0"])
def test_names_that_could_leave_the_folder_are_refused(folder: Path, name: str) -> None:
    with pytest.raises(ValueError, match="no name of a kept file"):
        keep(name, b"x")
    with pytest.raises(ValueError, match="no name of a kept file"):
        load(name)


def age(path: Path, seconds: float) -> None:
    changed = path.stat().st_mtime - seconds
    os.utime(path, (changed, changed))


def test_the_oldest_make_room(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cache, "FILES_LIMIT", 3)
    for number in range(3):
        keep(f"pack-{number}", b"x")
        age(folder / f"pack-{number}.gearrec-cache", 1_000 - 100 * number)
    keep("pack-3", b"x")
    assert [load(f"pack-{number}") for number in range(4)] == [None, b"x", b"x", b"x"]
    # heads of 28 bytes: 4,928 for the new one and 29 for each of the others
    monkeypatch.setattr(cache, "FOLDER_LIMIT", 4_970)
    keep("pack-4", b"y" * 4_900)
    assert [load(f"pack-{number}") for number in range(4)] == [None, None, None, b"x"]
    assert load("pack-4") == b"y" * 4_900


def test_abandoned_writing_is_cleared_away_and_foreign_files_are_not(folder: Path) -> None:
    folder.mkdir(parents=True)
    for name in ("writing-old.gearrec-cache", "writing-new.gearrec-cache", "notes.txt"):
        (folder / name).write_bytes(b"")
    age(folder / "writing-old.gearrec-cache", 7_200)
    age(folder / "notes.txt", 1e7)
    keep("pack", b"x")
    names = {path.name for path in folder.iterdir()}
    assert names == {"writing-new.gearrec-cache", "notes.txt", "pack.gearrec-cache"}


def test_names_tell_the_content() -> None:
    names = {
        content_name("pack", parts)
        for parts in ([b"ab", b"c"], [b"a", b"bc"], [b"abc"], [b"abc", b""], [], [b""])
    }
    assert len(names) == 6
    assert content_name("pack", iter([b"abc"])) == content_name("pack", [b"abc"])
    assert all(name.startswith("pack-") for name in names)


def test_a_stamp_recalls_a_name(folder: Path) -> None:
    assert cache.recall(b"stamp") is None
    assert cache.remember(b"stamp", "pack-1")
    assert cache.recall(b"stamp") == "pack-1"
    assert cache.recall(b"other") is None


TWO_PROCESSES = """
import sys
from gearrec.catalog import cache
letter = sys.argv[1].encode()
seen = set()
for turn in range(150):
    assert cache.keep("shared", letter * 100_000)
    assert cache.keep(f"own-{sys.argv[1]}-{turn % 5}", letter)
    found = cache.load("shared")
    assert found is not None and len(found) == 100_000, found
    assert found == found[:1] * 100_000
    seen.add(found[:1])
print(len(seen))
"""


def test_two_processes_at_once_see_all_of_a_file_or_nothing(folder: Path) -> None:
    running = [
        subprocess.Popen(
            [sys.executable, "-c", TWO_PROCESSES, letter],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for letter in "ab"
    ]
    for process in running:
        output, errors = process.communicate(timeout=60)
        assert process.returncode == 0, errors
        assert output.strip() in {"1", "2"}
    assert not list(folder.glob("writing-*"))


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="counts handles in /proc")
def test_nothing_stays_open(folder: Path) -> None:
    keep("pack", CONTENT)
    before = len(list(Path("/proc/self/fd").iterdir()))
    kept = [look("pack") for _ in range(10)]
    for found in kept:
        assert found is not None
        assert found[:10] == CONTENT[:10]
    for _ in range(10):
        load("pack")
        keep("pack", CONTENT)
    assert len(list(Path("/proc/self/fd").iterdir())) == before


def test_the_cache_and_the_files_load_no_yaml() -> None:
    """A warm start must not pay for the parser."""
    words = (
        "import sys, gearrec.catalog.cache, gearrec.catalog.files; "
        "print([name for name in ('yaml', 'pydantic', 'numpy', 'tempfile') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", words], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
