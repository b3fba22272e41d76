"""Disturbed copies: their spread, and what confidence and reach are made of."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import qmc

import gearrec
from gearrec import sensitivity


@pytest.fixture(scope="module")
def advisor() -> gearrec.Advisor:
    return gearrec.Advisor(plugins=())


def test_disturbances_fill_their_ranges_evenly(advisor: gearrec.Advisor) -> None:
    tolerances = advisor.defaults.tolerances
    factors = sensitivity.disturbances(256, tolerances)
    named = {
        "mass_factor": tolerances.mass,
        "drag_factor": tolerances.drag,
        "rolling_factor": tolerances.rolling,
        "torque_factor": tolerances.torque,
        "speed_factor": tolerances.speed,
        "diameter_planned_m": tolerances.tire_diameter,
    }
    unit = []
    for name, width in named.items():
        assert factors[name].min() >= 1.0 - width
        assert factors[name].max() <= 1.0 + width
        assert factors[name].mean() == pytest.approx(1.0, abs=0.02 * width)
        unit.append((factors[name] - 1.0 + width) / (2.0 * width))
    # Evener than random points: centered discrepancy by scipy, an outside implementation.
    ours = qmc.discrepancy(np.clip(np.array(unit).T, 0.0, 1.0))
    random = np.random.default_rng(1)
    others = [qmc.discrepancy(random.random((256, 6))) for _ in range(20)]
    assert ours < 0.5 * min(others)
    np.testing.assert_array_equal(factors["diameter_planned_m"], factors["circumference_planned_m"])


def test_a_clear_answer_is_certain_and_a_close_one_is_not(advisor: gearrec.Advisor) -> None:
    def confidence(size: str) -> float:
        advice = advisor.advise(
            {
                "vehicle": "demo/harrow-six",
                "tires": {"planned": size},
                "trailer": "demo/medium-box",
                "use": "core/some-towing",
            }
        )
        assert advice.confidence is not None
        return advice.confidence

    assert confidence("35x12.50R17LT") == 1.0
    assert confidence("LT235/80R17") < 0.9


def test_the_reach_agrees_with_advice_on_tires_inside_it(advisor: gearrec.Advisor) -> None:
    job = {"vehicle": "demo/mesa-v8", "trailer": "demo/utility", "use": "core/some-towing"}
    reach = advisor.advise(job).reach
    assert reach[0].open_below
    assert reach[-1].open_above
    for item in reach:
        middle = (item.from_m + item.to_m) / 2.0
        # A tire of other height but else as the factory's: what the reach sweeps over.
        tire = {
            "size": "265/70R17 115T",
            "type": "core/highway",
            "diameter": f"{middle * 1000:.1f} mm",
            "mass": "30 kg",
        }
        pick = advisor.advise({**job, "tires": {"planned": tire}}).pick
        assert pick is not None
        assert pick.axle_ratio == item.axle_ratio
