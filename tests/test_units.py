from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gearrec import units
from gearrec.errors import GearrecError, QuantityError

CURVED = {"temperature", "fuel_use"}
ALL_UNITS = [(dimension, unit) for dimension, names in units.UNITS.items() for unit in names]


@pytest.mark.parametrize(
    ("text", "dimension", "expected"),
    [
        ("28.7 in", "length", 28.7 * 0.0254),
        ("28.7in", "length", 28.7 * 0.0254),
        ("28.7   in", "length", 28.7 * 0.0254),
        (".083 in", "length", 0.083 * 0.0254),
        ("+5 m", "length", 5.0),
        ("-500 m", "length", -500.0),
        ("0 lbf", "force", 0.0),
        ("54 mph", "speed", 54 * 0.44704),
        ("1830 rpm", "engine_speed", 1830.0),
        ("6 %", "grade", 0.06),
        ("6%", "grade", 0.06),
        ("3.85", "ratio", 3.85),
        (3.85, "ratio", 3.85),
        (4, "ratio", 4.0),
        ("25 mpg (US)", "fuel_use", 235.214583 / 25.0),
        ("32 degF", "temperature", 273.15),
        ("705 1/mi", "revs_per_distance", 705 / 1609.344),
    ],
)
def test_parse(text: object, dimension: str, expected: float) -> None:
    # Inch, mile, pound: exact by definition, NIST SP 811; 235.2146 for mpg: by hand from them.
    assert units.parse(text, dimension) == pytest.approx(expected, rel=1e-8)


@pytest.mark.parametrize(
    ("text", "dimension", "words"),
    [
        (28.7, "length", ["has no unit", "'28.7 in'", "m, mm, cm, in, ft, mi, km"]),
        (6, "share", ["has no unit", "%"]),
        ("28.7", "length", ["unit is missing", "28.7 in"]),
        ("6", "grade", ["unit is missing", "6 %"]),
        ('28.7"', "length", ["unknown unit", "write in"]),
        ("28.7 inches", "length", ["'inches'", "write in"]),
        ("28.7 meter", "length", ["write m;"]),
        ("3 metres2", "length", ["unknown unit"]),
        ("54 MPH", "speed", ["write mph"]),
        ("87 kph", "speed", ["write km/h"]),
        ("310 lb-ft", "torque", ["write lbf*ft", "N*m, lbf*ft, lbf*in"]),
        ("310 ft-lbs", "torque", ["write lbf*ft"]),
        ("500 Nm", "torque", ["write N*m"]),
        ("500 N*n", "torque", ["did you mean 'N*m'?"]),
        ("21.5 mpg", "fuel_use", ["mpg (US) or mpg (UK)"]),
        ("0 mpg (US)", "fuel_use", ["cannot be 0"]),
        ("0 L/100km", "fuel_use", ["cannot be 0"]),
        ("3 tons", "mass", ["t (1000 kg) or lb"]),
        ("15 C", "temperature", ["write degC"]),
        ("-300 degC", "temperature", ["absolute zero"]),
        ("87 km", "speed", ["'km' is a unit of a length", "a speed is due"]),
        ("54 mph", "engine_speed", ["is a unit of a speed", "an engine speed is due"]),
        ("1,500 rpm", "engine_speed", ["thousands separators", "1500"]),
        ("1,234,567 rpm", "engine_speed", ["1234567"]),
        ("28,7 in", "length", ["after a point: 28.7"]),
        ("1e3 mm", "length", ["exponent"]),
        ("1E+3 mm", "length", ["exponent"]),
        ("1_000 mm", "length", ["without separators"]),
        ("1'000 mm", "length", ["without separators"]),
        ("12/32 in", "length", ["fraction: 0.375"]),
        ("28 3/4 in", "length", ["fraction: 28.75"]),
        ("1/0 in", "length", ["fraction"]),
        ("28.7\u00a0in", "length", ["plain blank"]),
        ("28.7\u202fin", "length", ["plain blank"]),
        ("28.7\tin", "length", ["plain blank"]),
        ("28.7 in ", "length", ["remove the blanks"]),
        (" 28.7 in", "length", ["remove the blanks"]),
        ("28.7 in\n", "length", ["kind of space"]),
        ("", "length", ["empty"]),
        ("   ", "length", ["empty"]),
        ("nan in", "length", ["finite"]),
        ("-inf in", "length", ["finite"]),
        (".inf in", "length", ["finite"]),
        ("tall", "length", ["plain decimal number"]),
        ("\u0663 m", "length", ["digits 0 to 9"]),
        ("\u2212500 m", "length", ["plain hyphen"]),
        ("5. m", "length", ["after the decimal point"]),
        ("1.2.3 m", "length", ["one point only"]),
        ("-3 kg", "mass", ["cannot be negative"]),
        ("-1500 rpm", "engine_speed", ["cannot be negative"]),
        ("-3.85", "ratio", ["cannot be negative"]),
        (-3.85, "ratio", ["cannot be negative"]),
        ("3.85:1", "ratio", ["bare number", "write 3.85"]),
        ("3:85", "ratio", ["bare number"]),
        ("3,62", "ratio", ["3.62"]),
        (float("nan"), "ratio", ["not a finite number"]),
        (float("inf"), "ratio", ["not a finite number"]),
        (10**400, "ratio", ["huge", "not a finite number"]),
        (True, "ratio", ["true is not a ratio"]),
        (False, "length", ["false is not a length"]),
        (None, "length", ["nothing is not a length"]),
        (["28.7 in"], "length", ["a list is not a length"]),
        ({}, "ratio", ["a dict is not a ratio"]),
        ("9" * 400 + " m", "length", ["too many digits"]),
        ("7051/mi", "revs_per_distance", ["blank before the unit 1/mi"]),
        ("28.7 in", "lenght", ["unknown dimension", "did you mean 'length'?"]),
    ],
)
def test_refusals_say_what_to_do(text: object, dimension: str, words: list[str]) -> None:
    with pytest.raises(QuantityError) as caught:
        units.parse(text, dimension)
    message = str(caught.value)
    for word in words:
        assert word in message
    assert len(message) < 500
    assert isinstance(caught.value, GearrecError)
    assert isinstance(caught.value, ValueError)


