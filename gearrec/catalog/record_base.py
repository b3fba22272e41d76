"""What every record has, and the small field types that records share.

Quantities are text with a unit in the file and SI floats in the record (engine speed in rpm, grade
and share as a fraction): `record.curb_mass` is in kg, `leg.speed` in m/s.
"""

from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Discriminator, Field, Tag

from gearrec.catalog.quantities import Quantity

ID_PATTERN = r"^[a-z][a-z0-9-]*/[a-z0-9][a-z0-9.-]*$"
NAMESPACE_PATTERN = r"^[a-z][a-z0-9-]*$"
DATE_PATTERN = r"^[0-9]{4}(-[0-9]{2}(-[0-9]{2})?)?$"


class Strict(BaseModel):
    """A mapping with exactly these keys; frozen. Numbers and flags are declared strict."""

    model_config = ConfigDict(
        # Most commands use few of the models; each is compiled when it is first used.
        defer_build=True,
        extra="forbid",
        frozen=True,
        allow_inf_nan=False,
        hide_input_in_errors=True,
    )


# Where a field takes an id or the thing itself, the error shall be that of the form given. The tags
# stand in the places of pydantic's errors; `compiling` takes them out again.
ID_FORM = Tag("<id>")
INLINE_FORM = Tag("<inline>")


def _form(value: Any) -> str:
    return "<id>" if isinstance(value, str) else "<inline>"


ID_OR_INLINE = Discriminator(_form)


def _whole(value: object) -> object:
    # JSON Schema counts 4.0 as an integer, and so must the models.
    return int(value) if isinstance(value, float) and value.is_integer() else value


def _not_a_flag(value: object) -> object:
    # Python counts true as 1.
    return str(value).lower() if isinstance(value, bool) else value


NOT_A_FLAG = BeforeValidator(_not_a_flag)
Format = Annotated[Literal[1], NOT_A_FLAG]
Identifier = Annotated[
    str,
    Field(
        pattern=ID_PATTERN,
        max_length=100,
        description="permanent id: namespace/name in lower-case letters, digits and hyphens",
        examples=["demo/fell"],
    ),
]
Title = Annotated[
    str,
    Field(
        min_length=1,
        max_length=120,
        description="short name that a person reads",
        examples=["Varrick Fell, crew-cab pickup"],
    ),
]
Text = Annotated[str, Field(min_length=1, max_length=4000)]
Word = Annotated[str, Field(min_length=1, max_length=60)]
Date = Annotated[
    str,
    Field(
        pattern=DATE_PATTERN,
        description="year, year-month or year-month-day, in quotes",
        examples=["2026-03-01"],
    ),
]
Flag = Annotated[bool, Field(strict=True)]
# Follows the limits in an annotation: those that follow it would not be in the schema.
WHOLE = BeforeValidator(_whole)

AxleRatio = Annotated[float, Field(strict=True, ge=2.0, le=9.0)]
Mass = Annotated[float, Quantity("mass", "0 kg", "40000 kg", "4200 lb")]
Distance = Annotated[float, Quantity("length", "1 m", "100 km", "1500 ft")]
Altitude = Annotated[float, Quantity("length", "-500 m", "5500 m", "5000 ft")]
Temperature = Annotated[float, Quantity("temperature", "-50 degC", "60 degC", "15 degC")]
Speed = Annotated[float, Quantity("speed", "0.5 km/h", "200 km/h", "54 mph")]
EngineSpeed = Annotated[float, Quantity("engine_speed", "200 rpm", "12000 rpm", "1500 rpm")]
Torque = Annotated[float, Quantity("torque", "0 N*m", "50000 N*m", "310 N*m")]
Share = Annotated[float, Quantity("share", "0 %", "100 %", "40 %")]
SignedShare = Annotated[float, Quantity("share", "-50 %", "100 %", "3 %")]
Grade = Annotated[float, Quantity("grade", "0 %", "60 %", "6 %")]
DragArea = Annotated[float, Quantity("area", "0 m^2", "15 m^2", "1.3 m^2")]
Inertia = Annotated[float, Quantity("inertia", "0 kg*m^2", "500 kg*m^2", "1.6 kg*m^2")]
Pressure = Annotated[float, Quantity("pressure", "0 kPa", "2000 kPa", "97 kPa")]
Coefficient = Annotated[float, Field(strict=True, ge=0.001, le=0.2)]
Friction = Annotated[float, Field(strict=True, ge=0.05, le=1.5)]
Factor = Annotated[float, Field(strict=True, gt=0.0, le=10.0)]


# Almost every model has these two in it: compiled once, they need not be compiled within each.
class Source(Strict, defer_build=False):
    """Where a record's figures come from, and how far to trust them."""

    kind: Literal["published", "measured", "common-practice", "invented"] = Field(
        description="how the figures were come by; invented ones belong to demonstrations only",
        examples=["published"],
    )
    citation: Text = Field(
        description="what to look up, or who measured what and how",
        examples=["ISO 4000-1, table 2"],
    )
    date: Date | None = Field(default=None, description="when it was published or measured")
    confidence: Literal["high", "medium", "low"] = Field(
        description="how far the figures can be trusted", examples=["medium"]
    )


class Deprecated(Strict, defer_build=False):
    """Says that a record should no longer be used."""

    since: Word = Field(description="catalog version that deprecated it", examples=["1.2"])
    use: Identifier | None = Field(default=None, description="record to use instead")
    why: Text = Field(description="the reason, as a sentence", examples=["Measured again."])


class Record(Strict):
    """Fields that records of every kind have."""

    id: Identifier
    title: Title
    notes: Text | None = Field(
        default=None, description="anything a reader of the record should know", examples=["..."]
    )
    aliases: tuple[Identifier, ...] = Field(
        default=(), description="earlier ids of this record, which still find it"
    )
    deprecated: Deprecated | None = Field(
        default=None, description="set when the record should no longer be used"
    )
    extends: Identifier | None = Field(
        default=None,
        description="record of the same kind whose fields this one takes over where it gives none",
    )
    source: Source | None = Field(
        default=None, description="where the figures come from; default: the file's source"
    )
