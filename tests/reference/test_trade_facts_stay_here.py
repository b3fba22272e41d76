"""What the trade knows of real trucks stands in this folder alone, to be held against the rules.

A fact that had found its way into a catalog, an example or another test would no longer test
anything: the rules would be asked what they were told. Each pattern is first shown a text that it
must find and one that it must leave alone.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any, NamedTuple

import pytest
import yaml

from gearrec import tires
from gearrec.errors import TireSizeError

ROOT = Path(__file__).parents[2]
HERE = Path(__file__).parent
# What is built, installed, fetched or kept for speed; nobody wrote it.
NOT_SOURCES = {
    ".git",
    ".hypothesis",
    ".import_linter_cache",
    ".mypy_cache",
    ".pytest_cache",
    ".ruff_cache",
    ".nox",
    ".tox",
    ".venv",
    "__pycache__",
    "build",
    "dist",
    "htmlcov",
    "node_modules",
    "site",
}
# Versions of other people's packages: they change with every release and mean no ratio.
NO_TEXT_OF_OURS = {"constraints.txt"}


class Fact(NamedTuple):
    """A pattern, texts that it must find, and texts that it must not."""

    pattern: str
    found: tuple[str, ...]
    left_alone: tuple[str, ...]


def number(digits: str) -> str:
    """A number on its own: no digit and no point makes it a part of another one."""
    return rf"(?<![\d.]){digits}(?![.]?\d)"


def whole(digits: str) -> str:
    """A whole number on its own: nor do thousands before it."""
    return rf"(?<!\d,){number(digits)}"


def word(text: str) -> str:
    """A word on its own; a hyphen, blank or underscore may stand at its joints."""
    return rf"(?<![a-z]){text}(?![a-z])"


def teeth(pinion: int) -> str:
    """Two counts side by side: 41/10, 41:10, (41, 10), 41 and 10."""
    return rf"(?<![\d.,])41 ?(?:[/:]|, |and) ?{pinion}(?![.,]?\d)"


FACTS = {
    "tire size": Fact(
        r"235[ /_–-]?80 ?[ /_–-]?Z?[RDB]?[ _–-]?17(?!\d)",
        ("LT235/80R17 E", "235/80ZR17", "demo/highway-235-80-17", "235 80 17", "235–80R17"),
        ("LT235/85R16", "235/80R16", "LT215/85R16", "1235"),
    ),
    "displacement": Fact(
        rf"{number('2[.,]80*')}[ -]?(?:L|l|liters?|litres?)\b"
        rf"|{number('(?:2[.]8e-3|0[.]0028|2800 ?cc)')}",
        ('"2.8 L"', "2.8-liter", "displacement_m3=2.8e-3", "2.80L", "2,8 L", "0.0028", "2800 cc"),
        ("12.8 L", "2.85 L", "2.8 m", "0.28 L"),
    ),
    "cruise engine speed": Fact(
        rf"{whole('1,?550(?:[.]0)?')}[ -]?(?:rpm|rev|r/min)",
        ("1550 rpm", "1550 r/min", "1,550 rpm", "at 1550 rev/min", "1550.0 rpm"),
        ("1550 kg", "11,550 rpm", "1,551 rpm", "15500 rpm"),
    ),
    "61 mph": Fact(
        rf"{whole('61(?:[.]0)?')}[ -]?(?:mph|mi/h|miles (?:an|per) hour)",
        ("61 mph", "61-mph", '"61.0 mph"', "61 miles an hour"),
        ("161 mph", "61.5 mph", "61 km/h", "6.61 mph"),
    ),
    "62 mph": Fact(
        rf"{whole('62(?:[.]0)?')}[ -]?(?:mph|mi/h|miles (?:an|per) hour)",
        ("62 mph", "62 miles per hour", '"62 mph"', "62mph"),
        ("162 mph", "62.5 mph", "620 mph"),
    ),
    "31 mpg": Fact(
        rf"{whole('31(?:[.]0)?')}[ -]?(?:mpg|miles (?:per|to the) gallon)",
        ("31 mpg", '"31 mpg (US)"', "31 miles per gallon"),
        ("131 mpg", "31.5 mpg", "310 mpg", "31 mph"),
    ),
    "18.5 mpg": Fact(
        rf"{number('18[.]5')}[ -]?(?:mpg|miles (?:per|to the) gallon)",
        ("18.5 mpg", "18.5 mpg (US)"),
        ("118.5 mpg", "18.5 mph", "18.55 mpg"),
    ),
    "tire height": Fact(
        rf"{number('31[.]80*')}(?: ?in\b| ?inch|-inch|\"|″|'')",
        ("31.8 in", "31.80 in", "31.8″", '"31.8 in"', "31.8-inch", "31.8 inches"),
        ("131.8 in", "31.85 in", "31.8 mm", "3.18 in"),
    ),
    "peak torque": Fact(
        rf"{whole('369')}[ -]?(?:lbf|lb|pound|ft|foot)|{number('500[.]3')} ?N",
        ("369 lbf*ft", "369 ft-lb", "500.3 N*m", '"369 lbf*ft"', "369 lb-ft", "369 pound-feet"),
        ("1,369 lbf*ft", "369 N*m", "3690 lbf*ft", "369.5 lbf*ft"),
    ),
    "turns per mile": Fact(
        rf"{whole('655(?:[.]0)?')}[ -]?(?:1/mi|rev|turns|per mile|a mile)"
        r"|revs_per_mile\D{0,5}655\b",
        ("655 1/mi", '"655 1/mi"', "655 revs per mile", "revs_per_mile=655.0"),
        ("1,655 1/mi", "655.5 1/mi", "655 mm", "6550 1/mi"),
    ),
    "ratio 3.42": Fact(
        number("3[.]420*"),
        ("3.420 gears", "axle_ratio: 3.42}", '"3.42"', "gears of 3.42.", "3.42,3.73"),
        ("13.42", "0.3420", "3.425", "3.42.1", "2.3.42"),
    ),
    "ratio 4.10": Fact(
        number("4[.]10+"),
        ("[4.10, 4.56]", "3.73,4.10", "keep 4.10.", "4.10:1"),
        ("4.103", "14.10", "griffelib==2.4.10", "4.10.2", "4.1"),
    ),
    "ratio 4.11": Fact(
        number("4[.]110*"),
        ("4.11 gears", "ratio 4.11."),
        ("4.111", "14.11", "4.11.0", "2.4.11"),
    ),
    "ratio 4.56": Fact(
        number("4[.]560*"),
        ("pick: 4.56", "(4.56)", "4.56\n"),
        ("4.563", "14.56", "0.4560", "4.56.1"),
    ),
    "41 teeth": Fact(
        r"ring_teeth[\"']?\s*[:=]\s*41\b",
        ("{ring_teeth: 41, pinion_teeth: 12}", "ring_teeth=41,", '"ring_teeth": 41'),
        ("ring_teeth: 47", "ring_teeth: 410", "pinion_teeth: 41"),
    ),
    **{
        f"41 and {pinion} teeth": Fact(
            teeth(pinion),
            (f"41/{pinion} = x", f"(3.7, 41, {pinion})", f"41 / {pinion}", f"41 and {pinion}"),
            (f"141/{pinion}", f"41/{pinion}5", f"0.41, {pinion}", f"41, {pinion}.5", "47/14"),
        )
        for pinion in (9, 10, 11, 12)
    },
    **{
        name: Fact(word(pattern), found, left_alone)
        for name, pattern, found, left_alone in (
            ("harrow", "harrows?", ("demo/harrow-six", "Harrow's"), ("harrowing",)),
            ("mesa", "mesas?", ("demo/mesa-v8", "MESA", "the Mesa"), ("message", "mesal")),
            ("bulwark", "bulwarks?", ("demo/bulwark-dually", "Bulwark"), ("bulwarked",)),
            ("scree", "scree", ("demo/scree", "Scree"), ("screen", "screed")),
            ("homestead", "homesteads?", ("demo/homestead-six", "homestead_six"), ("homesteader",)),
            ("pallet", "pallet[ _-]?four", ("demo/pallet-four", "Pallet four"), ("pallet",)),
            ("ridge", "ridge[ _-]?runners?", ("ridge-runner", "Ridge Runner"), ("bridge-runner",)),
            ("box", "medium[ _-]?box", ("demo/medium-box", "medium_box"), ("medium boxed",)),
            ("contractor", "contractors?", ("demo/contractor", "Contractors"), ("contract",)),
            ("commuter", "commuters?", ("commuter.yaml", "a commuter"), ("commute",)),
            ("rancher", "ranchers?", ("rancher", "two ranchers"), ("branchers", "ranch")),
            ("hauler", "stock[ _-]?haulers?", ("stock-hauler.yaml", "stock hauler"), ("hauler",)),
            ("club", "trail[ _-]?clubs?", ("trail-club.yaml", "trail club"), ("trail clubbed",)),
            ("diesel", "mid[ -]?size[ _-]diesels?", ("mid-size diesel",), ("compact diesel",)),
            ("torque", "torque enough", ("My engine has torque enough",), ("torque", "enough")),
        )
    },
}  # fmt: skip
PATTERNS = {name: re.compile(fact.pattern, re.IGNORECASE) for name, fact in FACTS.items()}


def sources() -> Iterator[Path]:
    """Every file that someone wrote, outside this folder; no version control is asked."""
    for folder, folders, names in os.walk(ROOT):
        at = Path(folder)
        folders[:] = sorted(
            name
            for name in folders
            if name not in NOT_SOURCES
            and not name.endswith(".egg-info")
            and not (at / name / "pyvenv.cfg").exists()
            and at / name != HERE
        )
        yield from (at / name for name in sorted(names) if name not in NO_TEXT_OF_OURS)


@pytest.fixture(scope="module")
def lines() -> list[tuple[str, str]]:
    """Every line of those files, the next one joined on, with its place; first the file's name."""
    found: list[tuple[str, str]] = []
    for path in sources():
        name = path.relative_to(ROOT).as_posix()
        try:
            text = path.read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError):
            continue  # A link to nowhere, or no text.
        found.append((name, name))
        # A fact may be broken over two lines.
        pairs = pairwise([*text.splitlines(), ""])
        found += [
            (f"{name}:{at}", f"{line} {following.lstrip()}")
            for at, (line, following) in enumerate(pairs, start=1)
        ]
    return found


