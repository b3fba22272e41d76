"""From a job to what its evaluation needs: records found, defaults taken, contradictions named.

`Workshop` remembers what jobs share: vehicles, uses and tires are worked out once for a catalog.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

from gearrec import fuel_fit, uses, vehicles
from gearrec.candidates import Candidate, Teeth, candidates
from gearrec.catalog.job_records import InlinePlatform, Job
from gearrec.catalog.records import (
    Defaults,
    EngineClass,
    EngineData,
    Platform,
    TerrainData,
    TireData,
    TireType,
    TrailerData,
    UseData,
)
from gearrec.errors import JobError, Place, Problem, TireSizeError, UnknownRecordError
from gearrec.vehicles import Assumption, FittedTire, Vehicle

if TYPE_CHECKING:
    from gearrec.catalog.powertrain_records import AxleData
    from gearrec.catalog.store import Catalog
    from gearrec.uses import Use

Path = tuple[str | int, ...]
Placing = Callable[[Path], Place]
_T = TypeVar("_T")

# Enough for the vehicles, uses and tires of a busy service, and a bound on its memory.
_REMEMBERED = 4096


@dataclass(frozen=True, slots=True, kw_only=True)
class ResolvedJob:
    """A job with everything found; SI."""

    job: Job
    vehicle: Vehicle
    use: Use
    tire_now: FittedTire
    tire_planned: FittedTire
    payload_kg: float
    added_kg: float
    added_on_rear: float
    trailer: TrailerData | None
    records: tuple[tuple[str, str], ...]
    assumptions: tuple[Assumption, ...]


def dotted_place(path: Path) -> Place:
    """The place of a job that came from no file."""
    return Place(dotted=".".join(str(part) for part in path))


class Workshop:
    """Resolves jobs against one catalog and remembers what they share; safe between threads."""

    def __init__(self, catalog: Catalog, defaults: Defaults) -> None:
        self.catalog = catalog
        self.defaults = defaults
        self._made: dict[Hashable, Any] = {}

    def resolve(self, job: Job, place: Placing = dotted_place) -> ResolvedJob:
        """Find everything a job names; raises JobError with every reason it cannot be used."""
        looking = _Looking(self, job, place)
        vehicle = looking.vehicle()
        use = looking.use()
        trailer = looking.trailer()
        now = looking.tire(job.tires.now, ("tires", "now"))
        planned = looking.tire(job.tires.planned, ("tires", "planned"))
        if use is not None and use.tows and trailer is None and job.trailer is None:
            looking.fault(
                ("use",) if job.use is not None else (),
                f"the use {use.title!r} tows on {use.shares['use_towing']:.0%} of its distance, "
                "but the job names no trailer; allowed: give `trailer` (an id, or its mass, "
                "drag_area, rolling_coefficient and tongue_share), or a use that does not tow",
            )
        if job.rule_set is not None:
            looking.record("rule-set", job.rule_set, ("rule_set",))
        if looking.problems or vehicle is None or use is None:
            raise JobError(looking.problems)
        now = now or vehicle.factory_tire
        planned = planned or now
        load = job.load
        assumptions = list(vehicle.assumptions)
        if job.use is None:
            assumptions.append(Assumption("use", math.nan, "text", use.title))
        assumptions += use.assumptions
        assumptions += planned.assumptions
        if load.payload is None:
            assumptions.append(
                Assumption(
                    "payload",
                    self.defaults.payload,
                    "mass",
                    self.defaults.reasons.get("payload", ""),
                )
            )
        if trailer is not None and not use.tows:
            assumptions.append(
                Assumption("trailer_not_towed", math.nan, "text", "no leg of the use tows")
            )
        case = vehicle.transfer_case
        if use.shares["use_low_range"] > 0.0 and (case is None or case.low_range <= 1.0):
            assumptions.append(
                Assumption(
                    "low_range_missing",
                    math.nan,
                    "text",
                    "the vehicle has none; the legs that ask for it are driven in high range",
                )
            )
        return ResolvedJob(
            job=job,
            vehicle=vehicle,
            use=use,
            tire_now=now,
            tire_planned=planned,
            payload_kg=self.defaults.payload if load.payload is None else load.payload,
            added_kg=load.added or 0.0,
            added_on_rear=vehicle.scalars["payload_on_rear"]
            if load.added_on_rear is None
            else load.added_on_rear,
            trailer=trailer if use.tows else None,
            records=tuple(dict.fromkeys(looking.records)),
            assumptions=tuple(assumptions),
        )

    def made(self, key: Hashable, make: Callable[[], _T]) -> _T:
        """What `make` gives for `key`, made once."""
        try:
            found: _T = self._made[key]
        except KeyError:
            found = make()
            if len(self._made) >= _REMEMBERED:
                self._made.clear()
            self._made[key] = found
        return found


class _Looking:
    """One job being resolved: collects problems and the records that were found."""

    def __init__(self, workshop: Workshop, job: Job, place: Placing) -> None:
        self.workshop = workshop
        self.job = job
        self.place = place
        self.problems: list[Problem] = []
        self.records: list[tuple[str, str]] = []

    def fault(self, path: Path, message: str, code: str = "job") -> None:
        self.problems.append(Problem(self.place(path), message, code))

    def record(self, kind: str, name: str, path: Path) -> Any:
        """The record of an id, or None after noting the problem."""
        try:
            record = self.workshop.catalog.get(kind, name)
        except UnknownRecordError as error:
            self.fault(path, str(error), "unknown-record")
            return None
        self.records.append((kind, name))
        return record

    def part(self, kind: str, choice: Any, path: Path) -> Any:
        """The record of an id, or the thing itself where it is given inline."""
        return self.record(kind, choice, path) if isinstance(choice, str) else choice

    def tire(self, choice: Any, path: Path) -> FittedTire | None:
        if choice is None:
            return None
        made = self.workshop.made(("tire", choice), lambda: self._tire(choice, path))
        if made is None:
            # A choice that cannot be used is looked at again each time, for its place in this job.
            self.workshop._made.pop(("tire", choice), None)
            return None
        tire, records = made
        self.records += records
        return tire

    def _tire(self, choice: Any, path: Path) -> tuple[FittedTire, list[tuple[str, str]]] | None:
        before = len(self.records)
        record: TireData | None
        if isinstance(choice, str) and self.workshop.catalog.has("tire", choice):
            record = self.record("tire", choice, path)
        elif isinstance(choice, str):
            record = self._size(choice, path)
        else:
            record = choice
        if record is None:
            return None
        assumed = record.type is None
        tire_type: TireType | None = self.record(
            "tire-type", record.type or self.workshop.defaults.tire_type, (*path, "type")
        )
        if tire_type is None:
            return None
        tire = vehicles.fitted_tire(
            record=record,
            tire_type=tire_type,
            type_assumed=assumed,
            defaults=self.workshop.defaults,
        )
        found = self.records[before:]
        del self.records[before:]
        return tire, found

    def _size(self, text: str, path: Path) -> TireData | None:
        import re

        from gearrec import tires
        from gearrec.catalog.record_base import ID_PATTERN

        try:
            tires.parse_size(text)
        except TireSizeError as error:
            if re.fullmatch(ID_PATTERN, text) and not text.split("/")[0].isdigit():
                self.record("tire", text, path)
            else:
                self.fault(path, str(error), "tire-size")
            return None
        return TireData(size=text)

    def trailer(self) -> TrailerData | None:
        if self.job.trailer is None:
            return None
        found: TrailerData | None = self.part("trailer", self.job.trailer, ("trailer",))
        return found

    def use(self) -> Use | None:
        choice = self.job.use
        if choice is None:
            choice = self.workshop.defaults.use
        made = self.workshop.made(("use", choice), lambda: self._use(choice))
        if made is None:
            self.workshop._made.pop(("use", choice), None)
            return None
        use, records = made
        self.records += records
        return use

    def _use(self, choice: Any) -> tuple[Use, list[tuple[str, str]]] | None:
        before, problems = len(self.records), len(self.problems)
        use: UseData | None = self.part("use-profile", choice, ("use",))
        if use is None:
            return None
        grounds: dict[str, TerrainData] = {}
        for number, leg in enumerate(use.legs):
            if isinstance(leg.terrain, str):
                ground = self.record("terrain", leg.terrain, ("use", "legs", number, "terrain"))
                if ground is not None:
                    grounds[leg.terrain] = ground
        if len(self.problems) > problems:
            return None
        made = uses.prepare(
            title=getattr(use, "title", "as the job describes it"),
            use=use,
            terrain=grounds.__getitem__,
            defaults=self.workshop.defaults,
        )
        found = self.records[before:]
        del self.records[before:]
        return made, found

    def vehicle(self) -> Vehicle | None:
        job = self.job
        key = (
            "vehicle",
            job.vehicle,
            job.engine,
            job.transmission,
            job.transfer_case,
            job.axles,
            job.factory,
            job.axle_ratio,
            job.candidates,
            job.reported.gear,
        )
        made = self.workshop.made(key, self._vehicle)
        if made is None:
            self.workshop._made.pop(key, None)
            return None
        vehicle, records = made
        self.records += records
        return vehicle

    def _vehicle(self) -> tuple[Vehicle, list[tuple[str, str]]] | None:
        job, before, problems = self.job, len(self.records), len(self.problems)
        inline = isinstance(job.vehicle, InlinePlatform)
        platform: Platform | InlinePlatform | None = self.part(
            "platform", job.vehicle, ("vehicle",)
        )
        if platform is None:
            return None
        home: Path = ("vehicle",) if inline else ()
        choices = self._choices(platform)
        engine = self._chosen("engine", job.engine, choices["engine"], home)
        transmission = self._chosen("transmission", job.transmission, choices["transmission"], home)
        case = self._chosen("transfer-case", job.transfer_case, choices["transfer-case"], home)
        axles = job.axles or platform.axles
        rear = self._axle(axles.rear, "rear", home if job.axles is None else ())
        front = (
            None
            if axles.front is None or platform.drive == "rear"
            else self._axle(axles.front, "front", home if job.axles is None else ())
        )
        built = job.factory
        tire = self.tire(
            built.tire if built and built.tire is not None else platform.factory.tire,
            ("factory", "tire") if built and built.tire is not None else (*home, "factory", "tire"),
        )
        engine_class: EngineClass | None = None
        if engine is not None:
            engine_class = self.record(
                "engine-class", engine.engine_class, (*home, "engine", "engine_class")
            )
            self._curve(engine, (*home, "engine"))
            if engine_class is not None:
                self._map(engine, engine_class, (*home, "engine", "consumption_map"))
        factory_ratio = (
            built.axle_ratio
            if built and built.axle_ratio is not None
            else platform.factory.axle_ratio
        )
        if (
            len(self.problems) > problems
            or engine is None
            or transmission is None
            or rear is None
            or tire is None
            or engine_class is None
        ):
            return None
        gear = job.reported.gear
        if gear is not None and gear > len(transmission.gears):
            self.fault(
                ("reported", "gear"),
                f"there is no gear {gear}; allowed: 1 to {len(transmission.gears)}",
            )
            return None
        offered = self._candidates(rear, front, factory_ratio)
        vehicle = vehicles.prepare(
            title=platform.title,
            platform=platform,
            engine_record=engine,
            engine_class=engine_class,
            transmission=transmission,
            transfer_case=case,
            rear_axle=rear,
            front_axle=front,
            factory_tire=tire,
            factory_ratio=_exact(offered, "factory"),
            fitted_ratio=_exact(offered, "fitted"),
            candidates=offered,
            defaults=self.workshop.defaults,
        )
        found = self.records[before:]
        del self.records[before:]
        return vehicle, found

    def _choices(self, platform: Platform | InlinePlatform) -> dict[str, Any]:
        if isinstance(platform, InlinePlatform):
            engine, transmission = platform.engine, platform.transmission
        else:
            pairs = platform.powertrains
            asked, wanted = self.job.engine, self.job.transmission
            fitting = [
                pair
                for pair in pairs
                if asked in (None, pair.engine) and wanted in (None, pair.transmission)
            ]
            pair = fitting[0] if fitting else pairs[0]
            engine, transmission = pair.engine, pair.transmission
        return {
            "engine": engine,
            "transmission": transmission,
            "transfer-case": platform.transfer_case,
        }

    def _map(self, engine: EngineData, engine_class: EngineClass, path: Path) -> None:
        if engine.consumption_map is None:
            return
        try:
            fuel_fit.fit_map(
                consumption_map=vehicles.consumption_map(engine.consumption_map),
                displacement_m3=engine.displacement,
                lower_heating_value_j_per_kg=engine_class.fuel.lower_heating_value,
            )
        except ValueError as error:
            self.fault(path, str(error), "consumption-map")

    def _chosen(self, kind: str, asked: Any, own: Any, home: Path) -> Any:
        name = kind.replace("-", "_")
        if asked is not None:
            return self.part(kind, asked, (name,))
        return None if own is None else self.part(kind, own, (*home, name))

    def _axle(self, choice: Any, position: str, home: Path) -> AxleData | None:
        path = (*home, "axles", position)
        axle: AxleData | None = self.part("axle", choice, path)
        if axle is not None and axle.position != position:
            self.fault(path, f"a {axle.position} axle stands here; allowed: a {position} axle")
            return None
        return axle

    def _curve(self, engine: EngineData, path: Path) -> None:
        last = engine.torque_curve[-1].speed
        if last < engine.governed_speed:
            self.fault(
                (*path, "torque_curve") if not isinstance(self.job.engine, str) else path,
                f"the torque curve ends at {last:.0f} rpm, below the governed speed of "
                f"{engine.governed_speed:.0f} rpm; give its torque up to there, nothing is assumed "
                "outside the curve",
            )

    def _candidates(
        self, rear: AxleData, front: AxleData | None, factory_ratio: float
    ) -> tuple[Candidate, ...]:
        return candidates(
            rear=_teeth(rear),
            front=None if front is None else _teeth(front),
            factory_ratio=factory_ratio,
            fitted_ratio=factory_ratio if self.job.axle_ratio is None else self.job.axle_ratio,
            asked=self.job.candidates,
            name_tolerance=self.workshop.defaults.ratio_name_tolerance,
            match_tolerance=self.workshop.defaults.match_tolerance,
        )


def _exact(offered: Sequence[Candidate], mark: str) -> float:
    return next(candidate.ratio for candidate in offered if getattr(candidate, mark))


def _teeth(axle: AxleData) -> list[Teeth]:
    return [Teeth(item.ring_teeth, item.pinion_teeth, item.carrier) for item in axle.gear_sets]
