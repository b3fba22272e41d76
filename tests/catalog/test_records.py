"""Catalog records: what each model accepts, refuses, and makes of its figures."""

from __future__ import annotations

import copy
import re
from typing import Any

import pytest
from pydantic import BaseModel, ValidationError

from gearrec.catalog import records
from gearrec.catalog.describing import field_at, keys_at
from gearrec.catalog.kinds import DOCUMENT_KINDS, KINDS, RECORD_KINDS, model

# Invented figures of the usual size, one good record of each kind.
AXLE: dict[str, Any] = {
    "id": "shop/rear",
    "title": "Rear",
    "position": "rear",
    "ring_gear": "217 mm",
    "gear_sets": [{"ring_teeth": 47, "pinion_teeth": 13}, {"ring_teeth": 47, "pinion_teeth": 11}],
}
ENGINE: dict[str, Any] = {
    "id": "shop/four",
    "title": "Four",
    "engine_class": "shop/diesel",
    "displacement": "1.72 L",
    "torque_curve": [
        {"speed": "800 rpm", "torque": "200 N*m"},
        {"speed": "1800 rpm", "torque": "310 lbf*ft"},
        {"speed": "4000 rpm", "torque": "300 N*m"},
    ],
    "idle_speed": "700 rpm",
    "governed_speed": "4200 rpm",
}
TRANSMISSION: dict[str, Any] = {
    "id": "shop/auto",
    "title": "Auto",
    "type": "automatic",
    "gears": [4.64, 2.97, 2.03, 1.42, 1.0, 0.68],
    "converter": {"stall_speed": "2000 rpm", "stall_torque_ratio": 1.9, "lockup_from_gear": 2},
}
PLATFORM: dict[str, Any] = {
    "id": "shop/pickup",
    "title": "Pickup",
    "curb_mass": "4400 lb",
    "gross_rating": "6000 lb",
    "drive": "part-time-four",
    "speed_sensor": "after-axle",
    "drag_area": "1.4 m^2",
    "powertrains": [{"engine": "shop/four", "transmission": "shop/auto"}],
    "axles": {"rear": "shop/rear", "front": "shop/front"},
    "factory": {"tire": "shop/tall", "axle_ratio": 3.36},
}
USE: dict[str, Any] = {
    "id": "shop/mixed",
    "title": "Mixed",
    "legs": [
        {"name": "highway", "share": "70 %", "speed": "54 mph", "terrain": "core/rolling"},
        {
            "name": "towing",
            "share": "30 %",
            "speed": "90 km/h",
            "terrain": {"grade_deviation": "2.5 %", "correlation_length": "400 m"},
            "towing": True,
        },
    ],
}


def made(kind: str, base: dict[str, Any], at: str = "", new: Any = ...) -> Any:
    """The record of `base` with the place `at` ('a.0.b') written, or removed without `new`."""
    value = copy.deepcopy(base)
    if at:
        *steps, last = [int(step) if step.isdigit() else step for step in at.split(".")]
        inner: Any = value
        for step in steps:
            inner = inner[step]
        if new is ...:
            del inner[last]
        else:
            inner[last] = new
    return model(kind).model_validate(value)


def test_figures_become_si() -> None:
    platform = made("platform", PLATFORM)
    # source: the international pound, 0.45359237 kg exactly
    assert platform.curb_mass == pytest.approx(4400 * 0.45359237)
    engine = made("engine", ENGINE)
    # source: 1 lbf*ft = 1.3558179483314 N*m by the exact pound, foot and standard gravity
    assert engine.torque_curve[1].torque == pytest.approx(310 * 1.3558179483314)
    use = made("use-profile", USE)
    # source: mile of 1609.344 m exactly
    assert use.legs[0].speed == pytest.approx(54 * 1609.344 / 3600)
    assert use.legs[1].terrain.grade_deviation == 0.025


def test_tooth_ratio_is_not_its_name() -> None:
    # source: 47/13 = 3.615, by arithmetic; sold as 3.62
    assert made("axle", AXLE).gear_sets[0].ratio == pytest.approx(3.6153846)


