"""What the commands share: options, words for bad use, reading jobs, and output that may fail."""

from __future__ import annotations

import contextlib
import errno
import os
import stat
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from gearrec.errors import allowed_words, nearest

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from gearrec.api import Advisor
    from gearrec.catalog.job_records import Job
    from gearrec.errors import Problem
    from gearrec.jobs import Placing

    Decorator = Callable[[Callable[..., int]], Callable[..., int]]

STANDARD_INPUT = "-"
MANIFEST = "catalog.yaml"
_STANDARD_INPUT_SHOWN = "<standard input>"


class OutputError(Exception):
    """The answer could not be written; empty where nobody reads it any more."""


if TYPE_CHECKING:
    _WordType = click.ParamType[str]
else:
    _WordType = click.ParamType  # not generic at run time in every version


class Words(_WordType):
    """A closed list of words; the error gives the nearest spelling."""

    name = "word"

    def __init__(self, *words: str) -> None:
        self.words = words

    def get_metavar(self, param: click.Parameter, ctx: click.Context) -> str:  # noqa: ARG002
        """The words, for the help."""
        return "|".join(self.words)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """The word itself. Raises BadParameter for another."""
        if value not in self.words:
            self.fail(f"found {str(value)!r}; {allowed_words(self.words, str(value))}", param, ctx)
        return str(value)


class Command(click.Command):
    """A command whose error for an unknown option lists those it has."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """As click; raises UsageError in our own words."""
        try:
            return super().parse_args(ctx, args)
        except click.NoSuchOption as error:
            options = sorted(
                name for param in self.get_params(ctx) for name in param.opts if name[:1] == "-"
            )
            message = (
                f"no option {error.option_name!r}; {allowed_words(options, error.option_name)}"
            )
            raise click.UsageError(message, ctx) from None


class Commands(click.Group):
    """A group whose error for an unknown command lists those it has."""

    command_class = Command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """As click; raises UsageError in our own words."""
        name = args[0]
        if self.get_command(ctx, name) is None and not name.startswith("-"):
            commands = self.list_commands(ctx)
            ctx.fail(f"no command {name!r}; {allowed_words(commands, name)}")
        return super().resolve_command(ctx, args)


units_option: Decorator = click.option(
    "--units", type=Words("us", "metric"), default="us", help="Units of the text; default us."
)
catalog_option: Decorator = click.option(
    "--catalog",
    "catalogs",
    multiple=True,
    metavar="DIR",
    help="Folder of a further catalog; may be given several times, later ones override.",
)
rule_set_option: Decorator = click.option(
    "--rule-set", metavar="ID", help="Judge by this rule set, whatever job and catalog say."
)


def json_option(what: str) -> Decorator:
    """The option `--json` of a command that writes `what`."""
    return click.option("--json", "as_json", is_flag=True, help=f"Write {what} as JSON.")


def advisor(catalogs: Sequence[str], rule_set: str | None = None) -> Advisor:
    """An advisor over the installed catalogs and further folders."""
    for folder in catalogs:
        require_catalog(folder)
    from gearrec.api import Advisor

    return Advisor(catalogs, rule_set=rule_set)


def require(name: str, *, folder: bool | None = None) -> Path:
    """The path, which must be there; `folder` says whether it must be one. Raises UsageError."""
    problem = missing(name, folder=folder)
    if problem:
        raise click.UsageError(problem)
    return Path(name)


def require_catalog(name: str) -> Path:
    """The folder of a catalog, which must be there. Raises UsageError."""
    folder = require(name, folder=True)
    if not (folder / MANIFEST).is_file():
        inner = sorted(str(file.parent) for file in folder.glob(f"*/{MANIFEST}"))
        hint = f"; below it are {', '.join(inner)}" if inner else ""
        raise click.UsageError(
            f"{name}: there is no {MANIFEST} in the folder; allowed: a catalog's folder{hint}"
        )
    return folder


def missing(name: str, *, folder: bool | None = None) -> str | None:
    """Why a path cannot be used at all, or None."""
    path = Path(name)
    wanted = {True: "a folder", False: "a file", None: "a file or folder"}[folder]
    try:
        found = path.stat()
    except (FileNotFoundError, NotADirectoryError):
        return f"{name}: there is nothing of this name; allowed: {wanted} that exists{_near(path)}"
    except (OSError, ValueError) as error:
        return f"{name}: {getattr(error, 'strerror', None) or error}"
    if folder and not stat.S_ISDIR(found.st_mode):
        return f"{name}: this is a file; allowed: a folder"
    if folder is False and stat.S_ISDIR(found.st_mode):
        return f"{name}: this is a folder; allowed: a file, such as {path / 'job.yaml'}"
    if not stat.S_ISDIR(found.st_mode) and not stat.S_ISREG(found.st_mode):
        return f"{name}: this is no ordinary file; allowed: {wanted}, or - for standard input"
    if not os.access(path, os.R_OK):
        return f"{name}: no permission to read it; change its permissions"
    return None


def _near(path: Path) -> str:
    try:
        guess = nearest(path.name, os.listdir(path.parent))  # noqa: PTH208 - nothing stays open
    except (OSError, ValueError):
        return ""
    return f"; did you mean '{path.with_name(guess)}'?" if guess else ""


def read_job(name: str) -> tuple[Job, Placing]:
    """The job of a file, or of standard input for '-'.

    Raises CatalogError or JobError with every problem, UsageError when there is nothing to read.
    """
    from gearrec import job_input

    if name != STANDARD_INPUT:
        return job_input.read(require(name, folder=False))
    return job_input.parse(_standard_input(), file=_STANDARD_INPUT_SHOWN)


def _standard_input() -> bytes:
    from gearrec.catalog.syntax import BYTES_LIMIT

    stream = getattr(sys.stdin, "buffer", None)
    if stream is None:
        raise click.UsageError("standard input is closed; give the name of a file")
    try:
        # One byte above the limit is enough to see that there is too much.
        data: bytes = stream.read(BYTES_LIMIT + 1)
    except OSError as error:
        reason = error.strerror or error
        raise click.UsageError(f"standard input cannot be read: {reason}") from None
    return data


def emit(text: str) -> None:
    """Write to standard output, now. Raises OutputError."""
    if sys.stdout is None:
        raise OutputError("standard output is closed")
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except OSError as error:
        abandon_output()
        gone = error.errno in (errno.EPIPE, errno.ESHUTDOWN)
        raise OutputError("" if gone else str(error.strerror or error)) from None


def abandon_output() -> None:
    """What is still in the buffer must not be tried again when the program ends."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        try:
            os.dup2(nowhere, sys.stdout.fileno())
        finally:
            os.close(nowhere)


def complain(text: str) -> None:
    """Write lines to standard error; that it cannot be written is nobody's to know."""
    from gearrec.check_output import printable

    text = "\n".join(printable(line) for line in text.splitlines())
    with contextlib.suppress(OSError, ValueError, AttributeError):
        print(text, file=sys.stderr, flush=True)  # noqa: T201


def show_problems(problems: Iterable[Problem]) -> None:
    """One line on standard error for each problem."""
    from gearrec.check_output import line

    for problem in problems:
        complain(line(problem))


def problems_text(name: str, problems: Iterable[Problem]) -> str:
    """The problems of one input as one line of JSON."""
    import json

    from gearrec.check_output import FORMAT, problem_value

    value = {
        "kind": "problems",
        "format": FORMAT,
        "input": _STANDARD_INPUT_SHOWN if name == STANDARD_INPUT else name,
        "problems": [problem_value(problem) for problem in problems],
    }
    return json.dumps(value, ensure_ascii=False) + "\n"
