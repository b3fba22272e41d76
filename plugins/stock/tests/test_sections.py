"""What the report says of parts, cost and payback. Figures by hand from the rounds of conftest."""

from __future__ import annotations

from decimal import Decimal

import pytest
from gearrec_stock.costs import Payback
from gearrec_stock.sections import _payback_words
from gearrec_stock.shelf import Terms


def test_cost_of_the_pick_is_itemised_front_and_rear(advise, section):
    told = section(advise(wish=3.85), "stock/cost")
    # 2 x (300 + 200 + 100) + 10 h at 100 + half an hour at 100, as in test_parts.
    assert told.lines[0] == "3.85 (the pick): OSC 2,250.00, front and rear."
    assert "- labor, 10 h at OSC 100.00: OSC 1,000.00" in told.lines
    assert "- rear carrier 'deep', INVENTED-1: OSC 200.00" in told.lines
    fitted = "3.36: keep what is fitted, no parts and no labor."
    assert fitted in [line.replace(" (runner-up)", "") for line in told.lines]
    assert "before taxes" in told.text


def test_lead_times(advise, section, shop):
    shop.of("gear_set", position="front", ring_teeth=50).update(on_hand=0, lead_time_days=1)
    told = section(advise(wish=3.85), "stock/availability")
    assert told.lines[0] == "Stock as of 2026-03-01."
    assert "3.85 (the pick): all parts here in 1 day: front gear set 50/13 1 day." in told.lines
    assert "3.62: all parts are on the shelf." in told.text.replace(" (runner-up)", "")


def test_a_set_that_only_the_stock_knows_is_told_and_not_added(advise, section, shop):
    shop.rows["gear_set"].append(
        shop.of("gear_set", position="rear", ring_teeth=49) | {"ring_teeth": 38, "pinion_teeth": 9}
    )
    advice = advise()
    # By hand: 38 / 9 = 4.222.
    assert "4.22" not in {item.name for item in advice.candidates}
    assert "4.22 (38/9) for the rear axle" in section(advice, "stock/availability").text


def test_what_is_not_priced_makes_the_total_a_least(advise, section, shop):
    shop.of("gear_set", position="rear", ring_teeth=50)["price_cents"] = None
    told = section(advise(wish=3.85), "stock/cost")
    assert told.lines[0] == (
        "3.85 (the pick): at least OSC 1,950.00, front and rear; without rear gear set 50/13, "
        "which the stock does not price."
    )


@pytest.mark.parametrize("table", ["terms", "fuel_price"])
def test_without_terms_or_fuel_price_the_report_says_so(advise, section, shop, table):
    shop.rows[table] = []
    advice = advise(wish=3.85)
    if table == "terms":
        assert "no terms" in section(advice, "stock/cost").text
    else:
        assert "no price of this fuel" in section(advice, "stock/payback").text


def test_a_numerically_higher_axle_that_burns_more_never_pays_back(advise, section):
    advice = advise(wish=4.18)
    told = section(advice, "stock/payback")
    fitted, pick = advice.fitted, advice.pick
    assert pick.metrics["fuel_rate_mix"] > fitted.metrics["fuel_rate_mix"]
    assert told.lines[0].startswith("4.18 (the pick): never, it uses")


def test_a_change_that_saves_fuel_pays_back_over_a_range(advise, section, shop):
    shop.of("fuel_price", fuel="gasoline")["price_thousandths"] = 400_000
    advice = advise(
        wish=3.62, axle_ratio=4.45, tires={"planned": "235/70R16 109T"}, candidates=[3.62, 4.45]
    )
    told = section(advice, "stock/payback")
    line = next(line for line in told.lines if line.startswith("3.62"))
    pick = next(item for item in advice.candidates if item.name == "3.62")
    ends = []
    for end in ("low", "high"):
        name = f"fuel_rate_mix_{end}"
        saved = advice.fitted.metrics[name] - pick.metrics[name]
        # Cost 1850 / (saved L/100km x price per liter), in miles; by the definition.
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
        "currency": "OSC",
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
