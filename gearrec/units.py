"""Quantities at the boundary: text with a unit comes in, SI floats inside, text goes out.

The units of each dimension are a closed list. Inside the library a value is in the SI unit of its
dimension, with these exceptions, kept because the trade and every table use them: engine speed is
in rpm, fuel use in L/100km. Shares and grades are fractions (6 % is 0.06), temperatures in K.
"""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Final, Literal, TypeVar

from gearrec.errors import QuantityError, nearest
from gearrec.unit_faults import named, number_fault, unit_fault

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Value = TypeVar("Value", float, npt.NDArray[np.float64])

System = Literal["us", "metric"]

_INCH: Final = 0.0254
_FOOT: Final = 0.3048
_MILE: Final = 1609.344
_POUND: Final = 0.45359237
_POUND_FORCE: Final = _POUND * 9.80665
_MPH: Final = _MILE / 3600.0
_US_GALLON_LITERS: Final = 231.0 * 2.54**3 / 1000.0
_UK_GALLON_LITERS: Final = 4.54609
_MILES_PER_100_KM: Final = 100_000.0 / _MILE

# Unit -> SI per unit. Temperatures also have an offset; miles per gallon are reciprocal, and their
# factor is the L/100km at 1 mpg. The first unit of each dimension is the one closest to SI.
UNITS: Final[dict[str, dict[str, float]]] = {
    "length": {
        "m": 1.0,
        "mm": 0.001,
        "cm": 0.01,
        "in": _INCH,
        "ft": _FOOT,
        "mi": _MILE,
        "km": 1000.0,
    },
    "area": {"m^2": 1.0, "ft^2": _FOOT**2},
    "volume": {"L": 0.001, "cc": 1e-6, "in^3": _INCH**3},
    "mass": {"kg": 1.0, "lb": _POUND, "t": 1000.0},
    "time": {"s": 1.0},
    "speed": {"m/s": 1.0, "km/h": 1.0 / 3.6, "mph": _MPH},
    "engine_speed": {"rpm": 1.0},
    "angle": {"rad": 1.0, "deg": math.pi / 180.0},
    "force": {"N": 1.0, "lbf": _POUND_FORCE},
    "torque": {"N*m": 1.0, "lbf*ft": _POUND_FORCE * _FOOT, "lbf*in": _POUND_FORCE * _INCH},
    "power": {"kW": 1000.0, "hp": 550.0 * _POUND_FORCE * _FOOT},
    "pressure": {"kPa": 1000.0, "psi": _POUND_FORCE / _INCH**2, "bar": 100_000.0},
    "density": {"kg/m^3": 1.0, "lb/ft^3": _POUND / _FOOT**3},
    "inertia": {"kg*m^2": 1.0, "lb*ft^2": _POUND * _FOOT**2},
    "temperature": {"degC": 1.0, "degF": 5.0 / 9.0},
    "temperature_difference": {"K": 1.0},
    "fuel_use": {
        "L/100km": 1.0,
        "mpg (US)": _MILES_PER_100_KM * _US_GALLON_LITERS,
        "mpg (UK)": _MILES_PER_100_KM * _UK_GALLON_LITERS,
    },
    "specific_consumption": {"g/kWh": 0.001 / 3.6e6},
    "specific_energy": {"MJ/kg": 1e6},
    "force_per_speed": {"N*s/m": 1.0, "lbf/mph": _POUND_FORCE / _MPH},
    "force_per_speed2": {"N*s^2/m^2": 1.0, "lbf/mph^2": _POUND_FORCE / _MPH**2},
    "revs_per_distance": {"1/km": 0.001, "1/mi": 1.0 / _MILE},
    "ratio": {"": 1.0},
    "share": {"%": 0.01},
    "grade": {"%": 0.01},
}

NUMBER_PATTERN: Final = r"[+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)"

