"""Listing and reading the files of a catalog folder."""

from __future__ import annotations

import os
import sys
import threading
from pathlib import Path

import pytest

from gearrec.catalog import files
from gearrec.catalog.files import list_files, read_file, stamp
from gearrec.errors import CatalogError

POSIX = pytest.mark.skipif(sys.platform == "win32", reason="needs links, pipes and permissions")
NOT_ROOT = pytest.mark.skipif(
    getattr(os, "geteuid", lambda: 1)() == 0, reason="permissions do not hold for this user"
)


def write(folder: Path, *names: str) -> None:
    for name in names:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(b"a: 1\n")


def message(path: Path, **options: int) -> str:
    with pytest.raises(CatalogError) as caught:
        read_file(path, **options)
    (problem,) = caught.value.problems
    assert problem.place.file
    return problem.message


def open_handles() -> int:
    return len(list(Path("/proc/self/fd").iterdir()))


def test_lists_yaml_files_sorted_and_nothing_else(tmp_path: Path) -> None:
    write(tmp_path, "b.yaml", "a/z.yaml", "a/b/c.yaml", "a.yaml", "readme.md", "x.json")
    write(tmp_path, ".hidden.yaml", ".git/config.yaml", "a/.#lock.yaml")
    found = list_files(tmp_path)
    names = [path.relative_to(tmp_path).as_posix() for path in found.files]
    assert names == ["a.yaml", "a/b/c.yaml", "a/z.yaml", "b.yaml"]
    assert not found.problems
    assert found.names == tuple(map(str, found.files))
    assert list_files(str(tmp_path)) == found


