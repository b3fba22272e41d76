"""Rows are checked one by one, and every fault is told with its place."""

from __future__ import annotations

from decimal import Decimal

import pytest
from gearrec_stock.shelf import StockError, axle_keys


@pytest.mark.parametrize(
    ("table", "column", "value", "words"),
    [
        ("gear_set", "price_cents", -5, "table gear_set, row 1, price_cents: found -5"),
        ("gear_set", "price_cents", 3.5, "a whole number from 0"),
        ("gear_set", "on_hand", "many", "found 'many'"),
        ("gear_set", "lead_time_days", 4000, "from 0 to 3650"),
        ("gear_set", "part_number", "two\nlines", "a text of one line"),
        ("gear_set", "part_number", "x" * 61, "at most 60 characters"),
        ("gear_set", "ring_teeth", 0, "a whole number from 1"),
        ("carrier", "carrier", "", "table carrier, row 1, carrier"),
        ("labor", "minutes", "5 h", "table labor, row 1, minutes"),
        ("terms", "currency", "dollars", "three capital letters"),
        ("terms", "distance_unit", "ft", "allowed: mi or km"),
        ("terms", "as_of", "March", "a date such as"),
        ("terms", "yearly_distance_low", 30_000, "the low one first"),
        ("terms", "yearly_distance_high", None, "both yearly distances"),
        ("fuel_price", "price_thousandths", 0, "a whole number from 1"),
        ("fuel_price", "unit", "pint", "allowed: gal or L"),
    ],
)
def test_an_entry_that_cannot_be_used_is_told_with_its_place(
    shop, read, resolved, table, column, value, words
):
    shop.rows[table][0][column] = value
    with pytest.raises(StockError) as caught:
        read(axle_keys(resolved))
    assert words in str(caught.value)


def test_all_faults_are_told_at_once_up_to_five(shop, read, resolved):
    for row in shop.rows["gear_set"]:
        row["price_cents"] = -1
    with pytest.raises(StockError) as caught:
        read(axle_keys(resolved))
    assert str(caught.value).count("price_cents") == 5
    assert "and 5 more" in str(caught.value)


@pytest.mark.parametrize("table", ["terms", "fuel_price"])
def test_what_must_be_said_once_is_not_taken_from_two_rows(shop, read, resolved, table):
    shop.rows[table].append(dict(shop.rows[table][0]))
    with pytest.raises(StockError, match=f"table {table}: found several rows"):
        read(axle_keys(resolved))


def test_rows_of_the_axle_itself_come_before_those_that_only_fit_its_ring_gear(
    shop, read, resolved
):
    like = {"axle": None, "position": "rear", "ring_gear_mm": 217.3}
    shop.rows["gear_set"].append(shop.rows["gear_set"][0] | like | {"pinion_teeth": 8})
    keys = axle_keys(resolved)
    named = read(keys).axle("rear")
    assert (47, 8) not in named.gear_sets
    assert not named.by_ring_gear
    shop.rows["gear_set"] = shop.rows["gear_set"][-1:]
    found = read(keys).axle("rear")
    assert set(found.gear_sets) == {(47, 8)}
    assert found.by_ring_gear


@pytest.mark.parametrize(
    "changes",
    [{"position": "front"}, {"ring_gear_mm": 212.5}, {"ring_gear_mm": None}, {"axle": "other/one"}],
)
def test_rows_of_another_axle_are_left_alone(shop, read, resolved, changes):
    like = {"axle": None, "position": "rear", "ring_gear_mm": 217.3} | changes
    shop.rows["gear_set"] = [shop.rows["gear_set"][0] | like]
    assert not read(axle_keys(resolved)[:1]).axle("rear").known


def test_of_two_labor_entries_the_longer_counts(shop, read, resolved):
    shop.rows["labor"].append(shop.rows["labor"][0] | {"minutes": 480})
    assert read(axle_keys(resolved)).axle("rear").minutes == 480


def test_a_price_per_gallon_becomes_one_per_liter(shop, read, resolved):
    # 231 cubic inches = 3.785411784 L, exactly (NIST Handbook 44, appendix C).
    price = read(axle_keys(resolved)).fuel_price
    assert price * Decimal("3.785411784") == pytest.approx(Decimal(4))
    shop.of("fuel_price", fuel="gasoline")["unit"] = "L"
    assert read(axle_keys(resolved)).fuel_price == Decimal(4)


def test_what_is_not_there_is_unknown_and_not_zero(shop, read, resolved):
    for table in ("terms", "fuel_price", "labor", "install_kit", "carrier"):
        shop.rows[table] = []
    found = read(axle_keys(resolved))
    assert found.terms is None
    assert found.fuel_price is None
    assert found.axle("rear").minutes is None
    assert found.axle("rear").known
