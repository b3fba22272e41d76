"""References between records: which ids a record names, and whether what they name fits."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from gearrec.errors import Problem

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from pydantic import BaseModel

    from gearrec.catalog.entries import Entry, Merged
    from gearrec.catalog.job_records import Job
    from gearrec.catalog.use_records import UseData
    from gearrec.catalog.vehicle_records import Platform

Path = tuple[str | int, ...]
Reference = tuple[Path, str, str]
"""Place in the record, kind, and id that it names."""

# A ratio's name may differ from its tooth ratio: 3.62 stands for 47/13 = 3.615, 3.85 for 27/7.
_RATIO_NAME_TOLERANCE = 0.006


def references(kind: str, record: Any) -> Iterator[Reference]:
    """Every id of another record that a record names."""
    if record.extends is not None:
        yield ("extends",), kind, record.extends
    if record.deprecated is not None and record.deprecated.use is not None:
        yield ("deprecated", "use"), kind, record.deprecated.use
    if kind == "platform":
        yield from _of_platform(record)
    elif kind == "engine":
        yield ("engine_class",), "engine-class", record.engine_class
    elif kind == "tire":
        if record.type is not None:
            yield ("type",), "tire-type", record.type
    elif kind == "use-profile":
        yield from _of_use(record)
    elif kind == "defaults":
        yield ("use",), "use-profile", record.use
        yield ("rule_set",), "rule-set", record.rule_set
        yield ("tire_type",), "tire-type", record.tire_type
    elif kind == "rule-set":
        yield from _of_rule_set(record)
    elif kind == "case":
        if not isinstance(record.job, str):
            for path, target, record_id in of_job(record.job):
                yield ("job", *path), target, record_id
        for number, rule in enumerate(record.expect.rules_fired):
            yield ("expect", "rules_fired", number), "rule", rule


def named_by_platforms(platforms: Iterable[Platform]) -> set[tuple[str, str]]:
    """Kind and id of all that platforms name: as `references`, without the places, and quickly."""
    engines, transmissions, axles, cases, tires, like = (set[str]() for _ in range(6))
    for platform in platforms:
        for powertrain in platform.powertrains:
            engines.add(powertrain.engine)
            transmissions.add(powertrain.transmission)
        axles.add(platform.axles.rear)
        if platform.axles.front is not None:
            axles.add(platform.axles.front)
        if platform.transfer_case is not None:
            cases.add(platform.transfer_case)
        tires.add(platform.factory.tire)
        if platform.extends is not None:
            like.add(platform.extends)
        if platform.deprecated is not None and platform.deprecated.use is not None:
            like.add(platform.deprecated.use)
    return {
        (kind, record_id)
        for kind, ids in (
            ("engine", engines),
            ("transmission", transmissions),
            ("axle", axles),
            ("transfer-case", cases),
            ("tire", tires),
            ("platform", like),
        )
        for record_id in ids
    }


def of_job(job: Job) -> Iterator[Reference]:
    """Every id of a record that a job names; a tire given by its size names none."""
    if isinstance(job.vehicle, str):
        yield ("vehicle",), "platform", job.vehicle
    else:
        vehicle = job.vehicle
        yield from _part(("vehicle", "engine"), "engine", vehicle.engine)
        yield from _part(("vehicle", "transmission"), "transmission", vehicle.transmission)
        yield from _part(("vehicle", "transfer_case"), "transfer-case", vehicle.transfer_case)
        yield from _part(("vehicle", "axles", "rear"), "axle", vehicle.axles.rear)
        yield from _part(("vehicle", "axles", "front"), "axle", vehicle.axles.front)
    yield from _part(("engine",), "engine", job.engine)
    yield from _part(("transmission",), "transmission", job.transmission)
    yield from _part(("transfer_case",), "transfer-case", job.transfer_case)
    if job.axles is not None:
        yield from _part(("axles", "rear"), "axle", job.axles.rear)
        yield from _part(("axles", "front"), "axle", job.axles.front)
    yield from _part(("trailer",), "trailer", job.trailer)
    if isinstance(job.use, str):
        yield ("use",), "use-profile", job.use
    elif job.use is not None:
        for path, kind, record_id in _of_use(job.use):
            yield ("use", *path), kind, record_id
    if job.rule_set is not None:
        yield ("rule_set",), "rule-set", job.rule_set


def _part(path: Path, kind: str, part: str | BaseModel | None) -> Iterator[Reference]:
    if isinstance(part, str):
        yield path, kind, part
    elif part is not None and kind == "engine":
        yield (*path, "engine_class"), "engine-class", part.engine_class  # type: ignore[attr-defined]


def _of_platform(platform: Platform) -> Iterator[Reference]:
    for number, powertrain in enumerate(platform.powertrains):
        yield ("powertrains", number, "engine"), "engine", powertrain.engine
        yield ("powertrains", number, "transmission"), "transmission", powertrain.transmission
    yield ("axles", "rear"), "axle", platform.axles.rear
    if platform.axles.front is not None:
        yield ("axles", "front"), "axle", platform.axles.front
    if platform.transfer_case is not None:
        yield ("transfer_case",), "transfer-case", platform.transfer_case
    yield ("factory", "tire"), "tire", platform.factory.tire


def _of_use(use: UseData) -> Iterator[Reference]:
    for number, leg in enumerate(use.legs):
        if isinstance(leg.terrain, str):
            yield ("legs", number, "terrain"), "terrain", leg.terrain


def _of_rule_set(rule_set: Any) -> Iterator[Reference]:
    for name in ("rules", "add", "drop"):
        for number, rule in enumerate(getattr(rule_set, name, ())):
            yield (name, number), "rule", rule
    for old, new in getattr(rule_set, "replace", {}).items():
        yield ("replace", old), "rule", old
        yield ("replace", old), "rule", new
    for rule in getattr(rule_set, "weights", {}):
        yield ("weights", rule), "rule", rule


def fitting_problems(
    entry: Entry, platform: Platform, axles: Mapping[str, Any], merged: Merged
) -> Iterator[Problem]:
    """What does not fit between a platform and the axles it names."""
    for position in ("rear", "front"):
        axle = axles.get(_current(merged, getattr(platform.axles, position)))
        if axle is None:
            continue
        place = entry.place(("axles", position))
        if axle.position != position:
            message = f"{axle.id!r} is a {axle.position} axle; allowed: a {position} axle"
            yield Problem(place, message, "reference")
    rear = axles.get(_current(merged, platform.axles.rear))
    if rear is None:
        return
    wanted = platform.factory.axle_ratio
    if not any(
        abs(gear_set.ratio / wanted - 1.0) <= _RATIO_NAME_TOLERANCE for gear_set in rear.gear_sets
    ):
        offered = ", ".join(f"{ratio:.2f}" for ratio in sorted({g.ratio for g in rear.gear_sets}))
        message = f"the axle {rear.id!r} has no gear set of ratio {wanted:g}; allowed: {offered}"
        yield Problem(entry.place(("factory", "axle_ratio")), message, "reference")


def _current(merged: Merged, record_id: str | None) -> str:
    entry = merged.find("axle", record_id) if record_id is not None else None
    return entry.id if entry is not None else ""
