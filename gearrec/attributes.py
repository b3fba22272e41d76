"""Attributes: what a rule may ask of a job besides its metrics.

A metric belongs to a candidate; an attribute belongs to the job: how much of the use is towing,
what fuel the engine burns, how much the tires grow. Rules read attributes in conditions (`when`),
in computed edges and in weights. Here stand their names, dimensions and definitions; the values
are computed where jobs are resolved.

Inside, every value is one float: a quantity in SI (engine speed in rpm), a flag 0 or 1, a word its
position among the words allowed. NaN means unknown and is never taken for zero.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from gearrec import units
from gearrec.errors import PluginError, QuantityError, allowed_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

AttributeKind = Literal["share", "flag", "word", "count", "quantity", "specific"]


@dataclass(frozen=True, slots=True)
class Attribute:
    """One named property of a job.

    `kind` decides how its values are written: `share` "25 %", `flag` true or false, `word` one of
    `words`, `count` a bare number, `quantity` a text with a unit of `dimension`, `specific` a text
    with exactly the unit `unit` (quantities per mass, whose units are no dimension of their own).
    """

    name: str
    kind: AttributeKind
    definition: str
    dimension: str = ""
    unit: str = ""
    words: tuple[str, ...] = ()

    @property
    def scales(self) -> bool:
        """Whether the attribute may scale a term of an edge or of a weight."""
        return self.kind in ("share", "flag")


def encode(attribute: Attribute, value: object) -> float:
    """The float that stands for a value of an attribute.

    `value` is what a file or a program gives: None (unknown), a bool, a word, a number for a count,
    or a text with a unit. Raises QuantityError with what is allowed.
    """
    if value is None:
        return math.nan
    if attribute.kind == "flag":
        return _flag(attribute, value)
    if attribute.kind == "word":
        return _word(attribute, value)
    if attribute.kind == "count":
        return _count(attribute, value)
    if attribute.kind == "specific":
        return _specific(attribute, value)
    return units.parse(value, "share" if attribute.kind == "share" else attribute.dimension)


def decode(attribute: Attribute, value: float, system: Literal["us", "metric"] = "us") -> str:
    """The text a person reads for an encoded value; "unknown" for NaN."""
    if math.isnan(value):
        return "unknown"
    if attribute.kind == "flag":
        return "yes" if value else "no"
    if attribute.kind == "word":
        return attribute.words[int(value)]
    if attribute.kind == "count":
        return f"{value:g}"
    if attribute.kind == "specific":
        return f"{value:.4g} {attribute.unit}"
    dimension = "share" if attribute.kind == "share" else attribute.dimension
    return units.format(value, dimension, system)


def merge(*groups: Iterable[Attribute]) -> dict[str, Attribute]:
    """One registry of several groups of attributes; the same name twice is a PluginError."""
    registry: dict[str, Attribute] = {}
    for group in groups:
        for attribute in group:
            if attribute.name in registry:
                raise PluginError(f"attribute {attribute.name!r} is defined twice")
            registry[attribute.name] = attribute
    return dict(sorted(registry.items()))


def built_in() -> Mapping[str, Attribute]:
    """The library's own attributes by name."""
    return BUILT_IN


def _flag(attribute: Attribute, value: object) -> float:
    if isinstance(value, bool):
        return float(value)
    raise QuantityError(f"{attribute.name} is a yes-or-no attribute; allowed: true, false")


def _word(attribute: Attribute, value: object) -> float:
    if isinstance(value, str) and value in attribute.words:
        return float(attribute.words.index(value))
    guess = value if isinstance(value, str) else None
    raise QuantityError(
        f"{value!r} is no value of {attribute.name}; {allowed_words(attribute.words, guess)}"
    )


def _count(attribute: Attribute, value: object) -> float:
    usable = isinstance(value, int | float) and not isinstance(value, bool)
    if usable and math.isfinite(value):  # type: ignore[arg-type]
        return float(value)  # type: ignore[arg-type]
    raise QuantityError(f"{attribute.name} is a count; allowed: a number without a unit")


def _specific(attribute: Attribute, value: object) -> float:
    if isinstance(value, str):
        number, _, unit = value.strip().partition(" ")
        try:
            parsed = float(number)
        except ValueError:
            parsed = math.nan
        if unit.strip() == attribute.unit and math.isfinite(parsed):
            return parsed
    raise QuantityError(
        f"{value!r} is no value of {attribute.name}; allowed: a text with the unit "
        f"{attribute.unit}, for example '50 {attribute.unit}'"
    )


def _share(name: str, definition: str) -> Attribute:
    return Attribute(name=name, kind="share", definition=definition)


def _yes_no(name: str, definition: str) -> Attribute:
    return Attribute(name=name, kind="flag", definition=definition)


def _words(name: str, words: tuple[str, ...], definition: str) -> Attribute:
    return Attribute(name=name, kind="word", definition=definition, words=words)


def _quantity(name: str, dimension: str, definition: str) -> Attribute:
    return Attribute(name=name, kind="quantity", definition=definition, dimension=dimension)


def _per_mass(name: str, unit: str, definition: str) -> Attribute:
    return Attribute(name=name, kind="specific", definition=definition, unit=unit)


