"""Tire sizes as marked on sidewalls and as people say them.

    family     examples                                      diameter
    metric     LT215/85R16, 225/70R15C, 220/55R390, 205R16   rim and twice width x aspect
    flotation  34x10.50R16LT, 31x9.5-15                      the first figure
    numeric    7.50R16LT, 11R22.5                            a table

References
    [1] ISO 4000-1: diameter = rim + 2 x section width x aspect; from memory.
    [2] ETRTO and UN design diameters: rim and section height each in whole millimeters, half
        rounded up; derived from the wheel table cited in `tire_numeric`.
    [3] No aspect printed: about 80; rim codes of 100 and more are millimeters; from memory.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final, Literal, TypeVar

from gearrec.errors import TireSizeError
from gearrec.tire_details import Details, parse_details
from gearrec.tire_faults import EXAMPLES, why_not
from gearrec.tire_load import ServiceDescription, load_index_kg
from gearrec.tire_numeric import NUMERIC_DIAMETER_MM, numeric_name

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy as np
    import numpy.typing as npt

    Value = TypeVar("Value", float, npt.NDArray[np.float64])

Family = Literal["metric", "flotation", "numeric"]
Construction = Literal["radial", "diagonal", "bias-belted"]
ServiceType = Literal["passenger", "light-truck", "special-trailer", "commercial"]

INCH_M: Final = 0.0254

_UNPRINTED_ASPECT: Final = 80
_WIDTHS_MM: Final = (125, 455)
_ASPECTS: Final = (25, 105)
_RIMS_INCH: Final = (8, 30)
_HALF_RIMS_INCH: Final = (14.5, 15.5, 16.5, 17.5, 19.5, 22.5, 24.5)
_RIMS_MM: Final = (315, 540)
_FLOTATION_DIAMETERS_INCH: Final = (18, 60)
_FLOTATION_WIDTHS_INCH: Final = (4, 25)
_LEAST_SECTION_HEIGHT_M: Final = 0.035
_LONGEST: Final = 60

_LT_ST = r"(?:(?P<prefix>LT|ST)[ -]?)?"
_MAKE = r"(?:[ /-]?(?P<make>[SHVZ]?R|[DB]|-|/|X)|(?= ))[ -]?"
_RIM = r"(?P<rim>[0-9]{1,3}(?:\.[0-9])?)(?![0-9.])(?: ?(?P<suffix>LT|ST|C)(?![A-Z0-9]))?"
_METRIC = re.compile(
    rf"(?:(?P<prefix>P|LT|ST)[ -]?)?(?P<width>[0-9]{{3,5}}) ?(?P<between>[/ -]) ?"
    rf"(?P<aspect>[0-9]{{1,4}}){_MAKE}{_RIM}"
)
_UNPRINTED = re.compile(
    rf"(?:(?P<prefix>P|LT|ST)[ -]?)?(?P<width>[0-9]{{3,5}}) ?(?P<make>[SHVZ]?R|[DB]) ?{_RIM}"
)
# Without an X the first figure must look like a diameter: "11-22.5 146/143L" is numeric.
_FLOTATION = re.compile(
    rf"{_LT_ST}(?=[0-9.]+ ?[X*]|[2-6][0-9](?![0-9]))(?P<width>[0-9]{{1,3}}(?:\.[0-9]{{1,2}})?) ?"
    rf"(?P<between>[X*/ -]) ?(?P<section>[0-9]{{1,2}}(?:\.[0-9]{{1,2}})?){_MAKE}{_RIM}"
)
_NUMERIC = re.compile(rf"{_LT_ST}(?P<width>1?[0-9](?:\.[0-9]{{1,2}})?) ?(?P<make>R|[DB]|-) ?{_RIM}")
_SAME: Final = str.maketrans("×‐‑‒–—−\u00a0\u2009\u202f\t", "X------    ")


@dataclass(frozen=True, slots=True, kw_only=True)
class TireSize:
    """A size read from a sidewall's text: geometry new and unloaded, and what it may carry.

    `diameter_m` is by the plain formula, the name or the table; `standard_diameter_m` has the
    standards' millimeter rounding. Widths are nominal: what the name says. `assumptions` says in
    words what the text left open and what was taken. `load_range` is a letter, "XL", "SL" or None.
    """

    text: str
    family: Family
    prefix: str
    construction: Construction
    service_type: ServiceType
    diameter_m: float
    standard_diameter_m: float
    section_width_m: float
    section_height_m: float
    rim_diameter_m: float
    service: ServiceDescription | None = None
    load_range: str | None = None
    assumptions: tuple[str, ...] = ()

    @property
    def capacity_kg(self) -> float | None:
        """Rating of a single tire [kg] by its load index; None without one."""
        return None if self.service is None else load_index_kg(self.service.load_index_single)

    @property
    def capacity_dual_kg(self) -> float | None:
        """Rating of each tire of a dual pair [kg]; None without a second load index."""
        if self.service is None or self.service.load_index_dual is None:
            return None
        return load_index_kg(self.service.load_index_dual)

    def __str__(self) -> str:
        return self.text


def free_diameter_m(*, section_width_m: Value, aspect: float, rim_diameter_m: float) -> Value:
    """Diameter of a new, unloaded tire [m].

    Parameters
        section_width_m: nominal section width [m], a number or an array.
        aspect: section height / section width [1].
        rim_diameter_m: nominal rim diameter [m].

    Equation: D = rim + 2 x width x aspect [1].
    """
    return rim_diameter_m + 2.0 * section_width_m * aspect


def standard_diameter_m(*, section_width_m: Value, aspect: float, rim_diameter_m: float) -> Value:
    """Design diameter of the standards [m]: rim and section height in whole millimeters [2].

    Parameters as of `free_diameter_m`, from which it differs by at most 1.5 mm.
    """
    return whole_mm_m(section_width_m * aspect) * 2.0 + whole_mm_m(rim_diameter_m)


def whole_mm_m(length_m: Value) -> Value:
    """A length rounded to whole millimeters, half up [m].

    A nanometer is added first: 17.5 in is 444.5 mm, but a hair less as a float.
    """
    return (length_m * 1000.0 + 0.500001) // 1.0 / 1000.0


def parse_size(text: object) -> TireSize:
    """Read a tire size as marked or spoken: any case, blanks or dashes between its parts.

    `text` is for example "LT215/85R16 115/112Q E", "34x10.50R16LT", "7.50-16" or "235 70 16". A
    dash before the rim after a slash means diagonal, as the standards have it. Returns a TireSize.
    Raises TireSizeError with what is wrong, what is allowed and what to give instead.
    """
    if not isinstance(text, str):
        raise TireSizeError(
            f"a tire size is text, not {type(text).__name__}; write it as on the sidewall, for "
            f"example {EXAMPLES}"
        )
    return _parse(text)


# A catalog and its jobs repeat a few hundred sizes.
@lru_cache(maxsize=1024)
def _parse(text: str) -> TireSize:
    if len(text) > _LONGEST:
        raise TireSizeError(
            f"{text[:_LONGEST] + '…'!r} is too long for a tire size; allowed: {_LONGEST} characters"
        )
    tidy = " ".join(text.translate(_SAME).upper().split())
    try:
        for pattern, read in _FAMILIES:
            if found := pattern.match(tidy):
                return read(_Marked.of(found, tidy[found.end() :]))
        raise TireSizeError(why_not(tidy))
    except TireSizeError as error:
        raise TireSizeError(f"{text!r}: {error}") from None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Marked:
    """The parts that every family has."""

    parts: dict[str, str | None]
    prefix: str
    commercial: bool
    construction: Construction
    make: str
    rim: str
    rim_m: float
    faults: list[str]
    details: Details
    assumptions: tuple[str, ...]

    @classmethod
    def of(cls, found: re.Match[str], tail: str) -> _Marked:
        parts = found.groupdict()
        before, suffix = parts["prefix"] or "", parts["suffix"] or ""
        # On a tire marked LT or ST, or named by its diameter, a C is a load range.
        commercial = suffix == "C" and not before and "section" not in parts
        if suffix == "C":
            suffix, tail = "", tail if commercial else f"C {tail}"
        rim_m, faults = _rim(found["rim"])
        if before and suffix and before != suffix:
            faults.append(f"marked both {before} and {suffix}; give one")
        details = Details()
        try:
            details = parse_details(tail)
        except TireSizeError as error:
            faults.append(str(error))
        construction, make, assumptions = _construction(parts["make"], parts.get("between"))
        return cls(
            parts=parts,
            prefix=before or suffix,
            commercial=commercial,
            construction=construction,
            make=make,
            rim=f"{float(found['rim']):g}",
            rim_m=rim_m,
            faults=faults,
            details=details,
            assumptions=assumptions,
        )

    def figure(self, name: str, what: str, limits: tuple[float, float], unit: str = "") -> float:
        """A figure of the size; one outside its limits is remembered as a fault."""
        value = float(self.parts[name] or math.nan)
        low, high = limits
        if not low <= value <= high:
            self.faults.append(f"{what} {value:g}{unit}; allowed: {low:g} to {high:g}{unit}")
        return value

    def refuse(self) -> None:
        if self.faults:
            raise TireSizeError("; ".join(self.faults) + f"; for example {EXAMPLES}")

    def size(
        self,
        name: str,
        *,
        family: Family,
        service_type: ServiceType,
        diameter_m: float,
        standard_m: float,
        width_m: float,
        assumed: tuple[str, ...],
    ) -> TireSize:
        details = self.details
        service = None if details.service is None else str(details.service)
        return TireSize(
            text=" ".join(filter(None, (name, service, details.load_range))),
            family=family,
            prefix=self.prefix,
            construction=self.construction,
            service_type=service_type,
            diameter_m=diameter_m,
            standard_diameter_m=standard_m,
            section_width_m=width_m,
            section_height_m=(diameter_m - self.rim_m) / 2.0,
            rim_diameter_m=self.rim_m,
            service=details.service,
            load_range=details.load_range,
            assumptions=(*self.assumptions, *assumed),
        )


def _rim(text: str) -> tuple[float, list[str]]:
    rim = float(text)
    if rim >= 100.0:
        low, high = _RIMS_MM
        faults = [] if low <= rim <= high else [f"rim {rim:g} mm; allowed: {low} to {high} mm"]
        return rim / 1000.0, faults
    low, high = _RIMS_INCH
    if rim in _HALF_RIMS_INCH or (rim.is_integer() and low <= rim <= high):
        return rim * INCH_M, []
    halves = ", ".join(f"{half:g}" for half in _HALF_RIMS_INCH)
    return rim * INCH_M, [f"rim {rim:g} in; allowed: {low} to {high} in, whole, or {halves} in"]


def _construction(
    make: str | None, between: str | None
) -> tuple[Construction, str, tuple[str, ...]]:
    if make == "D" or (make == "-" and between != "-"):
        return "diagonal", "D", ()
    if make == "B":
        return "bias-belted", "B", ()
    if make is None or make in "-/X":
        return "radial", "R", ("construction not given: radial taken",)
    return "radial", make, ()


def _metric(marked: _Marked) -> TireSize:
    printed = "aspect" in marked.parts
    width_mm = marked.figure("width", "section width", _WIDTHS_MM, " mm")
    aspect = marked.figure("aspect", "aspect ratio", _ASPECTS) if printed else _UNPRINTED_ASPECT
    marked.refuse()
    prefix, service = marked.prefix, marked.details.service
    dual = service is not None and service.load_index_dual is not None
    service_type: ServiceType = "passenger"
    if prefix in _SERVICE_TYPES:
        service_type = _SERVICE_TYPES[prefix]
    elif not prefix and (marked.commercial or dual or marked.rim.endswith(".5")):
        service_type = "commercial"
    shape = f"{width_mm:g}/{aspect:g}" if printed else f"{width_mm:g}"
    assumed = () if printed else (f"no aspect ratio printed: {aspect:g} taken",)
    width_m, share = width_mm / 1000.0, aspect / 100.0
    return marked.size(
        f"{prefix}{shape}{marked.make}{marked.rim}{'C' * marked.commercial}",
        family="metric",
        service_type=service_type,
        diameter_m=free_diameter_m(
            section_width_m=width_m, aspect=share, rim_diameter_m=marked.rim_m
        ),
        standard_m=standard_diameter_m(
            section_width_m=width_m, aspect=share, rim_diameter_m=marked.rim_m
        ),
        width_m=width_m,
        assumed=assumed,
    )


def _flotation(marked: _Marked) -> TireSize:
    diameter = marked.figure("width", "diameter", _FLOTATION_DIAMETERS_INCH, " in")
    width = marked.figure("section", "width", _FLOTATION_WIDTHS_INCH, " in")
    height_m = (diameter * INCH_M - marked.rim_m) / 2.0
    if not marked.faults and height_m < _LEAST_SECTION_HEIGHT_M:
        marked.faults.append(f"a rim of {marked.rim} leaves no room for a tire of {diameter:g} in")
    if not marked.faults and width >= diameter:
        marked.faults.append(f"width {width:g} in; allowed: less than the diameter")
    marked.refuse()
    dash = marked.make.replace("D", "-")
    return marked.size(
        f"{diameter:g}x{width:.2f}{dash}{marked.rim}{marked.prefix}",
        family="flotation",
        service_type=_SERVICE_TYPES.get(marked.prefix, "light-truck"),
        diameter_m=diameter * INCH_M,
        standard_m=whole_mm_m(diameter * INCH_M),
        width_m=width * INCH_M,
        assumed=("diameter as the name says: tires measure up to 2 % less",),
    )


def _numeric(marked: _Marked) -> TireSize:
    marked.refuse()
    name = numeric_name(
        width=float(marked.parts["width"] or math.nan),
        rim=float(marked.rim),
        commercial=marked.commercial,
    )
    diameter_m = NUMERIC_DIAMETER_MM[name] / 1000.0
    code = name.removesuffix("C").partition("R")[0]
    assumed = () if marked.construction == "radial" else (f"diameter of the radial {name} taken",)
    dash = marked.make.replace("D", "-")
    return marked.size(
        f"{code}{dash}{marked.rim}{marked.prefix}{'C' * marked.commercial}",
        family="numeric",
        service_type=_SERVICE_TYPES.get(marked.prefix, "commercial"),
        diameter_m=diameter_m,
        standard_m=diameter_m,
        width_m=float(code) * INCH_M,
        assumed=assumed,
    )


_SERVICE_TYPES: Final[dict[str, ServiceType]] = {
    "P": "passenger",
    "LT": "light-truck",
    "ST": "special-trailer",
}
_FAMILIES: Final[tuple[tuple[re.Pattern[str], Callable[[_Marked], TireSize]], ...]] = (
    (_METRIC, _metric),
    (_UNPRINTED, _metric),
    (_FLOTATION, _flotation),
    (_NUMERIC, _numeric),
)
