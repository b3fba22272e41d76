"""The commands that answer: advise, reach, rules, schema, plugins."""

from __future__ import annotations

import io
import json
import os
import sys
from pathlib import Path
from typing import Any

import jsonschema
import pytest

import gearrec
from gearrec import cli, schema
from gearrec.catalog import syntax
from gearrec.wording import STANDING_CAUTIONS

EXAMPLES = sorted((Path(__file__).parent.parent / "docs" / "examples").glob("*.yaml"))
HORSES = next(path for path in EXAMPLES if path.stem == "horse-trailer")
JOB: dict[str, Any] = {"vehicle": "demo/barge", "use": "core/unloaded-highway"}


@pytest.fixture(autouse=True)
def _alone(monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory) -> None:
    monkeypatch.setenv("GEARREC_PLUGINS", "")
    monkeypatch.setenv("GEARREC_CACHE", str(tmp_path_factory.getbasetemp() / "cache"))


def _standard_input(monkeypatch: pytest.MonkeyPatch, data: bytes) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(data)))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
@pytest.mark.parametrize("units", ["us", "metric"])
def test_advise_prints_the_report(
    capsys: pytest.CaptureFixture[str], path: Path, units: Any
) -> None:
    assert cli.run(["advise", str(path), "--units", units]) == 0
    shown = capsys.readouterr()
    assert shown.out == gearrec.Advisor().advise(path).text(units)
    assert shown.err == ""


def test_advise_writes_one_line_of_json_for_each_job(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    bad = tmp_path / "bad.yaml"
    bad.write_text("vehicle: demo/barg\n", encoding="utf-8")
    jobs = [str(EXAMPLES[0]), str(bad), str(EXAMPLES[1])]
    assert cli.run(["advise", "--json", *jobs]) == 1
    shown = capsys.readouterr()
    first, second, third = (json.loads(line) for line in shown.out.splitlines())
    for value in (first, third):
        jsonschema.validate(value, schema.schema("advice"))
    assert second["kind"] == "problems"
    assert second["input"] == str(bad)
    (problem,) = second["problems"]
    assert (problem["line"], problem["column"], problem["place"]) == (1, 10, "vehicle")
    assert "did you mean 'demo/barge'?" in problem["message"]
    assert shown.err == ""


def test_a_job_with_errors_does_not_keep_others_from_their_answer(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    bad = tmp_path / "bad.yaml"
    bad.write_text(
        "vehicle: demo/barg\ntires: {planned: 2155/85R16}\nuze: core/town\n", encoding="utf-8"
    )
    assert cli.run(["advise", str(bad), str(HORSES)]) == 1
    shown = capsys.readouterr()
    assert "AXLE RATIO ADVICE" in shown.out
    assert f"{bad}:3:1: uze: unknown key 'uze'" in shown.err


def test_a_file_that_is_not_there_has_status_2_and_others_their_answer(
    capsys: pytest.CaptureFixture[str],
) -> None:
    missing = HORSES.with_name("horse-trailr.yaml")
    assert cli.run(["advise", str(missing), str(HORSES)]) == 2
    shown = capsys.readouterr()
    assert "AXLE RATIO ADVICE" in shown.out
    assert "there is nothing of this name" in shown.err
    assert f"did you mean '{HORSES}'?" in shown.err


def test_no_pick_has_status_1(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    job = tmp_path / "job.yaml"
    # Load index 75 stands for 387 kg (ISO 4000-1): two such tires carry no truck's axle.
    job.write_text(
        "vehicle: demo/barge\nuse: core/unloaded-highway\ntires: {planned: 235/70R16 75T}\n",
        encoding="utf-8",
    )
    assert gearrec.Advisor().advise(job).pick is None
    assert cli.run(["advise", str(job)]) == 1
    assert "AXLE RATIO ADVICE" in capsys.readouterr().out


@pytest.mark.parametrize(
    "data",
    [
        HORSES.read_bytes(),
        json.dumps(JOB).encode(),
        json.dumps(JOB, indent="\t").encode(),
        json.dumps({**JOB, "trailer": None, "load": {"payload": "300 lb"}}, indent=2).encode(),
    ],
    ids=["yaml", "json", "json with tabs", "json with null"],
)
def test_a_job_on_standard_input(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], data: bytes
) -> None:
    _standard_input(monkeypatch, data)
    assert cli.run(["advise", "-"]) == 0
    assert "AXLE RATIO ADVICE" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "<standard input>:1:1: the file is empty"),
        (b"{", "<standard input>:2:1: not YAML"),
        (b'{"vehicle": "demo/barge"', "<standard input>:2:1: not YAML"),
        (b'{"vehicle": "demo/barg"}', "<standard input>:1:13: vehicle: there is no record"),
        (b'{\t"vehicle": "demo/barg"}', "<standard input>: vehicle: there is no record"),
        (b'{"vehicle": NaN, \t"use": 1}', "<standard input>:1"),
        (b'{"vehicle": "\\ud800", "a": null}', "<standard input>"),
        (b"[" * 100_000, "nested too deep"),
        (b"\xff\xfeb\x00", "is not UTF-8"),
        (b"\x00\x01\x02", "NUL"),
        (b"a" * (syntax.BYTES_LIMIT + 1), "allowed: at most"),
    ],
    ids=[
        "empty",
        "brace",
        "cut",
        "yaml place",
        "json",
        "nan",
        "surrogate",
        "deep",
        "utf16",
        "nul",
        "huge",
    ],
)
def test_what_is_wrong_with_standard_input_is_told(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], data: bytes, words: str
) -> None:
    _standard_input(monkeypatch, data)
    assert cli.run(["advise", "-"]) == 1
    shown = capsys.readouterr()
    assert shown.out == ""
    assert words in shown.err


