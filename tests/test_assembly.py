"""From resolved jobs to lanes: masses, axle loads, road load, attributes, padding."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

import gearrec
from gearrec import assembly, attributes, road_load
from gearrec.lanes import validate

POUND_KG = 0.45359237


@pytest.fixture(scope="module")
def advisor() -> gearrec.Advisor:
    return gearrec.Advisor(plugins=())


def batch(advisor: gearrec.Advisor, *jobs: dict[str, Any]) -> assembly.Batch:
    return assembly.collect([advisor._workshop.resolve(advisor.job(job)) for job in jobs])


PLAIN: dict[str, Any] = {
    "vehicle": "demo/harrow-diesel",
    "use": "core/some-towing",
    "trailer": "demo/medium-box",
    "load": {"payload": "300 lb", "added": "100 lb"},
}


def test_the_mass_of_a_leg_is_all_that_rolls_on_it(advisor: gearrec.Advisor) -> None:
    lanes = assembly.lanes(batch(advisor, PLAIN))
    # Curb 4,700 lb and trailer 4,500 lb of the demo records, 200 lb for the driver by default.
    alone = (4700 + 200 + 300 + 100) * POUND_KG
    assert lanes.mass_kg[0, 0] == pytest.approx(alone)
    assert lanes.mass_kg[-1, 0] == pytest.approx(alone + 4500 * POUND_KG)


def test_axle_loads_add_up_to_the_vehicle_and_the_tongue(advisor: gearrec.Advisor) -> None:
    lanes = assembly.lanes(batch(advisor, PLAIN))
    total = lanes.axle_load_front_kg[0] + lanes.axle_load_rear_kg[0]
    # Tongue: 11 % of the demo trailer.
    assert total == pytest.approx(lanes.mass_kg[0, 0] + 0.11 * 4500 * POUND_KG)
    lighter = assembly.lanes(batch(advisor, {**PLAIN, "use": "core/mixed"}))
    assert lanes.axle_load_front_kg[0] < lighter.axle_load_front_kg[0]
    assert lanes.axle_load_rear_kg[0] > lighter.axle_load_rear_kg[0]


def test_the_road_load_agrees_with_the_plain_functions(advisor: gearrec.Advisor) -> None:
    lanes = assembly.lanes(batch(advisor, {**PLAIN, "use": "core/mixed"}))
    plain = road_load.from_drag_area(
        mass_kg=lanes.mass_kg[0, 0],
        rolling_coefficient=0.008,  # highway tread of the core catalog
        drag_area_m2=1.18,
        air_density_kg_per_m3=lanes.leg_air_density_kg_per_m3[0, 0],
    )
    assert lanes.force_constant_n[0, 0] == pytest.approx(float(plain.force_constant_n))
    assert lanes.force_square_n_per_mps2[0, 0] == pytest.approx(
        float(plain.force_square_n_per_mps2)
    )


def test_coast_down_coefficients_are_used_as_given(advisor: gearrec.Advisor) -> None:
    job = advisor.job("docs/examples/own-truck.yaml")
    vehicle = job.vehicle
    assert not isinstance(vehicle, str)
    from gearrec.catalog.vehicle_records import RoadLoad

    # EPA test-car list, example row of 2016: 43.17 lbf, 0.7502 lbf/mph, 0.0163 lbf/mph2.
    record = RoadLoad(a="43.17 lbf", b="0.7502 lbf/mph", c="0.0163 lbf/mph^2", test_mass="5300 lb")  # type: ignore[arg-type]
    measured = vehicle.model_copy(update={"drag_area": None, "road_load": record})
    lanes = assembly.lanes(
        assembly.collect(
            [
                advisor._workshop.resolve(
                    job.model_copy(
                        update={
                            "vehicle": measured,
                            "use": "core/mixed",
                            "tires": type(job.tires)(),
                        }
                    )
                )
            ]
        )
    )
    pounds = 4.4482216152605
    per_kg = 43.17 * pounds / (5300 * POUND_KG)
    assert lanes.force_constant_n[0, 0] == pytest.approx(per_kg * lanes.mass_kg[0, 0])
    assert lanes.force_linear_n_per_mps[0, 0] == pytest.approx(0.7502 * pounds / 0.44704)
    density = lanes.leg_air_density_kg_per_m3[0, 0]
    assert lanes.force_square_n_per_mps2[0, 0] == pytest.approx(
        0.0163 * pounds / 0.44704**2 * density / assembly.COAST_DOWN_DENSITY
    )


def test_unequal_jobs_are_padded_and_valid(advisor: gearrec.Advisor) -> None:
    jobs = [
        {"vehicle": vehicle, "use": use}
        for vehicle in advisor.catalog.ids("platform")
        for use in ("core/mixed", "core/town-delivery", "core/trail")
    ]
    lanes = assembly.lanes(batch(advisor, *jobs))
    validate(lanes)
    np.testing.assert_allclose(lanes.leg_share.sum(axis=0), 1.0)
    assert not lanes.leg_known.all()
    assert not lanes.candidate_known.all()


def test_changed_multiplies_and_repeated_repeats(advisor: gearrec.Advisor) -> None:
    one = batch(advisor, PLAIN)
    three = one.repeated(3).changed(mass_factor=np.array([1.0, 1.1, 1.2]))
    masses = assembly.lanes(three).mass_kg[0]
    np.testing.assert_allclose(masses / masses[0], [1.0, 1.1, 1.2])
    np.testing.assert_array_equal(one.columns[:, 0], one.repeated(2).columns[:, 1])


def test_every_attribute_that_rules_may_ask_for_is_computed(advisor: gearrec.Advisor) -> None:
    found = assembly.job_attributes(batch(advisor, PLAIN, {"vehicle": "demo/pallet-four"}))
    assert set(found) == set(attributes.BUILT_IN)
    for name, values in found.items():
        assert values.shape == (2,), name
        assert np.isfinite(values).all(), name


def test_attributes_mean_what_they_say(advisor: gearrec.Advisor) -> None:
    found = assembly.job_attributes(
        batch(advisor, {**PLAIN, "tires": {"planned": "LT235/80R17"}, "goals": {"trail": "40 %"}})
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


def test_a_vehicle_without_a_low_range_drives_in_high_range(advisor: gearrec.Advisor) -> None:
    one = batch(advisor, {"vehicle": "demo/pallet-four", "use": "core/trail"})
    assert not assembly.lanes(one).leg_low_range.any()
    assert assembly.job_attributes(one)["use_low_range"] == 0.0


@pytest.mark.parametrize("planned", ["245/65R17", "255/65R17", "265/65R17"])
def test_tires_up_to_3_percent_taller_count_as_not_grown(
    advisor: gearrec.Advisor, planned: str
) -> None:
    # Heights against 255/65R17 by arithmetic: -1.7 %, 0, +1.7 %.
    one = batch(advisor, {**PLAIN, "tires": {"planned": planned}})
    assert assembly.job_attributes(one)["tire_growth_beyond_small"] == 0.0


def test_the_rated_load_counts_the_tongue_and_each_axle(advisor: gearrec.Advisor) -> None:
    one = batch(advisor, PLAIN)
    lanes, share = assembly.lanes(one), assembly.job_attributes(one)["rated_load_share"][0]
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
