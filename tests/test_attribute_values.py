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
    found = attribute_values.job_attributes(make_batch(towing_job, {"vehicle": "demo/pallet-four"}))
    assert set(found) == set(attributes.BUILT_IN)
    for name, values in found.items():
        assert values.shape == (2,), name
        assert np.isfinite(values).all(), name


def test_attributes_mean_what_they_say(make_batch: MakeBatch, towing_job: dict[str, Any]) -> None:
    found = attribute_values.job_attributes(
        make_batch({**towing_job, "tires": {"planned": "LT235/80R17"}, "goals": {"trail": "40 %"}})
    )
    one = {name: float(values[0]) for name, values in found.items()}
    # Shares of core/some-towing: 25 + 5 % towing, 5 % hilly, 40 + 20 + 25 + 5 % at 45 mph up.
    assert one["use_towing"] == pytest.approx(0.30)
    assert one["use_climbing"] == pytest.approx(0.05)
    assert one["use_highway"] == pytest.approx(0.90)
    assert one["use_city"] == pytest.approx(0.10)
    assert one["goal_trail"] == pytest.approx(0.40)
    # 235 mm at 80 on 17 in against 255 at 65, by arithmetic.
    assert one["tire_growth"] == pytest.approx((431.8 + 376.0) / (431.8 + 331.5) - 1.0)
    assert one["tires_grow"] == 1.0
    assert one["tire_growth_beyond_small"] == pytest.approx(one["tire_growth"] - 0.03)
    assert attributes.decode(attributes.BUILT_IN["engine_fuel"], one["engine_fuel"]) == "diesel"
    # Highest product of torque and speed on the demo curve: 318 lbf ft at 3,400 rpm.
    assert one["engine_peak_power_speed"] == 3400.0


def test_a_vehicle_without_a_low_range_drives_in_high_range(make_batch: MakeBatch) -> None:
    one = make_batch({"vehicle": "demo/pallet-four", "use": "core/trail"})
    assert not assembly.lanes(one).leg_low_range.any()
    assert attribute_values.job_attributes(one)["use_low_range"] == 0.0


@pytest.mark.parametrize("planned", ["245/65R17", "255/65R17", "265/65R17"])
def test_tires_up_to_3_percent_taller_count_as_not_grown(
    make_batch: MakeBatch, towing_job: dict[str, Any], planned: str
) -> None:
    # Heights against 255/65R17 by arithmetic: -1.7 %, 0, +1.7 %.
    one = make_batch({**towing_job, "tires": {"planned": planned}})
    assert attribute_values.job_attributes(one)["tire_growth_beyond_small"] == 0.0


def test_the_rated_load_counts_the_tongue_and_each_axle(
    make_batch: MakeBatch, towing_job: dict[str, Any]
) -> None:
    one = make_batch(towing_job)
    lanes, share = assembly.lanes(one), attribute_values.job_attributes(one)["rated_load_share"][0]
    # Ratings of the demo platform: 6,200 lb in all, 3,200 lb in front, 3,500 lb behind.
    whole = (4700 + 200 + 300 + 100 + 0.11 * 4500) / 6200
    front = lanes.axle_load_front_kg[0] / (3200 * POUND_KG)
    rear = lanes.axle_load_rear_kg[0] / (3500 * POUND_KG)
    assert share == pytest.approx(max(whole, front, rear))


@pytest.mark.parametrize(("payload", "warned"), [("1500 lb", False), ("3500 lb", True)])
def test_a_load_beyond_the_ratings_is_warned_of(
    advisor: gearrec.Advisor, payload: str, warned: bool
) -> None:
    # The demo V8 weighs 5,350 lb with a gross rating of 7,200 lb; 200 lb of driver by default.
    advice = advisor.advise(
        {
            "vehicle": "demo/mesa-v8",
            "load": {"payload": payload},
            "tires": {"planned": "LT285/70R17 121/118S E"},
        }
    )
    assert any("over its rating" in text for text in advice.cautions()) is warned
