"""Every unit factor against pint, a general units library; nothing here is computed by hand."""

from __future__ import annotations

import math

import pint
import pytest

from gearrec import units

# Dimension -> (what pint calls the SI unit inside, unit -> what pint calls it).
NAMES = {
    "length": (
        "meter",
        {
            "m": "meter",
            "mm": "millimeter",
            "cm": "centimeter",
            "in": "inch",
            "ft": "foot",
            "mi": "mile",
            "km": "kilometer",
        },
    ),
    "area": ("meter**2", {"m^2": "meter**2", "ft^2": "foot**2"}),
    "volume": ("meter**3", {"L": "liter", "cc": "centimeter**3", "in^3": "inch**3"}),
    "mass": ("kilogram", {"kg": "kilogram", "lb": "pound", "t": "metric_ton"}),
    "time": ("second", {"s": "second"}),
    "speed": (
        "meter/second",
        {"m/s": "meter/second", "km/h": "kilometer/hour", "mph": "mile/hour"},
    ),
    "engine_speed": ("revolution/minute", {"rpm": "revolution/minute"}),
    "angle": ("radian", {"rad": "radian", "deg": "degree"}),
    "force": ("newton", {"N": "newton", "lbf": "force_pound"}),
    "torque": (
        "newton*meter",
        {"N*m": "newton*meter", "lbf*ft": "force_pound*foot", "lbf*in": "force_pound*inch"},
    ),
    "power": ("watt", {"kW": "kilowatt", "hp": "horsepower"}),
    "pressure": (
        "pascal",
        {"kPa": "kilopascal", "psi": "pound_force_per_square_inch", "bar": "bar"},
    ),
    "density": (
        "kilogram/meter**3",
        {"kg/m^3": "kilogram/meter**3", "lb/ft^3": "pound/foot**3"},
    ),
    "inertia": (
        "kilogram*meter**2",
        {"kg*m^2": "kilogram*meter**2", "lb*ft^2": "pound*foot**2"},
    ),
    "temperature_difference": ("kelvin", {"K": "kelvin"}),
    "specific_consumption": ("kilogram/joule", {"g/kWh": "gram/(kilowatt*hour)"}),
    "specific_energy": ("joule/kilogram", {"MJ/kg": "megajoule/kilogram"}),
    "force_per_speed": (
        "newton*second/meter",
        {"N*s/m": "newton*second/meter", "lbf/mph": "force_pound/(mile/hour)"},
    ),
    "force_per_speed2": (
        "newton*second**2/meter**2",
        {"N*s^2/m^2": "newton*second**2/meter**2", "lbf/mph^2": "force_pound/(mile/hour)**2"},
    ),
    "revs_per_distance": ("1/meter", {"1/km": "1/kilometer", "1/mi": "1/mile"}),
    "ratio": ("dimensionless", {"": "dimensionless"}),
    "share": ("dimensionless", {"%": "percent"}),
    "grade": ("dimensionless", {"%": "percent"}),
}
FUEL_USE = {"mpg (US)": "mile/US_liquid_gallon", "mpg (UK)": "mile/imperial_gallon"}
TEMPERATURE = {"degC": "degC", "degF": "degF"}
LINEAR = [
    pytest.param(dimension, unit, name, si, id=f"{dimension}-{unit or 'bare'}")
    for dimension, (si, names) in NAMES.items()
    for unit, name in names.items()
]


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry:
    return pint.UnitRegistry()


def test_every_unit_of_the_library_is_checked_here() -> None:
    checked = {dimension: set(names) for dimension, (_, names) in NAMES.items()}
    checked["fuel_use"] = {"L/100km", *FUEL_USE}
    checked["temperature"] = set(TEMPERATURE)
    assert checked == {dimension: set(names) for dimension, names in units.UNITS.items()}


@pytest.mark.parametrize(("dimension", "unit", "name", "si"), LINEAR)
def test_factor(registry: pint.UnitRegistry, dimension: str, unit: str, name: str, si: str) -> None:
    expected = registry.Quantity(1.0, name).to(si).magnitude
    assert units.parse(f"1 {unit}".strip(), dimension) == pytest.approx(expected, rel=1e-12)
    assert units.to(expected, dimension, unit) == pytest.approx(1.0, rel=1e-12)


@pytest.mark.parametrize("miles", [8.0, 18.5, 34.0])
@pytest.mark.parametrize("unit", FUEL_USE)
def test_miles_per_gallon(registry: pint.UnitRegistry, unit: str, miles: float) -> None:
    expected = (1.0 / registry.Quantity(miles, FUEL_USE[unit])).to("liter/kilometer").magnitude
    found = units.parse(f"{miles} {unit}", "fuel_use")
    assert found == pytest.approx(100.0 * expected, rel=1e-12)
    assert units.to(100.0 * expected, "fuel_use", unit) == pytest.approx(miles, rel=1e-12)


def test_liters_per_100_km_are_kept() -> None:
    assert units.parse("12.7 L/100km", "fuel_use") == 12.7


@pytest.mark.parametrize("degrees", [-40.0, 0.0, 15.0, 100.0])
@pytest.mark.parametrize("unit", TEMPERATURE)
def test_temperature(registry: pint.UnitRegistry, unit: str, degrees: float) -> None:
    expected = registry.Quantity(degrees, TEMPERATURE[unit]).to("kelvin").magnitude
    assert units.parse(f"{degrees} {unit}", "temperature") == pytest.approx(expected, rel=1e-12)
    assert units.to(expected, "temperature", unit) == pytest.approx(degrees, abs=1e-9)


def test_an_angle_is_in_radians() -> None:
    assert units.parse("180 deg", "angle") == pytest.approx(math.pi, rel=1e-15)