def test_a_refusal_shortens_and_escapes_what_it_echoes() -> None:
    with pytest.raises(QuantityError) as caught:
        units.parse("28.7 \x1b[31m" + "y" * 5000, "length")
    assert "\x1b" not in str(caught.value)
    assert len(str(caught.value)) < 250


@pytest.mark.parametrize(
    ("value", "dimension", "system", "expected"),
    [
        (0.72898, "length", "us", "28.7 in"),
        (0.72898, "length", "metric", "729 mm"),
        (1524.0, "length", "us", "5,000 ft"),
        (1524.0, "length", "metric", "1,524 m"),
        (0.0, "length", "us", "0 ft"),
        (-1524.0, "length", "us", "-5,000 ft"),
        (160_934.4, "length", "us", "100 mi"),
        (1829.6, "engine_speed", "us", "1,830 rpm"),
        (0.06, "grade", "us", "6.0 %"),
        (-0.0001, "share", "us", "0.0 %"),
        (-0.2, "engine_speed", "us", "0 rpm"),
        (3.85, "ratio", "us", "3.85"),
        (420.3036, "torque", "us", "310 lbf*ft"),
        (420.3036, "torque", "metric", "420 N*m"),
        (24.14016, "speed", "us", "54 mph"),
        (0.71527, "speed", "us", "1.6 mph"),
        (10.9402, "fuel_use", "us", "21.5 mpg (US)"),
        (10.9402, "fuel_use", "metric", "10.9 L/100km"),
        (0.0, "fuel_use", "us", "unlimited mpg (US)"),
        (288.15, "temperature", "us", "59 degF"),
        (0.00172, "volume", "us", "1.7 L"),
        (1986.7, "mass", "us", "4,380 lb"),
        (1.225, "density", "metric", "1.23 kg/m^3"),
        (float("nan"), "mass", "us", "unknown"),
        (float("inf"), "time", "us", "unlimited s"),
    ],
)
def test_format(value: float, dimension: str, system: units.System, expected: str) -> None:
    # Expected texts: the factors of NIST SP 811, by hand, in the digits the trade reads.
    assert units.format(value, dimension, system) == expected


