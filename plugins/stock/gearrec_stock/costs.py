"""Cost of a job, and the distance over which fuel pays it back. Exact decimals throughout."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gearrec_stock.parts import Plan
    from gearrec_stock.shelf import Terms

KM_PER_MILE = Decimal("1.609344")  # exact
FARTHEST_KM = 1_000_000
"""Beyond this, no truck lives to see its payback (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """Cost of one job in cents, before taxes. `unpriced`: what is not in the total."""

    parts_cents: int
    labor_cents: int
    calibration_cents: int
    unpriced: tuple[str, ...]

    @property
    def total_cents(self) -> int:
        """All that is priced."""
        return self.parts_cents + self.labor_cents + self.calibration_cents


@dataclass(frozen=True, slots=True, kw_only=True)
class Payback:
    """Distance until the fuel saved has paid for the job [km]; None is never."""

    least_km: Decimal | None
    most_km: Decimal | None


def cost(plan: Plan, terms: Terms) -> Cost:
    """What a plan costs. Labor is rounded half up to the cent, once."""
    unpriced = [part.title for part in plan.parts if part.offer is None]
    parts = 0
    for part in plan.parts:
        if part.offer is None:
            continue
        if part.offer.price_cents is None:
            unpriced.append(part.title)
        else:
            parts += part.offer.price_cents
    labor = calibration = 0
    if plan.axles and (plan.minutes is None or terms.shop_rate_cents is None):
        unpriced.append("labor")
    elif plan.minutes is not None and terms.shop_rate_cents is not None:
        labor = work_cents(plan.minutes, terms.shop_rate_cents)
    if plan.axles:
        if terms.calibration_minutes is None or terms.shop_rate_cents is None:
            unpriced.append("speedometer calibration")
        else:
            calibration = work_cents(terms.calibration_minutes, terms.shop_rate_cents)
    return Cost(
        parts_cents=parts,
        labor_cents=labor,
        calibration_cents=calibration,
        unpriced=tuple(unpriced),
    )


def work_cents(minutes: int, rate_cents: int) -> int:
    """Price of work [cents], from minutes and the rate of an hour [cents]."""
    exact = Decimal(minutes) * rate_cents / 60
    return int(exact.quantize(Decimal(1), rounding=ROUND_HALF_UP))


def payback(
    *,
    cost_cents: int,
    fuel_now: tuple[float, float],
    fuel_then: tuple[float, float],
    price_per_liter: Decimal,
) -> Payback:
    """Distance over which the fuel saved is worth the cost.

    Parameters
        cost_cents: [cents], positive.
        fuel_now, fuel_then: low and high end of the model's range [L/100km] with the ratio now
            fitted and with the other. The ends belong together: the range comes from the engine,
            which stays.
        price_per_liter: in the currency of the cost.

    Returns least and most [km]: cost / (saving x price) at both ends; None, never, for an end where
    nothing is saved or where the distance is beyond `FARTHEST_KM`.
    """
    distances = [
        _distance(cost_cents, Decimal(repr(now)) - Decimal(repr(then)), price_per_liter)
        for now, then in zip(fuel_now, fuel_then, strict=True)
    ]
    known = [distance for distance in distances if distance is not None]
    return Payback(
        least_km=min(known, default=None),
        most_km=max(known) if len(known) == len(distances) else None,
    )


def _distance(
    cost_cents: int, saved_per_100km: Decimal, price_per_liter: Decimal
) -> Decimal | None:
    if saved_per_100km <= 0:
        return None
    found = Decimal(cost_cents) / 100 / (saved_per_100km / 100 * price_per_liter)
    return None if found > FARTHEST_KM else found
