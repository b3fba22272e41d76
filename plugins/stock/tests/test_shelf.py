"""Which offer is taken, and how an axle is looked up."""

from __future__ import annotations

import pytest
from gearrec_stock.shelf import AxleStock, Offer, axle_keys, best


def offer(number="A", on_hand=0, days=None, price=None):
    return Offer(part_number=number, on_hand=on_hand, lead_time_days=days, price_cents=price)


@pytest.mark.parametrize(
    ("offers", "taken"),
    [
        ([], None),
        ([offer("A")], None),
        ([offer("A", days=9, price=1), offer("B", on_hand=1, days=30, price=99)], "B"),
        ([offer("A", on_hand=1, price=20), offer("B", on_hand=1, price=10)], "B"),
        ([offer("A", on_hand=1), offer("B", on_hand=1, price=10)], "B"),
        ([offer("B", days=3, price=5), offer("A", days=3, price=5)], "A"),
    ],
)
def test_the_offer_that_is_here_first_is_taken_then_the_cheapest(offers, taken):
    found = best(offers)
    assert (None if found is None else found.part_number) == taken
    assert best(offers[::-1]) == found


def test_axles_are_looked_up_by_id_and_ring_gear_the_rear_one_first(resolved):
    rear, front = axle_keys(resolved)
    assert (rear.position, rear.ids) == ("rear", ("demo/fell-rear",))
    # 217 mm and 183 mm in the demo catalog.
    assert (rear.ring_gear_mm, front.ring_gear_mm) == pytest.approx((217.0, 183.0))
    assert (front.position, front.ids) == ("front", ("demo/fell-front",))


def test_teeth_are_found_by_the_name_of_a_ratio():
    listed = AxleStock(
        position="rear",
        by_ring_gear=False,
        gear_sets={(50, 13): (), (27, 7): ()},
        carriers={},
        install_kits=(),
        minutes=None,
    )
    # By hand: 50 / 13 = 3.846 and 27 / 7 = 3.857, so that the name 3.86 is the second.
    assert listed.teeth_of(3.86) == (27, 7)
    assert listed.teeth_of(3.85) == (50, 13)
    assert listed.teeth_of(4.18) is None
