"""Skeletons: every place to fill is reported until it is filled, then the check passes."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from gearrec import checking, skeletons
from gearrec.errors import GearrecError

if TYPE_CHECKING:
    from pathlib import Path

MARK = f"[{skeletons.MARK}]"
CATALOG = ["Example Shop", "Invented, for a test.", "invented", "invented", "low"]
# In the order of the marks of each file. The truck is invented; its figures are of the usual size.
FILLED: dict[str, list[str]] = {
    "platform.yaml": [
        "Ridge", '"4380 lb"', '"5950 lb"', '"3050 lb"', '"3450 lb"', '"56.5 %"', '"126 in"',
        '"47 in"', "part-time-four", "before-axle", '"1.21 m^2"', '"34 in"', '"2.9 in"',
        '"0.08 in"', "steel", "2", "3.36",
    ],
    "engine.yaml": [
        "Six", "core/gasoline-medium", '"3.22 L"', '"680 rpm"', '"6500 rpm"',
        '"650 rpm"', '"132 lbf*ft"', '"2000 rpm"', '"183 lbf*ft"', '"4200 rpm"', '"214 lbf*ft"',
        '"5200 rpm"', '"205 lbf*ft"', '"6500 rpm"', '"160 lbf*ft"',
    ],
    "transmission.yaml": [
        "Automatic", "automatic", "[4.64, 2.97, 2.03, 1.42, 1.0, 0.68]", "3.57", '"2250 rpm"',
        "1.85", "2",
    ],
    "transfer-case.yaml": ["Two-range", "2.51"],
    "axles.yaml": [
        "Rear", '"217 mm"', '"9200 N*m"', "47", "14", "47", "13", "50", "13",
        "Front", '"183 mm"', "47", "14", "47", "13", "50", "13",
    ],
    "tire.yaml": ["Highway tire", "235/70R16 109T", "core/highway", '"718 1/mi"'],
    # Common practice, no source: light on factory tires keeps; for the other case any of the three
    # will do, for the skeleton is looked at here and not the judgement.
    "cases.yaml": [
        "Light", "Common practice.", "3.36", "Taller", "Common practice.",
        "LT255/85R16 123/120Q E", "3.85", "[3.36, 3.62]",
    ],
    "rule-set.yaml": ["Own", "For a test."],
    # By hand: 1450 rpm is half way from 1300 to 1600.
    "rules.yaml": [
        "Cruise", '"1300 rpm"', '"1600 rpm"', '"2100 rpm"', '"2700 rpm"', "1", "0.5", "What.",
        "Why.", "When.", "A job.", '"1450 rpm"', "0.5", "common-practice", "no source", "low",
    ],
    "usual.yaml": [
        "Usual", '"60 %"', '"65 mph"', "core/flat", '"500 ft"', '"20 %"', '"28 mph"', '"1.5 1/mi"',
        '"18 %"', '"20 %"', '"60 mph"', "core/rolling",
    ],
    # By hand: 65 mph, 3.05 x 0.7354 m rolled in a turn, 0.68 x 47/14: 1,775 rpm.
    "mine.yaml": [
        "Pick", "Common practice.", "demo/fell", "LT215/85R16 115/112Q E",
        "core/unloaded-highway", "3.85", "[3.36, 3.62, 4.18, 4.45]", "Figure", "By hand.",
        "demo/fell", "3.36", '"1775 rpm"', '"5 rpm"',
    ],
}  # fmt: skip


def marks(path: Path) -> int:
    """Places to fill, those in comments left out."""
    return sum(line.partition("#")[0].count(MARK) for line in path.read_text().splitlines())


def fill(path: Path) -> None:
    values = iter(CATALOG if path.name == "catalog.yaml" else FILLED[path.name])
    lines = []
    for line in path.read_text().splitlines(keepends=True):
        body, sign, comment = line.partition("#")
        lines.append(re.sub(re.escape(MARK), lambda _: next(values), body) + sign + comment)
    assert next(values, None) is None, path.name
    path.write_text("".join(lines))


@pytest.mark.parametrize(
    ("kind", "name"),
    [
        ("platform", "shop/ridge"),
        ("rule-set", "shop/own"),
        ("use-profile", "shop/usual"),
        ("cases", "shop/mine"),
    ],
)
def test_a_filled_skeleton_passes_the_check(tmp_path: Path, kind: str, name: str) -> None:
    written = skeletons.write(kind, name, tmp_path)
    assert tmp_path / "catalog.yaml" in written
    places = sum(marks(path) for path in written)
    report = checking.check([tmp_path])
    # Every place is an error of its own, so none can be forgotten.
    assert len(report.errors) >= places > 0
    reported = {(problem.place.file, problem.place.line) for problem in report.errors}
    for path in written:
        for number, line in enumerate(path.read_text().splitlines(), start=1):
            if MARK in line.partition("#")[0]:
                assert (str(path), number) in reported
    for path in written:
        fill(path)
    report = checking.check([tmp_path])
    assert report.ok, "\n".join(map(str, report.errors))
    assert report.cases == (2 if kind in ("platform", "cases") else 0)
    assert report.rules == (1 if kind == "rule-set" else 0)


def test_a_second_record_joins_the_catalog_that_is_there(tmp_path: Path) -> None:
    skeletons.write("use-profile", "shop/usual", tmp_path)
    (tmp_path / "more").mkdir()
    (written,) = skeletons.write("cases", "mine", tmp_path / "more")
    assert written == tmp_path / "more" / "mine.yaml"
    assert "id: shop/mine-pick" in written.read_text()


def test_nothing_is_ever_overwritten(tmp_path: Path) -> None:
    written = skeletons.write("platform", "shop/ridge", tmp_path)
    (tmp_path / "ridge" / "engine.yaml").write_text("mine")
    for path in written:
        if path.name != "engine.yaml":
            path.unlink()
    with pytest.raises(FileExistsError, match=r"engine\.yaml"):
        skeletons.write("platform", "shop/ridge", tmp_path)
    assert (tmp_path / "ridge" / "engine.yaml").read_text() == "mine"
    left = [path for path in tmp_path.rglob("*") if path.is_file()]
    assert left == [tmp_path / "ridge" / "engine.yaml"]


def test_a_link_to_nowhere_is_in_the_way_as_well(tmp_path: Path) -> None:
    (tmp_path / "catalog.yaml").symlink_to(tmp_path / "nowhere")
    with pytest.raises(FileExistsError, match=r"catalog\.yaml"):
        skeletons.write("use-profile", "shop/usual", tmp_path)


def test_a_failure_half_way_leaves_nothing_behind(tmp_path: Path) -> None:
    (tmp_path / "ridge").write_text("a file where a folder is due")
    with pytest.raises(OSError, match="ridge"):
        skeletons.write("platform", "shop/ridge", tmp_path)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["ridge"]


@pytest.mark.parametrize(
    ("kind", "name", "words"),
    [
        ("platfrom", "shop/x", "did you mean 'platform'"),
        ("platform", "x", "write the name with the namespace"),
        ("platform", "shop/", "found the name 'shop/'"),
        ("platform", "shop/A Truck", "allowed: lower-case letters"),
        ("platform", "shop/../../x", "found the name"),
        ("platform", "Shop/x", "found the name"),
        ("platform", "x/van", "found the namespace 'x'; allowed: 2 to 40"),
        ("plugin", "Shop", "found the name 'Shop'"),
        ("plugin", "../x", "found the name"),
        ("plugin", "builtin", "the library's own"),
    ],
)
def test_names_that_cannot_be_used_are_refused(
    tmp_path: Path, kind: str, name: str, words: str
) -> None:
    with pytest.raises(GearrecError, match=re.escape(words)):
        skeletons.write(kind, name, tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_another_namespace_than_the_catalogs_is_refused(tmp_path: Path) -> None:
    skeletons.write("use-profile", "shop/usual", tmp_path)
    with pytest.raises(GearrecError, match="found the namespace 'other'"):
        skeletons.write("cases", "other/mine", tmp_path)


def own_tests(folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", "-q"],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1", "GEARREC_PLUGINS": ""},
    )


def test_a_plugin_is_a_distribution_whose_tests_pass_once_it_is_filled(tmp_path: Path) -> None:
    written = skeletons.write("plugin", "tow-words", tmp_path)
    home = tmp_path / "gearrec-tow-words"
    assert {str(path.relative_to(home)) for path in written} == {
        "pyproject.toml",
        "README.md",
        ".gitignore",
        "gearrec_tow_words/__init__.py",
        "tests/conftest.py",
        "tests/test_gearrec_tow_words.py",
    }
    before = own_tests(home)
    assert "1 failed, 2 passed" in before.stdout, before.stdout + before.stderr
    assert "test_no_place_is_left_to_fill" in before.stdout
    for path in written:
        text = path.read_text()
        path.write_text(text.replace("FILL IN: ", "Invented: ").replace('"FILL IN"', '"Invented"'))
    after = own_tests(home)
    assert "3 passed" in after.stdout, after.stdout + after.stderr


def test_the_plugins_entry_point_names_its_module(tmp_path: Path) -> None:
    import tomllib

    skeletons.write("plugin", "tow-words", tmp_path)
    home = tmp_path / "gearrec-tow-words"
    project = tomllib.loads((home / "pyproject.toml").read_text())
    assert project["project"]["name"] == "gearrec-tow-words"
    assert project["project"]["entry-points"]["gearrec"] == {"tow-words": "gearrec_tow_words"}
    assert project["tool"]["hatch"]["build"]["targets"]["wheel"]["packages"] == [
        "gearrec_tow_words"
    ]
