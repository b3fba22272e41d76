"""The description of the application, OpenAPI 3.1, made from the models that answer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from gearrec import __version__
from gearrec.schema import schema
from gearrec_shop_app import problems
from gearrec_shop_app.bodies import JSON
from gearrec_shop_app.models import Platforms, Schemas, schema_kinds

if TYPE_CHECKING:
    from pydantic import BaseModel

SCHEMA_JSON = "application/schema+json"
EXAMPLE: dict[str, Any] = {
    "title": "A bread van that hunts between its gears (invented)",
    "vehicle": "demo/bannock",
    "load": {"payload": "900 lb"},
    "trailer": "demo/market-stall",
    "use": "demo/market-days",
    "goals": {"economy": "40 %"},
    "question": "It changes gear on every rise. Would taller gears calm it down?",
}


def document() -> dict[str, Any]:
    """The whole description."""
    components: dict[str, Any] = {}
    job = _component("Job", schema("job"), components)
    advice = _component("Advice", schema("advice"), components)
    platforms = _component("Platforms", _of(Platforms), components)
    schemas = _component("Schemas", _of(Schemas), components)
    _component("ProblemDetails", _of(problems.ProblemDetails), components)
    return {
        "openapi": "3.1.0",
        "jsonSchemaDialect": "https://json-schema.org/draft/2020-12/schema",
        "info": {
            "title": "gearrec shop application",
            "version": __version__,
            "summary": "Which axle ratio for this truck, these tires, this load.",
            "license": {"name": "MIT", "identifier": "MIT"},
        },
        "paths": {
            "/advice": {
                "post": {
                    "operationId": "advise",
                    "summary": "The advice for one job",
                    "description": "Nothing of the job is kept.",
                    "requestBody": {
                        "required": True,
                        "content": {
                            JSON: {
                                "schema": job,
                                "examples": {"bread-van": {"value": EXAMPLE}},
                            }
                        },
                    },
                    "responses": {"200": _answer("The advice", advice)}
                    | _errors(400, 408, 413, 415, 422, 500, 503, 504),
                }
            },
            "/platforms": {
                "get": {
                    "operationId": "platforms",
                    "summary": "The vehicles that a job can name",
                    "responses": {"200": _answer("The vehicles", platforms)} | _errors(500),
                }
            },
            "/schema": {
                "get": {
                    "operationId": "schemas",
                    "summary": "The kinds of document that have a JSON Schema",
                    "responses": {"200": _answer("The kinds", schemas)} | _errors(500),
                }
            },
            "/schema/{kind}": {
                "get": {
                    "operationId": "schema",
                    "summary": "The JSON Schema (2020-12) of one kind of document",
                    "parameters": [
                        {
                            "name": "kind",
                            "in": "path",
                            "required": True,
                            "description": "name of the kind",
                            "schema": {"enum": list(schema_kinds())},
                            "examples": {"job": {"value": "job"}},
                        }
                    ],
                    "responses": {
                        "200": _answer("The schema", {"type": "object"}, media_type=SCHEMA_JSON)
                    }
                    | _errors(404, 500),
                }
            },
            "/openapi.json": {
                "get": {
                    "operationId": "description",
                    "summary": "This description",
                    "responses": {"200": _answer("OpenAPI 3.1", {"type": "object"})} | _errors(500),
                }
            },
        },
        "components": {"schemas": components},
    }


def _of(model: type[BaseModel]) -> dict[str, Any]:
    return model.model_json_schema(mode="serialization")


def _answer(words: str, content: dict[str, Any], *, media_type: str = JSON) -> dict[str, Any]:
    return {"description": words, "content": {media_type: {"schema": content}}}


def _errors(*statuses: int) -> dict[str, Any]:
    reference = {"$ref": "#/components/schemas/ProblemDetails"}
    return {
        str(status): _answer(problems.TITLES[status][1], reference, media_type=problems.MEDIA_TYPE)
        for status in statuses
    }


def _component(name: str, made: dict[str, Any], components: dict[str, Any]) -> dict[str, Any]:
    """Put a schema and what it refers to among the components; returns the reference to it."""
    inner = {key: value for key, value in made.items() if key not in ("$schema", "$id", "$defs")}
    components[name] = _moved(inner, name)
    for part, definition in made.get("$defs", {}).items():
        components[f"{name}.{part}"] = _moved(definition, name)
    return {"$ref": f"#/components/schemas/{name}"}


def _moved(value: Any, name: str) -> Any:
    """A schema whose references lead to the components."""
    if isinstance(value, list):
        return [_moved(item, name) for item in value]
    if not isinstance(value, dict):
        return value
    made = {key: _moved(item, name) for key, item in value.items()}
    reference = made.get("$ref")
    if isinstance(reference, str):
        made["$ref"] = reference.replace("#/$defs/", f"#/components/schemas/{name}.")
    return made
