"""Comparing two revisions of catalogs: which advice changes, and which rule or record did it."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import pytest

from gearrec.builtin import catalogs_folder
from gearrec.catalog_changes import record_changes, revision
from gearrec.comparing import Comparison, compare
from gearrec.comparison_jobs import GROWTHS
from gearrec.errors import CatalogError

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    Change = Callable[[Path], None]

SHIPPED = catalogs_folder()


def copy(folder: Path) -> Path:
    for name in ("core", "demo"):
        shutil.copytree(SHIPPED / name, folder / name)
    return folder


def replace(file: Path, old: str, new: str) -> None:
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new), encoding="utf-8")


def compared(folder: Path, *changes: Change) -> Comparison:
    """The shipped catalogs against a copy with changes."""
    new = copy(folder / "new")
    for change in changes:
        change(new)
    return compare(SHIPPED, new, plugins=(), cache="off")


def without_gear_set(axle: str, teeth: str) -> Change:
    def change(new: Path) -> None:
        file = new / "demo" / "axles.yaml"
        before, head, after = file.read_text().partition(f"  - id: demo/{axle}\n")
        lines = after.splitlines(keepends=True)
        ring, pinion = teeth.split("/")
        mark = f"ring_teeth: {ring}, pinion_teeth: {pinion}"
        lines.remove(next(line for line in lines if mark in line))
        file.write_text(before + head + "".join(lines))

    return change


def no_expectations(new: Path) -> None:
    shutil.rmtree(new / "demo" / "cases")


def test_the_same_catalogs_give_the_same_advice(tmp_path: Path) -> None:
    found = compared(tmp_path)
    assert found.same
    assert found.records == ()
    assert found.rules == ()
    advisor = revision(SHIPPED, plugins=())
    pairs = sum(
        len(platform.powertrains) for platform in advisor.catalog.records("platform").values()
    )
    uses = len(advisor.catalog.ids("use-profile"))
    cases = len(advisor.catalog.ids("case"))
    assert found.cases == cases
    assert found.compared == cases + pairs * uses * len(GROWTHS)
    assert len(GROWTHS) == 7


def test_a_changed_rule_is_found_to_have_done_it(tmp_path: Path) -> None:
    def more(new: Path) -> None:
        file = new / "core" / "rules" / "gearing-change.yaml"
        replace(file, 'base: "0 %"', 'base: "15 %"')

    found = compared(tmp_path, more)
    assert [change.id for change in found.records] == ["core/gearing-change"]
    assert found.rules == ("rule core/gearing-change (shape)",)
    light = next(change for change in found.changes if change.case == "demo/harrow-diesel-light")
    assert light.before.name == "3.42"
    # By hand: a target of 15 % lies between 3.73 (9.1 %) and 4.10 (20 %).
    assert light.after.name in ("3.73", "4.10")
    assert light.cause.side == "rules"
    assert light.cause.alone == ("rule core/gearing-change (shape)",)
    first = light.shifts[0]
    assert first.rule == "core/gearing-change"
    assert first.before < 0.0 < first.after
    assert light.before.margin is not None
    assert light.before.margin > 0.0
    for change in found.changes:
        assert change.before.pick != change.after.pick
        assert change.cause.side == "rules"


def test_a_changed_weight_in_the_rule_set_is_a_change_of_the_rule(tmp_path: Path) -> None:
    def thrifty(new: Path) -> None:
        file = new / "core" / "rules" / "fuel-economy.yaml"
        text = file.read_text()
        (line,) = [one for one in text.splitlines() if one.startswith("    weight:")]
        file.write_text(text.replace(line, "    weight: 60"))

    found = compared(tmp_path, thrifty)
    assert found.rules == ("rule core/fuel-economy (weight)",)
    # Light use on level roads: a numerically higher ratio costs fuel (steady cruise, same gear).
    light = [change for change in found.changes if "core/unloaded-highway" in change.words]
    assert light
    for change in light:
        assert change.before.pick is not None
        assert change.after.pick is not None
        assert change.after.pick < change.before.pick


def test_a_dropped_rule_is_named(tmp_path: Path) -> None:
    def drop(new: Path) -> None:
        replace(new / "core" / "rule-sets" / "default.yaml", "      - core/gearing-change\n", "")

    found = compared(tmp_path, drop)
    assert found.rules == ("rule core/gearing-change dropped",)
    assert found.changes
    assert {change.cause.alone for change in found.changes} == {
        ("rule core/gearing-change dropped",)
    }


def test_a_changed_record_is_found_to_have_done_it(tmp_path: Path) -> None:
    found = compared(tmp_path, without_gear_set("midsize-rear", "41/9"))
    assert [str(change) for change in found.records] == [
        "axle demo/midsize-rear changed (gear_sets)"
    ]
    assert found.rules == ()
    tall = next(
        change for change in found.changes if change.case == "demo/harrow-diesel-33-some-towing"
    )
    # Common practice, no source: 4.56 above 32 in; where it is gone, the next one below.
    assert tall.before.name == "4.56"
    assert tall.after.name == "4.10"
    assert tall.cause.side == "records"
    assert tall.cause.alone == ("axle demo/midsize-rear changed (gear_sets)",)
    touched = {change.words.split(",")[0] for change in found.changes if not change.case}
    assert touched == {"demo/harrow-diesel", "demo/harrow-six"}


def test_what_only_two_changes_do_is_said_to_be_done_together(tmp_path: Path) -> None:
    found = compared(
        tmp_path,
        without_gear_set("midsize-rear", "41/10"),
        without_gear_set("midsize-front", "41/9"),
        no_expectations,
    )
    changed = {change.case: change for change in found.changes if change.case}
    tows = changed["demo/harrow-diesel-31-some-towing"]
    # Without 4.10 it would take 4.56, but that has no partner in the front axle any more.
    assert (tows.before.name, tows.after.name) == ("4.10", "3.73")
    assert tows.cause.alone == ()
    assert tows.cause.side == "records"


def test_a_rule_and_a_record_are_told_apart(tmp_path: Path) -> None:
    def words(new: Path) -> None:
        file = new / "core" / "rules" / "shift-rate.yaml"
        replace(file, "title: ", "title: New ")

    def heavier(new: Path) -> None:
        replace(new / "demo" / "platforms.yaml", 'curb_mass: "3050 lb"', 'curb_mass: "3060 lb"')

    found = compared(tmp_path, words, heavier, without_gear_set("small-rear", "41/9"))
    assert found.rules == ()
    by_id = {change.id: change for change in found.records}
    assert by_id["core/shift-rate"].words_only
    assert not by_id["demo/pallet-four"].words_only
    assert by_id["demo/pallet-four"].place.line > 0
    assert by_id["demo/pallet-four"].keys == ("curb_mass",)
    for change in found.changes:
        assert change.cause.alone == ("axle demo/small-rear changed (gear_sets)",)


def test_other_words_change_no_pick_but_are_listed(tmp_path: Path) -> None:
    def reword(new: Path) -> None:
        file = new / "core" / "rules" / "tow-rating.yaml"
        replace(file, 'caution: "It tows', 'caution: "As ever, it tows')

    found = compared(tmp_path, reword)
    assert found.changes == ()
    assert not found.same
    assert found.rules == ()
    assert all(change.words_only for change in found.records)
    assert "demo/harrow-diesel-factory-some-towing" in found.reworded
    assert "demo/harrow-diesel-light" not in found.reworded


def test_a_platform_that_is_gone_cannot_be_asked_about(tmp_path: Path) -> None:
    def drop(new: Path) -> None:
        file = new / "demo" / "platforms.yaml"
        text = file.read_text()
        file.write_text(text[: text.index("  - id: demo/pallet-four")])
        (new / "demo" / "cases" / "pallet-four.yaml").unlink()

    found = compared(tmp_path, drop)
    assert found.changes == ()
    gone = {one.words.split(",")[0] for one in found.unanswered if not one.case}
    assert gone == {"demo/pallet-four"}
    assert all("demo/pallet-four" in one.new and not one.old for one in found.unanswered)
    assert any(one.case == "demo/pallet-light" for one in found.unanswered)


def test_both_ways_the_same_advices_change(tmp_path: Path) -> None:
    new = copy(tmp_path / "new")
    without_gear_set("midsize-rear", "41/9")(new)
    there = compare(SHIPPED, new, plugins=(), cache="off")
    back = compare(new, SHIPPED, plugins=(), cache="off")
    assert {change.words: (change.before, change.after) for change in there.changes} == {
        change.words: (change.after, change.before) for change in back.changes
    }


def shop(folder: Path, weights: str) -> Path:
    """A shop's small catalog on top of the built-in ones: its own rule set, asked by a case."""
    folder.mkdir(parents=True)
    (folder / "catalog.yaml").write_text(
        "kind: catalog\nformat: 1\nnamespace: shop\ntitle: A shop (invented)\nabout: a test\n"
        'version: "1"\nsource: {kind: invented, citation: test, confidence: low}\n'
    )
    (folder / "rules.yaml").write_text(
        "kind: rule-set\nformat: 1\nrecords:\n  - id: shop/own\n    title: Own\n    purpose: test\n"
        f"    extends: core/default\n    weights: {weights}\n"
    )
    (folder / "cases.yaml").write_text(
        "kind: case\nformat: 1\nrecords:\n  - id: shop/one\n    title: One\n    why: For a test.\n"
        "    job: {vehicle: demo/harrow-diesel, tires: {planned: LT285/70R17 121/118S E}, "
        "rule_set: shop/own}\n    expect: {pick: 4.10, acceptable: [3.42, 3.73, 4.56]}\n"
    )
    return folder


