"""What the shop has and charges, as plain records: offers of parts, per axle, and the terms."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Literal

from gearrec.catalog.powertrain_records import Axle
from gearrec.extension import same_ratio

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gearrec.catalog.powertrain_records import AxleData
    from gearrec.jobs import ResolvedJob

Position = Literal["front", "rear"]
Teeth = tuple[int, int]

LITERS_PER_GALLON = Decimal("3.785411784")  # exact: 231 cubic inches


class StockError(Exception):
    """The stock cannot be asked, or holds an entry that cannot be used; the words say which."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AxleKey:
    """How an axle is looked up: by the catalog's id (and its older ids), else by its ring gear."""

    position: Position
    ids: tuple[str, ...]
    ring_gear_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """One part that the shop sells.

    `lead_time_days` counts when none is on hand; None means that it cannot be ordered. A price of
    None is not known, which is not free.
    """

    part_number: str
    on_hand: int
    lead_time_days: int | None
    price_cents: int | None

    @property
    def days(self) -> int | None:
        """Days until it is here, 0 when it is; None when it cannot be had."""
        return 0 if self.on_hand > 0 else self.lead_time_days


@dataclass(frozen=True, slots=True, kw_only=True)
class AxleStock:
    """What the stock holds for one axle.

    `by_ring_gear`: its gear sets were found by position and ring gear diameter and not by the
    axle's id, which two different axles may share. `minutes`: labor to change one gear set.
    """

    position: Position
    by_ring_gear: bool
    gear_sets: Mapping[Teeth, tuple[Offer, ...]]
    carriers: Mapping[str, tuple[Offer, ...]]
    install_kits: tuple[Offer, ...]
    minutes: int | None

    @property
    def known(self) -> bool:
        """Whether the stock lists any gear set for the axle: only then is one left out missing."""
        return bool(self.gear_sets)

    def teeth_of(self, ratio: float) -> Teeth | None:
        """Teeth of the listed gear set that a ratio names, the nearest of several."""
        listed = [teeth for teeth in self.gear_sets if same_ratio(teeth[0] / teeth[1], ratio)]
        return min(listed, key=lambda teeth: abs(teeth[0] / teeth[1] - ratio), default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """What the shop charges and counts with; None is not known."""

    currency: str
    shop_rate_cents: int | None
    calibration_minutes: int | None
    yearly_distance: tuple[int, int] | None
    distance_unit: Literal["mi", "km"]
    as_of: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """Everything that was read for one job. `fuel_price`: currency per liter."""

    axles: tuple[AxleStock, ...]
    terms: Terms | None
    fuel_price: Decimal | None

    def axle(self, position: Position) -> AxleStock:
        """The stock of the axle in one position, which must be driven."""
        return next(axle for axle in self.axles if axle.position == position)


def best(offers: Sequence[Offer]) -> Offer | None:
    """The offer that is here first, the cheapest of those; None when none can be had."""
    obtainable = [(days, offer) for offer in offers if (days := offer.days) is not None]
    found = min(
        obtainable,
        key=lambda item: (
            item[0],
            item[1].price_cents is None,
            item[1].price_cents or 0,
            item[1].part_number,
        ),
        default=None,
    )
    return None if found is None else found[1]


def axle_keys(job: ResolvedJob) -> tuple[AxleKey, ...]:
    """The driven axles of a job, the rear one first."""
    axles = (job.vehicle.rear_axle, job.vehicle.front_axle)
    return tuple(_key(axle) for axle in axles if axle is not None)


def _key(axle: AxleData) -> AxleKey:
    return AxleKey(
        position=axle.position,
        ids=(axle.id, *axle.aliases) if isinstance(axle, Axle) else (),
        ring_gear_mm=axle.ring_gear * 1000.0,
    )
