"""What the report says of parts, cost and payback. Figures by hand from the rounds of conftest."""

from __future__ import annotations

from decimal import Decimal

import pytest
from gearrec_stock.costs import Payback
from gearrec_stock.sections import _payback_words
from gearrec_stock.shelf import Terms


def test_cost_of_the_pick_is_itemised_front_and_rear(advise, section):
    advice = advise()
    assert advice.pick.name == "4.10"
    told = section(advice, "stock/cost")
    # 2 x (300 + 200 + 100) + 10 h at 100 + half an hour at 100, as in test_parts.
    assert told.lines[0] == "4.10 (the pick): USD 2,250.00, front and rear."
    assert "- labor, 10 h at USD 100.00: USD 1,000.00" in told.lines
    assert "- rear carrier 'numerically-high', INVENTED-1: USD 200.00" in told.lines
    assert "3.42: keep what is fitted, no parts and no labor." in told.lines
    assert "before taxes" in told.text


def test_lead_times(advise, section, shop):
    shop.of("gear_set", position="front", pinion_teeth=10).update(on_hand=0, lead_time_days=1)
    told = section(advise(), "stock/availability")
    assert told.lines[0] == "Stock as of 2026-03-01."
    assert "4.10 (the pick): all parts here in 1 day: front gear set 41/10 1 day." in told.lines
    assert "3.73: all parts are on the shelf." in told.text.replace(" (runner-up)", "")


def test_a_set_that_only_the_stock_knows_is_told_and_not_added(advise, section, shop):
    shop.rows["gear_set"].append(
        shop.of("gear_set", position="rear", pinion_teeth=9)
        | {"ring_teeth": 43, "pinion_teeth": 10}
    )
    advice = advise()
    assert "4.30" not in {item.name for item in advice.candidates}
    assert "4.30 (43/10) for the rear axle" in section(advice, "stock/availability").text


def test_what_is_not_priced_makes_the_total_a_least(advise, section, shop):
    shop.of("gear_set", position="rear", pinion_teeth=10)["price_cents"] = None
    told = section(advise(), "stock/cost")
    assert told.lines[0] == (
        "4.10 (the pick): at least USD 1,950.00, front and rear; without rear gear set 41/10, "
        "which the stock does not price."
    )


@pytest.mark.parametrize("table", ["terms", "fuel_price"])
def test_without_terms_or_fuel_price_the_report_says_so(advise, section, shop, table):
    shop.rows[table] = []
    advice = advise()
    if table == "terms":
        assert "no terms" in section(advice, "stock/cost").text
    else:
        assert "no price of this fuel" in section(advice, "stock/payback").text


def test_a_numerically_higher_axle_that_burns_more_never_pays_back(advise, section):
    told = section(advise(), "stock/payback")
    fitted, pick = advise().fitted, advise().pick
    assert pick.metrics["fuel_rate_mix"] > fitted.metrics["fuel_rate_mix"]
    assert told.lines[0].startswith("4.10 (the pick): never, it uses")


def test_a_change_that_saves_fuel_pays_back_over_a_range(advise, section, shop):
    shop.of("fuel_price", fuel="diesel")["price_thousandths"] = 400_000
    advice = advise(axle_ratio=4.56, tires={"planned": "255/65R17 110T"}, candidates=[3.73, 4.56])
    told = section(advice, "stock/payback")
    line = next(line for line in told.lines if line.startswith("3.73"))
    pick = next(item for item in advice.candidates if item.name == "3.73")
    ends = []
    for end in ("low", "high"):
        name = f"fuel_rate_mix_{end}"
        saved = advice.fitted.metrics[name] - pick.metrics[name]
        # Cost 1850 or 2250 / (saved L/100km x price per liter), in miles; by the definition.
        ends.append(saved / 100 * 400 / 3.785411784 * 1.609344)
    cost = 2 * (300 + 100) + 1000 + 50
    low, high = sorted(cost / end for end in ends)
    assert f"{round(low / 1000) * 1000:,} to {round(high / 1000) * 1000:,} mi" in line
    assert f"{low / 20_000:.1f} to {high / 10_000:.1f} years" in line


@pytest.mark.parametrize(
    ("found", "before", "after", "words"),
    [
        ((None, None), (10.0, 12.0), (11.0, 13.2), "never, it uses 10.0 % more fuel"),
        ((None, None), (10.0, 10.0), (10.5, 11.0), "never, it uses 5.0 to 10.0 % more fuel"),
        ((None, None), (10.0, 12.0), (10.0, 12.0), "never, it saves too little"),
        ((16_093.44, None), (10.0, 12.0), (10.0, 11.9), "from 10,000 mi to never"),
        # 10,000 and 20,000 mi at 10,000 to 20,000 mi a year: half a year to two years.
        (
            (16_093.44, 32_186.88),
            (10.0, 12.0),
            (9.0, 11.0),
            "10,000 to 20,000 mi, 0.5 to 2.0 years",
        ),
    ],
)
def test_payback_in_words(found, before, after, words):
    least, most = (None if end is None else Decimal(str(end)) for end in found)
    text = _payback_words(Payback(least_km=least, most_km=most), before, after, _terms())
    assert text.startswith(words)


def _terms(**changes):
    values = {
        "currency": "USD",
        "shop_rate_cents": 10_000,
        "calibration_minutes": 30,
        "yearly_distance": (10_000, 20_000),
        "distance_unit": "mi",
        "as_of": None,
    }
    return Terms(**(values | changes))


def test_a_shop_that_counts_in_kilometers():
    found = Payback(least_km=Decimal(50_000), most_km=Decimal(90_400))
    text = _payback_words(found, (10.0, 12.0), (9.0, 11.0), _terms(distance_unit="km"))
    assert text.startswith("50,000 to 90,000 km, 2.5 to 9.0 years")
    text = _payback_words(found, (10.0, 12.0), (9.0, 11.0), _terms(yearly_distance=None))
    assert "year" not in text
