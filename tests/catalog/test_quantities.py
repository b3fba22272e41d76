"""Quantity fields: the text, the SI value, the limits and the pattern agree with gearrec.units."""

from __future__ import annotations

import re
import time
from typing import Annotated

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import BaseModel, ConfigDict, ValidationError

from gearrec import units
from gearrec.catalog.quantities import Quantity, json_schema, pattern, validator
from gearrec.errors import QuantityError

DIMENSIONS = sorted(set(units.UNITS) - {"ratio"})


class Truck(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)
    mass: Annotated[float, Quantity("mass", "300 kg", "40000 kg", "4200 lb")]


def test_text_becomes_si() -> None:
    # source: the international pound, 0.45359237 kg exactly
    assert Truck.model_validate({"mass": "1000 lb"}).mass == pytest.approx(453.59237)


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (4200, "has no unit"),
        (True, "true is not a mass"),
        (None, "nothing is not a mass"),
        (["4200 lb"], "a list is not a mass"),
        ({"a": 1}, "a dict is not a mass"),
        ("4200 lbs", "write lb"),
        ("4200 mph", "is a unit of a speed"),
        ("nan kg", "finite"),
        ("299 kg", "outside the sane limits; allowed: 300 kg to 40000 kg"),
        ("41000 kg", "outside the sane limits"),
    ],
)
def test_what_is_refused_says_what_is_allowed(value: object, words: str) -> None:
    with pytest.raises(ValidationError, match=re.escape(words)):
        Truck.model_validate({"mass": value})


def test_a_remembered_text_is_not_found_by_an_equal_number() -> None:
    read = validator("share")
    assert read("1 %") == 0.01
    with pytest.raises(Exception, match="no unit"):
        read(1)
    with pytest.raises(Exception, match="true is not"):
        read(True)


def test_json_text_reads_back_as_the_same_value() -> None:
    truck = Truck.model_validate({"mass": "1234.5 lb"})
    assert Truck.model_validate_json(truck.model_dump_json()) == truck


@pytest.mark.parametrize("dimension", DIMENSIONS)
@settings(max_examples=60)
@given(data=st.data())
def test_pattern_and_units_accept_the_same_texts(dimension: str, data: st.DataObject) -> None:
    number = data.draw(st.from_regex(r"\A[+-]?[0-9]{0,3}(\.[0-9]{0,2})?(e3)?\Z"))
    blanks = data.draw(st.sampled_from(["", " ", "  ", "\t", "\u00a0"]))
    unit = data.draw(
        st.sampled_from([*units.UNITS[dimension], "", "furlong", "KG", "mpg", *units.UNITS["mass"]])
    )
    end = data.draw(st.sampled_from(["", "", "", " ", "\n"]))
    text = f"{number}{blanks}{unit}{end}"
    matches = re.search(pattern(dimension), text) is not None
    try:
        units.parse(text, dimension)
        reads = True
    except QuantityError as error:
        # Two refusals are about the value, which a pattern cannot tell.
        reads = "below absolute zero" in str(error) or "cannot be 0" in str(error)
    assert matches == reads, text


def test_the_longest_number_is_the_same_in_pattern_and_units() -> None:
    for digits in (39, 40, 41):
        text = "1" * digits + " kg"
        matches = re.search(pattern("mass"), text) is not None
        try:
            units.parse(text, "mass")
        except QuantityError:
            assert not matches
        else:
            assert matches


def test_schema_tells_units_limits_and_example() -> None:
    schema = json_schema("mass", "300 kg", "40000 kg", "4200 lb")
    assert schema["x-units"] == ["kg", "lb", "t"]
    assert schema["x-limits"] == "300 kg to 40000 kg"
    assert re.search(schema["pattern"], schema["examples"][0])


def test_a_catalog_of_quantities_is_quick() -> None:
    # 2,000 platforms of 50 quantities within 80 ms on the machine the goal was set on; the bound
    # here is loose, for slow and busy machines: it catches a lost memo, which costs ten times more.
    read = validator("mass", "300 kg", "40000 kg")
    texts = [f"{1000 + number} kg" for number in range(2000)]
    for text in texts:
        read(text)
    start = time.perf_counter()
    for _ in range(50):
        for text in texts:
            read(text)
    assert time.perf_counter() - start < 0.3
