"""Commands that answer: advise, reach, rules, schema, plugins."""

from __future__ import annotations

import json
import textwrap
from typing import TYPE_CHECKING, Any

import click

from gearrec.cli_support import (
    STANDARD_INPUT,
    Command,
    advisor,
    catalog_option,
    complain,
    emit,
    json_option,
    problems_text,
    read_job,
    rule_set_option,
    show_problems,
    units_option,
)
from gearrec.errors import InputError, JobError, UnknownRecordError, nearest

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gearrec.advice import Advice, System
    from gearrec.api import Advisor
    from gearrec.catalog.rule_records import Rule
    from gearrec.catalog.store import Catalog

_WIDTH = 80


@click.command(cls=Command)
@click.argument("jobs", nargs=-1, required=True, metavar="JOB...")
@json_option("one line for each job, the advice (see `gearrec schema advice`) or its problems,")
@units_option
@catalog_option
@rule_set_option
def advise(
    jobs: tuple[str, ...],
    as_json: bool,
    units: System,
    catalogs: tuple[str, ...],
    rule_set: str | None,
) -> int:
    """Say which axle ratio each JOB should get, and why.

    JOB is a file in YAML or JSON, or - for standard input. The exit status is 1 when a job has
    errors or none of its ratios can be picked.
    """
    if jobs.count(STANDARD_INPUT) > 1:
        raise click.UsageError("standard input (-) can be read once; give it once")
    made = advisor(catalogs, rule_set)
    status = 0
    for number, name in enumerate(jobs):
        try:
            advice = _advice(made, name, rule_set)
        except InputError as error:
            status = max(status, 1)
            if as_json:
                emit(problems_text(name, error.problems))
            else:
                show_problems(error.problems)
            continue
        except click.UsageError as error:
            status = 2
            complain(f"gearrec advise: {error.format_message()}")
            continue
        if as_json:
            emit(advice.to_json() + "\n")
        else:
            emit(("\n" if number else "") + advice.text(units))
        if advice.pick is None:
            status = max(status, 1)
    return status


def _advice(made: Advisor, name: str, rule_set: str | None) -> Advice:
    from gearrec.jobs import Workshop

    job, place = read_job(name)
    if rule_set is not None:
        job = job.model_copy(update={"rule_set": rule_set})
    # Looked at here first for the places of its problems in the file.
    Workshop(made.catalog, made.defaults).resolve(job, place)
    return made.advise(job)


@click.command(cls=Command, short_help="Say which ratio is the pick for tires of which height.")
@click.argument("platform")
@click.option("--use", metavar="ID", help="Use profile; default the catalog's.")
@click.option("--trailer", metavar="ID", help="Trailer, where the use tows.")
@click.option("--engine", metavar="ID", help="Engine, where the platform has several.")
@click.option("--transmission", metavar="ID", help="Transmission, where there are several.")
@json_option("the spans [m]")
@units_option
@catalog_option
@rule_set_option
def reach(
    platform: str,
    use: str | None,
    trailer: str | None,
    engine: str | None,
    transmission: str | None,
    as_json: bool,
    units: System,
    catalogs: tuple[str, ...],
    rule_set: str | None,
) -> int:
    """Say which ratio is the pick for tires of which height, on a PLATFORM of the catalog."""
    made = advisor(catalogs, rule_set)
    named = {"use": use, "trailer": trailer, "engine": engine, "transmission": transmission}
    job = {"vehicle": platform} | {name: value for name, value in named.items() if value}
    made.catalog.get("platform", platform)
    try:
        advice = made.advise(job)
    except JobError as error:
        words = "; ".join(problem.message for problem in error.problems)
        raise click.UsageError(words) from None
    emit(_reach_json(advice, platform) if as_json else _reach_text(advice, platform, units))
    return 0 if advice.reach else 1


