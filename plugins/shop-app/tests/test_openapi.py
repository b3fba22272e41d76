"""The description is complete, valid, and made from the models."""

from __future__ import annotations

import jsonschema
import pytest
from gearrec_shop_app import openapi

from gearrec.schema import schema


@pytest.fixture(scope="module")
def described():
    return openapi.document()


def references(value):
    if isinstance(value, dict):
        for key, item in value.items():
            if key == "$ref" and isinstance(item, str):
                yield item
            else:
                yield from references(item)
    elif isinstance(value, list):
        for item in value:
            yield from references(item)


def test_it_is_served(client, described):
    assert client.get("/openapi.json").json() == described
    assert described["openapi"] == "3.1.0"


def test_it_describes_every_route(app, described):
    routes = {(route.path, method) for route in app.routes for method in route.methods - {"HEAD"}}
    written = {
        (path, method.upper()) for path, methods in described["paths"].items() for method in methods
    }
    assert routes == written


def test_every_reference_leads_somewhere(described):
    names = {f"#/components/schemas/{name}" for name in described["components"]["schemas"]}
    found = set(references(described))
    assert found <= names
    assert {f"#/components/schemas/{name}" for name in ("Job", "Advice", "ProblemDetails")} <= found


def test_every_schema_is_one(described):
    for made in described["components"]["schemas"].values():
        jsonschema.Draft202012Validator.check_schema(made)


def test_the_job_is_the_librarys(described):
    job = described["components"]["schemas"]["Job"]
    assert job["properties"].keys() == schema("job")["properties"].keys()


def test_the_example_fits_the_schema_and_is_answered(client, example):
    jsonschema.Draft202012Validator(schema("job")).validate(example)
    answer = client.advise(example)
    jsonschema.Draft202012Validator(schema("advice")).validate(answer.json())
