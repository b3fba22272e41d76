"""The sections of the report: lead times, cost of the job, fuel payback."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from gearrec.extension import ReportSection
from gearrec_stock.costs import KM_PER_MILE, Cost, Payback, cost, payback
from gearrec_stock.parts import Plan, plan

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gearrec.advice import Advice, CandidateAdvice
    from gearrec.vehicles import Vehicle
    from gearrec_stock.shelf import Stock, Terms

_VERDICTS = {"pick": "the pick", "runner-up": "runner-up"}
_SHOWN = ("pick", "runner-up", "possible")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Option:
    advice: CandidateAdvice
    plan: Plan

    @property
    def name(self) -> str:
        verdict = _VERDICTS.get(self.advice.verdict)
        return f"{self.advice.name} ({verdict})" if verdict else self.advice.name


def sections(advice: Advice, vehicle: Vehicle, stock: Stock) -> list[ReportSection]:
    """All sections that the stock has figures for, about the candidates that no limit ruled out."""
    options = [
        _Option(advice=item, plan=plan(item.candidate, vehicle, stock))
        for item in advice.candidates
        if item.verdict in _SHOWN
    ]
    lines = {
        "stock/availability": ("Parts and lead times", _availability(options, vehicle, stock)),
        "stock/cost": ("Cost of the job", _costs(options, stock.terms)),
        "stock/payback": ("Fuel payback", _paybacks(advice, options, stock)),
    }
    return [
        ReportSection(name=name, title=title, lines=tuple(told))
        for name, (title, told) in lines.items()
        if told
    ]


def _availability(options: Sequence[_Option], vehicle: Vehicle, stock: Stock) -> list[str]:
    lines = []
    if stock.terms is not None and stock.terms.as_of is not None:
        lines.append(f"Stock as of {stock.terms.as_of}.")
    for option in options:
        lines.append(f"{option.name}: {_when(option.plan)}.")
        lines += [f"{option.name}: {text}" for text in option.plan.unsure]
    for axle in (vehicle.rear_axle, vehicle.front_axle):
        if axle is None:
            continue
        listed = stock.axle(axle.position)
        judged = {(item.ring_teeth, item.pinion_teeth) for item in axle.gear_sets}
        further = [
            f"{teeth[0] / teeth[1]:.2f} ({teeth[0]}/{teeth[1]})"
            for teeth in sorted(listed.gear_sets, key=lambda teeth: teeth[0] / teeth[1])
            if teeth not in judged
        ]
        if further:
            lines.append(
                f"The stock also lists {', '.join(further)} for the {axle.position} axle, which "
                "the catalog does not; not judged here."
            )
    return lines


def _when(found: Plan) -> str:
    if found.candidate.fitted:
        return "fitted now, nothing to order"
    if found.missing:
        return "cannot be had: " + ", ".join(part.title for part in found.missing)
    waiting = [
        f"{part.title} {_days(part.offer.days or 0)}"
        for part in found.parts
        if part.offer is not None and part.state == "ordered"
    ]
    if found.unlisted:
        return "not known: " + ", ".join([*_unlisted(found), *waiting])
    if not waiting:
        return "all parts are on the shelf"
    return f"all parts here in {_days(found.days or 0)}: " + ", ".join(waiting)


def _unlisted(found: Plan) -> list[str]:
    words = []
    for position in ("rear", "front"):
        parts = [part for part in found.parts if part.position == position]
        unlisted = [part for part in parts if part.state == "not listed"]
        if unlisted and len(unlisted) == len(parts):
            words.append(f"nothing is listed for the {position} axle")
        else:
            words += [f"{part.title} is not listed" for part in unlisted]
    return words


def _days(count: int) -> str:
    return "1 day" if count == 1 else f"{count} days"


def _costs(options: Sequence[_Option], terms: Terms | None) -> list[str]:
    if terms is None:
        return ["The stock holds no terms (currency and shop rate), so no cost is given."]
    lines = []
    for option in options:
        if option.plan.candidate.fitted:
            lines.append(f"{option.name}: keep what is fitted, no parts and no labor.")
            continue
        if not option.plan.priceable:
            lines.append(f"{option.name}: not known, {', '.join(_unlisted(option.plan))}.")
            continue
        spent = cost(option.plan, terms)
        lines.append(f"{option.name}: {_total(spent, option.plan, terms)}.")
        if option.advice.verdict == "pick":
            lines += _items(option.plan, spent, terms)
    return [*lines, "Prices are before taxes, and for parts and work named here only."]


def _total(spent: Cost, found: Plan, terms: Terms) -> str:
    both = "front and rear" if found.axles == 2 else "rear axle only, the front is not driven"
    text = f"{money(spent.total_cents, terms)}, {both}"
    if spent.unpriced:
        return (
            f"at least {text}; without {', '.join(spent.unpriced)}, which the stock does not price"
        )
    return text


def _items(found: Plan, spent: Cost, terms: Terms) -> list[str]:
    lines = []
    for part in found.parts:
        offer = part.offer
        if offer is not None:
            price = "no price" if offer.price_cents is None else money(offer.price_cents, terms)
            lines.append(f"- {part.title}, {offer.part_number}: {price}")
    if found.minutes is not None and terms.shop_rate_cents is not None:
        rate = money(terms.shop_rate_cents, terms)
        hours = _hours(found.minutes)
        lines.append(f"- labor, {hours} h at {rate}: {money(spent.labor_cents, terms)}")
    if terms.calibration_minutes is not None and terms.shop_rate_cents is not None:
        hours = _hours(terms.calibration_minutes)
        price = money(spent.calibration_cents, terms)
        lines.append(f"- speedometer calibration, {hours} h: {price}")
    return lines


def _hours(minutes: int) -> str:
    return f"{Decimal(minutes) / 60:.2f}".rstrip("0").rstrip(".")


def _paybacks(advice: Advice, options: Sequence[_Option], stock: Stock) -> list[str]:
    terms, price = stock.terms, stock.fuel_price
    judged = [option for option in options if option.advice.verdict in _VERDICTS]
    changes = [option for option in judged if not option.plan.candidate.fitted]
    if terms is None or not changes:
        return []
    if price is None:
        return ["The stock holds no price of this fuel, so no payback is given."]
    lines = []
    before = _fuel(advice.fitted)
    for option in changes:
        after = _fuel(option.advice)
        spent = cost(option.plan, terms)
        if before is None or after is None:
            lines.append(f"{option.name}: not known, the model has no fuel figures.")
            continue
        priced = option.plan.priceable and spent.total_cents > 0
        # Where no fuel is saved, the answer is never, whatever it costs.
        if not priced and any(then < now for now, then in zip(before, after, strict=True)):
            lines.append(f"{option.name}: not known, the cost is not.")
            continue
        found = payback(
            cost_cents=spent.total_cents,
            fuel_now=before,
            fuel_then=after,
            price_per_liter=price,
        )
        least = " at least" if spent.unpriced and found.least_km is not None else ""
        lines.append(f"{option.name}:{least} {_payback_words(found, before, after, terms)}.")
    lines.append(
        f"Against keeping {advice.fitted.name} on the planned tires, by the model's fuel range and "
        "the shop's fuel price. A change is usually made for other reasons than fuel."
    )
    return lines


def _fuel(item: CandidateAdvice) -> tuple[float, float] | None:
    low, high = (item.metrics.get(f"fuel_rate_mix_{end}") for end in ("low", "high"))
    return None if low is None or high is None else (low, high)


def _payback_words(
    found: Payback, before: tuple[float, float], after: tuple[float, float], terms: Terms
) -> str:
    if found.least_km is None:
        changes = sorted(then / now - 1.0 for now, then in zip(before, after, strict=True))
        if changes[-1] > 0.0005:
            return f"never, it uses {_span(changes, 'more')} fuel"
        return "never, it saves too little fuel to matter"
    least = _distance(found.least_km, terms)
    if found.most_km is None:
        return f"from {least} {terms.distance_unit} to never"
    most = _distance(found.most_km, terms)
    text = f"{least} to {most} {terms.distance_unit}"
    if terms.yearly_distance is not None:
        low, high = terms.yearly_distance
        per_unit = KM_PER_MILE if terms.distance_unit == "mi" else Decimal(1)
        years = (found.least_km / per_unit / high, found.most_km / per_unit / low)
        text += (
            f", {years[0]:.1f} to {years[1]:.1f} years at {low:,} to {high:,} "
            f"{terms.distance_unit} a year"
        )
    return text


def _span(changes: Sequence[float], word: str) -> str:
    low, high = (f"{100.0 * change:.1f}" for change in (changes[0], changes[-1]))
    return f"{low} % {word}" if low == high else f"{low} to {high} % {word}"


def _distance(distance_km: Decimal, terms: Terms) -> str:
    """To a thousand of the shop's unit: the model is not better than that."""
    found = distance_km / KM_PER_MILE if terms.distance_unit == "mi" else distance_km
    return f"{max(1, round(found / 1000)) * 1000:,}"


def money(cents: int, terms: Terms) -> str:
    """An amount with its currency: 'OSC 1,234.50'."""
    return f"{terms.currency} {Decimal(cents).scaleb(-2):,.2f}"