def records() -> Iterator[tuple[str, Any]]:
    """Each mapping in the files of the catalogs, the plugins and the examples, with its file."""

    def mappings(value: Any) -> Iterator[dict[str, Any]]:
        if isinstance(value, dict):
            yield value
            value = list(value.values())
        if isinstance(value, list):
            for one in value:
                yield from mappings(one)

    for path in sources():
        place = path.relative_to(ROOT)
        if place.parts[0] in ("catalogs", "plugins", "docs") and path.suffix == ".yaml":
            for one in mappings(yaml.safe_load(path.read_text(encoding="utf-8"))):
                yield place.as_posix(), one


def gear_lists(mapping: dict[str, Any]) -> set[tuple[float, ...]]:
    return {tuple(mapping["gears"])} if isinstance(mapping.get("gears"), list) else set()


def tooth_pairs(mapping: dict[str, Any]) -> set[tuple[int, int]]:
    return {(mapping["ring_teeth"], mapping["pinion_teeth"])} if "ring_teeth" in mapping else set()


def shape(text: str) -> tuple[float, float, float]:
    """Width, height and rim [m]: a size is the same whatever it carries."""
    size = tires.parse_size(text)
    return round(size.section_width_m, 4), round(size.diameter_m, 4), size.rim_diameter_m