_OFFSET_K: Final = {"degC": 273.15, "degF": 459.67 * 5.0 / 9.0}
_RECIPROCAL: Final = frozenset({"mpg (US)", "mpg (UK)"})
_CURVED: Final = frozenset({"temperature", "fuel_use"})
_SIGNED: Final = frozenset(
    {
        "angle",
        "force",
        "force_per_speed",
        "force_per_speed2",
        "grade",
        "length",
        "power",
        "share",
        "temperature",
        "temperature_difference",
        "torque",
    }
)
# Long enough for every number a float tells apart, short enough never to overflow one.
_LONGEST_NUMBER: Final = 40
_LONGEST_ECHO: Final = 60

_is_number = re.compile(NUMBER_PATTERN).fullmatch
_split = re.compile(rf"({NUMBER_PATTERN})( *)(.*)", re.DOTALL).fullmatch

_EXAMPLES: Final = {
    "length": "28.7 in",
    "area": "1.3 m^2",
    "volume": "1.72 L",
    "mass": "4380 lb",
    "time": "0.4 s",
    "speed": "54 mph",
    "engine_speed": "1830 rpm",
    "angle": "3 deg",
    "force": "41.5 lbf",
    "torque": "310 N*m",
    "power": "140 hp",
    "pressure": "35 psi",
    "density": "836 kg/m^3",
    "inertia": "1.6 kg*m^2",
    "temperature": "15 degC",
    "temperature_difference": "10 K",
    "fuel_use": "21.5 mpg (US)",
    "specific_consumption": "215 g/kWh",
    "specific_energy": "42.7 MJ/kg",
    "force_per_speed": "0.68 lbf/mph",
    "force_per_speed2": "0.0185 lbf/mph^2",
    "revs_per_distance": "705 1/mi",
    "ratio": "3.85",
    "share": "40 %",
    "grade": "6 %",
}


def parse(text: object, dimension: str) -> float:
    """The SI value of a text such as "28.7 in" of a dimension.

    `text` is a plain decimal number and one of the dimension's units, with or without blanks
    between; a ratio is a bare number and may also be given as one. A sign is allowed where the
    dimension has one. Returns SI; rpm for engine speed, L/100km for fuel use, K for temperature, a
    fraction for shares and grades. Raises QuantityError with what is allowed.
    """
    try:
        factors = UNITS[dimension]
    except KeyError:
        raise _unknown_dimension(dimension) from None
    if isinstance(text, str):
        number, _, unit = text.partition(" ")
        factor = factors.get(unit)
        if factor is None or len(number) > _LONGEST_NUMBER or _is_number(number) is None:
            number, unit = _split_slowly(text, dimension)
            factor = factors[unit]
        value = float(number)
    else:
        value, unit, factor = _bare_number(text, dimension), "", 1.0
    if value <= 0.0:
        _refuse_sign(text, value, dimension)
    if dimension in _CURVED:
        return _curved(value, unit, factor, text)
    return value * factor


def si(value: Value, dimension: str, unit: str) -> Value:
    """The SI value of `value` (a number or an array) given in `unit` of `dimension`.

    Raises QuantityError for a unit that is not one of the dimension's.
    """
    factor = _factor(dimension, unit)
    if unit in _RECIPROCAL:
        return factor / value
    return value * factor + _OFFSET_K[unit] if unit in _OFFSET_K else value * factor


def to(value: Value, dimension: str, unit: str) -> Value:
    """The number of `unit`s in the SI value `value` (a number or an array) of `dimension`.

    Raises QuantityError for a unit that is not one of the dimension's.
    """
    factor = _factor(dimension, unit)
    if unit in _RECIPROCAL:
        return factor / value
    return (value - _OFFSET_K[unit]) / factor if unit in _OFFSET_K else value / factor


def exact_text(value: float, dimension: str, unit: str | None = None) -> str:
    """The shortest text that `parse` reads back as `value`, in `unit` or the dimension's first.

    A value that no decimal in that unit gives exactly is written to 17 digits. Raises QuantityError
    for a value that is not finite.
    """
    chosen = next(iter(UNITS[dimension])) if unit is None else unit
    number = to(value, dimension, chosen)
    if not math.isfinite(number):
        raise QuantityError(f"{value!r} cannot be written in {chosen or 'a number'}")
    text = ""
    for digits in (15, 16, 17):
        text = f"{_plain(number, digits)} {chosen}".rstrip()
        if parse(text, dimension) == value:
            break
    return text


