"""Stock and prices of a shop: a gearrec plugin that reads the shop's database.

`GEARREC_STOCK_URL` names the database, as an SQLAlchemy address; without it, it is the SQLite file
`.gearrec/stock.db` in the home folder. Each advice stands on one reading.
"""

from __future__ import annotations

import os
import threading
import weakref
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from gearrec.extension import CandidateRemoval, Caution, Preference, ReportSection
from gearrec.hooks import hookimpl
from gearrec_stock.parts import Plan, plan
from gearrec_stock.shelf import Stock, StockError, axle_keys

if TYPE_CHECKING:
    from gearrec.advice import Advice
    from gearrec.candidates import Candidate
    from gearrec.catalog.job_records import Job
    from gearrec.extension import JobMetrics
    from gearrec.jobs import ResolvedJob
    from gearrec_stock.database import Database

GEARREC_HOOK_API = 1

URL_VARIABLE = "GEARREC_STOCK_URL"
SOURCE = "the shop's stock database"
LEAD_TIME_WEIGHT = 0.25
LONG_LEAD_TIME_DAYS = 30.0
"""From here on waiting scores nothing (common practice, no source)."""


class _Reading(threading.local):
    """The last reading of this thread and the job it was made for.

    All hooks of one advice are called in one thread, the one for candidates first.
    """

    job: weakref.ref[Job] | None = None
    result: Stock | StockError | None = None


_reading = _Reading()


@hookimpl
def gearrec_candidates(
    job: ResolvedJob, candidates: tuple[Candidate, ...]
) -> list[CandidateRemoval]:
    """Takes out the axle ratios whose parts cannot be had; never the one that is fitted."""
    stock = _read(job)
    if isinstance(stock, StockError):
        return []
    plans = (plan(item, job.vehicle, stock) for item in candidates if not item.taken_out)
    return [
        CandidateRemoval(found.candidate.ratio, _cannot_be_had(found), SOURCE)
        for found in plans
        if found.missing
    ]


@hookimpl
def gearrec_preferences(job: ResolvedJob, evaluation: JobMetrics) -> list[Preference]:
    """A light preference for what need not be waited for."""
    stock = _known(job)
    if isinstance(stock, StockError):
        return []
    scores: dict[float, float | None] = {}
    for item in job.vehicle.candidates:
        if item.ratio in evaluation.axle_ratios and not item.taken_out:
            days = plan(item, job.vehicle, stock).days
            if days is not None:
                scores[item.ratio] = max(0.0, 1.0 - days / LONG_LEAD_TIME_DAYS)
    if not scores:
        return []
    return [
        Preference(
            name="stock/lead-time",
            weight=LEAD_TIME_WEIGHT,
            scores=scores,
            sentence="Parts that are here, or here soon, are preferred a little.",
            source=SOURCE,
        )
    ]


@hookimpl
def gearrec_cautions(job: ResolvedJob) -> list[Caution]:
    """Says when the stock was not read, or an axle is not listed, or only by its ring gear."""
    stock = _known(job)
    if isinstance(stock, StockError):
        return [
            Caution(
                "stock/not-read",
                f"The shop's stock could not be read ({stock}), so this advice does not know which "
                "parts can be had, when, and at what price.",
                SOURCE,
            )
        ]
    cautions = []
    for axle in stock.axles:
        if not axle.known:
            cautions.append(
                Caution(
                    f"stock/{axle.position}-axle-not-listed",
                    f"The shop's stock lists no gear set for the {axle.position} axle, so whether "
                    "one can be had is not known.",
                    SOURCE,
                )
            )
        elif axle.by_ring_gear:
            cautions.append(
                Caution(
                    f"stock/{axle.position}-axle-by-ring-gear",
                    f"Parts for the {axle.position} axle were found by the diameter of its ring "
                    "gear alone, which other axles share; check the axle before ordering.",
                    SOURCE,
                )
            )
    return cautions


@hookimpl
def gearrec_report_sections(job: ResolvedJob, advice: Advice) -> list[ReportSection]:
    """Parts and lead times, cost of the job, fuel payback."""
    from gearrec_stock.sections import sections

    stock = _known(job)
    return [] if isinstance(stock, StockError) else sections(advice, job.vehicle, stock)


def database_url() -> str:
    """The address of the database, from the environment."""
    named = os.environ.get(URL_VARIABLE, "").strip()
    return named or f"sqlite:///{Path.home() / '.gearrec' / 'stock.db'}"


def _cannot_be_had(found: Plan) -> str:
    names = " and no ".join(part.title for part in found.missing)
    return f"The shop can get no {names}."


def _read(job: ResolvedJob) -> Stock | StockError:
    """The stock, read anew."""
    result: Stock | StockError
    try:
        result = _database(database_url()).read(
            axle_keys(job), fuel=job.vehicle.engine_class.fuel.name
        )
    except StockError as error:
        result = error
    _reading.job, _reading.result = weakref.ref(job.job), result
    return result


def _known(job: ResolvedJob) -> Stock | StockError:
    """What was read for this job at the start of its advice."""
    kept = _reading.result
    if kept is None or _reading.job is None or _reading.job() is not job.job:
        return _read(job)
    return kept


@lru_cache(maxsize=8)
def _database(url: str) -> Database:
    from gearrec_stock.database import Database

    return Database(url)
