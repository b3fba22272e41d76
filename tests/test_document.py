"""The advice as JSON: valid against its schema, complete, without NaN."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest

import gearrec
from gearrec import schema
from gearrec.document import AdviceDocument

EXAMPLES = sorted((Path(__file__).parent.parent / "docs" / "examples").glob("*.yaml"))


@pytest.fixture(scope="module")
def advisor() -> gearrec.Advisor:
    return gearrec.Advisor(plugins=())


@pytest.fixture(scope="module")
def validator() -> Any:
    found = schema.schema("advice")
    jsonschema.Draft202012Validator.check_schema(found)
    return jsonschema.Draft202012Validator(found)


def _read(text: str) -> Any:
    def refuse(name: str) -> float:
        raise AssertionError(f"{name} is no JSON")

    return json.loads(text, parse_constant=refuse)


def test_there_are_examples() -> None:
    assert len(EXAMPLES) >= 4


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_examples_are_valid_and_read_back(
    advisor: gearrec.Advisor, validator: Any, path: Path
) -> None:
    advice = advisor.advise(path)
    text = advice.to_json()
    found = _read(text)
    validator.validate(found)
    assert AdviceDocument.model_validate_json(text).model_dump(mode="json") == found
    assert found["format"] == 1
    assert found["kind"] == "advice"
    assert found["generator"] == {"name": "gearrec", "version": gearrec.__version__}


def test_the_document_says_what_the_advice_says(advisor: gearrec.Advisor) -> None:
    advice = advisor.advise(
        {
            "title": "A job",
            "vehicle": "demo/fell",
            "tires": {"planned": "LT215/85R16 115/112Q E"},
            # By hand: 57 mph on 235/70R16 (3.05 x 0.7354 m a turn) are 681.6 turns a minute;
            # x 0.68 x 47/14 = 1,556 rpm, x 0.68 x 50/13 = 1,783 rpm.
            "reported": {"engine_speed": "1790 rpm", "road_speed": "57 mph"},
        }
    )
    found = _read(advice.to_json())
    assert advice.pick is not None
    assert advice.runner_up is not None
    assert found["title"] == "A job"
    assert found["pick"] == advice.pick.axle_ratio
    assert found["runner_up"] == advice.runner_up.axle_ratio
    assert found["confidence"] == advice.confidence
    assert found["borderline"] == advice.borderline
    assert found["margin"] == advice.margin
    assert found["invented"] is True
    assert {item["id"] for item in found["records"] if item["invented"]} >= {"demo/fell"}
    assert [item["us"] for item in found["sentences"]] == list(advice.sentences("us"))
    assert [item["metric"] for item in found["sentences"]] == list(advice.sentences("metric"))
    assert [item["us"] for item in found["cautions"]] == list(advice.cautions("us"))
    assert found["story"]["agrees"] is False
    kinds = [item["kind"] for item in found["story"]["engine_speed"]["explanations"]]
    assert "other-ratio" in kinds
    for item, candidate in zip(found["candidates"], advice.candidates, strict=True):
        assert item["axle_ratio"] == candidate.axle_ratio
        assert item["verdict"] == candidate.verdict
        assert item["metrics"] == dict(candidate.metrics)
        assert [line["rule"] for line in item["trace"]] == [
            line.trace.rule.id for line in advice.traces[candidate.axle_ratio]
        ]
        total = sum(line["contribution"] or 0.0 for line in item["trace"])
        assert total == pytest.approx(item["score"])
    for span, item in zip(advice.reach, found["reach"], strict=True):
        # 1 in = 25.4 mm, exact.
        assert item["from_in"] == pytest.approx(span.from_m / 0.0254)
        assert item["to_m"] == span.to_m


def test_what_is_unknown_is_null_with_its_reason(advisor: gearrec.Advisor) -> None:
    """A tire size without service description has no load rating."""
    advice = advisor.advise({"vehicle": "demo/fell", "tires": {"planned": "225/75R16"}})
    found = _read(advice.to_json())
    assert all(item["metrics"]["tire_load_share"] is None for item in found["candidates"])
    assert found["metrics"]["tire_load_share"]["unknown_reason"]
    assert all(item["unknown_limits"] for item in found["candidates"])
    assert [item for item in found["assumptions"] if item["value"] is None]


def test_every_field_of_the_schema_is_described_or_typed() -> None:
    found = schema.schema("advice")
    for name, field in found["properties"].items():
        assert field.get("description") or "$ref" in field or "items" in field, name
    assert found["additionalProperties"] is False
    # A writer fills every field, so a reader may rely on each.
    assert set(found["required"]) == set(found["properties"])


def test_the_committed_schema_is_current() -> None:
    path = Path(__file__).parent.parent / "docs" / "schemas" / "advice.schema.json"
    assert path.read_text(encoding="utf-8") == schema.text("advice"), "schema.write_all writes it"


def test_the_schema_refuses_a_changed_document(advisor: gearrec.Advisor, validator: Any) -> None:
    found = _read(advisor.advise({"vehicle": "demo/fell"}).to_json())
    for change in ({"format": 2}, {"pick": "3.85"}, {"confidence": 1.5}, {"more": 1}):
        assert not validator.is_valid(found | change)
    del found["cautions"]
    assert not validator.is_valid(found)
