"""What the trade would say, held against what the default rules say.

Source of every expectation here: common practice, no source. None of the trucks exists; they are in
`data/trade-trucks.yaml`.

The mid-size answers, the threshold of borderline and the mid-size diesel's fuel were used to set
numbers of the rules, the defaults, the engine classes and that truck: those tests guard what was
fitted and prove nothing. The other classes of truck and the three-quarter-ton truck were not fitted
to, but their author knew the rules. Gears, and some sizes and torques, of these trucks were changed
once so that they match no product; no answer was changed for it, and no rule.
"""

from __future__ import annotations

from typing import Any

import pytest

import gearrec

INCH_M = 0.0254


def towing_job(trade: dict[str, Any], truck: dict[str, Any], planned: str) -> dict[str, Any]:
    return {
        "vehicle": truck,
        "tires": {"planned": planned},
        "trailer": trade["trailer"],
        "use": "core/some-towing",
    }


def test_a_midsize_pickup_that_tows_gets_4_10_up_to_32_inches(
    advisor: gearrec.Advisor, trade: dict[str, Any], midsize: dict[str, Any], up_to_32_inches: str
) -> None:
    assert gearrec.tires.parse_size(up_to_32_inches).diameter_m < 32.0 * INCH_M
    pick = advisor.advise(towing_job(trade, midsize, up_to_32_inches)).pick
    assert pick is not None
    assert pick.name == "4.10"


def test_and_goes_straight_to_4_56_above(
    advisor: gearrec.Advisor, trade: dict[str, Any], midsize: dict[str, Any], above_32_inches: str
) -> None:
    assert gearrec.tires.parse_size(above_32_inches).diameter_m > 32.0 * INCH_M
    pick = advisor.advise(towing_job(trade, midsize, above_32_inches)).pick
    assert pick is not None
    assert pick.name == "4.56"


def test_32_inches_is_borderline_and_the_sizes_on_either_side_are_not(
    advisor: gearrec.Advisor, trade: dict[str, Any], midsize: dict[str, Any]
) -> None:
    assert advisor.advise(towing_job(trade, midsize, "LT235/80R17 120/117R E")).borderline
    assert not advisor.advise(towing_job(trade, midsize, "255/65R17 110T")).borderline
    assert not advisor.advise(towing_job(trade, midsize, "33x12.50R17LT 120Q E")).borderline


def test_the_reach_of_4_10_ends_at_about_32_inches(
    advisor: gearrec.Advisor, trade: dict[str, Any], midsize: dict[str, Any]
) -> None:
    advice = advisor.advise(towing_job(trade, midsize, "255/65R17 110T"))
    reach = {f"{item.axle_ratio:.2f}": item for item in advice.reach}
    assert reach["4.10"].to_m / INCH_M == pytest.approx(32.0, abs=0.3)
    assert reach["4.10"].from_m / INCH_M < 30.0
    assert reach["4.56"].from_m == pytest.approx(reach["4.10"].to_m)


def test_a_demo_truck_on_factory_tires_unloaded_on_the_highway_keeps_what_it_has(
    advisor: gearrec.Advisor,
) -> None:
    trucks = [one for one in advisor.catalog.ids("platform") if one.startswith("demo/")]
    assert trucks
    for vehicle in trucks:
        advice = advisor.advise({"vehicle": vehicle, "use": "core/unloaded-highway"})
        assert advice.keeps, vehicle
        assert not any("gears the truck as" in text for text in advice.cautions()), vehicle


def test_and_so_does_every_truck_of_the_trade(
    advisor: gearrec.Advisor, trade_truck: dict[str, Any]
) -> None:
    advice = advisor.advise({"vehicle": trade_truck, "use": "core/unloaded-highway"})
    assert advice.keeps
    assert not any("nothing recalibrated" in text for text in advice.cautions())


def test_a_three_quarter_ton_truck_that_tows_at_times_on_taller_tires_gets_4_10(
    advisor: gearrec.Advisor, trade: dict[str, Any]
) -> None:
    """On tires 3.9 % taller 4.10 acts 15.4 % lower than the factory's gears, inside the 10 to 20 %
    that the trade aims at; 3.73, 5 %, is short of it.

    245 mm x 0.75 and 285 mm x 0.70 on 17 in: 799.3 and 830.8 mm; 4.10 / 3.417 x 799.3 / 830.8.
    """
    job = {
        "vehicle": trade["trucks"]["three-quarter-ton truck"],
        "tires": {"planned": "LT285/70R17 121/118S E"},
        "trailer": trade["heavier_trailer"],
        "use": "core/some-towing",
    }
    advice = advisor.advise(job)
    assert advice.pick is not None
    assert advice.pick.name == "4.10"
    assert advice.pick.metrics["gearing_change"] == pytest.approx(0.154, abs=1e-3)
    # No rating of the truck says what it may tow: the advice asks its owner to look.
    (asked,) = (
        line.trace.fired
        for line in advice.trace("core/tow-rating")
        if line.axle_ratio == advice.pick.axle_ratio
    )
    assert asked


def level_cruise(mph: float, *, towing: bool) -> dict[str, object]:
    leg = {
        "name": "level road",
        "share": "100 %",
        "speed": f"{mph:g} mph",
        "terrain": "core/level",
        "towing": towing,
    }
    return {"legs": [leg]}


