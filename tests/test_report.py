"""The report for a person."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

import gearrec
from gearrec import wording
from gearrec.extension import Caution, ReportSection
from gearrec.hooks import hookimpl

EXAMPLES = sorted((Path(__file__).parent.parent / "docs" / "examples").glob("*.yaml"))
JOB: dict[str, Any] = {
    "title": "Taller tires",
    "owner": "A. Invented",
    "vehicle": "demo/fell",
    "tires": {"planned": "LT215/85R16 115/112Q E"},
    "trailer": "demo/horses",
    "use": "core/some-towing",
    "question": "Which gears?",
}


@pytest.fixture(scope="module")
def advisor() -> gearrec.Advisor:
    return gearrec.Advisor(plugins=())


def _joined(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
@pytest.mark.parametrize("units", ["us", "metric"])
def test_examples_fit_the_page_and_carry_the_cautions(
    advisor: gearrec.Advisor, path: Path, units: Any
) -> None:
    text = advisor.advise(path).text(units)
    assert max(len(line) for line in text.splitlines()) <= 80
    assert text.endswith("\n")
    assert not text.endswith("\n\n")
    assert text.isascii()
    for caution in wording.STANDING_CAUTIONS:
        assert caution in _joined(text)
    for word in ("nan", "None", "{", "}"):
        assert word not in text.replace("None of", "")


def test_the_report_says_what_the_advice_says(advisor: gearrec.Advisor) -> None:
    advice = advisor.advise(JOB)
    text = advice.text()
    whole = _joined(text)
    for wanted in ("Taller tires", "A. Invented", "Which gears?", advice.vehicle):
        assert wanted in whole
    for sentence in advice.sentences():
        assert _joined(sentence) in whole
    assert text.index("The answer") < text.index("The ratios looked at") < text.index("Cautions")


def test_each_ratio_has_one_row(advisor: gearrec.Advisor) -> None:
    advice = advisor.advise(JOB)
    lines = advice.text().splitlines()
    for item in advice.candidates:
        mark = "*" if item.candidate.fitted else ""
        (row,) = (
            line
            for line in lines
            if line.startswith(f"{item.name}{mark} ") and item.teeth in line.split()
        )
        assert item.verdict in row
        assert item.leg_metrics
        fastest = max(range(len(advice.legs)), key=lambda leg: _speed(advice, leg))
        rpm = item.leg_metrics["cruise_engine_speed"][fastest]
        assert f"{rpm:,.0f}" in row


def _speed(advice: gearrec.Advice, leg: int) -> float:
    return float(advice.judgement.measured.lanes.leg_speed_mps[leg, 0])


def test_invented_data_are_called_so(advisor: gearrec.Advisor) -> None:
    assert "INVENTED DATA" in advisor.advise(JOB).text()
    own = next(path for path in EXAMPLES if path.stem == "own-truck")
    advice = advisor.advise(own)
    assert ("INVENTED DATA" in advice.text()) == any(item.invented for item in advice.records)


def test_what_rules_ratios_out_is_said(advisor: gearrec.Advisor) -> None:
    # Load index 79 is 437 kg: ISO 4000-1 table. By hand: two of them carry 874 kg, and the front
    # axle bears 55.5 % of 3,860 lb, 972 kg, before anyone gets in.
    job = {"vehicle": "demo/stile", "tires": {"planned": "155/80R13 79S"}}
    advice = advisor.advise(job)
    assert advice.pick is None
    text = advice.text()
    assert "ruled out" in text
    assert "None of the ratios on offer can be recommended" in _joined(text)
    assert "Ruled out: " in text


def test_units_are_those_asked_for(advisor: gearrec.Advisor) -> None:
    advice = advisor.advise(JOB)
    assert "L/100km" in advice.text("metric")
    assert "mpg" not in advice.text("metric").replace("mph", "")
    assert "L/100km" not in advice.text("us")


def _shop(**hooks: Any) -> gearrec.Advisor:
    marked = {name: hookimpl(function) for name, function in hooks.items()}
    shop = SimpleNamespace(GEARREC_HOOK_API=1, **marked)
    return gearrec.Advisor(plugins=(), extra={"shop": shop})


@pytest.mark.parametrize("control", ["", "\x1b[31m"])
def test_sections_of_plugins_are_shown_and_cannot_drive_a_terminal(control: str) -> None:
    section = ReportSection(
        name="shop/stock",
        title="On the shelf",
        lines=("3.85 sets: two of them, " + "and so on " * 12, f"ask at the counter{control}"),
    )

    def gearrec_report_sections(job: object) -> list[ReportSection]:
        return [section]

    text = _shop(gearrec_report_sections=gearrec_report_sections).advise(JOB).text()
    assert ("On the shelf" in text) == (not control)
    assert ("Plugins at fault" in text) == bool(control)
    assert text.replace("\n", "").isprintable()
    assert max(len(line) for line in text.splitlines()) <= 80


def test_faults_of_plugins_are_shown() -> None:
    def gearrec_cautions(job: object) -> list[Caution]:
        raise RuntimeError("broken on purpose")

    text = _shop(gearrec_cautions=gearrec_cautions).advise(JOB).text()
    assert "Plugins at fault" in text
    assert "broken on purpose" in _joined(text)


def test_a_title_from_outside_cannot_drive_a_terminal(advisor: gearrec.Advisor) -> None:
    text = advisor.advise(JOB | {"title": "Taller \x1b[2J tires\nCautions: none"}).text()
    assert "\x1b" not in text
    assert "\nCautions: none" not in text
