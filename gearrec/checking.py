"""Checks catalogs and jobs: the problems of all files in one pass, then rules, jobs and cases."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from gearrec import (
    attributes,
    cases,
    check_targets,
    job_input,
    plugin_catalogs,
    plugins,
    rule_examples,
)
from gearrec.api import Advisor
from gearrec.catalog import rule_sets, store
from gearrec.catalog.kinds import RECORD_KINDS
from gearrec.catalog.reader import read_text
from gearrec.catalog.trees import MANIFEST
from gearrec.catalog.validation import inspect
from gearrec.errors import CatalogError, InputError, Place, Problem
from gearrec.jobs import Workshop
from gearrec.metrics import by_name

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from gearrec.catalog.job_records import Job
    from gearrec.catalog.record_base import Source
    from gearrec.catalog.store import Catalog
    from gearrec.extension import CatalogFolder
    from gearrec.jobs import Placing
    from gearrec.plugins import Plugins


@dataclass(frozen=True, slots=True)
class Provenance:
    """Where the figures of one record come from; None where it does not say."""

    kind: str
    id: str
    source: Source | None
    place: Place


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckReport:
    """Everything that a check found, and how much was looked at.

    `problems`: errors and warnings, sorted by place. `provenance`: one entry for each record of the
    checked catalogs, where that was asked for. `cases` counts the cases that were run; 0 where
    errors stood in the way.
    """

    problems: tuple[Problem, ...]
    catalogs: int = 0
    files: int = 0
    records: int = 0
    rules: int = 0
    jobs: int = 0
    cases: int = 0
    provenance: tuple[Provenance, ...] | None = None

    @property
    def errors(self) -> tuple[Problem, ...]:
        """The problems that make an input unusable."""
        return tuple(problem for problem in self.problems if not problem.warning)

    @property
    def warnings(self) -> tuple[Problem, ...]:
        """The problems that do not."""
        return tuple(problem for problem in self.problems if problem.warning)

    @property
    def ok(self) -> bool:
        """Whether there is no error."""
        return not self.errors

    def sources(self) -> Counter[str]:
        """How many of the records have a source of each kind; 'none' for those without."""
        return Counter(
            entry.source.kind if entry.source is not None else "none"
            for entry in self.provenance or ()
        )


def check(
    paths: Iterable[Path | str],
    *,
    sources: bool = False,
    unused: bool = False,
    run_cases: bool = True,
    catalogs: Iterable[Path | str] = (),
    skip_others: bool = False,
) -> CheckReport:
    """Check catalogs, files of catalogs, jobs, or folders of them.

    paths: see `check_targets.find`. sources: report where figures come from, and which do not say.
    unused: report records that nothing uses. run_cases: run the cases of the checked catalogs.
    catalogs: further catalogs that the checked ones build on. skip_others: pass over files that are
    neither of a catalog nor a job, as when a program hands over all files that changed.

    The built-in catalogs and those of plugins lie below the checked ones; one that has the same
    namespace as a checked one gives way to it. Raises nothing for what is wrong with the files.
    """
    targets = check_targets.find(paths, skip_others=skip_others)
    loaded = plugin_catalogs.usable(plugins.load())
    layers, given, clashing = _layers(loaded, [*map(Path, catalogs)], targets.catalogs)
    found = _Findings([*targets.problems, *clashing])
    found.problems += [
        Problem(Place(), str(fault), "plugin", warning=True) for fault in loaded.faults
    ]
    jobs = [_read(file, found) for file in (*targets.jobs, *targets.inner_jobs)]
    folders = targets.catalogs
    looked = inspect([*layers, *given])
    found.problems += looked.problems
    found.problems += _of(folders, looked.warnings)
    if sources:
        found.problems += _of(folders, looked.without_source)
    if unused:
        found.problems += _of(folders, looked.unused)
    counts: dict[str, int] = {}
    provenance: tuple[Provenance, ...] | None = None
    if not looked.problems and not clashing:
        catalog = store.load([*layers, *given])
        provenance = _provenance(catalog, folders)
        counts = {"records": len(provenance)}
        counts["rules"] = _check_rules(catalog, loaded, folders, found)
        _check_jobs(catalog, [job for job in jobs if job is not None], found)
        if run_cases and folders and not found.rule_errors:
            advisor = Advisor(given, plugins=loaded.with_catalogs(layers))
            counts["cases"] = _check_cases(advisor, folders, found)
    return CheckReport(
        problems=tuple(sorted(set(found.problems))),
        catalogs=len(folders),
        files=len(targets.jobs) + sum(len(check_targets.catalog_files(one)) for one in folders),
        jobs=len(jobs),
        provenance=provenance if sources else None,
        **counts,
    )


@dataclass(slots=True)
class _Findings:
    problems: list[Problem]
    rule_errors: bool = field(default=False)


def _layers(
    loaded: Plugins, further: Sequence[Path], checked: Sequence[Path]
) -> tuple[list[Path], list[Path], list[Problem]]:
    """Folders of the plugins' catalogs, then those that are given; and two of one namespace."""
    folders: list[CatalogFolder] = [item.record for item in loaded.call("gearrec_catalogs")]
    named: dict[str, Path] = {}
    problems: list[Problem] = []
    given: dict[Path, None] = {}
    resolved = {check_targets.real(folder) for folder in checked}
    for folder in (*(one for one in further if check_targets.real(one) not in resolved), *checked):
        namespace = _namespace(folder)
        first = named.setdefault(namespace, folder) if namespace else folder
        if first != folder:
            message = (
                f"the namespace {namespace!r} is also that of {first / MANIFEST}; check the two "
                "catalogs one at a time, or give one of them another namespace"
            )
            problems.append(Problem(Place(str(folder / MANIFEST)), message, "duplicate-namespace"))
        given[folder] = None
    below = []
    for one in folders:
        taken = named.get(one.name)
        if taken is not None:
            given.pop(taken, None)
        below.append(taken if taken is not None else one.path)
    return below, list(given), problems