BUILT_IN: Mapping[str, Attribute] = merge(
    [
        _share("use_towing", "share of the distance driven with a trailer"),
        _share(
            "use_climbing",
            "share of the distance over terrain with a grade deviation of 2.5 % or more",
        ),
        _share("use_low_range", "share of the distance driven in low range"),
        _share("use_highway", "share of the distance at 45 mph (20.1 m/s) or more, trailer or not"),
        _share("use_city", "share of the distance below 45 mph (20.1 m/s) in high range"),
        _share(
            "towing_mass_share",
            "trailer mass / vehicle mass as loaded; 0 where no leg of the use tows",
        ),
        _share(
            "rated_load_share",
            "the largest of: loaded vehicle with the trailer's tongue / gross rating, and load "
            "of each axle / its rating where the platform states one",
        ),
        _share("load_share", "payload and added mass / mass of the empty vehicle"),
        _share("tire_growth", "planned diameter / factory diameter - 1, both new"),
        _share(
            "tire_growth_beyond_small",
            "the part of tire_growth above 3 %, 0 below that: what more than a recalibration asks",
        ),
        _share(
            "factory_gearing_tall",
            "how tall the factory's gearing is for the engine: 1 where top gear at 100 km/h "
            "(27.7 m/s) on factory tires turns it at the lower end of its comfortable band or "
            "below, 0 at the upper end or above",
        ),
        _share(
            "use_towing_on_tall_gearing",
            "use_towing x factory_gearing_tall: towing that the factory's gearing leaves room for",
        ),
        _yes_no("tires_grow", "the planned tires are taller than the factory's by 1 % or more"),
        _share("goal_economy", "how much the owner wants low fuel use, 0 to 100 %"),
        _share("goal_towing", "how much the owner wants ease of towing, 0 to 100 %"),
        _share("goal_trail", "how much the owner wants control off the road, 0 to 100 %"),
        _share("goal_performance", "how much the owner wants acceleration, 0 to 100 %"),
        _quantity(
            "engine_cruise_low", "engine_speed", "below this the engine's class labors at cruise"
        ),
        _quantity(
            "engine_cruise_comfortable_low",
            "engine_speed",
            "lower end of the comfortable cruise band of the engine's class",
        ),
        _quantity(
            "engine_cruise_comfortable_high",
            "engine_speed",
            "upper end of the comfortable cruise band of the engine's class",
        ),
        _quantity(
            "engine_cruise_high",
            "engine_speed",
            "above this the engine's class is too loud and thirsty at cruise",
        ),
        _quantity("engine_lug_speed", "engine_speed", "lowest engine speed for high load"),
        _quantity("engine_idle", "engine_speed", "idle speed of the engine"),
        _quantity("engine_governed", "engine_speed", "governed or limited engine speed"),
        _quantity(
            "engine_peak_torque_speed", "engine_speed", "lowest engine speed at the peak torque"
        ),
        _quantity("engine_peak_power_speed", "engine_speed", "engine speed at the peak power"),
        _quantity("engine_displacement", "volume", "displacement of the engine"),
        _words("engine_fuel", ("diesel", "gasoline"), "fuel of the engine's class"),
        _words("engine_aspiration", ("natural", "boosted"), "aspiration of the engine's class"),
        _per_mass(
            "power_per_mass", "kW/t", "peak power / largest mass of the job, trailer included"
        ),
        _per_mass(
            "torque_per_mass", "N*m/t", "peak torque / largest mass of the job, trailer included"
        ),
        _per_mass(
            "displacement_per_mass", "L/t", "displacement / largest mass of the job, with trailer"
        ),
        _words("drive", ("rear", "part-time-four", "full-time-four"), "which axles are driven"),
        _yes_no("has_low_range", "the vehicle has a transfer case with a low range"),
        _words("transmission_type", ("automatic", "manual"), "automatic with converter or manual"),
        Attribute(name="gear_count", kind="count", definition="number of forward gears"),
        _quantity("top_gear_ratio", "ratio", "ratio of the highest gear"),
        _quantity("first_gear_ratio", "ratio", "ratio of the lowest gear, high range"),
        _yes_no("dual_rear_wheels", "the rear axle has two wheels on each side"),
        _words(
            "speed_sensor",
            ("before-axle", "after-axle"),
            "where road speed is sensed: before the axle ratio (output shaft) or at the wheels",
        ),
        _quantity("vehicle_mass", "mass", "mass of the vehicle as loaded, without trailer"),
        _quantity("trailer_mass", "mass", "mass of the heaviest trailer; 0 where none is towed"),
        _quantity("gross_rating", "mass", "gross vehicle mass rating of the platform"),
        _quantity("factory_ratio", "ratio", "axle ratio the vehicle left the factory with"),
        _quantity("fitted_ratio", "ratio", "axle ratio now fitted"),
        _quantity("tire_diameter_planned", "length", "diameter of the planned tires, new"),
        _quantity("altitude_max", "length", "highest altitude of the use's legs"),
        _quantity("speed_max", "speed", "speed of the fastest leg"),
    ]
)
