"""From rows of the database to records; all is checked, for a column may hold what it should not.

Every fault of every row is told at once, with table, row, column, what was found and what is due.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Hashable, Mapping, Sequence
from decimal import Decimal
from typing import Any, TypeVar

from gearrec_stock.shelf import (
    LITERS_PER_GALLON,
    AxleKey,
    AxleStock,
    Offer,
    Stock,
    StockError,
    Terms,
)

Row = Mapping[str, Any]
_Key = TypeVar("_Key", bound=Hashable)

_MOST = 1_000_000_000
_MOST_FAULTS = 5
_MONTHS = r"(0[1-9]|1[0-2])"
_DATE = re.compile(rf"[0-9]{{4}}-{_MONTHS}-(0[1-9]|[12][0-9]|3[01])", re.ASCII)
_CURRENCY = re.compile(r"[A-Z]{3}", re.ASCII)


def stock_of(rows: Mapping[str, Sequence[Row]], *, axles: Sequence[AxleKey]) -> Stock:
    """The stock in the rows of each table, for the axles of one job, the rear one first.

    Raises: StockError with every entry that cannot be used.
    """
    faults: list[str] = []
    made = tuple(_axle_stock(rows, axle, faults) for axle in axles)
    terms = _terms(rows["terms"], faults)
    price = _fuel_price(rows["fuel_price"], faults)
    if faults:
        shown = "; ".join(faults[:_MOST_FAULTS])
        more = len(faults) - _MOST_FAULTS
        raise StockError(shown + (f"; and {more} more" if more > 0 else ""))
    return Stock(axles=made, terms=terms, fuel_price=price)


class _Reader:
    """Reads the columns of one row and notes what is wrong with them."""

    def __init__(self, table: str, row: Row, faults: list[str]) -> None:
        self.table = table
        self.row = row
        self.faults = faults

    def fault(self, column: str, allowed: str) -> None:
        found = repr(self.row[column])
        found = found if len(found) <= 40 else found[:40] + "..."
        self.faults.append(
            f"table {self.table}, row {self.row['id']!r}, {column}: found {found}; "
            f"allowed: {allowed}"
        )

    def whole(self, column: str, *, least: int = 0, most: int = _MOST) -> int:
        value = self.row[column]
        if isinstance(value, int) and not isinstance(value, bool) and least <= value <= most:
            return value
        self.fault(column, f"a whole number from {least} to {most}")
        return least

    def whole_or_none(self, column: str, *, least: int = 0, most: int = _MOST) -> int | None:
        return None if self.row[column] is None else self.whole(column, least=least, most=most)

    def text(self, column: str) -> str:
        value = self.row[column]
        if isinstance(value, str) and value.strip() and value.isprintable() and len(value) <= 60:
            return value
        self.fault(column, "a text of one line, at most 60 characters")
        return ""

    def one_of(self, column: str, allowed: Sequence[str]) -> str:
        value = self.row[column]
        if isinstance(value, str) and value in allowed:
            return value
        self.fault(column, " or ".join(allowed))
        return allowed[0]

    def like(self, column: str, pattern: re.Pattern[str], allowed: str) -> str:
        value = self.row[column]
        if isinstance(value, str) and pattern.fullmatch(value):
            return value
        self.fault(column, allowed)
        return ""


def _axle_stock(rows: Mapping[str, Sequence[Row]], axle: AxleKey, faults: list[str]) -> AxleStock:
    by_id: dict[str, bool] = {}

    def own(table: str) -> list[_Reader]:
        # What names the axle itself comes before what only fits its ring gear.
        named = [row for row in rows[table] if row["axle"] is not None and row["axle"] in axle.ids]
        by_id[table] = bool(named)
        like = [row for row in rows[table] if _fits(row, axle)]
        return [_Reader(table, row, faults) for row in named or like]

    gear_sets = _grouped(
        ((row.whole("ring_teeth", least=1), row.whole("pinion_teeth", least=1)), _offer(row))
        for row in own("gear_set")
    )
    carriers = _grouped((row.text("carrier"), _offer(row)) for row in own("carrier"))
    minutes = [row.whole("minutes") for row in own("labor")]
    return AxleStock(
        position=axle.position,
        by_ring_gear=bool(gear_sets) and not by_id["gear_set"],
        gear_sets=gear_sets,
        carriers=carriers,
        install_kits=tuple(_offer(row) for row in own("install_kit")),
        # Of several entries, the work is charged by the longest.
        minutes=max(minutes, default=None),
    )


RING_GEAR_TOLERANCE_MM = 1.0
"""How far a listed ring gear may be from the axle's: catalogs round to a tenth of an inch or so."""


def _fits(row: Row, axle: AxleKey) -> bool:
    diameter = row["ring_gear_mm"]
    return (
        row["axle"] is None
        and row["position"] == axle.position
        and isinstance(diameter, int | float)
        and abs(diameter - axle.ring_gear_mm) <= RING_GEAR_TOLERANCE_MM
    )


def _offer(row: _Reader) -> Offer:
    return Offer(
        part_number=row.text("part_number"),
        on_hand=row.whole("on_hand"),
        lead_time_days=row.whole_or_none("lead_time_days", most=3650),
        price_cents=row.whole_or_none("price_cents"),
    )


def _grouped(pairs: Any) -> dict[Any, tuple[Offer, ...]]:
    found: dict[Any, list[Offer]] = defaultdict(list)
    for key, offer in pairs:
        found[key].append(offer)
    return {key: tuple(offers) for key, offers in found.items()}


def _terms(rows: Sequence[Row], faults: list[str]) -> Terms | None:
    if not rows:
        return None
    if len(rows) > 1:
        faults.append("table terms: found several rows; allowed: one")
    row = _Reader("terms", rows[0], faults)
    low = row.whole_or_none("yearly_distance_low", least=1)
    high = row.whole_or_none("yearly_distance_high", least=1)
    if (low is None) != (high is None) or (low is not None and high is not None and low > high):
        row.fault("yearly_distance_low", "both yearly distances, the low one first, or neither")
    unit = row.one_of("distance_unit", ("mi", "km"))
    return Terms(
        currency=row.like("currency", _CURRENCY, "three capital letters, such as USD"),
        shop_rate_cents=row.whole_or_none("shop_rate_cents"),
        calibration_minutes=row.whole_or_none("calibration_minutes"),
        yearly_distance=None if low is None or high is None else (low, high),
        distance_unit="mi" if unit == "mi" else "km",
        as_of=None
        if rows[0]["as_of"] is None
        else row.like("as_of", _DATE, "a date such as 2026-03-01"),
    )


def _fuel_price(rows: Sequence[Row], faults: list[str]) -> Decimal | None:
    if not rows:
        return None
    if len(rows) > 1:
        faults.append(f"table fuel_price: found several rows for {rows[0]['fuel']!r}; allowed: one")
    row = _Reader("fuel_price", rows[0], faults)
    price = Decimal(row.whole("price_thousandths", least=1)) / 1000
    return price / LITERS_PER_GALLON if row.one_of("unit", ("gal", "L")) == "gal" else price
