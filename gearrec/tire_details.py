"""What stands behind a tire size: service description, load range or ply rating, marks."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from gearrec.errors import TireSizeError
from gearrec.tire_load import (
    LOAD_RANGE_PLIES,
    ServiceDescription,
    load_index_kg,
    ply_rating,
    speed_symbol_mps,
)

_END: Final = r"(?![A-Z0-9])"
_SKIP = re.compile(r"[ /,;-]+")
_PLIES = re.compile(rf"([0-9]{{1,2}})[ -]?(?:PR|PLY)(?: RATING| RATED)?{_END}")
_SERVICE = re.compile(
    rf"\(?([0-9]{{2,3}})(?: ?/ ?([0-9]{{2,3}}))?(?: ?\(?([A-Z])\)?{_END}|{_END}\)?)"
)
_RANGE = re.compile(rf"(?:(?:LOAD[ -]?RANGE|LR)[ -]?)?\(?([A-Z]){_END}\)?")
_PASSENGER_RANGE = re.compile(rf"(XL|EXTRA LOAD|REINFORCED|RF|SL|STANDARD LOAD){_END}")
# Marks that say nothing about size or load.
_MARK = re.compile(
    rf"(?:M ?[+&/] ?S|3PMSF|TL|TT|TUBELESS|TUBE TYPE|RADIAL|BLACKWALL|BSW|OWL|RWL|BW){_END}"
)


@dataclass(frozen=True, slots=True)
class Details:
    """What was marked behind the size; None where it was not."""

    service: ServiceDescription | None = None
    load_range: str | None = None


def parse_details(tail: str) -> Details:
    """Read what follows a size, in capitals: "120/117R E", "/E", "10PR", "115T XL M+S".

    Raises TireSizeError, with what is allowed, for anything that is not known or is said twice
    with a difference.
    """
    service: ServiceDescription | None = None
    ranges: list[str] = []
    position = 0
    while position < len(tail):
        if found := _SKIP.match(tail, position) or _MARK.match(tail, position):
            pass
        elif found := _PLIES.match(tail, position):
            ranges.append(_range_of_plies(int(found[1])))
        elif found := _PASSENGER_RANGE.match(tail, position):
            ranges.append("SL" if found[1].startswith("S") else "XL")
        elif found := _SERVICE.match(tail, position):
            if service is not None:
                raise TireSizeError(f"two service descriptions: {service} and {found[0]}")
            service = _service(found)
        elif found := _RANGE.match(tail, position):
            ranges.append(_range(found[1]))
        else:
            raise TireSizeError(
                f"{tail[position:][:20]!r} behind the size is not understood; allowed: a service "
                "description such as 120/117R, a load range such as E, a ply rating such as 10PR, "
                "XL, SL, M+S"
            )
        position = found.end()
    if len(set(ranges)) > 1:
        raise TireSizeError(f"load range {ranges[0]} disagrees with {ranges[1]}; give one")
    return Details(service, ranges[0] if ranges else None)


def _service(found: re.Match[str]) -> ServiceDescription:
    single = int(found[1])
    dual = None if found[2] is None else int(found[2])
    load_index_kg(single)
    if dual is not None:
        load_index_kg(dual)
        if dual > single:
            raise TireSizeError(
                f"load index {single}/{dual}: the second, for dual wheels, is never above the "
                "first, for single wheels"
            )
    if found[3] is not None:
        speed_symbol_mps(found[3])
    return ServiceDescription(load_index_single=single, load_index_dual=dual, speed_symbol=found[3])


def _range(letter: str) -> str:
    if letter not in LOAD_RANGE_PLIES:
        raise TireSizeError(
            f"{letter!r} is no load range; allowed: {', '.join(LOAD_RANGE_PLIES)} (a speed symbol "
            "stands right behind its load index: 115T)"
        )
    return letter


def _range_of_plies(plies: int) -> str:
    for letter in LOAD_RANGE_PLIES:
        if ply_rating(letter) == plies:
            return letter
    allowed = ", ".join(str(count) for count in LOAD_RANGE_PLIES.values())
    raise TireSizeError(f"ply rating {plies} has no load range; allowed: {allowed}")
