"""The kinds of catalog file, and the model of each; a model is imported when it is first used."""

from __future__ import annotations

from functools import cache
from importlib import import_module
from typing import TYPE_CHECKING

from gearrec.errors import UnknownRecordError, allowed_words

if TYPE_CHECKING:
    from pydantic import BaseModel

_HOMES: dict[str, str] = {
    "engine-class": "powertrain_records:EngineClass",
    "engine": "powertrain_records:Engine",
    "transmission": "powertrain_records:Transmission",
    "transfer-case": "powertrain_records:TransferCase",
    "axle": "powertrain_records:Axle",
    "tire-type": "vehicle_records:TireType",
    "tire": "vehicle_records:Tire",
    "trailer": "vehicle_records:Trailer",
    "platform": "vehicle_records:Platform",
    "terrain": "use_records:Terrain",
    "use-profile": "use_records:UseProfile",
    "defaults": "use_records:Defaults",
    "rule": "rule_records:Rule",
    "rule-set": "rule_records:RuleSet",
    "case": "case_records:Case",
}
_DOCUMENTS: dict[str, str] = {"catalog": "records:Catalog", "job": "job_records:Job"}

RECORD_KINDS: tuple[str, ...] = tuple(_HOMES)
"""Kinds whose files hold a list of records."""

DOCUMENT_KINDS: tuple[str, ...] = tuple(_DOCUMENTS)
"""Kinds whose file is the thing itself."""

KINDS: tuple[str, ...] = RECORD_KINDS + DOCUMENT_KINDS


@cache
def model(kind: str) -> type[BaseModel]:
    """The model of a kind's record or document. Raises UnknownRecordError for no known kind."""
    home = _HOMES.get(kind) or _DOCUMENTS.get(kind)
    if home is None:
        raise UnknownRecordError(f"no kind {kind!r}; {allowed_words(sorted(KINDS), kind)}")
    module, _, name = home.partition(":")
    found: type[BaseModel] = getattr(import_module(f"gearrec.catalog.{module}"), name)
    return found
