"""The command line as a whole: exit status, words about bad use, and output that fails."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import gearrec
from gearrec import cli, cli_answers
from gearrec.errors import GearrecError

if TYPE_CHECKING:
    from collections.abc import Sequence

JOB = Path(__file__).parent.parent / "docs" / "examples" / "post-round.yaml"
FULL = Path("/dev/full")


@pytest.fixture(autouse=True)
def _alone(monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory) -> None:
    monkeypatch.setenv("GEARREC_PLUGINS", "")
    monkeypatch.setenv("GEARREC_CACHE", str(tmp_path_factory.getbasetemp() / "cache"))


def _process(
    *arguments: str, code: str = "from gearrec.cli import main; main()"
) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", code, *arguments]
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=60)


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["--version"]) == 0
    assert capsys.readouterr().out == f"gearrec {gearrec.__version__}\n"


@pytest.mark.parametrize("arguments", [["--help"], ["-h"], ["advise", "--help"]])
def test_help_says_what_the_exit_status_means(
    capsys: pytest.CaptureFixture[str], arguments: list[str]
) -> None:
    assert cli.run(arguments) == 0
    assert "exit status" in capsys.readouterr().out.lower()


def test_no_command_is_bad_use_and_shows_the_help(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run([]) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    for command in ("advise", "check", "compare", "new", "plugins", "reach", "rules", "schema"):
        assert command in shown.err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["advice", "x"], ["no command 'advice'", "advise, check", "did you mean 'advise'?"]),
        (["advise", "--unit", "us", "x"], ["no option '--unit'", "did you mean '--units'?"]),
        (["--versoin"], ["--versoin"]),
        (["advise", "--units", "metrik", "x"], ["'metrik'", "us, metric", "mean 'metric'?"]),
        (["advise"], ["JOB"]),
        (["check"], ["PATH"]),
        (["schema", "jobs"], ["no kind 'jobs'", "allowed: advice", "did you mean 'job'?"]),
        (["rules", "cruise-speed-engine"], ["no rule", "`gearrec rules`"]),
        (["rules", "core/crawl-sped"], ["core/crawl-sped", "did you mean 'core/crawl-speed'?"]),
        (["rules", "--rule-set", "core/defalt"], ["core/defalt", "did you mean 'core/default'?"]),
        (["reach", "demo/fel"], ["did you mean 'demo/fell'?"]),
        (["advise", "-", "-"], ["standard input", "once"]),
        (["rules", "--markdown"], ["--markdown", "ID"]),
        (["check", "--json", "--sarif", "."], ["--json", "--sarif", "--annotations"]),
        (["compare", ".", ".", "--json", "--markdown"], ["--json", "--markdown"]),
    ],
)
def test_bad_use_has_status_2_and_says_what_is_allowed(
    capsys: pytest.CaptureFixture[str], arguments: list[str], words: Sequence[str]
) -> None:
    assert cli.run(arguments) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    for word in words:
        assert word in shown.err


@pytest.mark.parametrize("arguments", ["['--version']", "['advice']", "['advise', '--no-such']"])
def test_start_up_imports_nothing_heavy(arguments: str) -> None:
    done = _process(
        code=f"""
import sys
from gearrec import cli
cli.run({arguments})
heavy = {{"numpy", "pydantic", "yaml", "pluggy", "jsonschema", "gearrec.api"}}
print(sorted(heavy & set(sys.modules)))
"""
    )
    assert done.stdout.endswith("[]\n")


def test_interrupted(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    def interrupted(_: str) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(cli_answers, "read_job", interrupted)
    assert cli.run(["advise", str(JOB)]) == 130
    shown = capsys.readouterr()
    assert shown.err.strip() == "gearrec: interrupted"


def test_a_real_signal_leaves_no_traceback() -> None:
    done = _process(
        code="""
import os, signal, sys
from gearrec import cli, cli_answers
cli_answers.read_job = lambda name: os.kill(os.getpid(), signal.SIGINT)
sys.exit(cli.run(["advise", "any"]))
"""
    )
    assert done.returncode == 130
    assert "Traceback" not in done.stderr
    assert "interrupted" in done.stderr


def test_a_fault_of_the_program_itself_shows_no_traceback(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(_: str) -> None:
        raise RuntimeError("a cog is missing")

    monkeypatch.setattr(cli_answers, "read_job", broken)
    assert cli.run(["advise", str(JOB)]) == 2
    shown = capsys.readouterr().err
    assert "a cog is missing" in shown
    assert "please report it" in shown
    assert "Traceback" not in shown
    monkeypatch.setenv(cli.TRACEBACK_VARIABLE, "1")
    assert cli.run(["advise", str(JOB)]) == 2
    assert "Traceback" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("error", "status", "words"),
    [
        (GearrecError("the gears are jammed"), 1, "the gears are jammed"),
        (OSError(5, "Input/output error", "disk"), 2, "Input/output error: disk"),
        (RecursionError("too deep"), 2, "please report it"),
    ],
)
def test_errors_are_told_in_a_line(
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    error: Exception,
    status: int,
    words: str,
) -> None:
    def failing(_: str) -> None:
        raise error

    monkeypatch.setattr(cli_answers, "read_job", failing)
    assert cli.run(["advise", str(JOB)]) == status
    shown = capsys.readouterr().err
    assert words in shown
    assert shown.count("\n") == 1


@pytest.mark.skipif(not FULL.exists(), reason="there is no device that is always full")
@pytest.mark.parametrize("arguments", [["--version"], ["--help"], ["schema", "advice"]])
def test_a_full_disk(arguments: list[str]) -> None:
    with FULL.open("w") as full:
        done = subprocess.run(
            [sys.executable, "-c", "from gearrec.cli import main; main()", *arguments],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1
    assert "space" in done.stderr.lower()


def test_a_reader_that_went_away() -> None:
    code = "from gearrec.cli import main; main()"
    reading, writing = os.pipe()
    os.close(reading)
    with os.fdopen(writing, "w") as gone:
        done = subprocess.run(
            [sys.executable, "-c", code, "schema", "advice"],
            stdout=gone,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert done.stderr == ""
    assert done.returncode == 2


def test_standard_output_that_is_closed(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "stdout", None)
    assert cli.run(["schema"]) == 2
    assert "standard output is closed" in capsys.readouterr().err


def test_a_terminal_that_cannot_show_a_letter(tmp_path: Path) -> None:
    job = tmp_path / "job.yaml"
    job.write_text(
        'vehicle: demo/barge\nuse: core/unloaded-highway\nowner: "Zoë (invented)"\n',
        encoding="utf-8",
    )
    command = [sys.executable, "-c", "from gearrec.cli import main; main()", "advise", str(job)]
    done = subprocess.run(
        command,
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
    )
    assert done.returncode == 0
    assert "Zo\\xeb (invented)" in done.stdout


def test_a_name_cannot_steer_the_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["advise", "\x1b[31m\udcff.yaml"]) == 2
    assert "\\x1b[31m\\udcff.yaml" in capsys.readouterr().err


def test_the_installed_command() -> None:
    command = Path(sys.executable).with_name("gearrec")
    done = subprocess.run([command, "--version"], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (0, f"gearrec {gearrec.__version__}\n")
