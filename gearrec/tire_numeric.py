"""Diameters of numeric sizes, which no formula gives: 7.50R16, 11R22.5.

References
    [1] Wheel table of the EU's tool for the CO2 of heavy vehicles, with its update of 2022.
"""

from __future__ import annotations

from typing import Final

from gearrec.errors import TireSizeError

# Diameter in millimeters [1]. Width code, rim code, "C" where the value is for the commercial tire.
NUMERIC_DIAMETER_MM: Final[dict[str, int]] = {
    "6.00R9": 540,
    "7.00R16C": 778,
    "7.50R15": 772,
    "7.50R16C": 802,
    "7.50R16": 806,
    "8.25R15": 836,
    "8.25R16C": 860,
    "9.00R20": 1018,
    "10.00R20": 1052,
    "11.00R16": 980,
    "11.00R20": 1082,
    "12.00R20": 1122,
    "12.00R24": 1226,
    "13.00R20": 1176,
    "14.00R20": 1238,
    "16.00R20": 1343,
    "8R17.5": 784,
    "8.5R17.5": 802,
    "9R22.5": 970,
    "9.5R17.5": 842,
    "10R17.5": 858,
    "10R22.5": 1020,
    "11R22.5": 1050,
    "12R22.5": 1084,
    "13R22.5": 1124,
}


def numeric_name(*, width: float, rim: float, commercial: bool) -> str:
    """The table's name of the size with a width code and a rim code [in].

    Where the table has the commercial ("C") size and the plain one, `commercial` says which; where
    it has one only, that one. Raises TireSizeError, with the sizes of that rim, if it has none.
    """
    names = _BY_FIGURES.get((width, rim))
    if names is not None:
        wanted, other = ("C", "") if commercial else ("", "C")
        return names.get(wanted) or names[other]
    same_rim = [name for name, figures in _FIGURES.items() if figures[1] == rim]
    raise TireSizeError(
        "the diameter of a numeric size comes from a table, and this size is not in it; allowed: "
        f"{', '.join(same_rim or NUMERIC_DIAMETER_MM)}; or give the metric size that fits, such as "
        "235/85R16"
    )


def _figures(name: str) -> tuple[float, float]:
    width, _, rim = name.removesuffix("C").partition("R")
    return float(width), float(rim)


_FIGURES: Final = {name: _figures(name) for name in NUMERIC_DIAMETER_MM}
_BY_FIGURES: Final[dict[tuple[float, float], dict[str, str]]] = {}
for _name, _key in _FIGURES.items():
    _BY_FIGURES.setdefault(_key, {})["C" if _name.endswith("C") else ""] = _name