def _reach_json(advice: Advice, platform: str) -> str:
    from gearrec import __version__

    resolved = advice.judgement.resolved
    names = {item.axle_ratio: item.name for item in advice.candidates}
    value = {
        "kind": "reach",
        "format": 1,
        "generator": {"name": "gearrec", "version": __version__},
        "platform": resolved.job.vehicle if isinstance(resolved.job.vehicle, str) else platform,
        "vehicle": advice.vehicle,
        "rule_set": advice.rule_set,
        "use": resolved.use.title,
        "factory_diameter_m": resolved.vehicle.factory_tire.diameter_m,
        "invented": any(record.invented for record in advice.records),
        "reach": [
            {
                "axle_ratio": span.axle_ratio,
                "name": names[span.axle_ratio],
                "from_m": span.from_m,
                "to_m": span.to_m,
                "open_below": span.open_below,
                "open_above": span.open_above,
            }
            for span in advice.reach
        ],
        "cautions": list(_standing_cautions()),
    }
    return json.dumps(value, indent=2, ensure_ascii=False) + "\n"


def _reach_text(advice: Advice, platform: str, system: System) -> str:
    from gearrec import units
    from gearrec.owner_sentences import reach_words

    resolved = advice.judgement.resolved
    factory = resolved.vehicle.factory_tire
    height = units.format(factory.diameter_m, "length", system)
    lines = [
        f"{advice.vehicle} ({platform})",
        f"Use:     {resolved.use.title}",
        f"Rules:   {advice.rule_set}",
        f"Factory: {resolved.vehicle.factory_ratio:.2f} on {factory.text}, {height} tall",
    ]
    if any(record.invented for record in advice.records):
        lines.append("*** INVENTED DATA: do not choose gears for a real vehicle from it.")
    lines.append("")
    lines += [f"  {reach_words(span, system)}" for span in advice.reach]
    held = {span.axle_ratio for span in advice.reach}
    rest = sorted(item.name for item in advice.candidates if item.axle_ratio not in held)
    if rest:
        lines.append(f"  Never the pick: {', '.join(rest)}")
    lines.append("")
    for caution in _standing_cautions():
        lines += textwrap.wrap(caution, _WIDTH, initial_indent="! ", subsequent_indent="  ")
    return "\n".join(lines) + "\n"


def _standing_cautions() -> tuple[str, ...]:
    from gearrec.wording import STANDING_CAUTIONS

    return tuple(STANDING_CAUTIONS)


@click.command(cls=Command)
@click.argument("rule", required=False, metavar="[ID]")
@click.option("--markdown", is_flag=True, help="Write the rule's page as Markdown.")
@json_option("the list, or the rule,")
@units_option
@catalog_option
@rule_set_option
def rules(
    rule: str | None,
    markdown: bool,
    as_json: bool,
    units: System,
    catalogs: tuple[str, ...],
    rule_set: str | None,
) -> int:
    """List the rules, or show the page of the rule ID.

    The list holds the rules of the rule set in use. ID is a rule of any loaded catalog; its
    namespace may be left out.
    """
    if markdown and (as_json or rule is None):
        raise click.UsageError("--markdown goes with a rule's ID, and not with --json")
    made = advisor(catalogs, rule_set)
    if rule is None:
        listed = sorted(made.rules.rules, key=lambda one: one.id)
        emit(_rules_json(made, listed) if as_json else _rule_list(made, listed))
        return 0
    found = _find_rule(made.catalog, rule)
    if as_json:
        value = {"kind": "rule", "format": 1, "rule": _rule_value(found)}
        emit(json.dumps(value, indent=2, ensure_ascii=False) + "\n")
        return 0
    from gearrec import attributes, rule_pages
    from gearrec.metrics import by_name

    page = rule_pages.page_markdown if markdown else rule_pages.page_text
    emit(
        page(
            found,
            metrics=by_name(made.metrics),
            attributes=attributes.built_in(),
            system=units,
        )
    )
    return 0