def test_a_shop_that_changes_a_weight_sees_its_own_case_change(tmp_path: Path) -> None:
    old = shop(tmp_path / "old", "{core/fuel-economy: 1.1}")
    new = shop(tmp_path / "new", "{core/fuel-economy: 100}")
    found = compare(old, new, plugins=(), cache="off")
    (change,) = found.changes
    assert change.case == "shop/one"
    assert change.after.pick is not None
    assert change.before.pick is not None
    assert change.after.pick < change.before.pick
    assert change.cause.alone == ("rule core/fuel-economy (weight factor 1.1 to 100)",)
    assert found.rules == ()


def test_an_exported_revision_is_found_by_its_catalogs_folder(tmp_path: Path) -> None:
    copy(tmp_path / "export" / "catalogs")
    assert compare(SHIPPED, tmp_path / "export", plugins=(), cache="off").same


def test_one_catalog_alone_takes_the_place_of_the_built_in_one(tmp_path: Path) -> None:
    new = copy(tmp_path)
    without_gear_set("midsize-rear", "41/9")(new)
    old, changed = revision(SHIPPED, plugins=()), revision(new / "demo", plugins=(), cache="off")
    assert [change.id for change in record_changes(old.catalog, changed.catalog)] == [
        "demo/midsize-rear"
    ]


def test_a_folder_without_a_catalog_is_refused(tmp_path: Path) -> None:
    with pytest.raises(CatalogError, match="there is no catalog"):
        compare(SHIPPED, tmp_path, plugins=())
    with pytest.raises(CatalogError, match="there is no catalog"):
        compare(tmp_path / "nothing", SHIPPED, plugins=())


def test_errors_in_a_revision_are_all_told(tmp_path: Path) -> None:
    new = copy(tmp_path)
    replace(new / "demo" / "tires.yaml", "size: 255/65R17 110T", "size: 255/65")
    with pytest.raises(CatalogError, match=r"tires\.yaml"):
        compare(SHIPPED, new, plugins=(), cache="off")
