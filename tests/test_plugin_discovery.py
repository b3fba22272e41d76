"""The scan for installed plugins: what it finds, what hides what, and what it costs."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest

from gearrec import plugin_discovery
from gearrec.plugin_discovery import EntryPoint, installed_entry_points


@pytest.fixture
def write(tmp_path):
    def distribution(name, text, *, folder="site", kind="dist-info"):
        place = tmp_path / folder / f"{name}.{kind}"
        place.mkdir(parents=True)
        (place / "entry_points.txt").write_text(text, encoding="utf-8")
        return str(tmp_path / folder)

    return distribution


def test_only_the_group_is_read(write):
    folder = write(
        "Shop_Stock-1.4",
        "[console_scripts]\ngearrec = a.b:main\n\n[gearrec]\n# a comment\nstock = shop.stock\n"
        "prices = shop.stock:prices.all [extra]\n[other]\nx = gearrec.y\n",
    )
    write("other-2", "[gearrec.more]\nx = y\n")
    (Path(folder) / "plain-1.dist-info").mkdir()
    assert installed_entry_points([folder]) == (
        EntryPoint("prices", "shop.stock:prices.all", "shop-stock", "1.4"),
        EntryPoint("stock", "shop.stock", "shop-stock", "1.4"),
    )


def test_old_style_metadata_is_read_too(write):
    folder = write("shop-1", "[gearrec]\nstock = shop\n", kind="egg-info")
    assert [entry.name for entry in installed_entry_points([folder])] == ["stock"]


def test_an_earlier_folder_hides_the_same_distribution_in_a_later_one(write):
    first = write("shop_stock-2", "[gearrec]\nstock = new\n", folder="first")
    second = write("shop.stock-1", "[gearrec]\nstock = old\n", folder="second")
    assert [entry.target for entry in installed_entry_points([first, second])] == ["new"]
    assert [entry.target for entry in installed_entry_points([second, first])] == ["old"]
    assert len(installed_entry_points([first, first])) == 1


def test_folders_that_cannot_be_read_are_passed_over(tmp_path):
    archive = tmp_path / "library.zip"
    archive.write_bytes(b"not a folder")
    assert installed_entry_points([str(tmp_path / "missing"), str(archive)]) == ()


def test_a_name_that_is_no_text_is_a_problem_of_its_line(tmp_path):
    place = tmp_path / "shop-1.dist-info"
    place.mkdir()
    (place / "entry_points.txt").write_bytes(b"[gearrec]\nst\xffock = shop\nfine = shop\n=x\n")
    found = {entry.name: bool(entry.problem) for entry in installed_entry_points([str(tmp_path)])}
    assert found == {"st\ufffdock": False, "fine": False, "=x": True}


def test_a_change_of_the_folder_is_seen(write):
    folder = write("one-1", "[gearrec]\none = a\n")
    past = time.time() - 100
    os.utime(folder, (past, past))
    assert [entry.name for entry in installed_entry_points([folder])] == ["one"]
    write("two-1", "[gearrec]\ntwo = b\n")
    assert [entry.name for entry in installed_entry_points([folder])] == ["one", "two"]


def test_an_unchanged_folder_is_not_listed_again(write, monkeypatch):
    folder = write("one-1", "[gearrec]\none = a\n")
    past = time.time() - 100
    os.utime(folder, (past, past))
    first = installed_entry_points([folder])
    monkeypatch.setattr(plugin_discovery.os, "listdir", None)
    assert installed_entry_points([folder]) == first


def test_a_scan_of_120_distributions_adds_less_than_10_ms(write):
    for number in range(120):
        groups = "[gearrec]\nshop = a\n" if number == 60 else "[console_scripts]\na = b:c\n" * 5
        folder = write(f"invented_{number}-1.0", groups)
    times = []
    for _ in range(11):
        plugin_discovery._cache.clear()
        start = time.perf_counter()
        found = installed_entry_points([folder])
        times.append(time.perf_counter() - start)
    assert [entry.name for entry in found] == ["shop"]
    # Measured well below 1 ms on a warm file cache.
    # The quickest of them, for a busy machine slows some.
    assert min(times) < 0.010
