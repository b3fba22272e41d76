"""An invented stock for the axles of the Ostrel valley, the demo catalog.

The gear shop at Ostrelford, its money, prices and part numbers do not exist.
"""

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
CANNOT_BE_HAD = {
    ("demo/fell-front", 49, 11),
    ("demo/stile-rear", 47, 9),
    ("demo/bannock-rear", 47, 10),
}
LEAD_TIMES = {
    ("demo/fell-rear", 47, 13): 11,
    ("demo/barge-rear", 46, 11): 5,
    ("demo/barge-front", 46, 11): 8,
    ("demo/drumlin-rear", 38, 9): 19,
    ("demo/bannock-rear", 35, 11): 34,
    ("demo/bannock-rear", 46, 11): 6,
}
CURRENCY = "OSC"
"""Ostrel crowns, which no bank knows."""
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
                "currency": CURRENCY,
                "shop_rate_cents": 38_400,
                "calibration_minutes": 24,
                "yearly_distance_low": 9_000,
                "yearly_distance_high": 16_000,
                "distance_unit": "mi",
                "as_of": AS_OF,
            }
        ],
    )
    connection.execute(
        insert(tables.fuel_price),
        [
            {"fuel": "diesel", "unit": "gal", "price_thousandths": 12_870},
            {"fuel": "gasoline", "unit": "gal", "price_thousandths": 11_430},
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
            "part_number": f"OSTREL-{item.ring_teeth}-{item.pinion_teeth:02d}",
            "on_hand": 0 if out or days else 2,
            "lead_time_days": None if out else days or 7,
            # Larger gears and more teeth cost more; the formula is invented.
            "price_cents": 640 * round(axle.ring_gear * 1000.0) + 1_150 * item.ring_teeth,
        }


def _carriers(axle: Axle) -> Iterator[dict[str, Any]]:
    for name in sorted({item.carrier for item in axle.gear_sets if item.carrier is not None}):
        yield _of(axle) | {
            "carrier": name,
            "part_number": f"OSTREL-CARRIER-{name.upper()}",
            "on_hand": 0,
            "lead_time_days": 4,
            "price_cents": 83_500,
        }


def _kit(axle: Axle) -> dict[str, Any]:
    return _of(axle) | {
        "part_number": f"OSTREL-KIT-{axle.position.upper()}",
        "on_hand": 4,
        "lead_time_days": 2,
        "price_cents": 41_700,
    }


def _labor(axle: Axle) -> dict[str, Any]:
    return _of(axle) | {"minutes": 270 if axle.position == "rear" else 345}
