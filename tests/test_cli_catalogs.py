"""The commands for those who keep catalogs: check, compare, new."""

from __future__ import annotations

import json
import shutil
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
import yaml

import gearrec
from gearrec import cli
from gearrec.errors import CatalogError, Place, Problem, UnknownRecordError

GOOD = "kind: job\nvehicle: demo/barge\nuse: core/unloaded-highway\n"
BAD = "kind: job\nvehicle: demo/barge\nuze: core/unloaded-highway\n"


@pytest.fixture(autouse=True)
def _alone(
    monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory, tmp_path: Path
) -> None:
    monkeypatch.setenv("GEARREC_PLUGINS", "")
    monkeypatch.setenv("GEARREC_CACHE", str(tmp_path_factory.getbasetemp() / "cache"))
    monkeypatch.chdir(tmp_path)
    Path("good.yaml").write_text(GOOD, encoding="utf-8")
    Path("bad.yaml").write_text(BAD, encoding="utf-8")


def _stand_in(monkeypatch: pytest.MonkeyPatch, name: str, **functions: Any) -> None:
    module = SimpleNamespace(**functions)
    monkeypatch.setitem(sys.modules, f"gearrec.{name}", module)
    monkeypatch.setattr(gearrec, name, module, raising=False)


def test_check_without_and_with_errors(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["check", "good.yaml"]) == 0
    assert capsys.readouterr().out == "no errors; looked at 1 file, 1 job.\n"
    assert cli.run(["check", "."]) == 1
    shown = capsys.readouterr()
    assert shown.out.startswith("bad.yaml:3:1: uze: unknown key 'uze'; allowed: ")
    assert shown.out.endswith("1 error; looked at 2 files, 2 jobs.\n")
    assert shown.err == ""


@pytest.mark.parametrize(
    ("option", "begin"),
    [("--json", "{"), ("--sarif", "{"), ("--annotations", "::error file=bad.yaml,line=3,col=1::")],
)
def test_check_in_other_forms(capsys: pytest.CaptureFixture[str], option: str, begin: str) -> None:
    assert cli.run(["check", ".", option]) == 1
    shown = capsys.readouterr().out
    assert shown.startswith(begin)
    if begin == "{":
        assert "bad.yaml" in json.dumps(json.loads(shown))


def test_check_of_what_is_not_there_is_bad_use(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["check", "godo.yaml"]) == 2
    assert "did you mean 'good.yaml'?" in capsys.readouterr().err
    assert cli.run(["check", "good.yaml", "--catalog", "."]) == 2
    assert "no catalog.yaml" in capsys.readouterr().err


def test_check_passes_its_options_on(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from gearrec import checking

    asked: dict[str, Any] = {}

    def noted(paths: Any, **options: Any) -> checking.CheckReport:
        asked.update(options, paths=paths)
        return checking.CheckReport(problems=())

    monkeypatch.setattr(checking, "check", noted)
    assert cli.run(["check", "good.yaml"]) == 0
    usual = {
        "paths": ("good.yaml",),
        "sources": False,
        "unused": False,
        "run_cases": True,
        "catalogs": (),
        "skip_others": False,
    }
    assert asked == usual
    options = ["--sources", "--unused", "--no-cases", "--skip-others"]
    assert cli.run(["check", "good.yaml", *options]) == 0
    assert asked == usual | {
        "sources": True,
        "unused": True,
        "run_cases": False,
        "skip_others": True,
    }
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize(
    ("options", "form"), [([], "text"), (["--json"], "json"), (["--markdown"], "markdown")]
)
def test_compare_hands_both_folders_over(
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    options: list[str],
    form: str,
) -> None:
    (tmp_path / "old").mkdir()
    (tmp_path / "new").mkdir()
    _stand_in(monkeypatch, "comparing", compare=lambda old, new: f"{old} to {new}")
    _stand_in(
        monkeypatch,
        "comparison_pages",
        text=lambda comparison: f"text: {comparison}\n",
        json_text=lambda comparison: f"json: {comparison}\n",
        markdown=lambda comparison: f"markdown: {comparison}\n",
    )
    assert cli.run(["compare", "old", "new", *options]) == 0
    assert capsys.readouterr().out == f"{form}: old to new\n"
    assert cli.run(["compare", "old", "nwe", *options]) == 2
    assert "did you mean 'new'?" in capsys.readouterr().err


def test_compare_of_a_catalog_with_errors_has_status_1(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def compare(*_: Path) -> None:
        raise CatalogError([Problem(Place("old/a.yaml", 2, 3), "wrong")])

    _stand_in(monkeypatch, "comparing", compare=compare)
    _stand_in(monkeypatch, "comparison_pages")
    assert cli.run(["compare", ".", "."]) == 1
    assert capsys.readouterr().err == "old/a.yaml:2:3: wrong\n"


def test_new_tells_what_it_wrote(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    _stand_in(
        monkeypatch, "skeletons", write=lambda kind, name, folder: [folder / f"{kind}-{name}.yaml"]
    )
    assert cli.run(["new", "platform", "mine", "--folder", "."]) == 0
    assert capsys.readouterr().out == "platform-mine.yaml\n"


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (FileExistsError(17, "File exists", "a.yaml"), "a.yaml exists already"),
        (FileExistsError("a.yaml is there already"), "a.yaml is there already"),
        (UnknownRecordError("no kind 'plattform'"), "no kind 'plattform'"),
    ],
)
def test_new_that_cannot_write_is_bad_use(
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    error: Exception,
    words: str,
) -> None:
    def write(*_: Any) -> None:
        raise error

    _stand_in(monkeypatch, "skeletons", write=write)
    assert cli.run(["new", "plattform", "mine"]) == 2
    assert words in capsys.readouterr().err


def test_new_makes_the_folder_but_not_those_above_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shop = tmp_path / "shop"
    assert cli.run(["new", "platform", "shop/van", "--folder", str(shop)]) == 0
    assert (shop / "catalog.yaml").is_file()
    assert (shop / "van" / "platform.yaml").is_file()
    capsys.readouterr()
    assert cli.run(["new", "platform", "shop/van", "--folder", str(tmp_path / "a" / "b")]) == 2
    assert "allowed: a folder that exists" in capsys.readouterr().err
    assert not (tmp_path / "a").exists()


def test_no_line_of_the_commands_is_cut_short(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["--help"]) == 0
    commands = capsys.readouterr().out.partition("Commands:")[2]
    cut = [line for line in commands.splitlines() if line.endswith("...")]
    assert not [line for line in cut if not line.endswith(", ...")]


def test_the_pre_commit_hook_checks_the_files_of_another_repository(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Its command is run as the tool does: from the root, on the files that changed."""
    root = Path(__file__).parent.parent
    (hook,) = yaml.safe_load((root / ".pre-commit-hooks.yaml").read_text(encoding="utf-8"))
    assert (hook["language"], hook["types"]) == ("python", ["yaml"])
    program, *words = hook["entry"].split()
    assert program == "gearrec"
    Path("compose.yaml").write_text("services: {}\n", encoding="utf-8")
    shutil.copytree(root / "docs" / "examples" / "yourshop", tmp_path / "yourshop")
    files = ["compose.yaml", "good.yaml", "yourshop/axle.yaml"]
    assert cli.run([*words, *files]) == 0
    capsys.readouterr()
    axle = Path("yourshop/axle.yaml")
    axle.write_text(axle.read_text(encoding="utf-8").replace("ring_gear:", "ring_geer:"), "utf-8")
    assert cli.run([*words, *files]) == 1
    assert "did you mean 'ring_gear'" in capsys.readouterr().out
