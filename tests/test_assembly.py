"""From a batch to lanes: masses, road load, padding."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

import gearrec
from gearrec import assembly, batches, road_load
from gearrec.lanes import validate

POUND_KG = 0.45359237
MakeBatch = Callable[..., batches.Batch]


@pytest.fixture(scope="module")
def advisor() -> gearrec.Advisor:
    return gearrec.Advisor(plugins=())


def test_the_mass_of_a_leg_is_all_that_rolls_on_it(
    make_batch: MakeBatch, towing_job: dict[str, Any]
) -> None:
    lanes = assembly.lanes(make_batch(towing_job))
    # Curb 4,380 lb and trailer 4,200 lb of the demo records, 200 lb for the driver by default.
    alone = (4380 + 200 + 300 + 100) * POUND_KG
    assert lanes.mass_kg[0, 0] == pytest.approx(alone)
    assert lanes.mass_kg[-1, 0] == pytest.approx(alone + 4200 * POUND_KG)


def test_the_road_load_agrees_with_the_plain_functions(
    make_batch: MakeBatch, towing_job: dict[str, Any]
) -> None:
    lanes = assembly.lanes(make_batch({**towing_job, "use": "core/mixed"}))
    plain = road_load.from_drag_area(
        mass_kg=lanes.mass_kg[0, 0],
        rolling_coefficient=0.008,  # highway tread of the core catalog
        drag_area_m2=1.21,
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

    record = RoadLoad(a="41.5 lbf", b="0.68 lbf/mph", c="0.0185 lbf/mph^2", test_mass="5100 lb")  # type: ignore[arg-type]
    measured = vehicle.model_copy(update={"drag_area": None, "road_load": record})
    lanes = assembly.lanes(
        batches.collect(
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
    per_kg = 41.5 * pounds / (5100 * POUND_KG)
    assert lanes.force_constant_n[0, 0] == pytest.approx(per_kg * lanes.mass_kg[0, 0])
    assert lanes.force_linear_n_per_mps[0, 0] == pytest.approx(0.68 * pounds / 0.44704)
    density = lanes.leg_air_density_kg_per_m3[0, 0]
    assert lanes.force_square_n_per_mps2[0, 0] == pytest.approx(
        0.0185 * pounds / 0.44704**2 * density / assembly.COAST_DOWN_DENSITY
    )


def test_unequal_jobs_are_padded_and_valid(advisor: gearrec.Advisor, make_batch: MakeBatch) -> None:
    jobs = [
        {"vehicle": vehicle, "use": use}
        for vehicle in advisor.catalog.ids("platform")
        for use in ("core/mixed", "core/town-delivery", "core/trail")
    ]
    lanes = assembly.lanes(make_batch(*jobs))
    validate(lanes)
    np.testing.assert_allclose(lanes.leg_share.sum(axis=0), 1.0)
    assert not lanes.leg_known.all()
    assert not lanes.candidate_known.all()