def test_a_relative_folder_lists_relative_names(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write(tmp_path, "a/b.yaml", "c.yaml")
    monkeypatch.chdir(tmp_path)
    assert list_files(".").names == (str(Path("a/b.yaml")), "c.yaml")
    assert list_files("./a/").names == (str(Path("a/b.yaml")),)


def test_an_empty_folder_lists_nothing(tmp_path: Path) -> None:
    assert list_files(tmp_path) == files.Listing((), ())


def test_yml_is_a_problem_not_overlooked(tmp_path: Path) -> None:
    write(tmp_path, "a.yaml", "b.yml")
    found = list_files(tmp_path)
    assert len(found.files) == 1
    (problem,) = found.problems
    assert "rename" in problem.message
    assert problem.place.file.endswith("b.yml")


def test_a_folder_that_is_none(tmp_path: Path) -> None:
    write(tmp_path, "a.yaml")
    assert "nothing of this name" in list_files(tmp_path / "absent").problems[0].message
    assert "this is a file" in list_files(tmp_path / "a.yaml").problems[0].message
    assert "no name of a file" in list_files("a\0b").problems[0].message


@POSIX
def test_loops_of_links_end(tmp_path: Path) -> None:
    write(tmp_path, "a/x.yaml", "b/y.yaml")
    (tmp_path / "a" / "up").symlink_to(tmp_path)
    (tmp_path / "b" / "self").symlink_to(tmp_path / "b")
    (tmp_path / "again").symlink_to(tmp_path / "a")
    (tmp_path / "round").symlink_to("round")
    names = [path.relative_to(tmp_path).as_posix() for path in list_files(tmp_path).files]
    assert names == ["a/x.yaml", "b/y.yaml"]


@POSIX
def test_links_to_files_are_followed_and_broken_ones_told_when_read(tmp_path: Path) -> None:
    write(tmp_path, "real.yaml")
    (tmp_path / "link.yaml").symlink_to("real.yaml")
    (tmp_path / "broken.yaml").symlink_to("gone")
    (tmp_path / "loop.yaml").symlink_to("loop.yaml")
    names = [path.name for path in list_files(tmp_path).files]
    assert names == ["broken.yaml", "link.yaml", "loop.yaml", "real.yaml"]
    assert read_file(tmp_path / "link.yaml") == b"a: 1\n"
    assert "nothing of this name" in message(tmp_path / "broken.yaml")
    assert "cannot be read" in message(tmp_path / "loop.yaml")


def test_too_many_files_stop_the_listing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(files, "FILES_LIMIT", 3)
    write(tmp_path, *(f"{number}.yaml" for number in range(5)))
    assert "more than 3 files" in list_files(tmp_path).problems[0].message


def test_reads_all_of_a_file(tmp_path: Path) -> None:
    for content in (b"", b"a: 1\n", os.urandom(100_000)):
        (tmp_path / "f.yaml").write_bytes(content)
        assert read_file(tmp_path / "f.yaml") == content


def test_a_file_that_cannot_be_read(tmp_path: Path) -> None:
    (tmp_path / "folder.yaml").mkdir()
    (tmp_path / "large.yaml").write_bytes(b"x" * 11)
    (tmp_path / "fits.yaml").write_bytes(b"x" * 10)
    assert "nothing of this name" in message(tmp_path / "vanished.yaml")
    assert "folder" in message(tmp_path / "folder.yaml")
    assert "allowed: at most 10" in message(tmp_path / "large.yaml", limit=10)
    assert read_file(tmp_path / "fits.yaml", limit=10) == b"x" * 10
    assert "looked for below one" in message(tmp_path / "large.yaml" / "x.yaml")
    assert "no name of a file" in message(Path("a\0b"))
    assert "cannot be read" in message(tmp_path / ("x" * 5_000))


@POSIX
@NOT_ROOT
def test_no_permission(tmp_path: Path) -> None:
    write(tmp_path, "closed/a.yaml", "b.yaml")
    (tmp_path / "b.yaml").chmod(0)
    (tmp_path / "closed").chmod(0)
    try:
        found = list_files(tmp_path)
        assert "permission" in found.problems[0].message
        assert "permission" in message(tmp_path / "b.yaml")
    finally:
        (tmp_path / "closed").chmod(0o700)


def test_errors_of_the_system_are_passed_on_in_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write(tmp_path, "a.yaml")

    def fail(*_: object) -> bytes:
        raise OSError(5, "Input/output error")

    def refuse(*_: object) -> bytes:
        raise PermissionError(13, "Permission denied")

    with monkeypatch.context() as patched:
        patched.setattr(os, "read", fail)
        assert "Input/output error" in message(tmp_path / "a.yaml")
    with monkeypatch.context() as patched:
        patched.setattr(os, "open", refuse)
        assert "no permission" in message(tmp_path / "a.yaml")
    with monkeypatch.context() as patched:
        patched.setattr(os, "listdir", refuse)
        assert "no permission" in list_files(tmp_path).problems[0].message
    (tmp_path / "inner").mkdir()
    with monkeypatch.context() as patched:
        patched.setattr(Path, "is_dir", refuse)
        assert "no permission" in list_files(tmp_path).problems[0].message


@POSIX
def test_a_pipe_or_a_device_is_refused_without_waiting(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.yaml")
    assert list_files(tmp_path).files
    found: list[str] = []
    reading = threading.Thread(target=lambda: found.append(message(tmp_path / "pipe.yaml")))
    reading.daemon = True
    reading.start()
    reading.join(timeout=10)
    assert found
    assert "no ordinary file" in found[0]
    assert "no ordinary file" in message(Path("/dev/null"))


def test_a_file_that_grows_while_it_is_read_is_bounded(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write(tmp_path, "a.yaml")
    monkeypatch.setattr(os, "read", lambda _handle, size: b"x" * size)
    assert "allowed: at most 1000" in message(tmp_path / "a.yaml", limit=1000)


@POSIX
def test_names_that_are_not_utf_8_are_shown_escaped(tmp_path: Path) -> None:
    try:
        (tmp_path / os.fsdecode(b"\xff.yml")).touch()
    except OSError:
        pytest.skip("this file system takes UTF-8 names only")
    (problem,) = list_files(tmp_path).problems
    assert problem.place.file.endswith("\\xff.yml")
    problem.place.file.encode()


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="counts handles in /proc")
def test_nothing_stays_open(tmp_path: Path) -> None:
    write(tmp_path, "a.yaml", "b/c.yaml")
    (tmp_path / "d.yaml").mkdir()
    before = open_handles()
    for _ in range(20):
        list_files(tmp_path)
        read_file(tmp_path / "a.yaml")
        message(tmp_path / "d.yaml")
        message(tmp_path / "a.yaml", limit=2)
    assert open_handles() == before


def settle(*paths: Path) -> None:
    for path in paths:
        os.utime(path, (1_000_000_000, 1_000_000_000))


def test_stamp_tells_every_change(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(files, "_SETTLED_S", -1e9)
    write(tmp_path, "a.yaml", "b.yaml")
    paths = list_files(tmp_path).files
    settle(*paths)
    first = stamp(paths)
    assert first is not None
    assert stamp(paths) == first
    assert stamp(paths[:1]) != first
    (tmp_path / "a.yaml").write_bytes(b"a: 2\n")
    settle(*paths)
    assert stamp(paths) != first  # the same size and time of change, but not the same state
    (tmp_path / "a.yaml").unlink()
    assert stamp(paths) is None


def test_no_stamp_for_what_changed_just_now(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write(tmp_path, "a.yaml")
    assert stamp([tmp_path / "a.yaml"]) is None
    later = files.time.time() + 60
    monkeypatch.setattr(files.time, "time", lambda: later)
    assert stamp([tmp_path / "a.yaml"]) is not None
    assert stamp(["a\0b"]) is None
