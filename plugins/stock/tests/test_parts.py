"""What a ratio needs: gear sets, carriers, kits, labor; had, not had, not known."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from gearrec_stock.costs import cost
from gearrec_stock.parts import plan
from gearrec_stock.shelf import axle_keys


@pytest.fixture
def plans(shop, read, resolved):
    """Plans of all candidates by name, with what stands in `shop.rows`."""

    def planned(job=resolved):
        stock = read(axle_keys(job))
        made = {item.name: plan(item, job.vehicle, stock) for item in job.vehicle.candidates}
        return SimpleNamespace(of=made, terms=stock.terms)

    return planned


def titles(found):
    return [part.title for part in found.parts]


def test_the_fitted_ratio_needs_nothing(plans):
    found = plans().of["3.36"]
    assert (found.parts, found.days, found.minutes) == ((), 0, 0)


def test_a_ratio_across_the_split_needs_carriers_in_both_axles(plans):
    # The demo catalog: 47/14 sits on the shallow carrier, 50/13 on the deep one.
    assert titles(plans().of["3.85"]) == [
        "rear gear set 50/13",
        "rear carrier 'deep'",
        "rear install kit",
        "front gear set 50/13",
        "front carrier 'deep'",
        "front install kit",
    ]


def test_a_ratio_on_the_same_side_of_the_split_needs_none(plans, plain_advisor, shop):
    job = plain_advisor.advise(shop.job | {"axle_ratio": 3.62}).judgement.resolved
    assert not any("carrier" in title for title in titles(plans(job).of["3.85"]))


def test_the_front_axle_needs_the_teeth_of_its_own_gear_sets(plans, plain_advisor, shop):
    front = {
        "position": "front",
        "ring_gear": "188 mm",
        "gear_sets": [
            {"ring_teeth": 47, "pinion_teeth": 14, "carrier": "low"},
            # By hand: 27 / 7 = 3.857, the nearest partner of 50 / 13 = 3.846.
            {"ring_teeth": 27, "pinion_teeth": 7, "carrier": "high"},
        ],
    }
    axles = {"rear": "demo/fell-rear", "front": front}
    job = plain_advisor.advise(shop.job | {"axles": axles}).judgement.resolved
    for row in shop.rows["gear_set"]:
        if row["position"] == "front":
            row.update(axle=None, ring_gear_mm=188.0)
    assert titles(plans(job).of["3.85"])[3:] == [
        "front gear set 27/7",
        "front carrier 'high'",
        "front install kit",
    ]


def test_a_rear_driven_vehicle_needs_rear_parts_only(plans, plain_advisor, shop, read):
    job = plain_advisor.advise(REAR_DRIVEN).judgement.resolved
    shop.rows["gear_set"][2]["axle"] = None
    shop.rows["gear_set"][2]["ring_gear_mm"] = 179.0
    found = plans(job).of["3.85"]
    assert {part.position for part in found.parts} == {"rear"}
    assert found.axles == 1


def test_cost_by_hand(plans):
    made = plans()
    spent = cost(made.of["3.85"], made.terms)
    # 2 x (gear set 300 + carrier 200 + kit 100) = 1200; 2 x 5 h at 100 = 1000; half an hour 50.
    assert (spent.parts_cents, spent.labor_cents, spent.calibration_cents) == (
        120_000,
        100_000,
        5_000,
    )
    assert spent.total_cents == 225_000
    assert spent.unpriced == ()


def test_what_is_not_priced_is_named_and_not_free(plans, shop):
    shop.of("gear_set", position="rear", ring_teeth=50)["price_cents"] = None
    shop.rows["install_kit"] = []
    shop.rows["terms"][0]["calibration_minutes"] = None
    shop.rows["labor"] = shop.rows["labor"][:1]
    made = plans()
    spent = cost(made.of["3.85"], made.terms)
    assert set(spent.unpriced) == {
        "rear gear set 50/13",
        "rear install kit",
        "front install kit",
        "labor",
        "speedometer calibration",
    }
    assert spent.total_cents == 30_000 + 2 * 20_000


def test_the_longest_lead_time_counts(plans, shop):
    shop.of("gear_set", position="rear", ring_teeth=50).update(on_hand=0, lead_time_days=4)
    shop.of("carrier", position="front", carrier="deep").update(on_hand=0, lead_time_days=11)
    assert plans().of["3.85"].days == 11
    assert plans().of["3.36"].days == 0


@pytest.mark.parametrize(
    ("table", "wanted"),
    [
        ("gear_set", {"position": "front", "ring_teeth": 50}),
        ("carrier", {"position": "front", "carrier": "deep"}),
        ("install_kit", {"position": "front"}),
    ],
)
def test_a_part_that_cannot_be_ordered_cannot_be_had(plans, shop, table, wanted):
    shop.of(table, **wanted).update(on_hand=0, lead_time_days=None)
    found = plans().of["3.85"]
    assert [part.position for part in found.missing] == ["front"]
    assert found.days is None


def test_a_gear_set_that_a_known_axle_does_not_list_cannot_be_had(plans, shop):
    shop.rows["gear_set"].remove(shop.of("gear_set", position="rear", ring_teeth=49))
    made = plans().of
    assert [part.title for part in made["4.45"].missing] == ["rear gear set 49/11"]
    assert made["3.85"].missing == ()


def test_an_axle_that_is_not_listed_is_not_known(plans, shop):
    shop.rows["gear_set"] = [row for row in shop.rows["gear_set"] if row["position"] == "rear"]
    found = plans().of["3.85"]
    assert found.missing == ()
    assert [part.title for part in found.unlisted] == ["front gear set 50/13"]
    assert found.days is None
    assert not found.priceable


def test_a_carrier_that_may_be_needed_is_said_and_not_assumed(plans, plain_advisor, shop):
    # No set of the axle gives 3.00: nobody knows what is in the truck.
    job = plain_advisor.advise(shop.job | {"axle_ratio": 3.0}).judgement.resolved
    found = plans(job).of["3.85"]
    assert not any("carrier" in title for title in titles(found))
    assert len(found.unsure) == 2
    assert "deep" in found.unsure[0]


REAR_DRIVEN = {
    "title": "A rear-driven truck (invented)",
    "vehicle": {
        "title": "Invented mail truck",
        "curb_mass": "2870 lb",
        "gross_rating": "4160 lb",
        "drive": "rear",
        "dual_rear_wheels": False,
        "speed_sensor": "before-axle",
        "drag_area": "1.04 m^2",
        "engine": "demo/sprig-four",
        "transmission": "demo/sprig-five",
        "axles": {"rear": "demo/sprig-rear"},
        "factory": {"tire": "P205/75R14 95S", "axle_ratio": 3.62},
    },
}