def tire_shapes(mapping: dict[str, Any]) -> set[tuple[float, float, float]]:
    found = set()
    for key in ("size", "tire", "now", "planned"):
        if isinstance(mapping.get(key), str):
            try:
                found.add(shape(mapping[key]))
            except TireSizeError:
                continue  # An id.
    return found


@pytest.mark.parametrize("name", FACTS)
def test_a_pattern_finds_its_fact_and_leaves_others_alone(name: str) -> None:
    for text in FACTS[name].found:
        assert PATTERNS[name].search(text), text
    for text in FACTS[name].left_alone:
        assert not PATTERNS[name].search(text), text


def test_the_files_looked_through_are_all_but_those_here(lines: list[tuple[str, str]]) -> None:
    names = {path.relative_to(ROOT).as_posix() for path in sources()}
    assert {"README.md", "Makefile", ".ci/run", "pyproject.toml", "gearrec/api.py"} <= names
    assert {"catalogs/core/defaults.yaml", "catalogs/demo/axles.yaml", "tests/conftest.py"} <= names
    assert any(name.startswith("docs/schemas/") for name in names)
    assert any(name.startswith("plugins/towing/tests/") for name in names)
    assert any(name.endswith(".template") for name in names)
    assert not any(name.startswith("tests/reference/") for name in names)
    assert {name.partition(":")[0] for name, _ in lines} <= names


@pytest.mark.parametrize("name", FACTS)
def test_no_fact_of_the_trade_stands_elsewhere(name: str, lines: list[tuple[str, str]]) -> None:
    found = [f"{at}: {line.strip()[:90]}" for at, line in lines if PATTERNS[name].search(line)]
    if found:
        pytest.fail("\n".join(found), pytrace=False)


@pytest.mark.parametrize("part", [gear_lists, tooth_pairs, tire_shapes])
def test_no_truck_of_a_catalog_has_a_part_of_the_trade_s_trucks(
    trade: dict[str, Any], part: Any
) -> None:
    trucks = [*trade["trucks"].values(), *trade["other_classes"].values()]
    own = set()
    for truck in trucks:
        own |= part(truck["transmission"]) | part(truck["factory"])
        factory_tire = truck["factory"]["tire"]
        own |= part(factory_tire) if isinstance(factory_tire, dict) else set()
        for axle in truck["axles"].values():
            for gear_set in axle["gear_sets"]:
                own |= part(gear_set)
    if part is tire_shapes:
        own |= {shape(text) for text in (*trade["up_to_32_inches"], *trade["above_32_inches"])}
    assert own
    seen = [(place, found) for place, mapping in records() for found in part(mapping)]
    assert {place.partition("/")[0] for place, _ in seen} == {"catalogs", "docs", "plugins"}
    same = [f"{place}: {found}" for place, found in seen if found in own]
    if same:
        pytest.fail("\n".join(same), pytrace=False)
