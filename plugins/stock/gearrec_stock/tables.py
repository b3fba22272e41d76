"""The tables that the plugin reads. Money is whole hundredths of the currency, time whole minutes.

A part belongs to an axle by the catalog's id of the axle, or, where `axle` is NULL, by position and
diameter of the ring gear.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import Column, Float, Integer, MetaData, String, Table

metadata = MetaData()


def _of_an_axle(name: str, *columns: Column[Any]) -> Table:
    return Table(
        name,
        metadata,
        Column("id", Integer, primary_key=True),
        Column("axle", String(100), index=True),
        Column("position", String(5), nullable=False),
        Column("ring_gear_mm", Float),
        *columns,
    )


def _offer() -> tuple[Column[Any], ...]:
    return (
        Column("part_number", String(60), nullable=False),
        Column("on_hand", Integer, nullable=False),
        Column("lead_time_days", Integer),
        Column("price_cents", Integer),
    )


gear_set = _of_an_axle(
    "gear_set",
    Column("ring_teeth", Integer, nullable=False),
    Column("pinion_teeth", Integer, nullable=False),
    *_offer(),
)
carrier = _of_an_axle("carrier", Column("carrier", String(60), nullable=False), *_offer())
install_kit = _of_an_axle("install_kit", *_offer())
labor = _of_an_axle("labor", Column("minutes", Integer, nullable=False))

terms = Table(
    "terms",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("currency", String(3), nullable=False),
    Column("shop_rate_cents", Integer),
    Column("calibration_minutes", Integer),
    Column("yearly_distance_low", Integer),
    Column("yearly_distance_high", Integer),
    Column("distance_unit", String(2), nullable=False),
    Column("as_of", String(10)),
)
fuel_price = Table(
    "fuel_price",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("fuel", String(20), nullable=False, index=True),
    Column("unit", String(3), nullable=False),
    Column("price_thousandths", Integer, nullable=False),
)
