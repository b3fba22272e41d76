"""JSON Schemas: valid by the metaschema, committed, and of one mind with the models."""

from __future__ import annotations

import copy
import json
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from gearrec import schema
from gearrec.catalog.compiling import compile_job, compile_record, ready
from gearrec.catalog.kinds import KINDS, RECORD_KINDS, model
from gearrec.catalog.layers import Layer
from gearrec.catalog.reader import Document
from gearrec.catalog.validation import check_layers
from gearrec.errors import CatalogError, JobError, Place, Problem, UnknownRecordError
from gearrec.metrics import BUILT_IN

ROOT = Path(__file__).parent.parent
COMMITTED = ROOT / "docs" / "schemas"

# What a schema cannot state: limits of texts with a unit, checks across fields, references.
BEYOND_A_SCHEMA = frozenset(
    {
        "sane-limit",
        "inconsistent",
        "tire-size",
        "unknown-id",
        "reference",
        "namespace",
        "duplicate-id",
        "extends-itself",
        "override-order",
        "nothing-left-out",
    }
)


@cache
def validator(kind: str) -> jsonschema.Draft202012Validator:
    return jsonschema.Draft202012Validator(schema.schema(kind))


@pytest.mark.parametrize("kind", KINDS)
def test_schema_is_valid_and_names_itself(kind: str) -> None:
    found = schema.schema(kind)
    jsonschema.Draft202012Validator.check_schema(found)
    assert found["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert found["$id"] == f"urn:gearrec:schema:{kind}:1"
    assert found["title"]
    assert found["description"]


@pytest.mark.parametrize("kind", KINDS)
def test_committed_schema_is_the_generated_one(kind: str) -> None:
    committed = (COMMITTED / f"{kind}.schema.json").read_text(encoding="utf-8")
    assert committed == schema.text(kind), "write them with gearrec.schema.write_all"


def test_no_schema_file_is_left_over() -> None:
    names = {path.name for path in COMMITTED.glob("*.schema.json")}
    assert {f"{kind}.schema.json" for kind in KINDS} <= names


def test_write_all(tmp_path: Path) -> None:
    paths = schema.write_all(tmp_path / "new" / "folder")
    assert len(paths) == len(KINDS) + len(schema.OUTPUT_KINDS)
    assert json.loads(paths[0].read_text(encoding="utf-8"))["$id"]


def test_unknown_kind_names_the_nearest() -> None:
    with pytest.raises(UnknownRecordError, match="did you mean 'platform'"):
        schema.schema("platfrom")


def properties(part: Any) -> list[tuple[str, dict[str, Any]]]:
    """Every declared key of a schema with its schema."""
    if isinstance(part, list):
        return [found for inner in part for found in properties(inner)]
    if not isinstance(part, dict):
        return []
    own = part.get("properties")
    found = list(own.items()) if isinstance(own, dict) and part.get("type") == "object" else []
    return found + [more for inner in part.values() for more in properties(inner)]


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind not in ("rule", "rule-set")])
def test_every_key_is_described_and_every_quantity_has_an_example(kind: str) -> None:
    found = schema.schema(kind)
    definitions = found["$defs"]
    for name, part in properties(found):
        target = definitions[part["$ref"].rpartition("/")[2]] if "$ref" in part else part
        assert "description" in part or "description" in target, name
        if "x-dimension" in part:
            assert part["examples"], name


@pytest.mark.parametrize("kind", KINDS)
def test_examples_are_themselves_accepted(kind: str) -> None:
    found = schema.schema(kind)
    for name, part in properties(found):
        inner = {"$defs": found["$defs"]} | part
        for example in part.get("examples", ()):
            jsonschema.Draft202012Validator(inner).validate(example), name


def shipped() -> list[Path]:
    return sorted((ROOT / "catalogs").rglob("*.yaml"))


def with_plugins_and_examples() -> list[Path]:
    beside = [*ROOT.glob("plugins/*/gearrec_*/**/*.yaml"), *ROOT.glob("docs/examples/**/*.yaml")]
    return [*shipped(), *sorted(beside)]


