"""What is wrong with a text that is no quantity, in words that help.

`gearrec.units` reads quantities; only when it cannot does it come here.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

from gearrec.errors import nearest

if TYPE_CHECKING:
    from collections.abc import Mapping

_LONGEST_UNIT: Final = 20

# What people write -> the unit to write. Only used to word an error, never to accept.
_MEANT: Final = {
    "in": ("inch", "inches", '"', "''", "″", "”", "in."),
    "ft": ("foot", "feet", "'", "′", "’", "ft."),
    "mi": ("mile", "miles"),
    "m": ("meter", "meters", "metre", "metres"),
    "mm": ("millimeter", "millimeters", "millimetre", "millimetres"),
    "km": ("kilometer", "kilometers", "kilometre", "kilometres"),
    "lb": ("lbs", "lbs.", "lb.", "pound", "pounds", "#"),
    "kg": ("kgs", "kilo", "kilos", "kilogram", "kilograms"),
    "t (1000 kg) or lb": ("ton", "tons", "tonne", "tonnes"),
    "km/h": ("kph", "kmh", "kmph", "km/hr"),
    "mph": ("mi/h", "mi/hr", "miles per hour"),
    "lbf*ft": (
        *("ft-lb", "ft-lbs", "ftlb", "ft*lb", "ft lb", "ft lbs", "ft-lbf", "ft*lbf", "lb-ft"),
        *("lbs-ft", "lbft", "lb*ft", "lb ft", "lbs ft", "lbf-ft", "lbf ft", "lbf·ft", "lb.ft"),
    ),
    "lbf*in": ("in-lb", "in-lbs", "inlb", "in*lb", "in lb", "lb-in", "lb*in", "lb in", "lbf-in"),
    "N*m": ("nm", "n-m", "n·m", "n m", "n.m", "newton meters"),
    "kW (1 PS is 0.7355 kW)": ("ps", "cv", "pk"),
    "kW": ("w", "watt", "watts", "kilowatt", "kilowatts"),
    "hp": ("bhp", "whp", "horsepower"),
    "L": ("liter", "liters", "litre", "litres"),
    "cc": ("cm3", "cm^3", "ccm", "cm³"),
    "in^3": ("cu in", "cu. in.", "cuin", "ci", "cid", "in3", "in³"),
    "m^2": ("m2", "m²", "sq m"),
    "ft^2": ("ft2", "ft²", "sq ft", "sqft"),
    "kg/m^3": ("kg/m3", "kg/m³"),
    "kg*m^2": ("kg m^2", "kg*m2", "kg m2", "kgm2", "kg·m²", "kg m²"),
    "degC": ("c", "°c", "celsius", "deg c"),
    "degF": ("f", "°f", "fahrenheit", "deg f"),
    "deg": ("°", "degree", "degrees"),
    "mpg (US) or mpg (UK), which differ by a fifth": ("mpg", "miles per gallon"),
    "mpg (US)": ("mpg us", "us mpg", "mpg(us)"),
    "mpg (UK)": ("mpg uk", "uk mpg", "mpg(uk)", "mpg imp"),
    "L/100km": ("l/100 km", "l per 100 km"),
    "rpm": ("r/min", "1/min", "rev/min", "revs", "turns"),
    "%": ("percent", "per cent", "pct"),
    "1/mi": ("revs per mile", "rev/mi", "rev/mile", "revs/mile", "/mi", "per mile"),
    "1/km": ("revs per km", "rev/km", "revs/km", "/km", "per km"),
    "s": ("sec", "secs", "second", "seconds"),
    "g/kWh": ("g/kw-h", "g/kw*h", "g/kw h"),
}
_MEANT_BY_SPELLING: Final = {word: unit for unit, words in _MEANT.items() for word in words}


def number_fault(text: str) -> str:
    """Why a text does not start with a number."""
    if not text.strip():
        return "the text is empty"
    if text != text.strip():
        return "remove the blanks around it"
    bare = text.lstrip("+-").lower()
    if bare.startswith(("nan", "inf", ".nan", ".inf")):
        return "a quantity must be a finite number"
    if text[0] in "“”„‘’«»":
        return 'put it in straight quotes ("), not in curly ones'
    if text[0] in "−–—":
        return "write a minus sign as a plain hyphen '-'"
    if any(character.isdigit() and not character.isascii() for character in text):
        return "write the digits 0 to 9"
    return "it does not start with a plain decimal number such as 28.7"


def unit_fault(
    number: str,
    unit: str,
    *,
    dimension: str,
    units: Mapping[str, Mapping[str, float]],
    example: str,
) -> str:
    """Why what follows the number is no unit of the dimension; `units` is every dimension's."""
    if any(character.isspace() and character != " " for character in unit):
        return "put a plain blank between number and unit (found another kind of space)"
    if unit != unit.rstrip():
        return "remove the blanks around it"
    if not unit:
        return f"the unit is missing; write for example '{example}'"
    if thousands := re.match(r"((?:,[0-9]{3})+)(?![0-9])", unit):
        plain = number + thousands[1].replace(",", "")
        return f"write the number without thousands separators ({plain}), decimals after a point"
    if comma := re.match(r",([0-9]+)", unit):
        return f"write decimals after a point: {number}.{comma[1]}"
    if re.match(r"[eE][+-]?[0-9]", unit):
        return "write the number without an exponent"
    if re.match(r"[_'’][0-9]", unit):
        return "write the digits without separators"
    if unit[0] == ".":
        return "write at least one digit after the decimal point, and one point only"
    if fraction := re.match(r"(?:([0-9]+) ?)?/ ?([0-9]+)(?![0-9])", unit):
        return _fraction_fault(number, fraction)
    if dimension == "ratio":
        return f"a ratio is a bare number; write {number}"
    return _wrong_unit(number, unit, dimension, units)


def _fraction_fault(number: str, fraction: re.Match[str]) -> str:
    if fraction[1] is None:
        whole, over = 0.0, number
    else:
        whole, over = float(number), fraction[1]
    under = float(fraction[2])
    if under == 0.0:
        return "write a decimal number instead of a fraction"
    return f"write a decimal number instead of a fraction: {whole + float(over) / under:.6g}"


def _wrong_unit(
    number: str, unit: str, dimension: str, units: Mapping[str, Mapping[str, float]]
) -> str:
    own = units[dimension]
    if number[-1] + unit in own:
        return f"put a blank before the unit {number[-1] + unit}"
    for other, names in units.items():
        if unit in names:
            return f"{unit!r} is a unit of {named(other)}, but {named(dimension)} is due"
    shown = unit if len(unit) <= _LONGEST_UNIT else unit[:_LONGEST_UNIT] + "…"
    spelling = unit.lower()
    meant = next(
        (name for name in own if name.lower() == spelling), _MEANT_BY_SPELLING.get(spelling)
    )
    if meant is not None:
        return f"unknown unit {shown!r}; write {meant}"
    guess = nearest(unit, own)
    return (
        f"unknown unit {shown!r}; did you mean '{guess}'?" if guess else f"unknown unit {shown!r}"
    )


def named(dimension: str) -> str:
    """'a torque', 'an engine speed': a dimension in a sentence."""
    words = dimension.replace("speed2", "speed squared").replace("_", " ")
    return f"an {words}" if words[0] in "aei" else f"a {words}"
