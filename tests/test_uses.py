"""Uses made ready: air, shares, defaults."""

from __future__ import annotations

import pytest

import gearrec
from gearrec import uses
from gearrec.catalog.use_records import TerrainData, UseData


@pytest.fixture(scope="module")
def advisor() -> gearrec.Advisor:
    return gearrec.Advisor(plugins=())


def prepared(advisor: gearrec.Advisor, *legs: dict[str, object]) -> uses.Use:
    level = {"grade_deviation": "0 %", "correlation_length": "500 m"}
    record = UseData.model_validate({"legs": [{"terrain": level, **leg} for leg in legs]})

    def terrain(name: str) -> TerrainData:
        found: TerrainData = advisor.catalog.get("terrain", name)
        return found

    return uses.prepare(title="test", use=record, terrain=terrain, defaults=advisor.defaults)


def test_air_is_that_of_the_altitude(advisor: gearrec.Advisor) -> None:
    """ISA: 1.2250 kg/m3 at the sea, 1.0556 at 5,000 ft; REFERENCES by derivation, ISO 2533."""
    use = prepared(
        advisor,
        {"name": "sea", "share": "50 %", "speed": "60 mph", "altitude": "0 ft",
         "temperature": "15 degC"},
        {"name": "high", "share": "50 %", "speed": "60 mph", "altitude": "5000 ft",
         "temperature": "5.1 degC"},
    )  # fmt: skip
    density = use.arrays["leg_air_density_kg_per_m3"]
    assert density[0] == pytest.approx(1.2250, abs=2e-4)
    assert density[1] == pytest.approx(1.0556, abs=3e-4)
    factor = use.arrays["natural_torque_factor"]
    assert factor[1] < 0.90 < factor[0]


def test_hot_air_is_thin(advisor: gearrec.Advisor) -> None:
    use = prepared(
        advisor,
        {"name": "cool", "share": "50 %", "speed": "60 mph", "temperature": "0 degC"},
        {"name": "hot", "share": "50 %", "speed": "60 mph", "temperature": "40 degC"},
    )
    cool, hot = use.arrays["leg_air_density_kg_per_m3"]
    assert hot / cool == pytest.approx(273.15 / 313.15)


def test_shares_are_of_the_distance_and_sum_to_one(advisor: gearrec.Advisor) -> None:
    use = prepared(
        advisor,
        {"name": "fast", "share": "39.8 %", "speed": "45 mph"},
        {"name": "slow", "share": "40 %", "speed": "44.9 mph"},
        {"name": "creep", "share": "20 %", "speed": "4 mph", "range": "low",
         "terrain": "core/hilly"},
    )  # fmt: skip
    assert use.arrays["leg_share"].sum() == pytest.approx(1.0)
    shares = use.shares
    assert shares["use_highway"] + shares["use_city"] + shares["use_low_range"] == pytest.approx(1)
    assert shares["use_highway"] == pytest.approx(39.8 / 99.8)
    assert shares["use_climbing"] == pytest.approx(20.0 / 99.8)
    assert not use.tows


def test_what_legs_leave_out_is_named(advisor: gearrec.Advisor) -> None:
    leg = {"name": "road", "share": "100 %", "speed": "60 mph"}
    assert {item.name for item in prepared(advisor, leg).assumptions} == {
        "altitude",
        "temperature_above_standard",
    }
    full = {**leg, "altitude": "0 m", "temperature": "15 degC"}
    assert prepared(advisor, full).assumptions == ()
