"""Tires: sizes, diameters, how far they roll in a turn, wear.

The diameter of a tire is new and unloaded. Road speed goes by the rolling circumference, which is
some 3 % less than pi times that diameter: the tread of a loaded radial runs nearly at its static
height. A published or measured number of turns per distance is better than any factor.

Formulas take numbers or arrays; NaN means unknown and stays NaN.

References
    [1] ETRTO Standards Manual, general section: 3.05 for radial tires, as quoted by others.
    [2] 2.99 for diagonal tires: from memory. Belted bias tires are taken to roll like them.
    [3] Definition; derived here.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, TypeVar

from gearrec.errors import InputError, Place, Problem, allowed_words
from gearrec.tire_load import (
    PASSENGER_DERATE,
    ServiceDescription,
    derated_kg,
    load_index_kg,
    ply_rating,
    speed_symbol_mps,
)
from gearrec.tire_size import TireSize, free_diameter_m, parse_size, standard_diameter_m

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Value = TypeVar("Value", float, npt.NDArray[np.float64])

__all__ = [
    "PASSENGER_DERATE",
    "ROLLING_FACTOR",
    "ServiceDescription",
    "TireSize",
    "derated_kg",
    "free_diameter_m",
    "load_index_kg",
    "parse_size",
    "ply_rating",
    "revs_per_km",
    "revs_per_mile",
    "rolling_circumference_from_revs",
    "rolling_circumference_m",
    "speed_symbol_mps",
    "standard_diameter_m",
    "worn_diameter_m",
]

# Rolling circumference / diameter.
ROLLING_FACTOR: Final = {"radial": 3.05, "diagonal": 2.99, "bias-belted": 2.99}

_MILE_M: Final = 1609.344


def rolling_circumference_m(*, diameter_m: Value, construction: str = "radial") -> Value:
    """Distance rolled in one turn of a loaded tire at road speed [m].

    Parameters
        diameter_m: new, unloaded [m], above 0.
        construction: "radial", "diagonal" or "bias-belted".

    Raises
        InputError: an argument is outside its range.

    Equation: C = 3.05 D [1], 2.99 D [2]; good to about 1 %.
    """
    if construction not in ROLLING_FACTOR:
        allowed = allowed_words(tuple(ROLLING_FACTOR), construction)
        message = f"{construction!r} is no tire construction; {allowed}"
        raise InputError([Problem(Place(dotted="construction"), message)])
    _above_zero(diameter_m=diameter_m)
    return diameter_m * ROLLING_FACTOR[construction]


def rolling_circumference_from_revs(
    *, revs_per_mile: Value | None = None, revs_per_m: Value | None = None
) -> Value:
    """Distance rolled in one turn [m], from published or measured turns per distance.

    Parameters
        revs_per_mile: turns in a mile [1/mi], above 0, or
        revs_per_m: turns in a meter [1/m], above 0. Exactly one of the two.

    Raises
        InputError: none or both are given, or one is not above 0.

    Equation: C = 1 / revs [3].
    """
    if revs_per_mile is not None and revs_per_m is None:
        _above_zero(revs_per_mile=revs_per_mile)
        return _MILE_M / revs_per_mile
    if revs_per_m is not None and revs_per_mile is None:
        _above_zero(revs_per_m=revs_per_m)
        return 1.0 / revs_per_m
    message = "turns per distance are due once; allowed: revs_per_mile or revs_per_m"
    raise InputError([Problem(Place(dotted="revs_per_mile"), message)])


def revs_per_mile(*, circumference_m: Value) -> Value:
    """Turns in a mile [1/mi] of a tire with a rolling circumference [m], above 0 [3].

    Raises InputError for a circumference that is not above 0.
    """
    _above_zero(circumference_m=circumference_m)
    return _MILE_M / circumference_m


def revs_per_km(*, circumference_m: Value) -> Value:
    """Turns in a kilometer [1/km] of a tire with a rolling circumference [m], above 0 [3].

    Raises InputError for a circumference that is not above 0.
    """
    _above_zero(circumference_m=circumference_m)
    return 1000.0 / circumference_m


def worn_diameter_m(*, diameter_m: Value, tread_worn_m: Value) -> Value:
    """Diameter [m] once some tread is gone.

    Parameters
        diameter_m: new [m], above 0.
        tread_worn_m: depth of the tread that is gone [m], 0 or more, less than the radius.

    Raises
        InputError: an argument is outside its range.

    Equation: D - 2 x tread worn [3].
    """
    from gearrec.arguments import ZERO_OR_MORE, numbers

    _above_zero(diameter_m=diameter_m)
    numbers(tread_worn_m=(tread_worn_m, ZERO_OR_MORE))
    worn = diameter_m - 2.0 * tread_worn_m
    _above_zero(worn_diameter_m=worn)
    return worn


def _above_zero(**arguments: Value) -> None:
    # Imported here: reading a size must not cost the import of numpy.
    from gearrec.arguments import ABOVE_ZERO, numbers

    numbers(**{name: (value, ABOVE_ZERO) for name, value in arguments.items()})
