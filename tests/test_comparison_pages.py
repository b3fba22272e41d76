"""Comparisons as text, Markdown and JSON."""

from __future__ import annotations

import json

from gearrec import comparison_pages
from gearrec.attribution import Cause, Shift
from gearrec.catalog_changes import RecordChange
from gearrec.comparing import AdviceChange, Answer, Comparison, Unanswered
from gearrec.errors import Place

NOTHING = Comparison(
    old="old",
    new="new",
    compared=3,
    cases=1,
    records=(),
    rules=(),
    changes=(),
    unanswered=(),
    reworded=(),
)
RULE = "rule core/gearing-change (shape)"
FULL = Comparison(
    old="old",
    new="new",
    compared=512,
    cases=60,
    records=(
        RecordChange(
            "axle", "demo/rear", "changed", ("gear_sets",), Place("new/axles.yaml", 4, 5, "x")
        ),
        RecordChange("rule", "core/words", "changed", ("title",), Place()),
    ),
    rules=(RULE,),
    changes=(
        AdviceChange(
            words="case demo/one: A | *case*",
            case="demo/one",
            before=Answer(pick=3.3571, score=0.91, runner_up=3.6154, margin=0.021),
            after=Answer(pick=3.8462, score=0.875, runner_up=3.3571, margin=0.0),
            cause=Cause(side="rules", alone=(RULE,)),
            shifts=(Shift(rule="core/gearing-change", before=-0.044, after=0.061),),
        ),
        AdviceChange(
            words="demo/truck, tires 9% taller, core/mixed",
            case="",
            before=Answer(pick=3.8462, score=0.8, runner_up=None, margin=None),
            after=Answer(pick=None),
            cause=Cause(side="together", alone=()),
            shifts=(),
        ),
    ),
    unanswered=(Unanswered(words="demo/gone", case="", old="", new="there is no record"),),
    reworded=("demo/two",),
)


def test_nothing_changed_is_said_in_one_line() -> None:
    words = "No pick changes; compared 3 jobs (1 case)."
    assert comparison_pages.text(NOTHING) == f"{words}\n"
    assert comparison_pages.markdown(NOTHING) == f"### {words}\n"
    assert json.loads(comparison_pages.json_text(NOTHING))["same"] is True


def test_text_tells_picks_margins_and_cause() -> None:
    text = comparison_pages.text(FULL)
    assert text.startswith("2 picks change, 1 of them in cases; compared 512 jobs (60 cases).\n")
    assert "  axle demo/rear changed (gear_sets), new/axles.yaml:4\n" in text
    assert f"  {RULE} alone: 1 pick\n" in text
    assert (
        "    3.36 (91.0 points, 2.1 ahead of 3.62) becomes 3.85 (87.5 points, tied with 3.36)\n"
        in text
    )
    assert f"    did it: {RULE} alone\n" in text
    assert "    points for 3.85 over 3.36: core/gearing-change -4.4 to +6.1\n" in text
    assert "    3.85 (80.0 points, no runner-up) becomes no pick\n" in text
    assert "    did it: changed rules and records together\n" in text
    assert "  demo/gone (new: there is no record)\n" in text
    assert "  demo/two\n" in text
    assert "1 record more in texts for people only." in text
    assert "core/words" not in text


def test_markdown_is_a_table_whose_cells_stay_cells() -> None:
    lines = comparison_pages.markdown(FULL).splitlines()
    assert lines[0].startswith("### 2 picks change")
    rows = [line for line in lines if line.startswith("| ") and "before" not in line]
    assert len(rows) == 2
    assert rows[0].startswith("| case demo/one: A \\| \\*case\\* | 3.36 (91.0 points")
    for row in rows:
        assert row.replace("\\|", "").count("|") == 6


def test_json_holds_everything() -> None:
    value = json.loads(comparison_pages.json_text(FULL))
    assert (value["kind"], value["format"], value["same"]) == ("comparison", 1, False)
    first, second = value["changes"]
    assert first["before"] == {"pick": 3.3571, "score": 0.91, "runner_up": 3.6154, "margin": 0.021}
    assert first["alone"] == [RULE]
    assert first["shifts"] == [{"rule": "core/gearing-change", "before": -0.044, "after": 0.061}]
    assert second["case"] is None
    assert second["after"]["pick"] is None
    assert second["side"] == "together"
    assert value["records"][0]["file"] == "new/axles.yaml"
    assert value["records"][1]["words_only"] is True
    assert value["unanswered"] == [
        {"job": "demo/gone", "case": None, "old": "", "new": "there is no record"}
    ]
    assert value["reworded"] == ["demo/two"]
