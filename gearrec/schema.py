"""JSON Schemas (2020-12) of the files, generated from the models that check them.

A schema and the models accept and refuse the same files, but for what a schema cannot state:
numeric limits of texts with a unit (written as `x-limits`), checks across fields, whether a tire
size is one, and references between records.
"""

from __future__ import annotations

import json
from copy import deepcopy
from typing import TYPE_CHECKING, Any

from gearrec.catalog.inheritance import NOT_OVERRIDDEN, left_out_fields
from gearrec.catalog.kinds import DOCUMENT_KINDS, KINDS, RECORD_KINDS, model
from gearrec.errors import UnknownRecordError, allowed_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

    from gearrec.metrics import Metric

OUTPUT_KINDS: tuple[str, ...] = ("advice",)
"""Kinds that the library writes and does not read."""

DIALECT = "https://json-schema.org/draft/2020-12/schema"

_OVERRIDES = {
    "description": "id of the record of an earlier catalog whose fields are replaced",
    "examples": ["core/rolling"],
}


def schema(kind: str, *, metrics: Iterable[Metric] = ()) -> dict[str, Any]:
    """The JSON Schema of files of a kind.

    metrics: those that a rule or a case may name and an advice shows, such as `Advisor.metrics`
    with those of plugins; none: the schema allows any name. Raises UnknownRecordError for no known
    kind.
    """
    found = _advice() if kind == "advice" else _of_files(kind)
    known = {metric.name: metric for metric in sorted(metrics, key=lambda one: one.name)}
    if known and kind == "advice":
        _show_metrics(found["properties"]["metrics"], known)
    elif known:
        _name_metrics(found, known)
    return found


def _of_files(kind: str) -> dict[str, Any]:
    if kind not in KINDS:
        known = sorted(KINDS + OUTPUT_KINDS)
        raise UnknownRecordError(f"no kind {kind!r}; {allowed_words(known, kind)}")
    inner: dict[str, Any] = _for_files(model(kind).model_json_schema())
    definitions = inner.pop("$defs", {})
    head = {"$schema": DIALECT, "$id": f"urn:gearrec:schema:{kind}:1"}
    if kind in DOCUMENT_KINDS:
        return head | inner | {"$defs": definitions}
    definitions |= _forms(kind, inner)
    return head | _file_of_records(kind, inner) | {"$defs": definitions}


def text(kind: str, *, metrics: Iterable[Metric] = ()) -> str:
    """The schema as the text of its file; `metrics` as in `schema`."""
    return json.dumps(schema(kind, metrics=metrics), indent=2, ensure_ascii=False) + "\n"


def write_all(folder: Path) -> list[Path]:
    """Write the schema of every kind to `<kind>.schema.json` in `folder`; returns the paths."""
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for kind in KINDS + OUTPUT_KINDS:
        path = folder / f"{kind}.schema.json"
        path.write_text(text(kind), encoding="utf-8")
        written.append(path)
    return written


def _advice() -> dict[str, Any]:
    from gearrec.document_models import AdviceDocument

    head = {"$schema": DIALECT, "$id": "urn:gearrec:schema:advice:1"}
    return head | AdviceDocument.model_json_schema(mode="serialization")


def _show_metrics(part: dict[str, Any], known: Mapping[str, Metric]) -> None:
    part["properties"] = {
        name: part["additionalProperties"] | {"description": f"{one.definition} [{one.unit}]"}
        for name, one in known.items()
    }


def _name_metrics(part: Any, known: Mapping[str, Metric]) -> None:
    """Let each key `metric` take the known names only, each with what it means."""
    if isinstance(part, list):
        for item in part:
            _name_metrics(item, known)
    if not isinstance(part, dict):
        return
    named = part.get("properties", {}).get("metric")
    if isinstance(named, dict) and "pattern" in named:
        named["enum"] = list(known)
        named["x-metrics"] = {
            name: {"unit": one.unit, "definition": one.definition, "source": one.source}
            for name, one in known.items()
        }
    for item in part.values():
        _name_metrics(item, known)


def _file_of_records(kind: str, record: dict[str, Any]) -> dict[str, Any]:
    return {
        "title": f"{kind} file",
        "description": f"Records of the kind '{kind}': {record['description']}",
        "type": "object",
        "properties": {
            "kind": {"const": kind, "description": "kind of all records in the file"},
            "format": {"const": 1, "description": "format of the file"},
            "source": {
                "$ref": "#/$defs/Source",
                "description": "source of the records that give none",
            },
            "records": {
                "type": "array",
                "minItems": 1,
                "description": "the records, each with an id of its own",
                "items": {"$ref": "#/$defs/record"},
            },
        },
        "required": ["kind", "format", "records"],
        "additionalProperties": False,
    }


def _forms(kind: str, record: dict[str, Any]) -> dict[str, Any]:
    """A record in full, one that extends another, and one that overrides another."""
    overriding = deepcopy(record)
    for name in NOT_OVERRIDDEN:
        del overriding["properties"][name]
    overriding["properties"] |= {
        "overrides": record["properties"]["id"] | _OVERRIDES,
        "without": _without(kind, overriding=True),
    }
    overriding |= {"title": f"change of a {kind}", "required": ["overrides"]}
    forms = {"full": record, "overriding": overriding}
    otherwise: dict[str, Any] = {"$ref": "#/$defs/full"}
    if kind != "rule-set":
        extending = deepcopy(record)
        extending["properties"]["without"] = _without(kind, overriding=False)
        extending |= {"title": f"{kind} like another", "required": ["id", "title", "extends"]}
        forms["extending"] = extending
        otherwise = {
            "if": {"required": ["extends"]},
            "then": {"$ref": "#/$defs/extending"},
            "else": otherwise,
        }
    forms["record"] = {
        "type": "object",
        "if": {"required": ["overrides"]},
        "then": {"$ref": "#/$defs/overriding"},
        "else": otherwise,
    }
    return forms


def _without(kind: str, *, overriding: bool) -> dict[str, Any]:
    return {
        "type": "array",
        "items": {"enum": left_out_fields(kind, overriding=overriding)},
        "description": "fields of the other record that are left out",
    }


def _for_files(value: Any) -> Any:
    """A schema of pydantic's, made to fit files: no nulls, which the reader refuses, and patterns
    that do not match before a line end."""
    if isinstance(value, list):
        return [_for_files(item) for item in value]
    if not isinstance(value, dict):
        return value
    made = {
        key: _for_files(item)
        for key, item in value.items()
        if not (key == "default" and item is None)
    }
    forms = made.get("anyOf")
    if isinstance(forms, list):
        kept = [form for form in forms if form != {"type": "null"}]
        if len(kept) == 1:
            del made["anyOf"]
            # The declaration of the field says more than that of its type.
            made = kept[0] | made
        else:
            made["anyOf"] = kept
    pattern = made.get("pattern")
    if isinstance(pattern, str) and pattern.endswith("$"):
        made["pattern"] = pattern + r"(?!\n)"
    return made


__all__ = [
    "DIALECT",
    "DOCUMENT_KINDS",
    "KINDS",
    "OUTPUT_KINDS",
    "RECORD_KINDS",
    "schema",
    "text",
    "write_all",
]
