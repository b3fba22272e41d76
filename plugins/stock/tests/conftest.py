"""A small invented stock, job and advisor that the tests change to their need."""

from __future__ import annotations

import copy
from types import SimpleNamespace
from typing import Any

import gearrec_stock
import pytest
from gearrec_stock import tables
from gearrec_stock.database import Database
from sqlalchemy import create_engine, insert
from sqlalchemy.pool import NullPool

from gearrec import Advisor
from gearrec.extension import Preference, same_ratio
from gearrec.hooks import hookimpl
from gearrec.testing import check_plugin

__all__ = ["check_plugin"]

REAR, FRONT = "demo/fell-rear", "demo/fell-front"
JOB: dict[str, Any] = {
    "title": "Taller tires (invented)",
    "vehicle": "demo/fell",
    "tires": {"planned": "LT215/85R16 115/112Q E"},
}


def offer(**changes: Any) -> dict[str, Any]:
    return {
        "part_number": "INVENTED-1",
        "on_hand": 1,
        "lead_time_days": 5,
        "price_cents": 30_000,
    } | (changes)


def rows() -> dict[str, list[dict[str, Any]]]:
    """Round invented figures, so that a sum can be checked in the head."""
    axles = [{"axle": REAR, "position": "rear"}, {"axle": FRONT, "position": "front"}]
    sets = [(47, 14), (47, 13), (50, 13), (46, 11), (49, 11)]
    return {
        "gear_set": [
            axle | {"ring_teeth": ring, "pinion_teeth": pinion} | offer()
            for axle in axles
            for ring, pinion in sets
        ],
        "carrier": [
            axle | {"carrier": name} | offer(price_cents=20_000)
            for axle in axles
            for name in ("shallow", "deep")
        ],
        "install_kit": [axle | offer(price_cents=10_000) for axle in axles],
        "labor": [axle | {"minutes": 300} for axle in axles],
        "terms": [
            {
                "currency": "OSC",
                "shop_rate_cents": 10_000,
                "calibration_minutes": 30,
                "yearly_distance_low": 10_000,
                "yearly_distance_high": 20_000,
                "distance_unit": "mi",
                "as_of": "2026-03-01",
            }
        ],
        "fuel_price": [
            {"fuel": "gasoline", "unit": "gal", "price_thousandths": 4_000},
            {"fuel": "diesel", "unit": "gal", "price_thousandths": 3_000},
        ],
    }


class Shop:
    """A stock database that can be rewritten; the environment names it."""

    def __init__(self, folder: Any) -> None:
        self.folder = folder
        self.rows = rows()
        self.number = 0
        self.job = copy.deepcopy(JOB)

    def write(self) -> str:
        """Write `rows` to a new file; returns its address."""
        self.number += 1
        url = f"sqlite:///{self.folder / f'stock-{self.number}.db'}"
        engine = create_engine(url, poolclass=NullPool)
        with engine.begin() as connection:
            tables.metadata.create_all(connection)
            for table in tables.metadata.sorted_tables:
                # An insert of many rows takes its columns from the first.
                nulls = dict.fromkeys(table.columns.keys())
                del nulls["id"]
                if self.rows[table.name]:
                    connection.execute(
                        insert(table), [nulls | row for row in self.rows[table.name]]
                    )
        return url

    def of(self, table: str, **wanted: Any) -> dict[str, Any]:
        """The one row of a table that has these values, to be changed."""
        found = [row for row in self.rows[table] if wanted.items() <= row.items()]
        assert len(found) == 1, found
        return found[0]


@pytest.fixture
def shop(tmp_path):
    return Shop(tmp_path)


@pytest.fixture(scope="session")
def plain_advisor():
    """Without any plugin."""
    return Advisor(plugins=(), cache="off")


@pytest.fixture(scope="session")
def stock_advisor():
    """With this plugin alone; any fault raises."""
    return Advisor(plugins=(), extra={"stock": gearrec_stock}, strict=True, cache="off")


class Wish:
    """A plugin that makes one ratio the pick, whatever the rules prefer, if it can be had."""

    GEARREC_HOOK_API = 1

    def __init__(self, ratio: float) -> None:
        self.ratio = ratio

    @hookimpl
    def gearrec_preferences(self, evaluation: Any) -> list[Preference]:
        scores = {one: float(same_ratio(one, self.ratio)) for one in evaluation.axle_ratios}
        return [Preference("wish/this-one", 1000.0, scores, "This one is wished for.", "invented")]


@pytest.fixture
def advise(shop, stock_advisor, monkeypatch):
    """Advice on a job with what stands in `shop.rows`; a ratio that is wished for is the pick."""

    def advised(*, wish: float | None = None, **changes: Any) -> Any:
        monkeypatch.setenv(gearrec_stock.URL_VARIABLE, shop.write())
        advisor = stock_advisor
        if wish is not None:
            extra = {"stock": gearrec_stock, "wish": Wish(wish)}
            advisor = Advisor(plugins=(), extra=extra, strict=True, cache="off")
        return advisor.advise(shop.job | changes)

    return advised


@pytest.fixture
def resolved(plain_advisor):
    """The job with everything found, as hooks get it."""
    return plain_advisor.advise(JOB).judgement.resolved


@pytest.fixture
def read(shop):
    """What a `Database` reads of `shop.rows`."""

    def reading(axles: Any, fuel: str = "gasoline") -> Any:
        return Database(shop.write()).read(axles, fuel=fuel)

    return reading


def section(advice: Any, name: str) -> SimpleNamespace:
    found = next(item for item in advice.sections if item.name == name)
    return SimpleNamespace(lines=found.lines, text="\n".join(found.lines))


@pytest.fixture(name="section")
def _section():
    return section
