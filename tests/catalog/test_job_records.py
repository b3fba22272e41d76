"""The job: by ids, or with the whole vehicle inside; from Python, JSON and YAML alike."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from gearrec.catalog.compiling import compile_job
from gearrec.catalog.job_records import InlinePlatform, Job
from gearrec.catalog.powertrain_records import EngineData
from gearrec.catalog.reader import read_text
from gearrec.catalog.references import of_job
from gearrec.catalog.vehicle_records import TireData
from gearrec.errors import JobError

# A whole invented vehicle, with nothing looked up but the engine's class.
INLINE: dict[str, Any] = {
    "title": "Invented truck",
    "curb_mass": "2000 kg",
    "gross_rating": "2800 kg",
    "drive": "part-time-four",
    "speed_sensor": "before-axle",
    "road_load": {
        "a": "41.5 lbf",
        "b": "0.68 lbf/mph",
        "c": "0.0185 lbf/mph^2",
        "test_mass": "4500 lb",
    },
    "engine": {
        "engine_class": "core/diesel-small",
        "displacement": "1.72 L",
        "torque_curve": [
            {"speed": "800 rpm", "torque": "200 N*m"},
            {"speed": "1800 rpm", "torque": "450 N*m"},
            {"speed": "4000 rpm", "torque": "300 N*m"},
        ],
        "idle_speed": "700 rpm",
        "governed_speed": "4200 rpm",
    },
    "transmission": {"type": "manual", "gears": [4.2, 2.4, 1.5, 1.0, 0.8]},
    "transfer_case": {"low_range": 2.51},
    "axles": {
        "rear": {
            "position": "rear",
            "ring_gear": "8.5 in",
            "gear_sets": [{"ring_teeth": 47, "pinion_teeth": 14}],
        },
        "front": "shop/front",
    },
    "factory": {"tire": "235/70R16 109T", "axle_ratio": 3.36},
}


def test_a_job_needs_no_more_than_a_vehicle() -> None:
    job = compile_job({"vehicle": "demo/pickup"})
    assert job == Job(vehicle="demo/pickup")
    assert job.tires.planned is None
    assert job.goals.towing == 0.0


def test_a_job_carries_its_whole_vehicle() -> None:
    job = compile_job(
        {
            "vehicle": INLINE,
            "tires": {"planned": {"size": "LT255/85R16", "revs_per_mile": "630 1/mi"}},
            "trailer": {
                "mass": "6500 lb",
                "drag_area": "2.5 m^2",
                "rolling_coefficient": 0.01,
                "tongue_share": "12 %",
            },
            "use": {
                "legs": [
                    {
                        "name": "road",
                        "share": "100 %",
                        "speed": "54 mph",
                        "terrain": {"grade_deviation": "2 %", "correlation_length": "400 m"},
                    }
                ]
            },
        }
    )
    assert isinstance(job.vehicle, InlinePlatform)
    assert isinstance(job.vehicle.engine, EngineData)
    assert isinstance(job.tires.planned, TireData)
    assert {(kind, record_id) for _, kind, record_id in of_job(job)} == {
        ("engine-class", "core/diesel-small"),
        ("axle", "shop/front"),
    }


def test_a_job_by_ids_names_its_records() -> None:
    job = Job.model_validate(
        {
            "vehicle": "demo/pickup",
            "engine": "demo/four",
            "axles": {"rear": "demo/rear", "front": "demo/front"},
            "trailer": "demo/box",
            "use": "core/mixed",
            "rule_set": "core/default",
            "transfer_case": "demo/case",
        }
    )
    assert [record_id for _, _, record_id in of_job(job)] == [
        "demo/pickup",
        "demo/four",
        "demo/case",
        "demo/rear",
        "demo/front",
        "demo/box",
        "core/mixed",
        "core/default",
    ]


def test_a_job_cannot_be_changed() -> None:
    job = compile_job({"vehicle": "demo/pickup", "candidates": [3.62, 3.85]})
    with pytest.raises(ValidationError, match="frozen"):
        job.vehicle = "demo/other"
    with pytest.raises(ValidationError, match="frozen"):
        job.goals.towing = 1.0
    assert job.candidates == (3.62, 3.85)


@pytest.mark.parametrize(
    ("change", "where", "words"),
    [
        ({"vehicle": ...}, "vehicle", "missing"),
        ({"vehicle": "Pickup"}, "vehicle", "namespace/name"),
        ({"axle_ratio": "3.85"}, "axle_ratio", "write 3.85 without quotes"),
        ({"axle_ratio": 41}, "axle_ratio", "at most 9"),
        ({"tires": {"planned": 33}}, "tires.planned", "an id, or a size such as 235/70R16"),
        ({"tires": {"planned": {"size": "2155/85R16"}}}, "tires.planned.size", "2155/85R16"),
        ({"goals": {"towing": 0.5}}, "goals.towing", "0.5 has no unit"),
        ({"reported": {"engine_speed": "1500 rpm"}}, "reported.engine_speed", "road speed"),
        ({"reported": {"fuel_use": "20 mpg"}}, "reported.fuel_use", "mpg (US)"),
        ({"load": {"payload": "-5 kg"}}, "load.payload", "cannot be negative"),
        ({"format": 2}, "format", "allowed: 1"),
        ({"kind": "tire"}, "kind", "allowed: 'job'"),
    ],
)
def test_what_a_job_cannot_say(change: dict[str, Any], where: str, words: str) -> None:
    value = {"vehicle": "demo/pickup"} | change
    with pytest.raises(JobError) as caught:
        compile_job({name: inner for name, inner in value.items() if inner is not ...})
    (problem,) = caught.value.problems
    assert problem.place.dotted == where
    assert words in problem.message


def test_an_inline_front_drive_needs_its_front_axle() -> None:
    vehicle = INLINE | {"axles": {"rear": "shop/rear"}}
    with pytest.raises(JobError, match=r"^vehicle\.axles: a driven front axle is due"):
        compile_job({"vehicle": vehicle})


def test_yaml_json_and_python_give_the_same_job() -> None:
    value = {"vehicle": INLINE, "axle_ratio": 3.36, "goals": {"economy": "30 %"}}
    from_python = compile_job(value)
    # JSON is YAML but for what the strict reader refuses, and there is none of that in it.
    from_yaml = compile_job(read_text(json.dumps(value).encode(), file="job.yaml").value)
    from_json = compile_job(json.loads(from_python.model_dump_json(exclude_none=True)))
    assert from_python == from_yaml == from_json


@settings(max_examples=60)
@given(
    payload=st.decimals(0, 9999, places=2),
    ratio=st.floats(2, 9),
    share=st.integers(0, 100),
    unit=st.sampled_from(["kg", "lb"]),
)
def test_a_job_survives_json(payload: object, ratio: float, share: int, unit: str) -> None:
    job = compile_job(
        {
            "vehicle": "demo/pickup",
            "axle_ratio": ratio,
            "load": {"payload": f"{payload} {unit}"},
            "goals": {"trail": f"{share} %"},
        }
    )
    assert compile_job(json.loads(job.model_dump_json())) == job