def unit_of(dimension: str, system: System) -> str:
    """The unit in which people of a system read a dimension ("" for a ratio)."""
    if dimension not in _READ_IN:
        raise _unknown_dimension(dimension)
    return _READ_IN[dimension][_column(system)]


def format(  # noqa: A001 - `units.format` is the name callers expect
    value: float,
    dimension: str,
    system: System = "us",
    *,
    digits: int | None = None,
    unit: str | None = None,
) -> str:
    """The text a person reads for an SI value: "28.7 in", "1,830 rpm", "6.0 %".

    `digits` is the number of decimals and `unit` the unit to write; without them both follow from
    the dimension and the size of the value. NaN reads "unknown". Lengths are in inches (mm) below
    10 ft, then in feet (m), from 10 mi (16 km) in miles (km).
    """
    if math.isnan(value):
        return "unknown"
    chosen = unit if unit is not None else _unit_for(value, dimension, system)
    number = math.inf if value == 0.0 and chosen in _RECIPROCAL else to(value, dimension, chosen)
    if math.isinf(number):
        return f"{'-' if number < 0.0 else ''}unlimited {chosen}".rstrip()
    decimals = _decimals(number, dimension, chosen) if digits is None else digits
    text = f"{number:,.{decimals}f}"
    if float(text.replace(",", "")) == 0.0:
        text = text.removeprefix("-")
    return f"{text} {chosen}".rstrip()


# Dimension -> (US unit, metric unit).
_READ_IN: Final[dict[str, tuple[str, str]]] = {
    "length": ("in", "mm"),
    "area": ("ft^2", "m^2"),
    "volume": ("L", "L"),
    "mass": ("lb", "kg"),
    "time": ("s", "s"),
    "speed": ("mph", "km/h"),
    "engine_speed": ("rpm", "rpm"),
    "angle": ("deg", "deg"),
    "force": ("lbf", "N"),
    "torque": ("lbf*ft", "N*m"),
    "power": ("hp", "kW"),
    "pressure": ("psi", "kPa"),
    "density": ("lb/ft^3", "kg/m^3"),
    "inertia": ("lb*ft^2", "kg*m^2"),
    "temperature": ("degF", "degC"),
    "temperature_difference": ("K", "K"),
    "fuel_use": ("mpg (US)", "L/100km"),
    "specific_consumption": ("g/kWh", "g/kWh"),
    "specific_energy": ("MJ/kg", "MJ/kg"),
    "force_per_speed": ("lbf/mph", "N*s/m"),
    "force_per_speed2": ("lbf/mph^2", "N*s^2/m^2"),
    "revs_per_distance": ("1/mi", "1/km"),
    "ratio": ("", ""),
    "share": ("%", "%"),
    "grade": ("%", "%"),
}
# Decimals that do not depend on the size of the number.
_FIXED_DECIMALS: Final = {
    "in": 1,
    "mm": 0,
    "rpm": 0,
    "": 2,
    "%": 1,
    "degC": 0,
    "degF": 0,
    "mpg (US)": 1,
    "mpg (UK)": 1,
    "L/100km": 1,
    "s": 1,
    "deg": 1,
    "L": 1,
    "K": 1,
    "g/kWh": 0,
    "MJ/kg": 1,
}


def _column(system: System) -> int:
    if system not in ("us", "metric"):
        raise QuantityError(f"unknown system of units {system!r}; allowed: us, metric")
    return 0 if system == "us" else 1


def _unit_for(value: float, dimension: str, system: System) -> str:
    unit = unit_of(dimension, system)
    size = abs(value)
    if dimension != "length" or 0.0 < size < 10.0 * _FOOT:
        return unit
    return ("ft", "mi")[size >= 10.0 * _MILE] if system == "us" else ("m", "km")[size >= 16_000.0]


def _decimals(number: float, dimension: str, unit: str) -> int:
    if unit in _FIXED_DECIMALS:
        return _FIXED_DECIMALS[unit]
    size = abs(number)
    fine = dimension in ("area", "density", "inertia")
    if size == 0.0 or size >= 10.0:
        return 1 if fine else 0
    if size >= 1.0:
        return 2 if fine else 1
    return 2 - math.floor(math.log10(size))


