"""Why a text is no tire size that can be used, in words that help.

`gearrec.tire_size` reads sizes; only when no family fits does it come here.
"""

from __future__ import annotations

import re
from typing import Final

EXAMPLES: Final = "LT215/85R16, 235/70R16 109T, 34x10.50R16LT, 7.50R16LT, 11R22.5"

_NUMBER = r"[0-9]+(?:\.[0-9]+)?"
_ALPHANUMERIC = re.compile(r"([A-N])R?([567][0-9])(?: ?[-R]? ?)1[0-9](?![0-9])")
# Rough widths [mm] of the load letters at aspect 75 to 78; from memory.
_LETTER_WIDTH_MM: Final = {"E": 195, "F": 205, "G": 215, "H": 225, "L": 235}
_ONLY_DIAMETER = re.compile(rf"({_NUMBER}) ?(?:\"|''|″|”|IN\.?|INCH|INCHES|S|'S)?")
_SPARE = re.compile(r"T ?[0-9]{3} ?[/ -]")
_METRIC_PAIR = re.compile(r"(?:P|LT|ST)?[ -]?([0-9]{3,5}) ?[/ -] ?([0-9]{1,3})(?:\.5)? ?[A-Z-]?")
_FLOTATION_PAIR = re.compile(rf"(?:LT|ST)?[ -]?({_NUMBER}) ?[X*/ -] ?({_NUMBER}) ?[RDB-]?")
_DIAMETER_ON_RIM = re.compile(rf"(?:LT|ST)?[ -]?([2-6][0-9](?:\.[0-9]+)?) ?[RDB/-] ?({_NUMBER}).*")
_SWAPPED = re.compile(r"(?:P|LT|ST)?[ -]?([0-9]{2}) ?/ ?([0-9]{3}) ?[RDB-]")
_NO_RIM = "the rim is missing"


def why_not(text: str) -> str:
    """Why `text`, tidied and in capitals, is no size, what is allowed and what to give instead."""
    return _reason(text) + f"; write the size as on the sidewall, for example {EXAMPLES}"


def _reason(text: str) -> str:
    if not text:
        return "the text is empty"
    if "," in text:
        return "write decimals after a point, and nothing after a comma"
    if letter := _ALPHANUMERIC.match(text):
        return _alphanumeric(letter[1])
    if only := _ONLY_DIAMETER.fullmatch(text):
        return (
            f"a bare {only[1]} is at most a diameter, which is no size: width and rim are missing "
            f"(a flotation size names all three: 34x10.50R16)"
        )
    if _SPARE.match(text):
        return "a size that starts with T is a temporary spare, which no axle ratio is chosen for"
    if pair := _METRIC_PAIR.fullmatch(text):
        # The lowest aspect ratio made is above the rim codes that stand in its place.
        if int(pair[2]) > 24:
            return f"{_NO_RIM} (235/80 needs R17 or the like behind it)"
        return "the aspect ratio is missing (215/85R16, not 215/16)"
    if _FLOTATION_PAIR.fullmatch(text) and re.search("[X*]", text):
        return f"{_NO_RIM} (34x10.50 needs R16 or the like behind it)"
    if found := _DIAMETER_ON_RIM.fullmatch(text):
        return f"the width is missing (a {found[1]} in tire is {found[1]}x12.50R17 or the like)"
    if _SWAPPED.match(text):
        return "aspect ratio and section width are swapped (215/85R16, not 85/215R16)"
    return "this is no tire size"


def _alphanumeric(letter: str) -> str:
    width = _LETTER_WIDTH_MM.get(letter)
    rough = f" (roughly {width} mm wide at aspect 75 to 78, from memory)" if width else ""
    return (
        f"an alphanumeric size is refused: its letter {letter} names a load, not a width, so that "
        f"no diameter follows from it{rough}; give the metric size that replaces it, and a "
        "measured diameter or revs per mile with it"
    )
