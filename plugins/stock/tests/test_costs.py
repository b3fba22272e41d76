"""Money to the cent, and the distance that pays it back."""

from __future__ import annotations

from decimal import Decimal

import pytest
from gearrec_stock.costs import payback, work_cents
from hypothesis import given
from hypothesis import strategies as st


@pytest.mark.parametrize(
    ("minutes", "rate", "cents"),
    # By hand: 690 min = 11.5 h; 1 min of 90.30/h = 1.505, rounded half up.
    [(690, 14_500, 166_750), (0, 14_500, 0), (1, 9_030, 151), (60, 9_999, 9_999)],
)
def test_work_is_charged_by_the_minute_and_rounded_to_the_cent(minutes, rate, cents):
    assert work_cents(minutes, rate) == cents


def test_payback_by_hand():
    # 1,000.00 at 1.00 per liter are 1000 L; 1 L/100km saved takes 100,000 km, 0.5 takes 200,000.
    found = payback(
        cost_cents=100_000,
        fuel_now=(10.0, 12.0),
        fuel_then=(9.5, 11.0),
        price_per_liter=Decimal(1),
    )
    assert (found.least_km, found.most_km) == (Decimal(100_000), Decimal(200_000))


@pytest.mark.parametrize(
    ("then", "least", "most"),
    [
        ((10.1, 12.1), None, None),
        ((10.0, 12.0), None, None),
        ((10.0, 11.0), Decimal(100_000), None),
        # A twentieth of a liter takes two million kilometers: no truck gets there.
        ((9.95, 11.95), None, None),
    ],
)
def test_never(then, least, most):
    found = payback(
        cost_cents=100_000, fuel_now=(10.0, 12.0), fuel_then=then, price_per_liter=Decimal(1)
    )
    assert (found.least_km, found.most_km) == (least, most)


liters = st.floats(4.0, 60.0)


@given(
    cents=st.integers(1, 10_000_000),
    now=st.tuples(liters, liters),
    then=st.tuples(liters, liters),
    thousandths=st.integers(1, 10_000),
)
def test_the_fuel_saved_over_the_distance_is_worth_the_cost(cents, now, then, thousandths):
    price = Decimal(thousandths) / 1000
    found = payback(cost_cents=cents, fuel_now=now, fuel_then=then, price_per_liter=price)
    if found.least_km is None:
        assert found.most_km is None
        return
    saved = Decimal(repr(max(a - b for a, b in zip(now, then, strict=True)))) / 100
    assert float(found.least_km * saved * price) == pytest.approx(cents / 100, rel=1e-9)
    assert found.most_km is None or found.most_km >= found.least_km
