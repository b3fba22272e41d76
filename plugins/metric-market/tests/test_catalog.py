"""What the catalog holds: metric throughout, invented, and nothing that another catalog knows."""

from __future__ import annotations

import re

import gearrec_metric_market
import pytest

from gearrec import tires, units

OWN = "metric-market/"
KINDS = (
    "axle",
    "case",
    "engine",
    "engine-class",
    "platform",
    "rule",
    "rule-set",
    "terrain",
    "tire",
    "trailer",
    "transfer-case",
    "transmission",
    "use-profile",
)
NOT_METRIC = re.compile(r'"[-0-9.]+ (lb|in|ft|mi|mph|1/mi|mpg[^"]*|lbf\*ft|mm\^3|lbf)"')


def own(advisor, kind):
    return {name: record for name, record in advisor.catalog.records(kind).items() if OWN in name}


def files():
    return sorted(gearrec_metric_market.CATALOG.rglob("*.yaml"))


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_has_records(market_advisor, kind):
    assert own(market_advisor, kind)


@pytest.mark.parametrize("file", files(), ids=lambda file: file.stem)
def test_no_file_leaves_metric_units(file):
    assert not NOT_METRIC.search(file.read_text(encoding="utf-8"))


@pytest.mark.parametrize("file", files(), ids=lambda file: file.stem)
def test_every_file_names_the_schema_of_its_kind(file):
    first, second = file.read_text(encoding="utf-8").splitlines()[:2]
    kind = second.removeprefix("kind: ")
    assert first.startswith("# yaml-language-server: $schema=../../../../")
    assert first.endswith(f"docs/schemas/{kind}.schema.json")


def test_vehicles_say_that_they_are_invented(market_advisor):
    advice = market_advisor.advise({"vehicle": "metric-market/thole"})
    assert {use.id: use.invented for use in advice.records}["metric-market/thole"] is True


@pytest.mark.parametrize(
    ("name", "diameter_mm", "single_kg", "dual_kg"),
    [
        # By hand: rim x 25.4 + 2 x aspect x width. Capacities: ISO 4000 load index table, 105 is
        # 925 kg, 107 975, 113 1150, 115 1215, 116 1250, 118 1320.
        ("van-205-65-16", 672.9, 975.0, 925.0),
        ("van-235-65-16", 711.9, 1215.0, 1150.0),
        ("van-225-75-16", 743.9, 1320.0, 1250.0),
    ],
)
def test_commercial_tires_are_read_as_such(market_advisor, name, diameter_mm, single_kg, dual_kg):
    record = market_advisor.catalog.get("tire", OWN + name)
    size = tires.parse_size(record.size)
    assert size.service_type == "commercial"
    assert size.diameter_m * 1e3 == pytest.approx(diameter_mm)
    assert (size.capacity_kg, size.capacity_dual_kg) == (single_kg, dual_kg)


def test_duals_carry_the_dual_rating(market_advisor):
    # By hand: four tires of 925 kg each behind, two of 975 kg in front.
    advice = market_advisor.advise({"vehicle": "metric-market/kiln-tipper"})
    lanes = advice.judgement.measured.lanes
    assert lanes.tire_capacity_rear_kg[0] == pytest.approx(3700.0)
    assert lanes.tire_capacity_front_kg[0] == pytest.approx(1950.0)


@pytest.mark.parametrize(
    ("name", "kilowatt"),
    [
        ("diesel-2-06", 93),
        ("diesel-2-93", 121),
        ("gasoline-1-57-boosted", 119),
        ("gasoline-2-53", 109),
    ],
)
def test_an_engine_makes_the_power_that_its_title_says(market_advisor, name, kilowatt):
    # P = T n pi / 30, at the best point of the table.
    engine = market_advisor.catalog.get("engine", OWN + name)
    watt = max(point.torque * point.speed * 3.14159 / 30 for point in engine.torque_curve)
    assert f"{kilowatt} kW" in engine.title
    assert watt / 1e3 == pytest.approx(kilowatt, rel=0.03)


def test_uses_climb_to_their_altitudes(market_advisor):
    advice = market_advisor.advise(
        {
            "vehicle": "metric-market/rake",
            "use": "metric-market/over-the-pass",
            "trailer": "metric-market/caravan",
        }
    )
    attributes = advice.judgement.measured.attributes
    assert units.to(attributes["altitude_max"][0], "length", "m") == pytest.approx(1190.0)
    assert units.to(attributes["speed_max"][0], "speed", "km/h") == pytest.approx(120.0)
    report = advice.text("metric")
    assert "L/100km" in report
    assert "km/h" in report
    assert "mph" not in report
