"""Commands for those who keep catalogs: check, compare, new."""

from __future__ import annotations

import os
from pathlib import Path

import click

from gearrec.cli_support import Command, catalog_option, emit, json_option, require, require_catalog
from gearrec.errors import GearrecError, InputError


@click.command(cls=Command)
@click.argument("paths", nargs=-1, required=True, metavar="PATH...")
@json_option("the report")
@click.option("--sarif", is_flag=True, help="Write the problems as a SARIF 2.1.0 log.")
@click.option("--annotations", is_flag=True, help="Write commands that annotate lines in CI.")
@click.option("--sources", is_flag=True, help="Report where the figures come from.")
@click.option("--unused", is_flag=True, help="Report records that nothing uses.")
@click.option("--skip-others", is_flag=True, help="Pass over YAML files of other programs.")
@click.option("--no-cases", is_flag=True, help="Do not run the cases.")
@catalog_option
def check(
    paths: tuple[str, ...],
    as_json: bool,
    sarif: bool,
    annotations: bool,
    sources: bool,
    unused: bool,
    skip_others: bool,
    no_cases: bool,
    catalogs: tuple[str, ...],
) -> int:
    """Check catalogs and job files: every problem of all files at once.

    PATH is a catalog's folder or a file in it (the whole catalog is checked), a job's file, or a
    folder with several of these. Rules are tried on their own examples, and a catalog's cases are
    run. The exit status is 1 when there are errors; warnings alone leave it 0.
    """
    if as_json + sarif + annotations > 1:
        raise click.UsageError("give one of --json, --sarif and --annotations")
    for path in paths:
        require(path)
    for folder in catalogs:
        require_catalog(folder)
    from gearrec import check_output, checking

    report = checking.check(
        paths,
        sources=sources,
        unused=unused,
        run_cases=not no_cases,
        catalogs=catalogs,
        skip_others=skip_others,
    )
    if sarif:
        emit(check_output.sarif(report))
    elif annotations:
        emit(check_output.annotation_lines(report))
    else:
        emit(check_output.json_text(report) if as_json else check_output.text(report))
    return 0 if report.ok else 1


@click.command(cls=Command, short_help="Say which advice changes between two catalogs, and why.")
@click.argument("old", metavar="OLD")
@click.argument("new", metavar="NEW")
@json_option("the comparison")
@click.option("--markdown", is_flag=True, help="Write it as Markdown, to be pasted in a review.")
def compare(old: str, new: str, as_json: bool, markdown: bool) -> int:
    """Say which advice changes between two folders of catalogs, and what did it.

    Jobs that name no rule set are judged by the one that the catalogs make their default; a rule
    set that no job and no default names changes nothing.
    """
    if as_json and markdown:
        raise click.UsageError("give one of --json and --markdown")
    before, after = require(old, folder=True), require(new, folder=True)
    from gearrec import comparing, comparison_pages

    comparison = comparing.compare(before, after)
    if markdown:
        emit(comparison_pages.markdown(comparison))
    elif as_json:
        emit(comparison_pages.json_text(comparison))
    else:
        emit(comparison_pages.text(comparison))
    return 0


@click.command(cls=Command, short_help="Write a commented skeleton: a platform, a rule set, ...")
@click.argument("kind")
@click.argument("name")
@click.option(
    "--folder",
    default=".",
    metavar="DIR",
    help="Where to write; made where it is not there; default here.",
)
def new(kind: str, name: str, folder: str) -> int:
    """Write a commented skeleton of a KIND with the NAME; nothing is ever overwritten.

    KIND is platform, rule-set, use-profile, cases or plugin. The NAME of the first record of a new
    catalog begins with the catalog's namespace, as in yourshop/parcel-van.
    """
    where = Path(folder)
    # A folder may be new, but not the one above it: that is more likely a slip of the pen.
    if os.path.lexists(where) or not where.absolute().parent.is_dir():
        require(folder, folder=True)
    from gearrec import skeletons

    try:
        written = skeletons.write(kind, name, where)
    except FileExistsError as error:
        words = str(error) if error.filename is None else f"{error.filename} exists already"
        raise click.UsageError(words) from None
    except InputError:
        raise
    except GearrecError as error:
        raise click.UsageError(str(error)) from None
    emit("".join(f"{Path(path)}\n" for path in written))
    return 0


COMMANDS = (check, compare, new)
