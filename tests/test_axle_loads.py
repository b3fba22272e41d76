"""What stands on the axles."""

from __future__ import annotations

from typing import Any

import pytest

import gearrec
from gearrec import assembly, batches

POUND_KG = 0.45359237


@pytest.fixture(scope="module")
def advisor() -> gearrec.Advisor:
    return gearrec.Advisor(plugins=())


def batch(advisor: gearrec.Advisor, *jobs: dict[str, Any]) -> batches.Batch:
    return batches.collect([advisor._workshop.resolve(advisor.job(job)) for job in jobs])


PLAIN: dict[str, Any] = {
    "vehicle": "demo/harrow-diesel",
    "use": "core/some-towing",
    "trailer": "demo/medium-box",
    "load": {"payload": "300 lb", "added": "100 lb"},
}


def test_axle_loads_add_up_to_the_vehicle_and_the_tongue(advisor: gearrec.Advisor) -> None:
    lanes = assembly.lanes(batch(advisor, PLAIN))
    total = lanes.axle_load_front_kg[0] + lanes.axle_load_rear_kg[0]
    # Tongue: 11 % of the demo trailer.
    assert total == pytest.approx(lanes.mass_kg[0, 0] + 0.11 * 4500 * POUND_KG)
    lighter = assembly.lanes(batch(advisor, {**PLAIN, "use": "core/mixed"}))
    assert lanes.axle_load_front_kg[0] < lighter.axle_load_front_kg[0]
    assert lanes.axle_load_rear_kg[0] > lighter.axle_load_rear_kg[0]
