"""An invented stock for the invented axles of the demo catalog. Nothing in it is a real price."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlalchemy import URL, Connection, create_engine, insert
from sqlalchemy.pool import NullPool

from gearrec import Advisor
from gearrec_stock import tables

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from gearrec.catalog.powertrain_records import Axle

# Sets that this invented shop cannot get, and those it has to order, by days.
CANNOT_BE_HAD = {("demo/midsize-front", 41, 9), ("demo/trail-rear", 39, 8)}
LEAD_TIMES = {
    ("demo/midsize-rear", 41, 11): 12,
    ("demo/fullsize-rear", 41, 10): 4,
    ("demo/fullsize-front", 41, 10): 9,
    ("demo/heavy-rear", 43, 10): 21,
}
AS_OF = "2026-03-01"


def address(path: Path) -> URL:
    """The address of a SQLite file."""
    return URL.create("sqlite", database=str(path.absolute()))


def write(path: Path) -> None:
    """Write the demo database to a new SQLite file.

    Raises: FileExistsError when there is a file already; OSError when it cannot be written.
    """
    # A shop's own stock must not be overwritten by a slip of the hand.
    path.touch(exist_ok=False)
    engine = create_engine(address(path), poolclass=NullPool)
    try:
        with engine.begin() as connection:
            tables.metadata.create_all(connection)
            fill(connection)
    except BaseException:
        path.unlink()
        raise


def fill(connection: Connection) -> None:
    """Put the invented stock into the tables."""
    catalog = Advisor(plugins=()).catalog
    axles = [axle for axle in catalog.records("axle").values() if axle.id.startswith("demo/")]
    connection.execute(insert(tables.gear_set), [row for axle in axles for row in _sets(axle)])
    connection.execute(insert(tables.carrier), [row for axle in axles for row in _carriers(axle)])
    connection.execute(insert(tables.install_kit), [_kit(axle) for axle in axles])
    connection.execute(insert(tables.labor), [_labor(axle) for axle in axles])
    connection.execute(
        insert(tables.terms),
        [
            {
                "currency": "USD",
                "shop_rate_cents": 14_500,
                "calibration_minutes": 30,
                "yearly_distance_low": 10_000,
                "yearly_distance_high": 18_000,
                "distance_unit": "mi",
                "as_of": AS_OF,
            }
        ],
    )
    connection.execute(
        insert(tables.fuel_price),
        [
            {"fuel": "diesel", "unit": "gal", "price_thousandths": 4_199},
            {"fuel": "gasoline", "unit": "gal", "price_thousandths": 3_499},
        ],
    )


def _of(axle: Axle) -> dict[str, Any]:
    return {
        "axle": axle.id,
        "position": axle.position,
        "ring_gear_mm": round(axle.ring_gear * 1000.0, 1),
    }


def _sets(axle: Axle) -> Iterator[dict[str, Any]]:
    for item in axle.gear_sets:
        key = (axle.id, item.ring_teeth, item.pinion_teeth)
        days = LEAD_TIMES.get(key)
        out = key in CANNOT_BE_HAD
        yield _of(axle) | {
            "ring_teeth": item.ring_teeth,
            "pinion_teeth": item.pinion_teeth,
            "part_number": f"DEMO-G-{item.ring_teeth}{item.pinion_teeth:02d}",
            "on_hand": 0 if out or days else 2,
            "lead_time_days": None if out else days or 7,
            # Larger gears cost more; the rest of the formula is invented.
            "price_cents": 15_900 + 100 * round(axle.ring_gear * 1000.0),
        }


def _carriers(axle: Axle) -> Iterator[dict[str, Any]]:
    for name in sorted({item.carrier for item in axle.gear_sets if item.carrier is not None}):
        yield _of(axle) | {
            "carrier": name,
            "part_number": f"DEMO-C-{name.upper()}",
            "on_hand": 0,
            "lead_time_days": 3,
            "price_cents": 21_900,
        }


def _kit(axle: Axle) -> dict[str, Any]:
    return _of(axle) | {
        "part_number": f"DEMO-K-{axle.position.upper()}",
        "on_hand": 4,
        "lead_time_days": 2,
        "price_cents": 14_900,
    }


def _labor(axle: Axle) -> dict[str, Any]:
    return _of(axle) | {"minutes": 300 if axle.position == "rear" else 390}
