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


def copy(folder: Path, of: Path = SHIPPED) -> Path:
    for name in ("core", "demo"):
        shutil.copytree(of / name, folder / name)
    return folder


# Two rules that can be worked out by hand stand in for the default ones: the pick is the ratio that
# changes the factory's gearing by what is nearest to a target, or, once it weighs, the thriftiest.
NEAR = """\
kind: rule
format: 1
records:
  - id: core/near
    title: Near the factory's gearing
    since: "0.1.0"
    verdict: preference
    metric: gearing_change
    shape: {near: {target: "0 %", full_within: "0 %", zero_below: "50 %", zero_above: "50 %"}}
    weight: 10
    what: Asks for a change near a target.
    why: Invented for tests.
    when_to_doubt: Always.
    example: {words: Gears a quarter deeper., value: "25 %", attributes: {}, expect: {score: 0.5}}
    says: {good: "{ratio} is near ({value}).", poor: "{ratio} is not near ({value})."}
"""
THRIFT = """\
  - id: core/thrift
    title: Little fuel
    since: "0.1.0"
    verdict: preference
    metric: fuel_change
    shape: {at_most: {full: "0 %", zero: "50 %"}}
    weight: 0.01
    what: Asks for little fuel.
    why: Invented for tests.
    when_to_doubt: Always.
    example: {words: A quarter more., value: "25 %", attributes: {}, expect: {score: 0.5}}
    says: {good: "{ratio} is thrifty ({value}).", poor: "{ratio} is not thrifty ({value})."}
"""
RULE_SET = """\
kind: rule-set
format: 1
records:
  - id: core/default
    title: Rules worked out by hand
    purpose: tests
    rules:
      - core/near
      - core/thrift
      - core/tow-rating
      - core/front-rear-match
      - core/rear-front-match
"""


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The shipped catalogs with the two rules, and the limits of the axles, as their default."""
    folder = copy(tmp_path_factory.mktemp("plain"))
    (folder / "core" / "rules" / "toy.yaml").write_text(NEAR + THRIFT)
    (folder / "core" / "rule-sets" / "default.yaml").write_text(RULE_SET)
    return folder


def replace(file: Path, old: str, new: str) -> None:
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new), encoding="utf-8")


def compared(old: Path, folder: Path, *changes: Change) -> Comparison:
    """Catalogs against a copy with changes."""
    new = copy(folder / "new", old)
    for change in changes:
        change(new)
    return compare(old, new, plugins=(), cache="off")


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


def test_the_same_catalogs_give_the_same_advice(tmp_path: Path) -> None:
    found = compared(SHIPPED, tmp_path)
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


def test_a_changed_rule_is_found_to_have_done_it(plain: Path, tmp_path: Path) -> None:
    def more(new: Path) -> None:
        replace(new / "core" / "rules" / "toy.yaml", 'target: "0 %"', 'target: "15 %"')

    found = compared(plain, tmp_path, more)
    assert [change.id for change in found.records] == ["core/near"]
    assert found.rules == ("rule core/near (shape)",)
    light = next(change for change in found.changes if change.case == "demo/fell-empty")
    assert light.before.name == "3.36"
    # By hand: 3.85 is 14.6 % above 3.36; 3.62 is only 7.7 %, and 4.18 already 24.6 %.
    assert light.after.name == "3.85"
    assert light.cause.side == "rules"
    assert light.cause.alone == ("rule core/near (shape)",)
    first = light.shifts[0]
    assert first.rule == "core/near"
    assert first.before < 0.0 < first.after
    assert light.before.margin is not None
    assert light.before.margin > 0.0
    for change in found.changes:
        assert change.before.pick != change.after.pick
        assert change.cause.side == "rules"


def test_a_changed_weight_in_the_rule_set_is_a_change_of_the_rule(
    plain: Path, tmp_path: Path
) -> None:
    def thrifty(new: Path) -> None:
        replace(new / "core" / "rules" / "toy.yaml", "weight: 0.01", "weight: 6000")

    found = compared(plain, tmp_path, thrifty)
    assert found.rules == ("rule core/thrift (weight)",)
    # Light use on level roads: a numerically higher ratio costs fuel (steady cruise, same gear).
    light = [change for change in found.changes if "core/unloaded-highway" in change.words]
    assert light
    for change in light:
        assert change.before.pick is not None
        assert change.after.pick is not None
        assert change.after.pick < change.before.pick


def test_a_dropped_rule_is_named(plain: Path, tmp_path: Path) -> None:
    def drop(new: Path) -> None:
        replace(new / "core" / "rule-sets" / "default.yaml", "      - core/near\n", "")

    found = compared(plain, tmp_path, drop)
    assert found.rules == ("rule core/near dropped",)
    assert found.changes
    assert {change.cause.alone for change in found.changes} == {("rule core/near dropped",)}


def test_a_changed_record_is_found_to_have_done_it(plain: Path, tmp_path: Path) -> None:
    found = compared(plain, tmp_path, without_gear_set("fell-rear", "50/13"))
    assert [str(change) for change in found.records] == ["axle demo/fell-rear changed (gear_sets)"]
    assert found.rules == ()
    tall = next(change for change in found.changes if change.case == "demo/fell-tall-tires")
    # By hand, tires 14.2 % taller: 3.85 acts like +0.3 %, 3.62 like -5.7 %, 4.18 like +9.1 %.
    assert tall.before.name == "3.85"
    assert tall.after.name == "3.62"
    assert tall.cause.side == "records"
    assert tall.cause.alone == ("axle demo/fell-rear changed (gear_sets)",)
    touched = {change.words.split(",")[0] for change in found.changes if not change.case}
    assert touched == {"demo/fell", "demo/skep"}


def test_what_only_two_changes_do_is_said_to_be_done_together(plain: Path, tmp_path: Path) -> None:
    found = compared(
        plain,
        tmp_path,
        without_gear_set("fell-rear", "50/13"),
        without_gear_set("fell-front", "47/13"),
    )
    changed = {change.case: change for change in found.changes if change.case}
    tall = changed["demo/fell-tall-tires"]
    # Without 3.85 it would take 3.62, but that has no partner in the front axle any more; 4.18 acts
    # like +9.1 %, 3.36 like -12.4 %.
    assert (tall.before.name, tall.after.name) == ("3.85", "4.18")
    assert tall.cause.alone == ()
    assert tall.cause.side == "records"


def test_a_rule_and_a_record_are_told_apart(plain: Path, tmp_path: Path) -> None:
    def words(new: Path) -> None:
        file = new / "core" / "rules" / "tow-rating.yaml"
        replace(file, "title: ", "title: New ")

    def heavier(new: Path) -> None:
        replace(new / "demo" / "platforms.yaml", 'curb_mass: "2760 lb"', 'curb_mass: "2770 lb"')

    found = compared(plain, tmp_path, words, heavier, without_gear_set("sprig-rear", "46/11"))
    assert found.rules == ()
    by_id = {change.id: change for change in found.records}
    assert by_id["core/tow-rating"].words_only
    assert not by_id["demo/sprig"].words_only
    assert by_id["demo/sprig"].place.line > 0
    assert by_id["demo/sprig"].keys == ("curb_mass",)
    # By hand: 4.18 is 8.7 % above the Sprig's 3.85, next to which it comes on tires 9 % taller.
    assert found.changes
    for change in found.changes:
        assert change.cause.alone == ("axle demo/sprig-rear changed (gear_sets)",)


def test_other_words_change_no_pick_but_are_listed(plain: Path, tmp_path: Path) -> None:
    def reword(new: Path) -> None:
        file = new / "core" / "rules" / "tow-rating.yaml"
        replace(file, 'caution: "It tows', 'caution: "As ever, it tows')

    found = compared(plain, tmp_path, reword)
    assert found.changes == ()
    assert not found.same
    assert found.rules == ()
    assert all(change.words_only for change in found.records)
    assert "demo/fell-horses" in found.reworded
    assert "demo/fell-empty" not in found.reworded


def test_a_platform_that_is_gone_cannot_be_asked_about(plain: Path, tmp_path: Path) -> None:
    def drop(new: Path) -> None:
        file = new / "demo" / "platforms.yaml"
        before, *records = file.read_text().split("  - id: ")
        kept = [record for record in records if not record.startswith("demo/sprig\n")]
        file.write_text("  - id: ".join([before, *kept]))
        (new / "demo" / "cases" / "sprig.yaml").unlink()

    found = compared(plain, tmp_path, drop)
    assert found.changes == ()
    gone = {one.words.split(",")[0] for one in found.unanswered if not one.case}
    assert gone == {"demo/sprig"}
    assert all("demo/sprig" in one.new and not one.old for one in found.unanswered)
    assert any(one.case == "demo/sprig-post" for one in found.unanswered)


def test_both_ways_the_same_advices_change(plain: Path, tmp_path: Path) -> None:
    new = copy(tmp_path / "new", plain)
    without_gear_set("fell-rear", "50/13")(new)
    there = compare(plain, new, plugins=(), cache="off")
    back = compare(new, plain, plugins=(), cache="off")
    assert there.changes
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
    (folder / "rules.yaml").write_text(NEAR.replace("core/", "shop/"))
    (folder / "rule-sets.yaml").write_text(
        "kind: rule-set\nformat: 1\nrecords:\n  - id: shop/two\n    title: Two\n    purpose: test\n"
        "    rules: [shop/near, core/fuel-economy]\n  - id: shop/own\n    title: Own\n"
        f"    purpose: test\n    extends: shop/two\n    weights: {weights}\n"
    )
    (folder / "cases.yaml").write_text(
        "kind: case\nformat: 1\nrecords:\n  - id: shop/one\n    title: One\n    why: For a test.\n"
        "    job: {vehicle: demo/fell, tires: {planned: LT255/85R16 123/120Q E}, "
        "use: core/unloaded-highway, rule_set: shop/own}\n"
        '    expect: {metrics: [{metric: tire_growth, value: "14.2 %", tolerance: "0.1 %"}]}\n'
    )
    return folder


def test_a_shop_that_changes_a_weight_sees_its_own_case_change(tmp_path: Path) -> None:
    old = shop(tmp_path / "old", "{core/fuel-economy: 0.01}")
    new = shop(tmp_path / "new", "{core/fuel-economy: 100}")
    found = compare(old, new, plugins=(), cache="off")
    (change,) = found.changes
    assert change.case == "shop/one"
    # By hand: on tires 14.2 % taller 3.85 acts like +0.3 %; a taller axle saves fuel on level road.
    assert change.before.name == "3.85"
    assert change.before.pick is not None
    assert change.after.pick is not None
    assert change.after.pick < change.before.pick
    assert change.cause.alone == ("rule core/fuel-economy (weight factor 0.01 to 100)",)
    assert found.rules == ()


def test_an_exported_revision_is_found_by_its_catalogs_folder(tmp_path: Path) -> None:
    copy(tmp_path / "export" / "catalogs")
    assert compare(SHIPPED, tmp_path / "export", plugins=(), cache="off").same


def test_one_catalog_alone_takes_the_place_of_the_built_in_one(tmp_path: Path) -> None:
    new = copy(tmp_path)
    without_gear_set("fell-rear", "46/11")(new)
    old, changed = revision(SHIPPED, plugins=()), revision(new / "demo", plugins=(), cache="off")
    assert [change.id for change in record_changes(old.catalog, changed.catalog)] == [
        "demo/fell-rear"
    ]


def test_a_folder_without_a_catalog_is_refused(tmp_path: Path) -> None:
    with pytest.raises(CatalogError, match="there is no catalog"):
        compare(SHIPPED, tmp_path, plugins=())
    with pytest.raises(CatalogError, match="there is no catalog"):
        compare(tmp_path / "nothing", SHIPPED, plugins=())


def test_errors_in_a_revision_are_all_told(tmp_path: Path) -> None:
    new = copy(tmp_path)
    replace(new / "demo" / "tires.yaml", "size: 235/70R16 109T", "size: 235/70")
    with pytest.raises(CatalogError, match=r"tires\.yaml"):
        compare(SHIPPED, new, plugins=(), cache="off")
