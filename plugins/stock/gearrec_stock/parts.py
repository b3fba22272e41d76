"""What a job needs for one axle ratio: parts per axle, whether they can be had, labor.

Three answers, not two: a part can be had, cannot be had, or the stock says nothing of it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from gearrec_stock.shelf import AxleStock, Offer, Position, Stock, best

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gearrec.candidates import Candidate
    from gearrec.catalog.powertrain_records import AxleData, GearSet
    from gearrec.vehicles import Vehicle

Kind = Literal["gear set", "carrier", "install kit"]
State = Literal["here", "ordered", "cannot be had", "not listed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One part that the job needs. `offer` is the one to take; None unless it can be had."""

    position: Position
    kind: Kind
    name: str
    state: State
    offer: Offer | None

    @property
    def title(self) -> str:
        """'rear gear set 50/13'."""
        return f"{self.position} {self.name}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What fitting one candidate takes.

    `minutes`: labor on all axles; None where the stock does not say it for one of them. `unsure`:
    sentences about what cannot be told, so that time and cost may grow.
    """

    candidate: Candidate
    parts: tuple[Part, ...]
    minutes: int | None
    axles: int
    unsure: tuple[str, ...]

    @property
    def missing(self) -> tuple[Part, ...]:
        """Parts that cannot be had."""
        return tuple(part for part in self.parts if part.state == "cannot be had")

    @property
    def unlisted(self) -> tuple[Part, ...]:
        """Parts that the stock says nothing of."""
        return tuple(part for part in self.parts if part.state == "not listed")

    @property
    def priceable(self) -> bool:
        """Whether the stock lists the gear sets; without them the rest of a price says nothing."""
        return all(part.kind != "gear set" for part in self.unlisted)

    @property
    def days(self) -> int | None:
        """Days until all parts are here; None when that is not known, or never."""
        if self.missing or self.unlisted:
            return None
        found = [part.offer.days for part in self.parts if part.offer is not None]
        return max((days for days in found if days is not None), default=0)


def plan(candidate: Candidate, vehicle: Vehicle, stock: Stock) -> Plan:
    """What it takes to fit a candidate; nothing for the one that is fitted."""
    if candidate.fitted:
        return Plan(candidate=candidate, parts=(), minutes=0, axles=0, unsure=())
    fitted = next(item for item in vehicle.candidates if item.fitted)
    parts: list[Part] = []
    unsure: list[str] = []
    minutes: list[int | None] = []
    rear, front = vehicle.rear_axle, vehicle.front_axle
    wanted: list[tuple[AxleData, float, float | None]] = [(rear, candidate.ratio, fitted.ratio)]
    if front is not None:
        # Where the catalog knows no partner, the front axle still needs a set of this ratio.
        wanted.append((front, candidate.front_ratio or candidate.ratio, fitted.front_ratio))
    for axle, ratio, present in wanted:
        listed = stock.axle(axle.position)
        parts += _axle_parts(axle, listed, ratio, present, unsure)
        minutes.append(listed.minutes)
    known = [spent for spent in minutes if spent is not None]
    return Plan(
        candidate=candidate,
        parts=tuple(parts),
        minutes=sum(known) if len(known) == len(minutes) else None,
        axles=len(minutes),
        unsure=tuple(unsure),
    )


def _axle_parts(
    axle: AxleData, listed: AxleStock, ratio: float, present: float | None, unsure: list[str]
) -> list[Part]:
    wanted_set = _gear_set(axle, ratio)
    teeth = (
        listed.teeth_of(ratio)
        if wanted_set is None
        else (wanted_set.ring_teeth, wanted_set.pinion_teeth)
    )
    name = f"gear set {teeth[0]}/{teeth[1]}" if teeth else f"gear set {ratio:.2f}"
    offers = listed.gear_sets.get(teeth, ()) if teeth else ()
    # The stock of an axle that it knows is complete: a gear set not on the list is not for sale.
    unlisted: State = "cannot be had" if listed.known else "not listed"
    parts = [_part(axle, "gear set", name, offers, if_unlisted=unlisted)]
    carrier = wanted_set.carrier if wanted_set else None
    if carrier is not None:
        now = _gear_set(axle, present) if present is not None else None
        if now is None:
            unsure.append(
                f"Which carrier the {axle.position} axle has now is not known; {name} needs "
                f"'{carrier}'."
            )
        elif now.carrier != carrier:
            offers = listed.carriers.get(carrier, ())
            parts.append(_part(axle, "carrier", f"carrier '{carrier}'", offers))
    parts.append(_part(axle, "install kit", "install kit", listed.install_kits))
    return parts


def _part(
    axle: AxleData,
    kind: Kind,
    name: str,
    offers: Sequence[Offer],
    *,
    if_unlisted: State = "not listed",
) -> Part:
    offer = best(offers)
    state: State
    if offer is not None:
        state = "here" if offer.days == 0 else "ordered"
    elif offers:
        state = "cannot be had"
    else:
        state = if_unlisted
    return Part(position=axle.position, kind=kind, name=name, state=state, offer=offer)


def _gear_set(axle: AxleData, ratio: float) -> GearSet | None:
    """The catalog's gear set of a tooth ratio."""
    exact = (item for item in axle.gear_sets if math.isclose(item.ratio, ratio, rel_tol=1e-9))
    return next(exact, None)


__all__ = ["Kind", "Part", "Plan", "State", "plan"]
