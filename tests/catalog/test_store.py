"""The loaded catalog: finding records, the compiled cache, threads, and what is held."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from gearrec.catalog import cache, files, reader, store
from gearrec.catalog.store import load
from gearrec.errors import CatalogError, UnknownRecordError


@pytest.fixture
def kept(tmp_path: Path) -> str:
    return str(tmp_path / "cache")


@pytest.fixture
def no_parsing(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("a file was parsed")

    monkeypatch.setattr(reader, "read_text", refuse)


def test_records_are_found_by_id_and_alias(shop: Path) -> None:
    catalog = load([shop], cache="off")
    pickup = catalog.get("platform", "shop/pickup")
    assert pickup.curb_mass == 2000.0
    assert catalog.get("platform", "shop/old-pickup") is pickup
    assert catalog.ids("platform") == ("shop/pickup",)
    assert catalog.namespaces == ("shop",)
    assert catalog.has("axle", "shop/rear")
    assert not catalog.has("axle", "shop/pickup")


def test_all_records_of_a_kind_are_a_mapping(shop: Path) -> None:
    axles = load([shop], cache="off").records("axle")
    assert list(axles) == ["shop/rear", "shop/front"]
    assert {axle.position for axle in axles.values()} == {"rear", "front"}
    assert "shop/rear" in axles
    assert axles.get("shop/none") is None
    assert load([shop], cache="off").records("trailer") == {}


@pytest.mark.parametrize(
    ("kind", "record_id", "words"),
    [
        ("axle", "shop/raer", "did you mean 'shop/rear'?"),
        ("tire", "shop/rear", "is of the kind axle"),
        ("tyre", "shop/tall", "did you mean 'tire'?"),
        ("trailer", "shop/zzz", "none is loaded"),
        ("axle", "zzz", "allowed: shop/front, shop/rear"),
    ],
)
def test_an_unknown_id_is_told_with_what_there_is(
    shop: Path, kind: str, record_id: str, words: str
) -> None:
    with pytest.raises(UnknownRecordError) as caught:
        load([shop], cache="off").get(kind, record_id)
    assert words in str(caught.value)


def test_places_are_told_from_the_compiled_form(shop: Path) -> None:
    catalog = load([shop], cache="off")
    place = catalog.place("platform", "shop/pickup", "axles.rear")
    assert (place.file, place.line) == (str(shop / "platforms.yaml"), 4)
    assert place.dotted == "shop/pickup: axles.rear"
    assert catalog.place("rule", "shop/none").file == ""


@pytest.mark.usefixtures("no_parsing")
def test_nothing_is_parsed_without_need_is_held_by_this_test(shop: Path) -> None:
    with pytest.raises(AssertionError, match="a file was parsed"):
        load([shop], cache="off")


def test_a_second_load_parses_nothing(
    shop: Path, kept: str, request: pytest.FixtureRequest
) -> None:
    cold = load([shop], cache=kept)
    request.getfixturevalue("no_parsing")
    warm = load([shop], cache=kept)
    assert warm.get("platform", "shop/pickup") == cold.get("platform", "shop/pickup")


def test_a_settled_folder_is_not_even_read(
    shop: Path, kept: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Files just written may change unseen for two seconds; here they count as settled at once.
    monkeypatch.setattr(files, "_SETTLED_S", -1.0)
    load([shop], cache=kept)

    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("a file was read")

    monkeypatch.setattr(files, "read_file", refuse)
    assert load([shop], cache=kept).get("axle", "shop/rear").position == "rear"


def test_a_changed_file_is_seen(shop: Path, kept: str) -> None:
    load([shop], cache=kept)
    path = shop / "platforms.yaml"
    path.write_text(path.read_text().replace("2000 kg", "2100 kg"))
    assert load([shop], cache=kept).get("platform", "shop/pickup").curb_mass == 2100.0
    path.write_text(path.read_text().replace("2100 kg", "2100 mph"))
    with pytest.raises(CatalogError, match="a mass is due"):
        load([shop], cache=kept)
    path.unlink()
    assert load([shop], cache=kept).ids("platform") == ()


def test_the_order_of_catalogs_is_part_of_what_is_kept(
    shop: Path, kept: str, tmp_path: Path
) -> None:
    other = tmp_path / "other"
    other.mkdir()
    (other / "catalog.yaml").write_text(
        (shop / "catalog.yaml").read_text().replace("namespace: shop", "namespace: other")
    )
    assert load([shop, other], cache=kept).namespaces == ("shop", "other")
    assert load([other, shop], cache=kept).namespaces == ("other", "shop")


def test_a_damaged_cache_is_ignored(shop: Path, kept: str) -> None:
    load([shop], cache=kept)
    for path in [*Path(kept).iterdir()]:
        path.write_bytes(b"not what it was" + path.read_bytes()[15:])
    assert load([shop], cache=kept).get("axle", "shop/rear").position == "rear"


def test_damage_found_late_is_mended(shop: Path, kept: str) -> None:
    load([shop], cache=kept)
    (path,) = Path(kept).glob("catalog-*")
    data = path.read_bytes()
    assert data.count(b'"Invented rear axle"') == 1
    path.write_bytes(data.replace(b'"Invented rear axle"', b"#####nvented rear axle#"[:20]))
    catalog = load([shop], cache=kept)
    assert catalog.get("axle", "shop/rear").title == "Invented rear axle"


def test_a_cache_that_cannot_be_written_does_no_harm(shop: Path, tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    assert load([shop], cache=str(blocked / "below")).has("axle", "shop/rear")


def test_problems_are_not_kept_as_success(shop: Path, kept: str) -> None:
    (shop / "odd.yml").write_text("kind: tire")
    for _ in range(2):
        with pytest.raises(CatalogError, match="rename it"):
            load([shop], cache=kept)


def test_threads_get_the_same_record(shop: Path) -> None:
    catalog = load([shop], cache="off")
    with ThreadPoolExecutor(8) as pool:
        found = set(pool.map(lambda _: id(catalog.get("platform", "shop/pickup")), range(64)))
    assert len(found) == 1


def test_records_and_catalog_cannot_be_changed(shop: Path) -> None:
    catalog = load([shop], cache="off")
    with pytest.raises(Exception, match="frozen"):
        catalog.get("axle", "shop/rear").title = "x"
    with pytest.raises(AttributeError):
        catalog._shelf = None  # type: ignore[misc]


def test_a_compiled_form_of_another_version_is_refused() -> None:
    with pytest.raises(cache.DamagedError):
        store.Compiled(b"gearrec0" + bytes(20))
    with pytest.raises(cache.DamagedError):
        store.Compiled(b"")


def test_a_job_beside_the_cases_is_checked(shop: Path) -> None:
    (shop / "job.yaml").write_text("kind: job\nformat: 1\nvehicle: shop/pickup\naxle_ratio: x\n")
    with pytest.raises(CatalogError, match=r"job\.yaml:4:13: axle_ratio: found 'x'"):
        load([shop], cache="off")
