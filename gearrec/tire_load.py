"""What a tire may carry: load index, speed symbol, load range, and the derating on trucks.

References
    [1] UN Regulations No. 30 and 54, Annex 4: load capacity indices 68 to 123.
    [2] The same table outside [1]'s span, the slower speed symbols and load ranges: from memory.
    [3] 49 CFR 571.110 S4.2.2.2 (2015): passenger tires on trucks, multipurpose vehicles, trailers.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, TypeVar

from gearrec.errors import TireSizeError

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Value = TypeVar("Value", float, npt.NDArray[np.float64])

FIRST_LOAD_INDEX: Final = 60
# kg, ten indices a row, from 60.
_LOAD_INDEX_KG: Final = (
    *(250, 257, 265, 272, 280, 290, 300, 307, 315, 325),
    *(335, 345, 355, 365, 375, 387, 400, 412, 425, 437),
    *(450, 462, 475, 487, 500, 515, 530, 545, 560, 580),
    *(600, 615, 630, 650, 670, 690, 710, 730, 750, 775),
    *(800, 825, 850, 875, 900, 925, 950, 975, 1000, 1030),
    *(1060, 1090, 1120, 1150, 1180, 1215, 1250, 1285, 1320, 1360),
    *(1400, 1450, 1500, 1550, 1600, 1650, 1700, 1750, 1800, 1850),
    *(1900, 1950, 2000, 2060, 2120, 2180, 2240, 2300, 2360, 2430),
    *(2500, 2575, 2650, 2725, 2800, 2900, 3000, 3075, 3150, 3250),
    *(3350, 3450, 3550, 3650, 3750, 3875, 4000, 4125, 4250, 4375),
    *(4500, 4625, 4750, 4875, 5000, 5150, 5300, 5450, 5600, 5800),
    6000,
)
LAST_LOAD_INDEX: Final = FIRST_LOAD_INDEX + len(_LOAD_INDEX_KG) - 1

SPEED_SYMBOL_KMH: Final[dict[str, int]] = {
    "F": 80,
    "G": 90,
    "J": 100,
    "K": 110,
    "L": 120,
    "M": 130,
    "N": 140,
    "P": 150,
    "Q": 160,
    "R": 170,
    "S": 180,
    "T": 190,
    "U": 200,
    "H": 210,
    "V": 240,
    "W": 270,
    "Y": 300,
}

LOAD_RANGE_PLIES: Final[dict[str, int]] = {
    "B": 4,
    "C": 6,
    "D": 8,
    "E": 10,
    "F": 12,
    "G": 14,
    "H": 16,
    "J": 18,
    "L": 20,
    "M": 22,
    "N": 24,
}

PASSENGER_DERATE: Final = 1.10


@dataclass(frozen=True, slots=True, kw_only=True)
class ServiceDescription:
    """Load indices and speed symbol as marked: 120/117R.

    `load_index_dual` is None where the tire has no rating for dual wheels, `speed_symbol` where
    none was given.
    """

    load_index_single: int
    load_index_dual: int | None = None
    speed_symbol: str | None = None

    def __str__(self) -> str:
        dual = "" if self.load_index_dual is None else f"/{self.load_index_dual}"
        return f"{self.load_index_single}{dual}{self.speed_symbol or ''}"


def load_index_kg(index: int) -> float:
    """Load capacity [kg] of one tire at a load index, 60 to 170; a table, no equation [1, 2].

    Raises TireSizeError for an index outside the table.
    """
    if not FIRST_LOAD_INDEX <= index <= LAST_LOAD_INDEX:
        raise TireSizeError(
            f"load index {index} is not in the table; "
            f"allowed: {FIRST_LOAD_INDEX} to {LAST_LOAD_INDEX}"
        )
    return float(_LOAD_INDEX_KG[index - FIRST_LOAD_INDEX])


def speed_symbol_mps(symbol: str) -> float:
    """Highest speed [m/s] of a speed symbol such as "R" [1].

    Raises TireSizeError for a letter that is no speed symbol.
    """
    try:
        return SPEED_SYMBOL_KMH[symbol] / 3.6
    except KeyError:
        raise TireSizeError(
            f"{symbol!r} is no speed symbol; allowed: {', '.join(SPEED_SYMBOL_KMH)}"
        ) from None


def ply_rating(load_range: str) -> int:
    """Ply rating of a load range letter: E is 10 [2].

    Raises TireSizeError for a letter that is no load range.
    """
    try:
        return LOAD_RANGE_PLIES[load_range]
    except KeyError:
        raise TireSizeError(
            f"{load_range!r} is no load range; allowed: {', '.join(LOAD_RANGE_PLIES)}"
        ) from None


def derated_kg(*, capacity_kg: Value) -> Value:
    """What a passenger tire may carry on a truck: its rating [kg] / 1.10 [3].

    Takes a number or an array; NaN (no rating known) stays NaN.
    """
    return capacity_kg / PASSENGER_DERATE
