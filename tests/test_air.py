from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gearrec import air
from gearrec.errors import InputError

altitudes = st.floats(air.LOWEST_ALTITUDE_M, air.HIGHEST_ALTITUDE_M - 10.0)
modest = settings(max_examples=60, deadline=None)


@modest
@given(altitude=altitudes)
def test_everything_falls_with_altitude(altitude: float) -> None:
    places = np.array([altitude, altitude + 5.0])
    for column in (air.temperature_k, air.pressure_pa, air.density_kg_per_m3):
        low, high = column(altitude_m=places)
        assert high < low


@modest
@given(altitude=altitudes)
def test_pressure_carries_the_air_above_it(altitude: float) -> None:
    above, below = air.pressure_pa(altitude_m=np.array([altitude + 1.0, altitude]))
    density = air.density_kg_per_m3(altitude_m=altitude + 0.5)
    # Hydrostatic balance over one meter; a difference of nearly equal numbers.
    assert below - above == pytest.approx(9.80665 * density, rel=1e-6)


@modest
@given(altitude=altitudes, offset=st.floats(-40.0, 40.0))
def test_density_goes_with_the_inverse_of_temperature_at_equal_pressure(
    altitude: float, offset: float
) -> None:
    standard = air.temperature_k(altitude_m=altitude)
    density = air.density_kg_per_m3(altitude_m=altitude, temperature_k=standard + offset)
    expected = air.density_kg_per_m3(altitude_m=altitude) * standard / (standard + offset)
    assert density == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("altitude", [-2000.5, 11000.5, 1e6])
def test_altitude_outside_the_troposphere_is_refused(altitude: float) -> None:
    with pytest.raises(InputError, match=r"altitude_m: .*allowed: -2,000 to 11,000 m"):
        air.pressure_pa(altitude_m=altitude)


def test_altitude_and_temperature_at_fault_are_named_together() -> None:
    with pytest.raises(InputError) as caught:
        air.density_kg_per_m3(altitude_m=20_000.0, temperature_k=0.0)
    assert [problem.place.dotted for problem in caught.value.problems] == [
        "altitude_m",
        "temperature_k",
    ]
