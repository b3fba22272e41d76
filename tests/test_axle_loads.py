"""What stands on the axles."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from gearrec import assembly, batches

POUND_KG = 0.45359237
MakeBatch = Callable[..., batches.Batch]


def test_axle_loads_add_up_to_the_vehicle_and_the_tongue(
    make_batch: MakeBatch, towing_job: dict[str, Any]
) -> None:
    lanes = assembly.lanes(make_batch(towing_job))
    total = lanes.axle_load_front_kg[0] + lanes.axle_load_rear_kg[0]
    # Tongue: 11 % of the demo trailer.
    assert total == pytest.approx(lanes.mass_kg[0, 0] + 0.11 * 4200 * POUND_KG)
    lighter = assembly.lanes(make_batch({**towing_job, "use": "core/mixed"}))
    assert lanes.axle_load_front_kg[0] < lighter.axle_load_front_kg[0]
    assert lanes.axle_load_rear_kg[0] > lighter.axle_load_rear_kg[0]
