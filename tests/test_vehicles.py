"""Vehicles and tires made ready: records and defaults turned into numbers."""

from __future__ import annotations

import math

import numpy as np
import pytest

import gearrec
from gearrec import vehicles
from gearrec.catalog.vehicle_records import TireData
from gearrec.jobs import ResolvedJob


@pytest.fixture(scope="module")
def advisor() -> gearrec.Advisor:
    return gearrec.Advisor(plugins=())


def resolved(advisor: gearrec.Advisor, **job: object) -> ResolvedJob:
    return advisor._workshop.resolve(advisor.job(job))


def tire(advisor: gearrec.Advisor, **record: object) -> vehicles.FittedTire:
    return vehicles.fitted_tire(
        record=TireData.model_validate(record),
        tire_type=advisor.catalog.get("tire-type", "core/all-terrain"),
        type_assumed=False,
        defaults=advisor.defaults,
    )


def test_measured_turns_win_over_the_rule_of_thumb(advisor: gearrec.Advisor) -> None:
    plain = tire(advisor, size="LT215/85R16")
    measured = tire(advisor, size="LT215/85R16", revs_per_mile="705 1/mi")
    # ETRTO: 3.05 x diameter for radials, quoted by a second source.
    assert plain.circumference_m == pytest.approx(3.05 * plain.diameter_m)
    assert measured.circumference_m == pytest.approx(1609.344 / 705.0)
    assert measured.measured_revs
    assert not plain.measured_revs


def test_a_passenger_tire_on_a_truck_is_derated(advisor: gearrec.Advisor) -> None:
    """49 CFR 571.110 S4.2.2.2: divided by 1.10. Load indices: UN R30, R54, Annex 4."""
    assert tire(advisor, size="P235/75R15 105S").capacity_kg == pytest.approx(925.0 / 1.10)
    assert tire(advisor, size="LT215/85R16 115/112Q E").capacity_kg == pytest.approx(1215.0)
    assert tire(advisor, size="LT215/85R16 115/112Q E").capacity_dual_kg == pytest.approx(1120.0)
    assert math.isnan(tire(advisor, size="LT215/85R16").capacity_kg)


def test_a_taller_tire_is_heavier_and_says_so(advisor: gearrec.Advisor) -> None:
    short, tall = (tire(advisor, size=size) for size in ("235/70R16", "34x10.50R16LT"))
    assert tall.mass_kg / short.mass_kg == pytest.approx((tall.diameter_m / short.diameter_m) ** 3)
    assert "wheel_mass" in {item.name for item in tall.assumptions}
    weighed = tire(advisor, size="34x10.50R16LT", mass="46 kg")
    assert weighed.mass_kg == 46.0
    assert weighed.assumptions == ()


def test_lockup_and_direct_gear_are_found(advisor: gearrec.Advisor) -> None:
    vehicle = resolved(advisor, vehicle="demo/alder").vehicle
    # Demo transmission: 2.43 1.44 1.00 0.77, lock-up from third.
    np.testing.assert_array_equal(vehicle.gear_locked, [False, False, True, True])
    direct = vehicle.gear_efficiency[2]
    assert direct > vehicle.gear_efficiency[0] == vehicle.gear_efficiency[3]


def test_six_wheels_under_a_dual_rear_axle(advisor: gearrec.Advisor) -> None:
    assert resolved(advisor, vehicle="demo/drumlin").vehicle.wheels == 6
    assert resolved(advisor, vehicle="demo/barge").vehicle.wheels == 4


def test_jobs_about_one_vehicle_share_it(advisor: gearrec.Advisor) -> None:
    first = resolved(advisor, vehicle="demo/barge", tires={"planned": "LT255/85R16"})
    second = resolved(advisor, vehicle="demo/barge", load={"payload": "500 lb"})
    other = resolved(advisor, vehicle="demo/barge", axle_ratio=3.62)
    assert first.vehicle is second.vehicle
    assert other.vehicle is not first.vehicle
