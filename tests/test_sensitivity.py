"""Disturbed copies: their spread, and what confidence and reach are made of."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.stats import qmc

import gearrec
from gearrec import sensitivity

TOWS = {"vehicle": "demo/fell", "trailer": "demo/horses", "use": "core/some-towing"}


@pytest.fixture(scope="module")
def advisor() -> gearrec.Advisor:
    return gearrec.Advisor(plugins=())


@pytest.fixture(scope="module")
def toy_advisor(toy_rules: Path) -> gearrec.Advisor:
    return gearrec.Advisor([toy_rules], plugins=())


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


@pytest.mark.parametrize("wins", ["deeper", "taller"])
def test_a_clear_answer_is_certain(toy_advisor: gearrec.Advisor, wins: str) -> None:
    assert toy_advisor.advise({**TOWS, "rule_set": f"toy/{wins}-wins"}).confidence == 1.0


def test_an_answer_is_surer_inside_its_reach_than_at_the_edge(
    toy_advisor: gearrec.Advisor,
) -> None:
    job = {**TOWS, "rule_set": "toy/nine-wins"}

    def confidence(diameter_m: float) -> float:
        tire = {"size": "235/70R16", "diameter": f"{diameter_m * 1000:.1f} mm"}
        found = toy_advisor.advise({**job, "tires": {"planned": tire}}).confidence
        assert found is not None
        return found

    reach = toy_advisor.advise(job).reach
    widest = max(reach, key=lambda span: span.to_m - span.from_m)
    inside = confidence((widest.from_m + widest.to_m) / 2.0)
    edges = [
        edge
        for edge, is_open in ((widest.from_m, widest.open_below), (widest.to_m, widest.open_above))
        if not is_open
    ]
    assert edges
    # At an edge two ratios are level: about half of the copies fall on either side.
    assert all(0.2 < confidence(edge) < min(0.8, inside) for edge in edges)


def test_the_reach_agrees_with_advice_on_tires_inside_it(advisor: gearrec.Advisor) -> None:
    job = {"vehicle": "demo/barge", "trailer": "demo/hives", "use": "core/some-towing"}
    reach = advisor.advise(job).reach
    assert reach[0].open_below
    assert reach[-1].open_above
    for item in reach:
        middle = (item.from_m + item.to_m) / 2.0
        # A tire of other height but else as the factory's: what the reach sweeps over.
        tire = {
            "size": "255/70R18 113T",
            "type": "core/highway",
            "diameter": f"{middle * 1000:.1f} mm",
            "mass": "30 kg",
        }
        pick = advisor.advise({**job, "tires": {"planned": tire}}).pick
        assert pick is not None
        assert pick.axle_ratio == item.axle_ratio
