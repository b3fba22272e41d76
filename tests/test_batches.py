"""Batches: lanes repeated and changed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from gearrec import assembly, batches

MakeBatch = Callable[..., batches.Batch]


def test_changed_multiplies_and_repeated_repeats(
    make_batch: MakeBatch, towing_job: dict[str, Any]
) -> None:
    one = make_batch(towing_job)
    three = one.repeated(3).changed(mass_factor=np.array([1.0, 1.1, 1.2]))
    masses = assembly.lanes(three).mass_kg[0]
    np.testing.assert_allclose(masses / masses[0], [1.0, 1.1, 1.2])
    np.testing.assert_array_equal(one.columns[:, 0], one.repeated(2).columns[:, 1])