def _find_rule(catalog: Catalog, name: str) -> Rule:
    ids = catalog.ids("rule")
    short = [one for one in ids if one.rpartition("/")[2] == name]
    if len(short) > 1:
        raise UnknownRecordError(f"{name!r} is the name of several rules: {', '.join(short)}")
    wanted = name
    if short:
        wanted = short[0]
    elif "/" not in name:
        guess = nearest(name, [one.rpartition("/")[2] for one in ids])
        hint = f"; did you mean '{guess}'?" if guess else ""
        raise UnknownRecordError(f"there is no rule {name!r}; `gearrec rules` lists them{hint}")
    found: Rule = catalog.get("rule", wanted)
    return found


def _rule_list(made: Advisor, listed: Sequence[Rule]) -> str:
    from gearrec.rule_pages import rule_list

    return f"{rule_list(listed)}\n\n{len(listed)} rules in {made.rule_set}; `gearrec rules ID` \
shows one.\n"


def _rules_json(made: Advisor, listed: Sequence[Rule]) -> str:
    value = {
        "kind": "rules",
        "format": 1,
        "rule_set": made.rule_set,
        "rules": [
            {
                "id": one.id,
                "title": one.title,
                "verdict": one.verdict,
                "metric": one.metric,
                "since": one.since,
                "what": one.what,
                "source": None if one.source is None else one.source.model_dump(exclude_none=True),
            }
            for one in listed
        ],
    }
    return json.dumps(value, indent=2, ensure_ascii=False) + "\n"


def _rule_value(rule: Rule) -> dict[str, Any]:
    return rule.model_dump(mode="json", by_alias=True, exclude_none=True, exclude_defaults=True)


@click.command(cls=Command, short_help="Write the JSON Schema of a kind of file, or list kinds.")
@click.argument("kind", required=False, metavar="[KIND]")
def schema(kind: str | None) -> int:
    """Write the JSON Schema (2020-12) of the files of a KIND, or list the kinds.

    It names the metrics that there are, with those of the installed plugins.
    """
    from gearrec import plugin_catalogs
    from gearrec import plugins as loading
    from gearrec import schema as schemas

    if kind is None:
        emit("\n".join(sorted(schemas.KINDS + schemas.OUTPUT_KINDS)) + "\n")
        return 0
    loaded = plugin_catalogs.usable(loading.load())
    metrics = [entry.record for entry in loaded.call("gearrec_metrics")]
    emit(schemas.text(kind, metrics=metrics))
    return 0


@click.command(cls=Command, short_help="List the installed plugins and their faults.")
@json_option("the list")
def plugins(as_json: bool) -> int:
    """List the installed plugins and their faults; the exit status is 1 when there are any."""
    from gearrec import plugin_catalogs
    from gearrec import plugins as loading

    loaded = plugin_catalogs.usable(loading.load())
    emit(_plugins_json(loaded) if as_json else _plugins_text(loaded))
    return 1 if loaded.faults else 0


def _plugins_json(loaded: Any) -> str:
    value = {
        "kind": "plugins",
        "format": 1,
        "plugins": [
            {
                "name": one.name,
                "target": one.target,
                "distribution": one.distribution,
                "version": one.version,
                "state": one.state,
                "hooks": list(one.hooks),
            }
            for one in loaded.installed
        ],
        "faults": [
            {"plugin": one.plugin, "hook": one.hook, "expected": one.expected, "found": one.found}
            for one in loaded.faults
        ],
    }
    return json.dumps(value, indent=2, ensure_ascii=False) + "\n"


def _plugins_text(loaded: Any) -> str:
    from gearrec.check_output import printable

    lines = []
    for one in loaded.installed:
        lines.append(f"{one.name}  {one.state}  ({one.distribution} {one.version}, {one.target})")
        lines += [f"  {hook}" for hook in one.hooks]
    lines = lines or ["no plugins are installed; the built-in catalogs and metrics are there"]
    if loaded.faults:
        lines += ["", "Faults:", *(f"  {fault}" for fault in loaded.faults)]
    return "\n".join(printable(line) for line in lines) + "\n"


COMMANDS = (advise, reach, rules, schema, plugins)