def _namespace(folder: Path) -> str | None:
    """The namespace that a catalog gives itself; None where that cannot be read."""
    from gearrec.catalog import files

    manifest = folder / MANIFEST
    try:
        value = read_text(files.read_file(manifest), file=str(manifest)).value
    except CatalogError:
        return None
    found = value.get("namespace")
    return found if isinstance(found, str) else None


def _of(folders: Sequence[Path], problems: Iterable[Problem]) -> list[Problem]:
    return [problem for problem in problems if _inside(problem.place, folders)]


def _inside(place: Place, folders: Sequence[Path]) -> bool:
    return any(Path(place.file).is_relative_to(folder) for folder in folders)


def _read(file: Path, found: _Findings) -> tuple[Job, Placing] | None:
    try:
        return job_input.read(file)
    except InputError as error:
        found.problems += error.problems
        return None


def _provenance(catalog: Catalog, folders: Sequence[Path]) -> tuple[Provenance, ...]:
    """Where the figures of the checked catalogs' records come from, by kind and id."""
    return tuple(
        Provenance(kind, record_id, catalog.get(kind, record_id).source, place)
        for kind in RECORD_KINDS
        for record_id in catalog.ids(kind)
        if _inside(place := catalog.place(kind, record_id), folders)
    )


def _check_rules(
    catalog: Catalog, loaded: Plugins, folders: Sequence[Path], found: _Findings
) -> int:
    """Work the example of every rule and put every rule set together; returns how many examples."""
    rules = dict(catalog.records("rule"))
    sets = dict(catalog.records("rule-set"))
    metrics = by_name([item.record for item in loaded.call("gearrec_metrics")])

    def place_of_rule(record_id: str, dotted: str) -> Place:
        return catalog.place("rule", record_id, dotted)

    def place_of_set(record_id: str, dotted: str) -> Place:
        return catalog.place("rule-set", record_id, dotted)

    problems = [
        *rule_examples.check_examples(
            list(rules.values()),
            metrics=metrics,
            attributes=attributes.built_in(),
            place_of=place_of_rule,
        )
    ]
    for rule_set in sets:
        try:
            rule_sets.members(rule_set, rule_sets=sets, rules=rules, place_of=place_of_set)
        except CatalogError as error:
            problems += error.problems
    found.problems += problems
    found.rule_errors = any(not problem.warning for problem in problems)
    return sum(_inside(catalog.place("rule", rule), folders) for rule in rules)


def _check_jobs(catalog: Catalog, jobs: Sequence[tuple[Job, Placing]], found: _Findings) -> None:
    """Whether jobs find what they name, and whether that fits together."""
    defaults = catalog.ids("defaults")
    if not defaults:
        message = "no catalog has a record of the kind defaults"
        found.problems.append(Problem(Place(), message, "defaults"))
        return
    workshop = Workshop(catalog, catalog.get("defaults", defaults[0]))
    for job, place in jobs:
        try:
            workshop.resolve(job, place)
        except InputError as error:
            found.problems += error.problems


def _check_cases(advisor: Advisor, folders: Sequence[Path], found: _Findings) -> int:
    """Run the cases of the checked catalogs; those below may no longer hold on top of them."""
    catalog = advisor.catalog
    wanted = [case for case in catalog.ids("case") if _inside(catalog.place("case", case), folders)]
    for result in cases.run_cases(advisor, only=wanted):
        found.problems += result.problems
    return len(wanted)
