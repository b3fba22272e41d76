"""The records of a catalog, one model per kind; `kinds.py` maps kind names to them.

    engine class, engine, transmission, transfer case, axle    powertrain_records
    tire type, tire, trailer, platform                         vehicle_records
    terrain, use profile, defaults                             use_records
    rule, rule set                                             rule_records
    job, case                                                  job_records, case_records

A kind `x` has two models: `XData` holds what the thing is, and is what a job may carry inline;
`X` adds what a catalog record has besides (id, title, source, ...).
"""

from typing import Annotated, Literal

from pydantic import Field

from gearrec.catalog.powertrain_records import (
    AltitudeLoss,
    Axle,
    AxleData,
    ConsumptionMap,
    Converter,
    CruiseBand,
    EfficiencyRange,
    Engine,
    EngineClass,
    EngineClassData,
    EngineData,
    FrictionPressure,
    Fuel,
    GearboxEfficiency,
    GearSet,
    TorquePoint,
    TransferCase,
    TransferCaseData,
    Transmission,
    TransmissionData,
)
from gearrec.catalog.record_base import (
    NAMESPACE_PATTERN,
    Deprecated,
    Format,
    Identifier,
    Record,
    Source,
    Strict,
    Text,
    Title,
    Word,
)
from gearrec.catalog.use_records import (
    Defaults,
    GearboxDefaults,
    Leg,
    Terrain,
    TerrainData,
    Tolerances,
    UseData,
    UseProfile,
)
from gearrec.catalog.vehicle_records import (
    Axles,
    Driveshaft,
    Factory,
    Platform,
    PlatformData,
    Powertrain,
    RoadLoad,
    Tire,
    TireData,
    TireType,
    TireTypeData,
    Trailer,
    TrailerData,
)

Namespace = Annotated[str, Field(pattern=NAMESPACE_PATTERN, min_length=2, max_length=40)]


class Catalog(Strict):
    """The manifest of a catalog: `catalog.yaml` at the top of its folder."""

    kind: Literal["catalog"] = Field(description="says what the file is")
    format: Format = Field(description="format of the catalog's files")
    namespace: Namespace = Field(
        description="first part of the ids of all its records", examples=["demo"]
    )
    title: Title
    about: Text = Field(description="what the catalog holds, for whom")
    version: Word = Field(description="version of the catalog, in quotes", examples=["1.0"])
    source: Source | None = Field(
        default=None, description="source of all records whose file and record give none"
    )


__all__ = [
    "AltitudeLoss",
    "Axle",
    "AxleData",
    "Axles",
    "Catalog",
    "ConsumptionMap",
    "Converter",
    "CruiseBand",
    "Defaults",
    "Deprecated",
    "Driveshaft",
    "EfficiencyRange",
    "Engine",
    "EngineClass",
    "EngineClassData",
    "EngineData",
    "Factory",
    "FrictionPressure",
    "Fuel",
    "GearSet",
    "GearboxDefaults",
    "GearboxEfficiency",
    "Identifier",
    "Leg",
    "Platform",
    "PlatformData",
    "Powertrain",
    "Record",
    "RoadLoad",
    "Source",
    "Strict",
    "Terrain",
    "TerrainData",
    "Tire",
    "TireData",
    "TireType",
    "TireTypeData",
    "Tolerances",
    "TorquePoint",
    "Trailer",
    "TrailerData",
    "TransferCase",
    "TransferCaseData",
    "Transmission",
    "TransmissionData",
    "UseData",
    "UseProfile",
]
