"""Batches: lanes repeated and changed."""

from __future__ import annotations

from typing import Any

import numpy as np
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


def test_changed_multiplies_and_repeated_repeats(advisor: gearrec.Advisor) -> None:
    one = batch(advisor, PLAIN)
    three = one.repeated(3).changed(mass_factor=np.array([1.0, 1.1, 1.2]))
    masses = assembly.lanes(three).mass_kg[0]
    np.testing.assert_allclose(masses / masses[0], [1.0, 1.1, 1.2])
    np.testing.assert_array_equal(one.columns[:, 0], one.repeated(2).columns[:, 1])
