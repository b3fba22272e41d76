"""The command line: exit status 0 for yes, 1 for no (no pick, errors found), 2 for no answer.

What a command needs is imported when it runs, so that the version, the help and words about bad use
come at once. No exception leaves `run`: whatever happens is told in a line or two.
"""

from __future__ import annotations

import gc
import os
import sys
from typing import TYPE_CHECKING

import click

from gearrec import __version__, cli_answers, cli_catalogs
from gearrec.cli_support import Commands, OutputError, abandon_output, complain, emit, show_problems
from gearrec.errors import GearrecError, InputError, UnknownRecordError

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import NoReturn

YES, NO, NO_ANSWER, INTERRUPTED = 0, 1, 2, 130
TRACEBACK_VARIABLE = "GEARREC_TRACEBACK"
"""Set, it makes an error of the program itself show where it arose."""
_COLLECTED_AT = 100_000


def _version(ctx: click.Context, _: click.Parameter, asked: bool) -> None:
    if asked and not ctx.resilient_parsing:
        emit(f"gearrec {__version__}\n")
        ctx.exit(YES)


@click.group(
    cls=Commands,
    invoke_without_command=True,
    context_settings={"help_option_names": ["--help", "-h"]},
)
@click.option(
    "--version",
    is_flag=True,
    expose_value=False,
    is_eager=True,
    callback=_version,
    help="Write the version and stop.",
)
@click.pass_context
def program(ctx: click.Context) -> int:
    """Which axle ratio for this truck, these tires, this load?

    Exit status: 0 yes, or done; 1 no (no ratio can be picked, errors were found); 2 no answer (bad
    use, a file that is not there).
    """
    if ctx.invoked_subcommand is None:
        complain(ctx.get_help())
    return NO_ANSWER


for _command in (*cli_answers.COMMANDS, *cli_catalogs.COMMANDS):
    program.add_command(_command)


def main() -> NoReturn:
    """Run the command line of this process."""
    # The process is short: what its modules make while they are loaded is no garbage to look for,
    # now or at the end, and the metadata of all that is installed need not be searched for
    # extensions of pydantic.
    gc.set_threshold(_COLLECTED_AT)
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    status = run()
    gc.freeze()
    sys.exit(status)


def run(arguments: Sequence[str] | None = None) -> int:
    """Run one command line, by default that of the process; returns the exit status."""
    _lenient(sys.stdout)
    _lenient(sys.stderr)
    try:
        return _run(arguments)
    except (KeyboardInterrupt, click.Abort):
        abandon_output()
        complain("gearrec: interrupted")
        return INTERRUPTED
    except click.UsageError as error:
        _show_usage(error)
    except OutputError as error:
        if str(error):
            complain(f"gearrec: the answer cannot be written: {error}")
    except InputError as error:
        show_problems(error.problems)
        return NO
    except UnknownRecordError as error:
        complain(f"gearrec: {error}")
    except GearrecError as error:
        complain(f"gearrec: {error}")
        return NO
    except OSError as error:
        abandon_output()
        complain(
            f"gearrec: {error.strerror or error}" + (f": {error.filename}" * bool(error.filename))
        )
    except Exception as error:
        # The last resort: no traceback reaches a user.
        _show_own_fault(error)
    return NO_ANSWER


def _run(arguments: Sequence[str] | None) -> int:
    try:
        status = program.main(
            args=None if arguments is None else list(arguments),
            prog_name="gearrec",
            standalone_mode=False,
        )
    except SystemExit as stop:  # click's own, when nobody reads the output any more
        return stop.code if isinstance(stop.code, int) else NO_ANSWER
    return status if isinstance(status, int) else YES


def _lenient(stream: object) -> None:
    """Let a letter that the terminal cannot show become an escape instead of an error."""
    reconfigure = getattr(stream, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(errors="backslashreplace")


def _show_usage(error: click.UsageError) -> None:
    name = error.ctx.command_path if error.ctx is not None else "gearrec"
    complain(f"{name}: {error.format_message()}")
    complain(f"Try '{name} --help'.")


def _show_own_fault(error: Exception) -> None:
    complain(
        f"gearrec: an error in gearrec itself, not in what it was given "
        f"({type(error).__name__}: {error}); please report it. "
        f"With {TRACEBACK_VARIABLE}=1 in the environment it shows where."
    )
    if os.environ.get(TRACEBACK_VARIABLE):
        import traceback

        complain("".join(traceback.format_exception(error)))