@pytest.mark.parametrize(
    ("kind", "base", "at", "new", "words"),
    [
        ("axle", AXLE, "gear_sets.1.pinion_teeth", 13, "listed twice"),
        ("axle", AXLE, "gear_sets.1.pinion_teeth", 4, "tooth ratio 11.750 is outside"),
        ("axle", AXLE, "gear_sets.1.ring_teeth", 47.5, "whole|integer"),
        ("axle", AXLE, "gear_sets", [], "at least 1"),
        ("axle", AXLE, "position", "middle", "'front' or 'rear'"),
        ("axle", AXLE, "ring_gear", 8.5, "has no unit"),
        ("engine", ENGINE, "torque_curve.1.speed", "800 rpm", "above the one before"),
        ("engine", ENGINE, "torque_curve.0.speed", "1600 rpm", "near idle"),
        ("engine", ENGINE, "governed_speed", "8000 rpm", "near the governed"),
        ("engine", ENGINE, "governed_speed", "600 rpm", "above idle"),
        ("engine", ENGINE, "displacement", "1.72 kg", "is a unit of a mass"),
        ("transmission", TRANSMISSION, "gears.2", 3.0, "lower ratio than the one before"),
        ("transmission", TRANSMISSION, "converter", ..., "needs its converter"),
        ("transmission", TRANSMISSION, "type", "manual", "has no converter"),
        ("transmission", TRANSMISSION, "converter.lockup_from_gear", 7, "no such gear"),
        ("transmission", TRANSMISSION, "converter.lockup_from_gear", "newer", "'never'"),
        ("platform", PLATFORM, "gross_rating", "4000 lb", "below the curb mass"),
        ("platform", PLATFORM, "drag_area", ..., "either drag_area or road_load"),
        ("platform", PLATFORM, "axles.front", ..., "driven front axle is due"),
        ("platform", PLATFORM, "powertrains", [], "at least 1"),
        ("platform", PLATFORM, "dual_rear_wheels", "no", "boolean"),
        ("platform", PLATFORM, "factory.axle_ratio", "3.36", "valid number"),
        ("platform", PLATFORM, "factory.axle_ratio", 34.2, "less than or equal to 9"),
        (
            "platform",
            PLATFORM,
            "driveshaft",
            {"length": "58 in", "outer_diameter": "30 mm", "wall": "15 mm", "material": "steel"},
            "leave no tube",
        ),
        ("use-profile", USE, "legs.0.share", "60 %", "make up 90.0%; allowed: 100 %"),
        ("use-profile", USE, "legs.1.name", "highway", "two legs are called 'highway'"),
        ("use-profile", USE, "legs.1.terrain.grade_deviation", "25 %", "outside the sane limits"),
    ],
)
def test_what_makes_no_sense_is_refused(
    kind: str, base: dict[str, Any], at: str, new: Any, words: str
) -> None:
    made(kind, base)
    with pytest.raises(ValidationError, match=words):
        made(kind, base, at, new)


@pytest.mark.parametrize("pieces", [True, 3, "1"])
def test_a_driveshaft_has_one_or_two_pieces(pieces: object) -> None:
    shaft = {"length": "58 in", "outer_diameter": "3 in", "wall": "2 mm", "material": "steel"}
    assert records.Driveshaft.model_validate(shaft).pieces == 1
    with pytest.raises(ValidationError, match="1 or 2"):
        records.Driveshaft.model_validate(shaft | {"pieces": pieces})


@pytest.mark.parametrize("tire", ["2155/85R16", "28.7", "LR78-15"])
def test_a_tire_has_a_size_that_can_be_read(tire: str) -> None:
    good = {"id": "shop/tire", "title": "T", "size": "LT215/85R16 115/112Q E"}
    assert made("tire", good).size == "LT215/85R16 115/112Q E"
    with pytest.raises(ValidationError, match=re.escape(tire)):
        made("tire", good, "size", tire)


def test_a_consumption_map_is_a_full_grid() -> None:
    grid = {
        "speeds": ["1000 rpm", "2000 rpm"],
        "torques": ["50 N*m", "200 N*m", "300 N*m"],
        "consumption": [["300 g/kWh", "290 g/kWh"]] * 3,
    }
    assert len(records.ConsumptionMap.model_validate(grid).consumption) == 3
    for at, short, words in (
        ("consumption", [["300 g/kWh", "290 g/kWh"]] * 2, "one row is due for each torque"),
        ("consumption", [["300 g/kWh"]] * 3, "one figure is due for each speed"),
        ("speeds", ["2000 rpm", "1000 rpm"], "above the one before"),
    ):
        with pytest.raises(ValidationError, match=words):
            records.ConsumptionMap.model_validate(grid | {at: short})


@pytest.mark.parametrize("kind", KINDS)
def test_models_are_strict_and_frozen(kind: str) -> None:
    seen: set[type[BaseModel]] = set()
    waiting = [model(kind)]
    while waiting:
        found = waiting.pop()
        if found in seen:
            continue
        seen.add(found)
        assert found.model_config["extra"] == "forbid", found
        assert found.model_config["frozen"], found
        waiting += [inner for inner in found.__subclasses__() if inner in seen]
        for field in found.model_fields.values():
            waiting += _models_in(field.annotation)


def _models_in(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type):
        return [annotation] if issubclass(annotation, BaseModel) else []
    arguments = getattr(annotation, "__args__", ())
    return [found for argument in arguments for found in _models_in(argument)]


def test_every_kind_has_a_model_of_its_own() -> None:
    assert set(KINDS) == {*RECORD_KINDS, *DOCUMENT_KINDS}
    assert len({model(kind) for kind in KINDS}) == len(KINDS)


def test_every_model_is_exported() -> None:
    for name in records.__all__:
        assert hasattr(records, name)
    assert records.__all__ == sorted(records.__all__)


def test_keys_and_fields_are_found_at_a_place() -> None:
    platform = model("platform")
    assert keys_at(platform, ("powertrains", 0)) == ["engine", "transmission"]
    assert "a" in keys_at(platform, ("road_load",))
    assert keys_at(platform, ("nowhere",)) == []
    assert keys_at(model("use-profile"), ("legs", 0, "terrain")) == [
        "correlation_length",
        "grade_deviation",
    ]
    field = field_at(platform, ("factory", "axle_ratio"))
    assert field is not None
    assert field.examples == [3.36]
    assert field_at(platform, ()) is None
    assert field_at(platform, ("factory", "x")) is None
