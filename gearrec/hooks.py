"""The hooks that a plugin can implement: specifications only.

A plugin is a module, or an object, named by an entry point of the group `gearrec`. It declares
`GEARREC_HOOK_API = 1` and marks its functions with `hookimpl`. Within one version of the hooks
only arguments may be added, so a function takes just those that it needs, by their names. Every
hook is pure: the same arguments give the same answer, and nothing that it is given is changed.
"""

# mypy: disable-error-code="empty-body"
from __future__ import annotations

from typing import TYPE_CHECKING

import pluggy

if TYPE_CHECKING:
    from collections.abc import Iterable

    from gearrec.advice import Advice
    from gearrec.candidates import Candidate
    from gearrec.extension import (
        CandidateAddition,
        CandidateRemoval,
        CatalogFolder,
        Caution,
        JobMetrics,
        Preference,
        ReportSection,
    )
    from gearrec.jobs import ResolvedJob
    from gearrec.metrics import Metric

HOOK_API_VERSION = 1

hookspec = pluggy.HookspecMarker("gearrec")
hookimpl = pluggy.HookimplMarker("gearrec")


@hookspec
def gearrec_catalogs() -> Iterable[CatalogFolder]:
    """Folders of catalogs to load beside the built-in ones.

    Called once, when the plugin is loaded. Returns: one `CatalogFolder` per catalog; its name is
    the namespace of the records and may come from one plugin only. Built-in catalogs are the lowest
    layers; the others follow in the order of their names.
    """


@hookspec
def gearrec_metrics() -> Iterable[Metric]:
    """Metrics that rules can use beside the built-in ones.

    Called once, when the plugin is loaded. Returns: one `Metric` per named quantity, vectorised
    over candidates and lanes; a name may come from one plugin only.
    """


@hookspec
def gearrec_candidates(
    job: ResolvedJob, candidates: tuple[Candidate, ...]
) -> Iterable[CandidateAddition | CandidateRemoval]:
    """Axle ratios to add to the candidates of a job, or to take out with a reason.

    Called once per job, before metrics are computed. `job`: the job with all that it names found;
    `job.job` is the document itself. `candidates`: those so far, with their teeth where known,
    rising.
    Returns: additions and removals; one plugin may not add what another takes out.
    """


@hookspec
def gearrec_preferences(job: ResolvedJob, evaluation: JobMetrics) -> Iterable[Preference]:
    """Preferences that join the rules' own in the aggregate score.

    Called once per job, after metrics are computed. `evaluation`: the metrics per axle ratio.
    Returns: one `Preference` per name, with a score 0 to 1 for each axle ratio that is known.
    """


@hookspec
def gearrec_cautions(job: ResolvedJob, advice: Advice) -> Iterable[Caution]:
    """Sentences of caution that the advice shall carry.

    Called once per job. `advice`: the advice so far, without the cautions of other plugins.
    Returns: one `Caution` per name.
    """


@hookspec
def gearrec_report_sections(job: ResolvedJob, advice: Advice) -> Iterable[ReportSection]:
    """Titled sections at the end of the report.

    Called once per job. `advice`: the finished advice, without the sections of other plugins.
    Returns: one `ReportSection` per name; the report shows them in the order of their names.
    """