@pytest.mark.parametrize(
    "path", with_plugins_and_examples(), ids=lambda path: f"{path.parent.name}/{path.stem}"
)
def test_shipped_files_are_accepted_and_bound_to_their_schema(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    value = yaml.safe_load(text)
    validator(value["kind"]).validate(value)
    first = text.splitlines()[0]
    assert first.startswith("# yaml-language-server: $schema=")
    bound = (path.parent / first.partition("=")[2]).resolve()
    assert bound == (COMMITTED / f"{value['kind']}.schema.json").resolve()


# ------------------------------------------------------------- schema and models agree


def library_problems(value: Any) -> list[Problem]:
    """What the library says to a file that holds `value`."""
    kind = value.get("kind")
    if kind == "job" or "vehicle" in value:
        try:
            compile_job(value)
        except JobError as error:
            return list(error.problems)
        return []
    if kind == "catalog" or "namespace" in value:
        place = lambda path, key=False: Place()  # noqa: E731 - a stand-in, used once
        return compile_record(ready(model("catalog")), value, place=place)[1]
    document = _Document("file.yaml", value)
    try:
        check_layers([Layer("demo", [document])])
    except CatalogError as error:
        return list(error.problems)
    return []


class _Document(Document):
    """A document without marks: places are not what is tested here."""

    def __init__(self, file: str, value: Any) -> None:
        self.file = file
        self.value = value

    def place(self, path: Any, *, key: bool = False) -> Place:
        return Place(self.file, 1, 1, str(path))


@cache
def samples() -> dict[str, list[dict[str, Any]]]:
    """Good files of each kind: the shipped ones, cut to a few records, and forms they lack."""
    found: dict[str, list[dict[str, Any]]] = {}
    for path in shipped():
        value = yaml.safe_load(path.read_text(encoding="utf-8"))
        if "records" in value:
            value["records"] = value["records"][:2]
        found.setdefault(value["kind"], []).append(value)
    trailer = {
        "id": "demo/one",
        "title": "One",
        "mass": "3000 kg",
        "drag_area": "2 m^2",
        "rolling_coefficient": 0.01,
        "tongue_share": "12 %",
    }
    trailer["source"] = {"kind": "invented", "citation": "test", "confidence": "low"}
    found["trailer"].append({"kind": "trailer", "format": 1, "records": [trailer]})
    tire = {"id": "demo/one", "title": "One", "size": "225/75R16", "revs_per_mile": "650 1/mi"}
    like = {"id": "demo/two", "title": "Two", "extends": "demo/one", "without": ["revs_per_mile"]}
    change = {"overrides": "core/one", "mass": "30 kg", "without": ["source", "notes"]}
    found["tire"].append({"kind": "tire", "format": 1, "records": [tire, like, change]})
    legs = [{"name": "a", "share": "100 %", "speed": "60 mph", "terrain": "core/flat"}]
    found["job"] = [
        {
            "kind": "job",
            "format": 1,
            "vehicle": "demo/pickup",
            "tires": {"planned": "LT255/85R16 E", "now": {"size": "235/70R16 109T"}},
            "trailer": {name: trailer[name] for name in list(trailer)[2:6]},
            "use": {"legs": legs},
            "goals": {"towing": "50 %"},
            "candidates": [3.62, 4],
        },
    ]
    found["case"] = [
        {
            "kind": "case",
            "format": 1,
            "records": [
                {
                    "id": "demo/case",
                    "title": "Case",
                    "why": "Because.",
                    "job": {"vehicle": "demo/pickup"},
                    "expect": {
                        "pick": 3.85,
                        "metrics": [{"metric": "tire_growth", "value": "3 %", "tolerance": "1 %"}],
                    },
                }
            ],
        }
    ]
    return found


PATHS = st.lists(st.integers(0, 40), min_size=1, max_size=6)
WORDS = st.sampled_from(["kind", "id", "title", "mass", "size", "source", "extends", "overrides"])
VALUES = st.one_of(
    st.sampled_from(["", "x", "demo/x", "Demo/X", "demo/x\n", "3.85", "3 %", "12 kg", "12 lbs"]),
    st.sampled_from(["2026-01", "2026", "rear", "reer", "invented", "6 mph", "6mph", " 6 mph"]),
    st.sampled_from([0, 1, 1.0, 2, 3.85, -1, 12, 41, 41.0, 41.5, 1e9, True, False]),
    st.sampled_from([[], {}, ["x"], ["demo/x"], [1], {"x": 1}, {"kind": "invented"}]),
)


def mutate(value: Any, path: list[int], what: str, word: str, new: Any) -> None:
    """Change one place of a file, found by walking down along `path`."""
    for depth, number in enumerate(path):
        if not isinstance(value, dict | list) or not value:
            return
        keys = list(value) if isinstance(value, dict) else range(len(value))
        key = keys[number % len(keys)]
        last = depth == len(path) - 1 or not isinstance(value[key], dict | list)
        if not last:
            value = value[key]
        elif what == "replace":
            value[key] = new
            return
        elif what == "remove":
            del value[key]
            return
        elif what == "repeat" and isinstance(value, list):
            value.append(copy.deepcopy(value[key]))
            return
        elif isinstance(value, dict):
            value[word] = new
            return


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=100)
@given(data=st.data())
def test_schema_and_models_accept_and_refuse_the_same(kind: str, data: st.DataObject) -> None:
    value = copy.deepcopy(data.draw(st.sampled_from(samples()[kind])))
    for _ in range(data.draw(st.integers(0, 2))):
        what = data.draw(st.sampled_from(["replace", "replace", "remove", "repeat", "add"]))
        mutate(value, data.draw(PATHS), what, data.draw(WORDS), copy.deepcopy(data.draw(VALUES)))
    if value.get("kind", kind) != kind:
        assert not validator(kind).is_valid(value)
        return
    found = library_problems(value)
    problems = [problem for problem in found if problem.code not in BEYOND_A_SCHEMA]
    if kind in ("rule", "rule-set") and not problems:
        # The schemas of rules also state some of the checks across fields.
        problems = [problem for problem in found if problem.code == "inconsistent"]
        if problems and validator(kind).is_valid(value):
            return
    errors = [f"{e.json_path}: {e.message}" for e in validator(kind).iter_errors(value)]
    assert bool(problems) == bool(errors), (problems, errors)


def test_all_record_kinds_have_samples() -> None:
    assert set(RECORD_KINDS) <= set(samples())


def test_metrics_of_plugins_can_be_named_in_rules_and_cases() -> None:
    own = replace(BUILT_IN[0], name="shop_measure", definition="invented", unit="1")
    known = (*BUILT_IN, own)
    for kind in ("rule", "case"):
        value = copy.deepcopy(samples()[kind][-1])
        found = schema.schema(kind, metrics=known)
        jsonschema.Draft202012Validator.check_schema(found)
        taking = jsonschema.Draft202012Validator(found)
        record = value["records"][0]
        names = record if kind == "rule" else record["expect"]["metrics"][0]
        names["metric"] = "shop_measure"
        assert taking.is_valid(value)
        assert validator(kind).is_valid(value), "what is written down allows any name"
        names["metric"] = "shop_mesure"
        assert not taking.is_valid(value)
        assert '"definition": "invented"' in schema.text(kind, metrics=known)
    shown = schema.schema("advice", metrics=known)["properties"]["metrics"]["properties"]
    assert shown["shop_measure"]["description"] == "invented [1]"