def _plain(number: float, digits: int) -> str:
    text = f"{number:.{digits}g}"
    if "e" not in text:
        return text
    mantissa, _, exponent = text.partition("e")
    decimals = max(0, len(mantissa.partition(".")[2]) - int(exponent))
    return f"{float(text):.{decimals}f}"


def _factor(dimension: str, unit: str) -> float:
    try:
        return UNITS[dimension][unit]
    except KeyError:
        if dimension not in UNITS:
            raise _unknown_dimension(dimension) from None
        raise QuantityError(
            f"{unit!r} is no unit of {named(dimension)}; {_allowed(dimension)}"
        ) from (None)


def _curved(value: float, unit: str, factor: float, text: object) -> float:
    if unit in _RECIPROCAL:
        return factor / value
    if unit not in _OFFSET_K:
        return value
    kelvin = value * factor + _OFFSET_K[unit]
    if kelvin < 0.0:
        raise QuantityError(f"{_echo(text)} is below absolute zero; allowed: -273.15 degC and up")
    return kelvin


def _refuse_sign(text: object, value: float, dimension: str) -> None:
    if value < 0.0 and dimension not in _SIGNED:
        raise QuantityError(
            f"{_echo(text)}: {named(dimension)} cannot be negative; "
            f"allowed: a number without a minus sign, for example '{_EXAMPLES[dimension]}'"
        )
    if value == 0.0 and dimension == "fuel_use":
        raise QuantityError(f"{_echo(text)}: a fuel use cannot be 0; allowed: more than 0")


def _bare_number(value: object, dimension: str) -> float:
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        if dimension != "ratio":
            raise QuantityError(
                f"{_echo(value)} has no unit; write text with a unit, for example "
                f"'{_EXAMPLES[dimension]}'; {_allowed(dimension)}"
            )
        # An int beyond the range of floats must not escape as an OverflowError.
        if abs(value) <= 1e300:
            return float(value)
        raise QuantityError(f"{_echo(value)} is not a finite number; {_allowed(dimension)}")
    if value is None:
        kind = "nothing"
    elif isinstance(value, bool):
        kind = "true" if value else "false"
    else:
        kind = f"a {type(value).__name__}"
    raise QuantityError(
        f"{kind} is not {named(dimension)}; write for example '{_EXAMPLES[dimension]}'; "
        f"{_allowed(dimension)}"
    )


def _split_slowly(text: str, dimension: str) -> tuple[str, str]:
    """Number and unit of a text that is not written the common way; raises when it is wrong."""
    found = _split(text)
    if found is None:
        raise QuantityError(f"{_echo(text)}: {number_fault(text)}; {_allowed(dimension)}")
    number, blanks, unit = found.groups()
    if len(number) > _LONGEST_NUMBER:
        raise QuantityError(
            f"{_echo(text)}: the number has too many digits; allowed: at most {_LONGEST_NUMBER}"
        )
    # "6551/mi" could be 655 or 6551: a unit that starts with a digit needs its blank.
    if unit in UNITS[dimension] and (blanks or not unit[:1].isdigit()):
        return number, unit
    fault = unit_fault(number, unit, dimension=dimension, units=UNITS, example=_EXAMPLES[dimension])
    raise QuantityError(f"{_echo(text)}: {fault}; {_allowed(dimension)}")


def _allowed(dimension: str) -> str:
    if dimension == "ratio":
        return "allowed: a bare number such as 3.85"
    return "allowed units: " + ", ".join(UNITS[dimension])


def _echo(value: object) -> str:
    # A short slice first: the repr of a huge int is itself an error.
    if isinstance(value, int) and abs(value) > 10**40:
        return "a huge number"
    text = repr(value)
    return text if len(text) <= _LONGEST_ECHO else text[: _LONGEST_ECHO - 1] + "…"


def _unknown_dimension(dimension: str) -> QuantityError:
    guess = nearest(dimension, UNITS)
    hint = f"; did you mean '{guess}'?" if guess else ""
    return QuantityError(f"unknown dimension {dimension!r}; allowed: {', '.join(UNITS)}{hint}")
