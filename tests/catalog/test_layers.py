"""Several catalogs in order: clashes, overrides, `extends`, aliases, sources, references."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from gearrec.catalog.store import load
from gearrec.catalog.validation import inspect
from gearrec.errors import CatalogError

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    Write = Callable[..., Path]

TRAILER = """
    kind: trailer
    format: 1
    records:
      - id: {id}
        title: Box
        mass: "3000 kg"
        drag_area: "2 m^2"
        rolling_coefficient: 0.01
        tongue_share: "12 %"
    """


def trailer(record_id: str) -> str:
    return TRAILER.format(id=record_id)


def records(kind: str, *texts: str) -> str:
    lines = [f"kind: {kind}", "format: 1", "records:"]
    for text in texts:
        first, *rest = text.strip().splitlines()
        lines += [f"  - {first.strip()}", *(f"    {line.strip()}" for line in rest)]
    return "\n".join(lines) + "\n"


def refused(*folders: Path) -> str:
    with pytest.raises(CatalogError) as caught:
        load(folders, cache="off")
    return str(caught.value)


def test_the_same_id_twice_names_both_files(write_catalog: Write) -> None:
    one = write_catalog("shop", {"a.yaml": trailer("shop/box")}, folder="one")
    two = write_catalog("shop", {"b.yaml": trailer("shop/box")}, folder="two")
    text = refused(one, two)
    assert re.search(r"two/b\.yaml:4:\d+.*'shop/box' is already taken: .*one/a\.yaml:4:\d+", text)
    assert "overrides:" in text


def test_an_id_outside_the_namespace_is_refused(write_catalog: Write) -> None:
    text = refused(write_catalog("shop", {"a.yaml": trailer("other/box")}))
    assert "allowed: shop/..." in text


def test_a_later_catalog_overrides_fields_on_purpose(write_catalog: Write) -> None:
    base = write_catalog("base", {"a.yaml": trailer("base/box")})
    change = records("trailer", 'overrides: base/box\nmass: "3500 kg"')
    mine = write_catalog("mine", {"b.yaml": change})
    catalog = load([base, mine], cache="off")
    box = catalog.get("trailer", "base/box")
    assert box.mass == 3500.0
    assert box.tongue_share == 0.12
    (use,) = catalog.records_used([("trailer", "base/box")])
    assert use.overridden_by == (str(mine / "b.yaml"),)


def test_an_override_needs_the_explicit_order(write_catalog: Write) -> None:
    base = write_catalog("base", {"a.yaml": trailer("base/box")})
    mine = write_catalog(
        "mine", {"b.yaml": records("trailer", 'overrides: base/box\nmass: "3500 kg"')}
    )
    assert "not in a catalog that comes before this one" in refused(mine, base)


def test_a_mistake_in_an_override_is_told_in_its_own_file(write_catalog: Write) -> None:
    base = write_catalog("base", {"a.yaml": trailer("base/box")})
    mine = write_catalog(
        "mine", {"b.yaml": records("trailer", "overrides: base/box\nmass: 3500\nmas: 1")}
    )
    text = refused(base, mine)
    assert re.search(r"mine/b\.yaml:5:\d+: records\[0\]\.mass: 3500 has no unit", text)
    assert re.search(r"mine/b\.yaml:6:\d+: .*unknown key 'mas'.*did you mean 'mass'", text)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ('overrides: base/bx\nmass: "3500 kg"', "did you mean 'base/box'?"),
        ("overrides: base/box\nid: mine/box", "'id' cannot be overridden"),
        ("overrides: base/box\naliases: [mine/x]", "'aliases' cannot be overridden"),
        (
            "overrides: base/box\nwithout: [mas]",
            "'mas' is no field that can be left out; allowed: deprecated",
        ),
        ("overrides: base/box\nwithout: [mass]", "the key 'mass' is missing"),
        ("id: mine/a\ntitle: A\nextends: base/bx", "did you mean 'base/box'?"),
        ("id: mine/a\ntitle: A\nextends: mine/a", "extends itself: mine/a -> mine/a"),
        ("id: mine/a\ntitle: A\nwithout: [mass]", "'without' belongs to"),
        ("id: mine/a\ntitle: A\naliases: [base/box]\nextends: base/box", "alias 'base/box'"),
        ("title: A", "a record needs an id, such as 'mine/its-name'"),
    ],
)
def test_directives_that_cannot_be_followed(write_catalog: Write, change: str, words: str) -> None:
    base = write_catalog("base", {"a.yaml": trailer("base/box")})
    mine = write_catalog("mine", {"b.yaml": records("trailer", change)})
    assert words in refused(base, mine)


def test_extends_takes_over_what_is_not_given(write_catalog: Write) -> None:
    base = write_catalog("base", {"a.yaml": trailer("base/box")})
    child = "id: mine/{n}\ntitle: {n}\nextends: {p}\n{more}"
    mine = write_catalog(
        "mine",
        {
            "b.yaml": records(
                "trailer",
                child.format(n="grandchild", p="mine/child", more='tongue_share: "10 %"'),
                child.format(n="child", p="base/box", more='mass: "2500 kg"'),
            )
        },
    )
    catalog = load([base, mine], cache="off")
    found = catalog.get("trailer", "mine/grandchild")
    assert (found.title, found.mass, found.tongue_share) == ("grandchild", 2500.0, 0.10)
    assert found.drag_area == 2.0
    used = catalog.records_used([("trailer", "mine/grandchild")])
    assert [use.id for use in used] == ["base/box", "mine/child", "mine/grandchild"]


def test_extends_does_not_go_round_in_circles(write_catalog: Write) -> None:
    mine = write_catalog(
        "mine",
        {
            "a.yaml": records(
                "trailer",
                "id: mine/a\ntitle: A\nextends: mine/b",
                "id: mine/b\ntitle: B\nextends: mine/a",
            )
        },
    )
    assert "extends itself: mine/a -> mine/b -> mine/a" in refused(mine)


def test_an_inherited_mistake_is_told_where_it_was_written(write_catalog: Write) -> None:
    base = write_catalog("base", {"a.yaml": trailer("base/box").replace('"2 m^2"', '"2 m"')})
    mine = write_catalog(
        "mine", {"b.yaml": records("trailer", "id: mine/a\ntitle: A\nextends: base/box")}
    )
    lines = [line for line in refused(base, mine).splitlines() if "drag_area" in line]
    assert lines
    assert all("base/a.yaml:7:" in line for line in lines)


def test_without_leaves_a_field_out(write_catalog: Write, shop: Path) -> None:
    mine = write_catalog(
        "mine",
        {
            "b.yaml": records(
                "platform",
                "id: mine/pickup\ntitle: Mine\nextends: shop/pickup\nwithout: [drag_area]\n"
                "road_load: {a: '190 N', b: '15 N*s/m', c: '0.4 N*s^2/m^2', test_mass: '2000 kg'}",
            )
        },
    )
    platform = load([shop, mine], cache="off").get("platform", "mine/pickup")
    assert platform.drag_area is None
    assert platform.road_load.a == 190.0


def test_source_comes_from_record_file_catalog_in_this_order(write_catalog: Write) -> None:
    own = "{kind: measured, citation: own, confidence: high}"
    of_file = "source: {kind: published, citation: file, confidence: high}\n"
    text = trailer("shop/{n}")
    shop = write_catalog(
        "shop",
        {
            "a.yaml": text.format(n="catalog"),
            "b.yaml": of_file + records("trailer", *_body("file")),
            "c.yaml": of_file + records("trailer", *_body("own", f"source: {own}")),
        },
    )
    catalog = load([shop], cache="off")
    kinds = {name: catalog.get("trailer", f"shop/{name}").source.kind for name in _NAMES}
    assert kinds == {"catalog": "invented", "file": "published", "own": "measured"}
    (use,) = catalog.records_used([("trailer", "shop/catalog")])
    assert use.invented


_NAMES = ("catalog", "file", "own")


def _body(name: str, more: str = "") -> tuple[str, ...]:
    return (
        f'id: shop/{name}\ntitle: Box\nmass: "3000 kg"\ndrag_area: "2 m^2"\n'
        f'rolling_coefficient: 0.01\ntongue_share: "12 %"\n{more}',
    )


@pytest.mark.parametrize(
    ("top", "words"),
    [
        ("kind: trailr\nformat: 1", "did you mean 'trailer'?"),
        ("kind: trailer\nformat: 2", "format 2 is not known to this version; allowed: 1"),
        ("kind: trailer", "the key 'format' is missing at the top of the file; write 'format: 1'"),
        ("format: 1", "write 'kind: ...' with one of engine-class, engine"),
        ("kind: trailer\nformat: 1\nrecord: []", "did you mean 'records'?"),
        ("kind: trailer\nformat: 1\nsource: {kind: x}", "source.kind: found 'x'"),
    ],
)
def test_the_top_of_a_file(write_catalog: Write, top: str, words: str) -> None:
    shop = write_catalog("shop", {"a.yaml": f"{top}\nrecords:\n  - id: shop/a\n    title: A\n"})
    assert words in refused(shop)


@pytest.mark.parametrize("broken", ["kind: engine\n\tformat: 1\n", "format: 1\nrecords: []\n"])
def test_what_may_stand_in_a_broken_file_is_told_to(write_catalog: Write, broken: str) -> None:
    tire = records("tire", "id: shop/t\ntitle: T\nsize: 235/70R16 109T\ntype: shop/x")
    shop = write_catalog("shop", {"a.yaml": tire, "b.yaml": broken})
    words = refused(shop)
    assert "no record 'shop/x' of the kind tire-type; it may stand in " in words
    assert "b.yaml, which has to be mended first" in words


@pytest.mark.parametrize("body", ["records: []", "records: 5", "records: [5]", "records:\n  - 5"])
def test_records_must_be_a_list_of_mappings(write_catalog: Write, body: str) -> None:
    shop = write_catalog("shop", {"a.yaml": f"kind: trailer\nformat: 1\n{body}\n"})
    assert re.search(r"a\.yaml:\d+:\d+: records.*allowed: a (list|mapping)", refused(shop))


@pytest.mark.parametrize(
    ("file", "old", "new", "words"),
    [
        ("platforms.yaml", "engine: shop/four", "engine: shop/fuor", "did you mean 'shop/four'?"),
        (
            "platforms.yaml",
            "rear: shop/rear",
            "rear: shop/front",
            "is a front axle; allowed: a rear",
        ),
        ("platforms.yaml", "tire: shop/tall", "tire: shop/rear", "of the kind axle; allowed"),
        ("platforms.yaml", "axle_ratio: 3.36", "axle_ratio: 3.62", "allowed: 3.36, 3.85"),
        ("engines.yaml", "engine_class: shop/diesel", "engine_class: shop/petrol", "no record"),
        ("platforms.yaml", "drive: rear", "drive: full-time-four", "driven front axle is due"),
        ("platforms.yaml", 'drag_area: "1.4 m^2"', "", "either drag_area or road_load"),
        ("engines.yaml", '"1800 rpm"', '"800 rpm"', "above the one before"),
        ("tires.yaml", "235/70R16 109T", "2355/70R16", "records[0].size"),
        (
            "axles.yaml",
            "{ring_teeth: 50, pinion_teeth: 13}",
            "{ring_teeth: 47, pinion_teeth: 14}",
            "listed twice",
        ),
    ],
)
def test_what_does_not_fit_together(shop: Path, file: str, old: str, new: str, words: str) -> None:
    path = shop / file
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))
    found = refused(shop)
    assert words in found
    assert all(re.match(r".*\.yaml:\d+:\d+: ", line) for line in found.splitlines())


def test_problems_of_all_files_come_in_one_pass_sorted(shop: Path) -> None:
    for name in ("tires.yaml", "axles.yaml", "engines.yaml"):
        path = shop / name
        path.write_text(path.read_text().replace("title:", "titel:"))
    (shop / "broken.yaml").write_text("kind: [")
    with pytest.raises(CatalogError) as caught:
        load([shop], cache="off")
    problems = caught.value.problems
    files = {problem.place.file.rpartition("/")[2] for problem in problems}
    assert {"tires.yaml", "axles.yaml", "engines.yaml", "broken.yaml"} <= files
    assert list(problems) == sorted(problems)


def test_renamed_and_deprecated_records_are_warned_of(write_catalog: Write, shop: Path) -> None:
    path = shop / "tires.yaml"
    path.write_text(
        path.read_text()
        + '    aliases: [shop/old]\n    deprecated: {since: "1.1", why: Measured again.}\n'
    )
    platforms = shop / "platforms.yaml"
    platforms.write_text(platforms.read_text().replace("tire: shop/tall", "tire: shop/old"))
    catalog = load([shop], cache="off")
    words = [problem.message for problem in catalog.warnings]
    assert any("'shop/old' was renamed; write 'shop/tall'" in text for text in words)
    assert any("'shop/tall' is deprecated since 1.1" in text for text in words)
    assert catalog.get("tire", "shop/old").id == "shop/tall"
    assert catalog.deprecations([("tire", "shop/old")]) == (
        "shop/old was renamed; write shop/tall.",
        "shop/tall is deprecated since 1.1: Measured again.",
    )


def test_unused_records_and_missing_sources_are_reported(shop: Path) -> None:
    manifest = shop / "catalog.yaml"
    lines = manifest.read_text().splitlines()
    manifest.write_text("\n".join(line for line in lines if not line.startswith("source")) + "\n")
    found = inspect([shop])
    assert not found.problems
    assert [problem.message for problem in found.unused] == ["no record uses 'shop/front'"]
    assert len(found.without_source) == 7
    assert "axles.yaml:" in str(found.without_source[0])


def test_a_folder_without_manifest_is_one_problem(tmp_path: Path, shop: Path) -> None:
    (shop / "catalog.yaml").unlink()
    found = inspect([shop])
    assert [problem.code for problem in found.problems] == ["no-manifest"]