@pytest.fixture
def diesel(trade: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = trade["trucks"]["mid-size diesel"]
    return found


@pytest.mark.parametrize("mph", [60.0, 62.0])
def test_a_midsize_diesel_with_3_42_turns_barely_over_1500_rpm(
    advisor: gearrec.Advisor, diesel: dict[str, Any], mph: float
) -> None:
    job = {"vehicle": diesel, "use": level_cruise(mph, towing=False)}
    (cruise,) = advisor.advise(job).fitted.leg_metrics["cruise_engine_speed"]
    assert cruise is not None
    assert 1500.0 <= cruise <= 1600.0


@pytest.mark.parametrize(
    ("towing", "low_mpg", "high_mpg"), [(False, 34.0, 34.0), (True, 18.0, 20.0)]
)
def test_its_fuel_range_meets_what_owners_see(
    advisor: gearrec.Advisor,
    trade: dict[str, Any],
    diesel: dict[str, Any],
    towing: bool,
    low_mpg: float,
    high_mpg: float,
) -> None:
    job: dict[str, object] = {"vehicle": diesel, "use": level_cruise(61.0, towing=towing)}
    if towing:
        job["trailer"] = trade["trailer"]
    fitted = advisor.advise(job).fitted
    thirsty = gearrec.units.to(fitted.metrics["fuel_rate_mix_high"], "fuel_use", "mpg (US)")
    thrifty = gearrec.units.to(fitted.metrics["fuel_rate_mix_low"], "fuel_use", "mpg (US)")
    middle = gearrec.units.to(fitted.metrics["fuel_rate_mix"], "fuel_use", "mpg (US)")
    assert thirsty <= high_mpg
    assert thrifty >= low_mpg
    assert middle == pytest.approx((low_mpg + high_mpg) / 2.0, rel=0.08)


def test_two_inches_of_tire_cost_the_display_1_to_1_5_mpg_most_of_it_odometer(
    advisor: gearrec.Advisor, diesel: dict[str, Any]
) -> None:
    def job(size: str) -> dict[str, object]:
        tire = {"size": size, "type": "core/highway"}
        return {
            "vehicle": diesel,
            "use": level_cruise(61.0, towing=False),
            "tires": {"planned": tire},
        }

    before = advisor.advise(job("255/65R17 110T")).fitted.metrics
    after = advisor.advise(job("LT235/80R17 120/117R E")).fitted.metrics
    true_before, true_after = (
        gearrec.units.to(metrics["fuel_rate_mix"], "fuel_use", "mpg (US)")
        for metrics in (before, after)
    )
    # The trip computer counts too few miles on the taller tire.
    shown_after = true_after * (1.0 + after["speedometer_error"])
    assert 0.9 <= true_before - shown_after <= 1.6
    odometer = true_after - shown_after
    assert odometer > abs(true_after - true_before)


def test_lt235_80r17_is_nearly_32_by_9_inches() -> None:
    size = gearrec.tires.parse_size("LT235/80R17")
    assert 31.7 <= size.diameter_m / INCH_M < 32.0
    assert size.section_width_m / INCH_M == pytest.approx(9.0, abs=0.3)


def grown_job(truck: dict[str, Any], growth: float, use: str) -> dict[str, Any]:
    """The truck on its factory's size of tire, as if that were so much taller."""
    size = truck["factory"]["tire"]
    diameter = gearrec.tires.parse_size(size).diameter_m * (1.0 + growth)
    planned = {"size": size, "diameter": f"{diameter * 1000.0:.1f} mm"}
    return {"vehicle": truck, "tires": {"planned": planned}, "use": use}


def test_other_classes_with_grown_tires_and_some_towing_end_some_10_to_20_percent_up(
    advisor: gearrec.Advisor, trade: dict[str, Any], other_class: dict[str, Any]
) -> None:
    mass = gearrec.units.parse(other_class["curb_mass"], "mass")
    trailer = trade["trailer"] | {"mass": f"{0.7 * mass:.1f} kg"}
    for growth in (0.05, 0.08, 0.12):
        job = grown_job(other_class, growth, "core/some-towing")
        advice = advisor.advise(job | {"trailer": trailer})
        assert advice.pick is not None
        change = advice.pick.metrics["gearing_change"]
        offered = [item.metrics["gearing_change"] for item in advice.candidates]
        assert change is not None
        inside = [one for one in offered if one is not None and 0.10 <= one <= 0.20]
        if inside:
            assert 0.08 <= change <= 0.24, (growth, change, offered)
        else:
            # Gear sets come in steps: then one of the two around the window.
            below = max((one for one in offered if one is not None and one < 0.10), default=change)
            above = min((one for one in offered if one is not None and one > 0.20), default=change)
            assert change in (below, above), (growth, change, offered)


@pytest.mark.parametrize("growth", [0.012, 0.02])
def test_tiny_growth_only_recalibrates(
    advisor: gearrec.Advisor, other_class: dict[str, Any], growth: float
) -> None:
    advice = advisor.advise(grown_job(other_class, growth, "core/mixed"))
    assert advice.keeps
    assert any("nothing recalibrated" in text for text in advice.cautions())
