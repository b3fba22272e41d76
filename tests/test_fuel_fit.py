"""Fitting the fuel model to a consumption map."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import gearrec
from gearrec.catalog import powertrain_records as records
from gearrec.errors import JobError
from gearrec.fuel import ConsumptionMap
from gearrec.fuel_fit import fit_map

HEAT = 42.7e6
SWEPT = 2.2e-3


def made_map(friction: tuple[float, float, float], efficiency: float) -> ConsumptionMap:
    """A map that the model can reproduce exactly."""
    speed = np.array([1000.0, 1500.0, 2200.0, 3000.0])
    torque = np.array([40.0, 120.0, 250.0, 380.0])
    grid_speed, grid_torque = np.meshgrid(speed, torque)
    power = grid_torque * grid_speed * np.pi / 30.0
    pressure = friction[0] + friction[1] * grid_speed + friction[2] * grid_speed**2
    heat = (pressure * SWEPT * grid_speed / 120.0 + power) / efficiency
    return ConsumptionMap(speed_rpm=speed, torque_nm=torque, specific_kg_per_j=heat / HEAT / power)


@given(st.floats(3e4, 2e5), st.floats(0.0, 60.0), st.floats(0.0, 0.01), st.floats(0.3, 0.5))
def test_a_map_made_by_the_model_is_found_again(
    constant: float, linear: float, square: float, efficiency: float
) -> None:
    fit = fit_map(
        consumption_map=made_map((constant, linear, square), efficiency),
        displacement_m3=SWEPT,
        lower_heating_value_j_per_kg=HEAT,
    )
    assert fit.indicated_efficiency == pytest.approx(efficiency, rel=1e-6)
    assert fit.relative_error < 1e-6
    for speed in (1000.0, 3000.0):
        expected = constant + linear * speed + square * speed**2
        found = fit.constant_pa + fit.linear_pa_per_rpm * speed + fit.square_pa_per_rpm2 * speed**2
        assert found == pytest.approx(expected, rel=1e-4)


def test_a_map_that_no_model_fits_widens_the_range() -> None:
    exact = made_map((8e4, 30.0, 0.004), 0.42)
    bent = exact.specific_kg_per_j.copy()
    bent[0] *= 1.3
    bent[:, 1] *= 0.85
    fit = fit_map(
        consumption_map=ConsumptionMap(exact.speed_rpm, exact.torque_nm, bent),
        displacement_m3=SWEPT,
        lower_heating_value_j_per_kg=HEAT,
    )
    assert fit.relative_error > 0.03
    assert fit.spread == fit.relative_error
    assert min(fit.constant_pa, fit.linear_pa_per_rpm, fit.square_pa_per_rpm2) >= 0.0


MAP = {
    "speeds": ["1200 rpm", "2400 rpm", "4000 rpm"],
    "torques": ["80 N*m", "200 N*m", "380 N*m"],
}
GRAMS = ([420.0, 440.0, 480.0], [290.0, 285.0, 305.0], [262.0, 255.0, 268.0])


def with_map(**texts: object) -> gearrec.Job:
    """The example job of a vehicle of its own, with a consumption map (invented figures)."""
    job = gearrec.Advisor(plugins=()).job("docs/examples/own-truck.yaml")
    vehicle = job.vehicle
    assert not isinstance(vehicle, str)
    assert not isinstance(vehicle.engine, str)
    consumption = records.ConsumptionMap.model_validate(texts)
    engine = vehicle.engine.model_copy(update={"consumption_map": consumption})
    return job.model_copy(update={"vehicle": vehicle.model_copy(update={"engine": engine})})


def test_a_record_with_a_map_is_judged_by_it() -> None:
    advisor = gearrec.Advisor(plugins=())
    plain, worse = (
        advisor.advise(
            with_map(
                **MAP, consumption=[[f"{scale * one:.1f} g/kWh" for one in row] for row in GRAMS]
            )
        )
        for scale in (1.0, 1.2)
    )
    assert "consumption_map_fit_error" in {item.name for item in plain.assumptions}
    rates = [item.fitted.metrics["fuel_rate_mix"] for item in (plain, worse)]
    assert rates[0] is not None
    assert rates[1] is not None
    # A fifth more fuel at every point of the map is a fifth more on the road.
    assert rates[1] / rates[0] == pytest.approx(1.2, rel=0.02)


def test_a_map_that_tells_too_little_is_refused_at_its_place() -> None:
    job = with_map(
        speeds=["1200 rpm", "4000 rpm"],
        torques=["0 N*m", "380 N*m"],
        consumption=[["900 g/kWh", "900 g/kWh"], ["262 g/kWh", "268 g/kWh"]],
    )
    with pytest.raises(JobError, match=r"vehicle\.engine\.consumption_map.*four points"):
        gearrec.Advisor(plugins=()).advise(job)