def test_format_takes_digits_and_unit() -> None:
    assert units.format(0.72898, "length", "us", digits=3) == "28.700 in"
    assert units.format(1524.0, "length", "us", unit="m", digits=0) == "1,524 m"


def test_unknown_names_are_refused() -> None:
    with pytest.raises(QuantityError, match="us, metric"):
        units.format(1.0, "mass", "imperial")  # type: ignore[arg-type]
    with pytest.raises(QuantityError, match="unknown dimension"):
        units.format(1.0, "lenght")
    with pytest.raises(QuantityError, match="unknown dimension"):
        units.to(1.0, "lenght", "m")
    with pytest.raises(QuantityError, match="no unit of a length"):
        units.to(1.0, "length", "kg")
    with pytest.raises(QuantityError, match="cannot be written"):
        units.exact_text(float("inf"), "length")


@pytest.mark.parametrize("dimension", units.UNITS)
def test_every_dimension_is_read_in_its_own_units(dimension: str) -> None:
    for system in ("us", "metric"):
        assert units.unit_of(dimension, system) in units.UNITS[dimension]
        assert units.format(1.0, dimension, system)
    for unit in units.UNITS[dimension]:
        assert units.parse(f"1 {unit}".strip(), dimension) > 0.0


def test_numbers_and_arrays_convert_alike() -> None:
    values = np.array([1.0, 20.0, 300.0])
    for dimension, unit in ALL_UNITS:
        inside = units.si(values, dimension, unit)
        assert inside.tolist() == [units.si(float(value), dimension, unit) for value in values]
        np.testing.assert_allclose(units.to(inside, dimension, unit), values, rtol=1e-12)


decimals = st.decimals(
    min_value="0.001", max_value="99999", places=3, allow_nan=False, allow_infinity=False
)


@settings(max_examples=100)
@given(number=decimals, place=st.sampled_from(ALL_UNITS), blanks=st.sampled_from(["", " ", "   "]))
def test_a_written_number_survives(number: object, place: tuple[str, str], blanks: str) -> None:
    dimension, unit = place
    text = f"{number}{blanks or (' ' if unit[:1].isdigit() else '')}{unit}".rstrip()
    value = units.parse(text, dimension)
    assert value == pytest.approx(units.si(float(str(number)), dimension, unit), rel=1e-15)
    again = units.exact_text(value, dimension, unit)
    assert units.parse(again, dimension) == value
    if dimension not in CURVED:
        assert float(again.partition(" ")[0]) == float(str(number))


@settings(max_examples=100)
@given(value=st.floats(min_value=1e-6, max_value=1e9), dimension=st.sampled_from(list(units.UNITS)))
def test_exact_text_reads_back(value: float, dimension: str) -> None:
    text = units.exact_text(value, dimension)
    assert units.parse(text, dimension) == pytest.approx(value, rel=1e-15, abs=1e-13)
    assert re.fullmatch(units.NUMBER_PATTERN, text.partition(" ")[0])


@settings(max_examples=100)
@given(text=st.text(max_size=40), dimension=st.sampled_from(list(units.UNITS)))
def test_any_text_is_read_or_refused(text: str, dimension: str) -> None:
    try:
        value = units.parse(text, dimension)
    except QuantityError:
        pass
    else:
        names = "|".join(re.escape(unit) for unit in units.UNITS[dimension])
        assert re.fullmatch(rf"{units.NUMBER_PATTERN} *(?:{names})", text)
        assert abs(value) < float("inf")


@settings(max_examples=100)
@given(
    tail=st.text(alphabet="0123456789 ./,-+eE'_minftlbrpNaxk%\u00a0", max_size=12),
    dimension=st.sampled_from(list(units.UNITS)),
)
def test_a_number_and_anything_is_read_or_refused(tail: str, dimension: str) -> None:
    refusal = ""
    try:
        units.parse(f"3{tail}", dimension)
    except QuantityError as error:
        refusal = str(error)
    assert not refusal or "allowed" in refusal


def test_curly_quotes_are_told() -> None:
    with pytest.raises(units.QuantityError, match="in straight quotes"):
        units.parse("\u201c4600 lb\u201d", "mass")
