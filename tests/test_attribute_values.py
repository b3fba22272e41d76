"""The values of attributes: from a batch, as their definitions say."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

import gearrec
from gearrec import assembly, attribute_values, attributes, batches

POUND_KG = 0.45359237
MakeBatch = Callable[..., batches.Batch]


@pytest.fixture(scope="module")
def advisor() -> gearrec.Advisor:
    return gearrec.Advisor(plugins=())


def test_every_attribute_that_rules_may_ask_for_is_computed(
    make_batch: MakeBatch, towing_job: dict[str, Any]
) -> None:
    found = attribute_values.job_attributes(make_batch(towing_job, {"vehicle": "demo/sprig"}))
    assert set(found) == set(attributes.BUILT_IN)
    for name, values in found.items():
        assert values.shape == (2,), name
        assert np.isfinite(values).all(), name


def test_attributes_mean_what_they_say(make_batch: MakeBatch, towing_job: dict[str, Any]) -> None:
    found = attribute_values.job_attributes(
        make_batch({**towing_job, "tires": {"planned": "LT215/85R16"}, "goals": {"trail": "40 %"}})
    )
    one = {name: float(values[0]) for name, values in found.items()}
    # Shares of core/some-towing: 25 + 5 % towing, 5 % hilly, 40 + 20 + 25 + 5 % at 45 mph up.
    assert one["use_towing"] == pytest.approx(0.30)
    assert one["use_climbing"] == pytest.approx(0.05)
    assert one["use_highway"] == pytest.approx(0.90)
    assert one["use_city"] == pytest.approx(0.10)
    assert one["goal_trail"] == pytest.approx(0.40)
    # 215 mm at 85 on 16 in against 235 at 70: 406.4 + 2 x 182.75 and 406.4 + 2 x 164.5 mm.
    assert one["tire_growth"] == pytest.approx((406.4 + 365.5) / (406.4 + 329.0) - 1.0)
    assert one["tires_grow"] == 1.0
    assert one["tire_growth_beyond_small"] == pytest.approx(one["tire_growth"] - 0.03)
    assert attributes.decode(attributes.BUILT_IN["engine_fuel"], one["engine_fuel"]) == "gasoline"
    # Highest product of torque and speed on the demo curve: 184 lbf ft at 6,000 rpm.
    assert one["engine_peak_power_speed"] == 6000.0


def test_a_vehicle_without_a_low_range_drives_in_high_range(make_batch: MakeBatch) -> None:
    one = make_batch({"vehicle": "demo/sprig", "use": "core/trail"})
    assert not assembly.lanes(one).leg_low_range.any()
    assert attribute_values.job_attributes(one)["use_low_range"] == 0.0


@pytest.mark.parametrize("planned", ["225/70R16", "235/70R16", "245/70R16"])
def test_tires_up_to_3_percent_taller_count_as_not_grown(
    make_batch: MakeBatch, towing_job: dict[str, Any], planned: str
) -> None:
    # Heights against 235/70R16 by arithmetic: -1.9 %, 0, +1.9 %.
    one = make_batch({**towing_job, "tires": {"planned": planned}})
    assert attribute_values.job_attributes(one)["tire_growth_beyond_small"] == 0.0


def test_the_rated_load_counts_the_tongue_and_each_axle(
    make_batch: MakeBatch, towing_job: dict[str, Any]
) -> None:
    one = make_batch(towing_job)
    lanes, share = assembly.lanes(one), attribute_values.job_attributes(one)["rated_load_share"][0]
    # Ratings of the demo platform: 5,950 lb in all, 3,050 lb in front, 3,450 lb behind.
    whole = (4380 + 200 + 300 + 100 + 0.11 * 4200) / 5950
    front = lanes.axle_load_front_kg[0] / (3050 * POUND_KG)
    rear = lanes.axle_load_rear_kg[0] / (3450 * POUND_KG)
    assert share == pytest.approx(max(whole, front, rear))


@pytest.mark.parametrize(("payload", "warned"), [("1500 lb", False), ("3500 lb", True)])
def test_a_load_beyond_the_ratings_is_warned_of(
    advisor: gearrec.Advisor, payload: str, warned: bool
) -> None:
    # The Barge weighs 5,280 lb with a gross rating of 7,150 lb; 200 lb of driver by default.
    advice = advisor.advise(
        {
            "vehicle": "demo/barge",
            "load": {"payload": payload},
            "tires": {"planned": "LT275/70R18 125/122S E"},
        }
    )
    assert any("over its rating" in text for text in advice.cautions()) is warned
