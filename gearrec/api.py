"""The public face: an `Advisor` holds catalogs, rules and plugins, and answers jobs.

advisor = gearrec.Advisor()
advice = advisor.advise({"vehicle": "demo/fell", "tires": {"planned": "LT215/85R16"}})
advice.pick.name
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from gearrec import (
    advices,
    attributes,
    batches,
    extending,
    job_input,
    metrics,
    plugin_catalogs,
    plugins,
    rule_compiler,
)
from gearrec.advice import Advice, Judgement
from gearrec.catalog import rule_sets, store
from gearrec.catalog.compiling import compile_job, shown
from gearrec.catalog.job_records import Job
from gearrec.catalog.reader import collector_paused
from gearrec.errors import CatalogError, JobError, Place, Problem, UnknownRecordError
from gearrec.jobs import Placing, ResolvedJob, Workshop, dotted_place
from gearrec.judging import Judge
from gearrec.plugins import Plugins, Session

if TYPE_CHECKING:
    from gearrec.advices import Advices
    from gearrec.catalog.store import Catalog
    from gearrec.catalog.use_records import Defaults
    from gearrec.plugin_calls import Contribution, Fault
    from gearrec.rules import CompiledRules

JobLike = Job | Mapping[str, Any] | str | os.PathLike[str]


class Advisor:
    """Answers jobs. Safe to share between threads.

    Parameters
        catalogs: folders of further catalogs, in order: later ones may override earlier ones.
        plugins: names of the installed plugins to use, None for all, or plugins already loaded.
        block: names of installed plugins to leave out.
        extra: plugins given as objects, by name.
        strict: raise on a plugin's fault instead of leaving the plugin out.
        rule_set: id of the rule set; None for the one the defaults name.
        cache: folder for compiled catalogs, or "off"; None as the environment says.

    Raises
        CatalogError: a catalog cannot be used, with every reason; one of a plugin under `strict`
            only, else the plugin is left out.
        PluginError: another fault of a plugin, under `strict`.
    """

    def __init__(
        self,
        catalogs: Sequence[str | os.PathLike[str]] = (),
        *,
        plugins: Iterable[str] | Plugins | None = None,
        block: Iterable[str] = (),
        extra: Mapping[str, object] | None = None,
        strict: bool = False,
        rule_set: str | None = None,
        cache: str | None = None,
    ) -> None:
        for name, given in (("catalogs", catalogs), ("plugins", plugins), ("block", block)):
            if isinstance(given, str | os.PathLike):
                raise TypeError(f"{name}: found {given!r}; allowed: several, such as [{given!r}]")
        self.plugins = _loaded(plugins, block, extra, strict)
        broken: CatalogError | None = None
        while True:
            try:
                self._fill([Path(path) for path in catalogs], rule_set, cache)
                break
            except CatalogError as error:
                self.plugins = plugin_catalogs.without_broken(self.plugins, error)
                broken = error
            except UnknownRecordError:
                # The rule set that was asked for may have gone with the plugin.
                if broken is not None:
                    raise broken from None
                raise

    def _fill(self, further: Sequence[Path], rule_set: str | None, cache: str | None) -> None:
        folders = [item.record.path for item in self.plugins.call("gearrec_catalogs")]
        self.catalog: Catalog = store.load([*folders, *further], cache=cache)
        self.metrics = tuple(item.record for item in self.plugins.call("gearrec_metrics"))
        self.defaults: Defaults = _defaults(self.catalog)
        self.rule_set = rule_set or self.defaults.rule_set
        self._workshop = Workshop(self.catalog, self.defaults)
        self._judges: dict[str, Judge] = {}
        self._asked = self.plugins.hooks
        self._judge(self.rule_set)

    @property
    def faults(self) -> tuple[Fault, ...]:
        """What plugins did wrong so far."""
        return self.plugins.faults

    @property
    def rules(self) -> CompiledRules:
        """The rules of the advisor's own rule set."""
        return self._judge(self.rule_set).compiled

    def job(self, job: JobLike) -> Job:
        """A job as a record. Raises JobError with every problem."""
        return self._read(job)[0]

    def advise(self, job: JobLike) -> Advice:
        """The advice for one job.

        `job`: a `Job`, a mapping with the keys of a job file, or the path of one. Raises JobError
        with every problem; CatalogError for a file that is no YAML.
        """
        record, place = self._read(job)
        return self._advise(self._workshop.resolve(record, place))

    def advise_many(self, jobs: Iterable[JobLike]) -> Advices:
        """The same answers for many jobs, as columns; full advices on demand.

        Raises JobError with the problems of all jobs, each placed by the job's number.
        """
        with collector_paused():
            return self._many(jobs)

    def _many(self, jobs: Iterable[JobLike]) -> Advices:
        resolved: list[ResolvedJob] = []
        problems: list[Problem] = []
        for number, job in enumerate(jobs):
            try:
                if isinstance(job, Job):
                    resolved.append(self._workshop.resolve(job))
                else:
                    resolved.append(self._workshop.resolve(*self._read(job)))
            except JobError as error:
                problems += [_numbered(number, problem) for problem in error.problems]
        if problems:
            raise JobError(problems)
        if self._asked & {"gearrec_candidates", "gearrec_preferences"}:
            made = [self._advise(one) for one in resolved]
            return advices.from_advices(resolved, made, self._advise)
        groups: dict[str, list[int]] = {}
        for place, one in enumerate(resolved):
            groups.setdefault(one.job.rule_set or self.rule_set, []).append(place)
        return advices.judged(
            resolved,
            {rule_set: (self._judge(rule_set), places) for rule_set, places in groups.items()},
            self._advise,
        )

    def _read(self, job: object) -> tuple[Job, Placing]:
        if isinstance(job, Job):
            return job, dotted_place
        if isinstance(job, Mapping):
            return compile_job(job), dotted_place
        if isinstance(job, str | os.PathLike):
            return job_input.read(Path(job))
        message = f"found {shown(job)}; allowed: a Job, a mapping, or the path of a job file"
        raise JobError([Problem(Place(), message, "no-job")])

    def _advise(self, resolved: ResolvedJob) -> Advice:
        return self._finish(*self._judged(resolved))

    def _judged(self, resolved: ResolvedJob) -> tuple[Judgement, Session]:
        session = self.plugins.session()
        if "gearrec_candidates" in self._asked:
            changes = session.call(
                "gearrec_candidates", job=resolved, candidates=resolved.vehicle.candidates
            )
            resolved = extending.with_candidates(resolved, changes)
        rule_set = resolved.job.rule_set or self.rule_set
        judge = self._judge(rule_set)
        batch = batches.collect([resolved])
        measured = judge.measure(batch, every_metric=True, on_fault=session.metric_fault)
        preferences: tuple[Contribution[Any], ...] = ()
        if "gearrec_preferences" in self._asked:
            preferences = session.call(
                "gearrec_preferences",
                job=resolved,
                evaluation=extending.job_metrics(resolved, measured, judge.metrics),
            )
        extra = extending.extra_preferences(resolved, preferences)
        judgement = Judgement(
            judge=judge,
            resolved=resolved,
            batch=batch,
            measured=measured,
            verdicts=judge.order(measured, extra),
            extra=extra,
            preferences=preferences,
            defaults=self.defaults,
            catalog=self.catalog,
            rule_set=rule_set,
        )
        return judgement, session

    def _finish(self, judgement: Judgement, session: Session) -> Advice:
        cautions: tuple[Contribution[Any], ...] = ()
        sections: tuple[Contribution[Any], ...] = ()
        if "gearrec_cautions" in self._asked:
            cautions = session.call(
                "gearrec_cautions", job=judgement.resolved, advice=Advice(judgement)
            )
        if "gearrec_report_sections" in self._asked:
            sections = session.call(
                "gearrec_report_sections",
                job=judgement.resolved,
                advice=Advice(judgement, cautions=cautions),
            )
        faults = tuple(sorted({*self.plugins.faults, *session.faults}))
        return Advice(judgement, cautions=cautions, sections=sections, faults=faults)

    def _judge(self, rule_set: str) -> Judge:
        found = self._judges.get(rule_set)
        if found is None:
            found = self._judges.setdefault(rule_set, self._compiled(rule_set))
        return found

    def _compiled(self, rule_set: str) -> Judge:
        by_name = metrics.by_name(self.metrics)
        compiled = rule_compiler.compile_rules(
            rule_sets.members(
                self.catalog.get("rule-set", rule_set).id,
                rule_sets=dict(self.catalog.records("rule-set")),
                rules=dict(self.catalog.records("rule")),
            ),
            metrics=by_name,
            attributes=attributes.built_in(),
            place_of=lambda record, dotted: self.catalog.place("rule", record, dotted),
        )
        asked = {rule.metric for rule in compiled.rules}
        return Judge(
            compiled=compiled,
            metrics=self.metrics,
            needed=tuple(metric for metric in self.metrics if metric.name in asked),
            tie=self.defaults.tie,
            units_of={metric.name: metric.unit for metric in self.metrics},
        )


def _loaded(
    given: Iterable[str] | Plugins | None,
    block: Iterable[str],
    extra: Mapping[str, object] | None,
    strict: bool,
) -> Plugins:
    if isinstance(given, Plugins):
        return given
    return plugins.load(allow=given, block=block, extra=extra, strict=strict)


def _defaults(catalog: Catalog) -> Defaults:
    ids = catalog.ids("defaults")
    if not ids:
        raise CatalogError(
            [Problem(Place(), "no catalog has a record of the kind defaults", "defaults")]
        )
    # The first is the library's own; a shop changes it by overriding it.
    found: Defaults = catalog.get("defaults", ids[0])
    return found


def _numbered(number: int, problem: Problem) -> Problem:
    at = problem.place
    dotted = f"jobs[{number}]" + (f".{at.dotted}" if at.dotted else "")
    return Problem(
        Place(at.file, at.line, at.column, dotted), problem.message, problem.code, problem.warning
    )
