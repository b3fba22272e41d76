"""What the application answers, beside advice and schemas."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pydantic import BaseModel, ConfigDict, Field

if TYPE_CHECKING:
    from gearrec import Advisor
    from gearrec.catalog.vehicle_records import Platform


class _Answer(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class PowertrainEntry(_Answer):
    """An engine with its transmission."""

    engine: str = Field(description="id of the engine")
    transmission: str = Field(description="id of the transmission")


class PlatformEntry(_Answer):
    """A vehicle that a job can name."""

    id: str = Field(description="what a job writes as `vehicle`", examples=["demo/fell"])
    title: str = Field(description="name of the vehicle")
    drive: str = Field(description="which wheels are driven", examples=["part-time-four"])
    powertrains: list[PowertrainEntry] = Field(description="the first is taken unless a job says")
    factory_tire: str = Field(description="id or size of the tire it left the factory with")
    factory_ratio: float = Field(description="axle ratio it left the factory with [1]")
    invented: bool = Field(description="whether its figures are made up, for a demonstration")


class Platforms(_Answer):
    """All vehicles that a job can name, sorted by id."""

    platforms: list[PlatformEntry] = Field(description="the vehicles")


class SchemaEntry(_Answer):
    """One kind of document."""

    kind: str = Field(description="name of the kind", examples=["job"])
    href: str = Field(description="address of its JSON Schema", examples=["/schema/job"])


class Schemas(_Answer):
    """All kinds of document that have a JSON Schema, sorted."""

    schemas: list[SchemaEntry] = Field(description="the kinds")


def platforms(advisor: Advisor) -> Platforms:
    """The vehicles of an advisor's catalogs."""
    records = advisor.catalog.records("platform")
    return Platforms(platforms=[_platform(records[record_id]) for record_id in sorted(records)])


def _platform(record: Platform) -> PlatformEntry:
    tire = record.factory.tire
    return PlatformEntry(
        id=record.id,
        title=record.title,
        drive=record.drive,
        powertrains=[
            PowertrainEntry(engine=item.engine, transmission=item.transmission)
            for item in record.powertrains
        ],
        factory_tire=tire,
        factory_ratio=record.factory.axle_ratio,
        invented=record.source is not None and record.source.kind == "invented",
    )


def schemas() -> Schemas:
    """The kinds that have a schema."""
    return Schemas(
        schemas=[SchemaEntry(kind=kind, href=f"/schema/{kind}") for kind in schema_kinds()]
    )


def schema_kinds() -> tuple[str, ...]:
    """Names of the kinds that have a schema, sorted."""
    from gearrec.schema import KINDS, OUTPUT_KINDS

    return tuple(sorted({*KINDS, *OUTPUT_KINDS}))