def test_standard_input_that_is_closed(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "stdin", None)
    assert cli.run(["advise", "-"]) == 2
    assert "standard input is closed" in capsys.readouterr().err


def test_standard_input_that_cannot_be_read(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    class Failing(io.RawIOBase):
        def readable(self) -> bool:
            return True

        def readinto(self, _: Any) -> int:
            raise OSError(5, "Input/output error")

    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BufferedReader(Failing())))
    assert cli.run(["advise", "-"]) == 2
    assert "standard input cannot be read: Input/output error" in capsys.readouterr().err


def test_files_that_cannot_be_a_job(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    def told(path: Path, status: int) -> str:
        assert cli.run(["advise", str(path)]) == status
        shown = capsys.readouterr()
        assert shown.out == ""
        assert "Traceback" not in shown.err
        return shown.err

    path = tmp_path / "job.yaml"
    assert "this is a folder" in told(tmp_path, 2)
    assert "there is nothing of this name" in told(path, 2)
    assert "there is nothing of this name" in told(path / "below", 2)
    path.touch()
    assert "the file is empty" in told(path, 1)
    path.write_bytes(bytes(range(256)) * 40)
    assert "UTF-8" in told(path, 1)
    path.write_bytes("title: Zoë\n".encode("latin-1"))
    assert f"{path}:1:10: the byte 0xEB is not UTF-8" in told(path, 1)
    with path.open("wb") as sparse:
        sparse.truncate(2**40)
    assert "allowed: at most" in told(path, 1)
    path.write_text("kind: rule\nformat: 1\nrecords: []\n", encoding="utf-8")
    assert "found the kind 'rule'; allowed: job" in told(path, 1)
    path.write_text("kind: jobb\n", encoding="utf-8")
    assert "did you mean 'job'?" in told(path, 1)
    path.write_text("services: {}\n", encoding="utf-8")
    assert "no job: there is neither 'kind: job' nor the key 'vehicle'" in told(path, 1)
    os.mkfifo(tmp_path / "pipe")
    assert "no ordinary file" in told(tmp_path / "pipe", 2)
    monkeypatch.setattr(os, "access", lambda *_: False)
    assert "no permission" in told(path, 2)


def test_a_rule_set_asked_for_goes_before_the_jobs(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    shop = _shop(tmp_path)
    options = ["--catalog", str(shop), "--rule-set", "shop/short", "--json"]
    assert cli.run(["advise", str(HORSES), *options]) == 0
    value = json.loads(capsys.readouterr().out)
    assert value["rule_set"] == "shop/short"
    lines = value["candidates"][0]["trace"]
    assert [line["rule"] for line in lines] == ["core/cruise-engine-speed"]


def _shop(tmp_path: Path) -> Path:
    """A catalog with a rule set of one rule (invented)."""
    shop = tmp_path / "shop"
    shop.mkdir()
    (shop / "catalog.yaml").write_text(
        "kind: catalog\nformat: 1\nnamespace: shop\ntitle: A shop (invented)\n"
        'about: Invented.\nversion: "1.0"\n'
        "source: {kind: invented, citation: invented, confidence: low}\n",
        encoding="utf-8",
    )
    (shop / "rule-sets.yaml").write_text(
        "kind: rule-set\nformat: 1\nrecords:\n"
        "  - {id: shop/short, title: One rule, purpose: A trial.,\n"
        "     rules: [core/cruise-engine-speed]}\n",
        encoding="utf-8",
    )
    return shop


@pytest.mark.parametrize(
    ("folder", "words"),
    [
        ("nowhere", "there is nothing of this name"),
        ("shop/catalog.yaml", "this is a file; allowed: a folder"),
        (".", "no catalog.yaml in the folder; allowed: a catalog's folder; below it are"),
    ],
)
def test_a_folder_that_is_no_catalog_is_bad_use(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, folder: str, words: str
) -> None:
    _shop(tmp_path)
    assert cli.run(["advise", str(HORSES), "--catalog", str(tmp_path / folder)]) == 2
    assert words in capsys.readouterr().err


def test_a_catalog_with_errors_has_status_1(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    shop = _shop(tmp_path)
    (shop / "more.yaml").write_text("kind: trailer\nformat: 2\n", encoding="utf-8")
    for command in (["advise", str(HORSES)], ["rules"], ["reach", "demo/barge"]):
        assert cli.run([*command, "--catalog", str(shop)]) == 1
        assert f"{shop / 'more.yaml'}:2:9: format: format 2 is not known" in capsys.readouterr().err


@pytest.mark.parametrize("units", ["us", "metric"])
def test_reach_says_what_the_advice_says(capsys: pytest.CaptureFixture[str], units: str) -> None:
    command = ["reach", "demo/fell", "--use", "core/some-towing"]
    command += ["--trailer", "demo/horses"]
    job = {
        "vehicle": "demo/fell",
        "use": "core/some-towing",
        "trailer": "demo/horses",
    }
    spans = gearrec.Advisor().advise(job).reach
    assert cli.run([*command, "--units", units]) == 0
    text = capsys.readouterr().out
    for span in spans:
        assert f"  {span.axle_ratio:.2f}: tires" in text
    assert "INVENTED DATA" in text
    assert (" in tall" in text) == (units == "us")
    assert (" mm tall" in text) == (units == "metric")
    for caution in STANDING_CAUTIONS:
        assert caution in " ".join(text.replace("\n  ", " ").split())
    assert cli.run([*command, "--json"]) == 0
    value = json.loads(capsys.readouterr().out)
    assert (value["kind"], value["format"]) == ("reach", 1)
    assert [(span["axle_ratio"], span["from_m"], span["to_m"]) for span in value["reach"]] == [
        (span.axle_ratio, span.from_m, span.to_m) for span in spans
    ]
    assert value["invented"] is True
    assert value["cautions"] == list(STANDING_CAUTIONS)


def test_reach_of_a_use_that_tows_asks_for_the_trailer(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["reach", "demo/fell", "--use", "core/mountain-towing"]) == 2
    assert "names no trailer" in capsys.readouterr().err


def test_rules_are_listed_and_shown(capsys: pytest.CaptureFixture[str]) -> None:
    compiled = gearrec.Advisor().rules
    assert cli.run(["rules"]) == 0
    text = capsys.readouterr().out
    assert cli.run(["rules", "--json"]) == 0
    value = json.loads(capsys.readouterr().out)
    assert [rule["id"] for rule in value["rules"]] == sorted(rule.id for rule in compiled.rules)
    for rule in compiled.rules:
        assert rule.id in text
        assert cli.run(["rules", rule.id]) == 0
        page = capsys.readouterr().out
        assert page.startswith(f"{rule.id}: {rule.title}\n")
        for section in ("What", "Why", "Shape", "Example", "When to doubt it", "Source", "Since"):
            assert f"\n{section}\n" in page


def test_a_rule_without_its_namespace_in_other_forms(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["rules", "crawl-speed", "--markdown"]) == 0
    assert capsys.readouterr().out.startswith("# Crawl speed\n\n`core/crawl-speed`\n")
    assert cli.run(["rules", "crawl-speed", "--json"]) == 0
    value = json.loads(capsys.readouterr().out)
    assert value["rule"]["id"] == "core/crawl-speed"
    assert value["rule"]["source"]["kind"]
    texts = []
    for units in ("us", "metric"):
        assert cli.run(["rules", "crawl-speed", "--units", units]) == 0
        texts.append(capsys.readouterr().out)
    assert "mph" in texts[0]
    assert "km/h" in texts[1]


@pytest.mark.parametrize("kind", sorted(schema.KINDS + schema.OUTPUT_KINDS))
def test_schema_of_every_kind(capsys: pytest.CaptureFixture[str], kind: str) -> None:
    assert cli.run(["schema", kind]) == 0
    assert json.loads(capsys.readouterr().out)["$id"] == f"urn:gearrec:schema:{kind}:1"
    assert cli.run(["schema"]) == 0
    assert kind in capsys.readouterr().out.split()


def test_plugins_without_any(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["plugins", "--json"]) == 0
    value = json.loads(capsys.readouterr().out)
    assert (value["kind"], value["faults"]) == ("plugins", [])
    assert all(plugin["state"] == "not allowed" for plugin in value["plugins"])


def test_a_plugin_at_fault_has_status_1(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("GEARREC_PLUGINS", "a-plugin-that-nobody-has")
    assert cli.run(["plugins"]) == 1
    assert "plugin 'a-plugin-that-nobody-has'" in capsys.readouterr().out
    assert cli.run(["plugins", "--json"]) == 1
    (fault,) = json.loads(capsys.readouterr().out)["faults"]
    assert fault["plugin"] == "a-plugin-that-nobody-has"
    assert fault["expected"] == "an installed plugin"
