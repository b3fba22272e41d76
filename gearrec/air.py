"""The standard atmosphere: temperature, pressure and density of dry air at altitude.

All functions take scalars or arrays that broadcast against each other, keyword-only, and return
float64 of the broadcast shape. NaN passes through as unknown.

Altitude is geopotential; the geometric altitude of a road exceeds it by 0.05 % at 3,000 m. On an
off-standard day the pressure is taken to be the standard one of the altitude, and the density
follows from the actual temperature: weather moves the pressure by some 3 % more.

References
    [1] ISO 2533:1975, Standard Atmosphere: constants and formulas, troposphere.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from gearrec.arguments import ABOVE_ZERO, Floats, Span, numbers

STANDARD_TEMPERATURE_K = 288.15
STANDARD_PRESSURE_PA = 101_325.0
STANDARD_DENSITY_KG_PER_M3 = 1.225

LAPSE_RATE_K_PER_M = 0.0065
GAS_CONSTANT = 287.052_87
"""Of dry air [J/(kg K)]."""

LOWEST_ALTITUDE_M = -2_000.0
HIGHEST_ALTITUDE_M = 11_000.0
"""Where the troposphere of the standard ends."""

_GRAVITY_MPS2 = 9.80665
_EXPONENT = _GRAVITY_MPS2 / (GAS_CONSTANT * LAPSE_RATE_K_PER_M)
_ALTITUDE = Span("-2,000 to 11,000 m", low=LOWEST_ALTITUDE_M, high=HIGHEST_ALTITUDE_M)


def temperature_k(*, altitude_m: npt.ArrayLike) -> Floats:
    """Air temperature of the standard day.

    Parameters
        altitude_m: [m], -2,000 to 11,000.

    Returns
        Temperature [K].

    Equation
        T = 288.15 K - 0.0065 K/m h   [1]

    Raises
        InputError: the altitude is outside its range.
    """
    return _standard_k(altitude_m)


def pressure_pa(*, altitude_m: npt.ArrayLike) -> Floats:
    """Air pressure of the standard day.

    Parameters
        altitude_m: [m], -2,000 to 11,000.

    Returns
        Pressure [Pa].

    Equation
        p = 101325 Pa (T / 288.15 K)^(g / (R L)), exponent 5.2559   [1]

    Raises
        InputError: the altitude is outside its range.
    """
    ratio = _standard_k(altitude_m) / STANDARD_TEMPERATURE_K
    return STANDARD_PRESSURE_PA * np.power(ratio, _EXPONENT)


def gas_density_kg_per_m3(*, pressure_pa: npt.ArrayLike, temperature_k: npt.ArrayLike) -> Floats:
    """Density of dry air; moist air is up to 2 % lighter on a hot, humid day.

    Parameters
        pressure_pa: [Pa], > 0.
        temperature_k: [K], > 0.

    Returns
        Density [kg/m3].

    Equation
        rho = p / (R T), R = 287.053 J/(kg K)   [1]

    Raises
        InputError: an argument is outside its range.
    """
    pressure, temperature = numbers(
        pressure_pa=(pressure_pa, ABOVE_ZERO), temperature_k=(temperature_k, ABOVE_ZERO)
    )
    return pressure / (GAS_CONSTANT * temperature)


def density_kg_per_m3(
    *, altitude_m: npt.ArrayLike, temperature_k: npt.ArrayLike | None = None
) -> Floats:
    """Density of dry air at altitude, on the standard day or at another temperature.

    Parameters
        altitude_m: [m], -2,000 to 11,000.
        temperature_k: of the air [K], > 0; None is the standard day's.

    Returns
        Density [kg/m3].

    Equation
        `gas_density_kg_per_m3` of `pressure_pa` and the temperature   [1]

    Raises
        InputError: an argument is outside its range.
    """
    if temperature_k is None:
        temperature_k = _standard_k(altitude_m)
    altitude, temperature = numbers(
        altitude_m=(altitude_m, _ALTITUDE), temperature_k=(temperature_k, ABOVE_ZERO)
    )
    pressure = pressure_pa(altitude_m=altitude)
    return gas_density_kg_per_m3(pressure_pa=pressure, temperature_k=temperature)


def _standard_k(altitude_m: npt.ArrayLike) -> Floats:
    (altitude,) = numbers(altitude_m=(altitude_m, _ALTITUDE))
    return STANDARD_TEMPERATURE_K - LAPSE_RATE_K_PER_M * altitude
