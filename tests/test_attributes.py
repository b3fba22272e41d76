"""Attributes: names, definitions, and how their values are written."""

from __future__ import annotations

import math

import pytest

from gearrec.attributes import Attribute, built_in, decode, encode, merge
from gearrec.errors import PluginError, QuantityError
from gearrec.units import UNITS

ATTRIBUTES = built_in()


@pytest.mark.parametrize("attribute", ATTRIBUTES.values(), ids=lambda each: each.name)
def test_every_attribute_is_complete(attribute: Attribute) -> None:
    assert attribute.name == attribute.name.lower()
    assert len(attribute.definition) > 10
    assert (attribute.kind == "word") == bool(attribute.words)
    assert (attribute.kind == "specific") == bool(attribute.unit)
    assert (attribute.kind == "quantity") == (attribute.dimension in UNITS)


def test_the_registry_is_sorted_by_name() -> None:
    assert list(ATTRIBUTES) == sorted(ATTRIBUTES)


@pytest.mark.parametrize(
    ("name", "value", "expected"),
    [
        ("use_towing", "25 %", 0.25),
        ("tires_grow", True, 1.0),
        ("tires_grow", False, 0.0),
        ("engine_fuel", "diesel", 0.0),
        ("engine_fuel", "gasoline", 1.0),
        ("gear_count", 6, 6.0),
        ("engine_idle", "750 rpm", 750.0),
        ("vehicle_mass", "2 t", 2000.0),
        ("power_per_mass", "45.5 kW/t", 45.5),
    ],
)
def test_a_value_becomes_a_number(name: str, value: object, expected: float) -> None:
    # source: unit definitions; order of the words in the registry
    assert encode(ATTRIBUTES[name], value) == pytest.approx(expected)


def test_nothing_given_is_unknown_and_not_zero() -> None:
    assert math.isnan(encode(ATTRIBUTES["use_towing"], None))
    assert decode(ATTRIBUTES["use_towing"], math.nan) == "unknown"


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("use_towing", 0.25, "%"),
        ("use_towing", "25 mph", "%"),
        ("tires_grow", "yes", "true, false"),
        ("tires_grow", 1, "true, false"),
        ("engine_fuel", "deisel", "did you mean 'diesel'"),
        ("engine_fuel", True, "diesel, gasoline"),
        ("gear_count", "6", "without a unit"),
        ("gear_count", True, "without a unit"),
        ("gear_count", math.inf, "without a unit"),
        ("power_per_mass", 45, "kW/t"),
        ("power_per_mass", "45 hp/t", "kW/t"),
        ("power_per_mass", "nan kW/t", "kW/t"),
        ("engine_idle", "750", "rpm"),
    ],
)
def test_a_wrong_value_says_what_is_allowed(name: str, value: object, words: str) -> None:
    with pytest.raises(QuantityError, match=words.replace("(", r"\(")):
        encode(ATTRIBUTES[name], value)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("engine_fuel", "gasoline"),
        ("drive", "part-time-four"),
        ("speed_sensor", "after-axle"),
        ("gear_count", 8),
        ("engine_idle", "750 rpm"),
        ("power_per_mass", "45.5 kW/t"),
    ],
)
def test_decoding_shows_what_was_encoded(name: str, value: object) -> None:
    assert decode(ATTRIBUTES[name], encode(ATTRIBUTES[name], value)) == str(value)


def test_flags_and_shares_scale_and_others_do_not() -> None:
    assert ATTRIBUTES["use_towing"].scales
    assert ATTRIBUTES["tires_grow"].scales
    assert not ATTRIBUTES["engine_idle"].scales
    assert decode(ATTRIBUTES["tires_grow"], 1.0) == "yes"
    assert decode(ATTRIBUTES["tires_grow"], 0.0) == "no"


def test_the_same_name_twice_is_an_error() -> None:
    mine = Attribute(name="shop_bay", kind="count", definition="number of the bay")
    assert "shop_bay" in merge(ATTRIBUTES.values(), [mine])
    with pytest.raises(PluginError, match="shop_bay"):
        merge([mine], [mine])
