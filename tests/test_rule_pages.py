"""Rule pages and the worked examples printed on them."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from gearrec.attributes import built_in
from gearrec.catalog.rule_records import Rule
from gearrec.errors import CatalogError
from gearrec.rule_examples import check_examples, work_example
from gearrec.rule_figures import WIDTH, limit_drawing, shape_drawing
from gearrec.rule_pages import page_markdown, page_text, rule_list

METRICS = {
    "top_grade": SimpleNamespace(name="top_grade", dimension="grade", unit="1", per_leg=True),
    "shaft": SimpleNamespace(name="shaft", dimension="share", unit="1", per_leg=False),
    "shifts": SimpleNamespace(name="shifts", dimension="", unit="1/100 km", per_leg=True),
}
REGISTRIES: dict[str, Any] = {"metrics": METRICS, "attributes": built_in()}


def preference(**changes: Any) -> Rule:
    record: dict[str, Any] = {
        "id": "test/grade",
        "title": "Grade held in top gear",
        "since": "0.1.0",
        "verdict": "preference",
        "metric": "top_grade",
        "legs": "weighted",
        "only_legs": {"range": "high", "speed_at_least": "40 mph"},
        "when": [{"attribute": "use_towing", "above": "10 %"}],
        "shape": {
            "at_least": {
                "zero": "1 %",
                "full": {"base": "3 %", "plus": {"use_towing": "2 %"}, "most": "6 %"},
            }
        },
        "weight": {"base": 1, "plus": {"use_towing": 2, "goal_economy": -0.5}},
        "what": "How steep a hill top gear holds.",
        "why": "A truck that hunts between gears wears out its driver.",
        "when_to_doubt": "Flat country.",
        "example": {
            "words": "A pickup that tows half of its way.",
            "legs": [
                {"value": "2.5 %", "share": "50 %", "towing": True, "speed": "60 mph"},
                {"value": "4 %", "share": "50 %", "speed": "65 mph"},
                {"value": "0 %", "share": "0 %", "speed": "20 mph"},
            ],
            "attributes": {"use_towing": "50 %", "goal_economy": "0 %"},
            # zero 1 %, full 4 %: 0.5 and 1.0, each on half of the way. source: arithmetic
            "expect": {"score": 0.75},
        },
        "says": {"good": "Holds {value}.", "poor": "Holds only {value} of {low}."},
        "source": {
            "kind": "common-practice",
            "citation": "invented for this test",
            "confidence": "low",
            "date": "2026",
        },
    }
    return Rule.model_validate(record | changes)


def limit(**changes: Any) -> Rule:
    record: dict[str, Any] = {
        "id": "test/shaft",
        "title": "Driveshaft speed",
        "since": "0.1.0",
        "verdict": "limit",
        "metric": "shaft",
        "shape": {"at_most": {"limit": "75 %"}},
        "what": "Share of the critical speed.",
        "why": "A shaft that whirls breaks.",
        "when_to_doubt": "A shaft whose critical speed was measured.",
        "example": {"words": "A long shaft.", "value": "80 %", "expect": {"passes": False}},
        "says": {"limit": "At {ratio} the shaft turns at {value}; {edge} is the limit."},
        "source": {"kind": "invented", "citation": "test", "confidence": "low"},
        "notes": "A note.",
    }
    return Rule.model_validate(record | changes)


def caution() -> Rule:
    record: dict[str, Any] = {
        "id": "test/calibrate",
        "title": "Recalibrate",
        "since": "0.1.0",
        "verdict": "caution",
        "shape": "none",
        "when": [{"attribute": "tires_grow", "is": True}],
        "what": "Says that the speedometer is off.",
        "why": "Taller tires turn less often.",
        "when_to_doubt": "Never.",
        "example": {
            "words": "Taller tires.",
            "attributes": {"tires_grow": True},
            "expect": {"fires": True},
        },
        "says": {"caution": "Recalibrate the speedometer."},
        "source": {"kind": "invented", "citation": "test", "confidence": "low"},
    }
    return Rule.model_validate(record)


def test_the_example_is_worked_by_the_code_that_judges() -> None:
    worked = work_example(preference(), **REGISTRIES)
    assert worked.agrees
    assert worked.outcome == "score 0.75"
    assert worked.trace.weight == pytest.approx(2.0)
    assert work_example(limit(), **REGISTRIES).outcome == "ruled out"
    assert work_example(caution(), **REGISTRIES).agrees


@pytest.mark.parametrize(
    ("example", "words"),
    [
        ({"expect": {"score": 0.9}}, ["score 0.75", "score 0.90", "example.expect"]),
        ({"attributes": {"use_towing": "0 %"}}, ["does not apply"]),
        ({"attributes": {}}, ["unknown", "use_towing"]),
        ({"attributes": {"use_towing": "50 mph"}}, ["%", "example.attributes.use_towing"]),
        ({"attributes": {"use_tow": "50 %"}}, ["unknown attribute", "use_towing"]),
        ({"legs": None, "value": "4 kg"}, ["grade", "example.value"]),
    ],
)
def test_an_example_that_does_not_hold_is_a_problem(
    example: dict[str, Any], words: list[str]
) -> None:
    base = preference().example.model_dump(exclude_unset=True, by_alias=True)
    base["legs"] = [
        {"value": "2.5 %", "share": "50 %"},
        {"value": "4 %", "share": "50 %"},
    ]
    merged = {key: value for key, value in (base | example).items() if value is not None}
    problems = check_examples([preference(example=merged)], **REGISTRIES)
    text = "\n".join(str(problem) for problem in problems)
    for word in words:
        assert word in text


def test_examples_that_hold_are_no_problem() -> None:
    assert check_examples([preference(), limit(), caution()], **REGISTRIES) == ()


def test_a_single_value_stands_for_a_leg_that_the_rule_looks_at() -> None:
    example = {
        "words": "One leg.",
        "value": "2.5 %",
        "attributes": {"use_towing": "50 %", "goal_economy": "0 %"},
        "expect": {"score": 0.5},
    }
    for role in ("each", "weighted", "fastest", "towing"):
        for only in ({"towing": True}, {"range": "low", "speed_below": "10 mph"}, {}):
            rule = preference(legs=role, only_legs=only, example=example)
            assert work_example(rule, **REGISTRIES).agrees, (role, only)


def test_a_page_has_every_section_and_the_outcome() -> None:
    page = page_text(preference(), **REGISTRIES)
    for words in (
        "test/grade: Grade held in top gear",
        "How steep a hill top gear holds.",
        "A truck that hunts between gears wears out its driver.",
        "weighted by its share of the distance",
        "high range, at 40",
        "use_towing is above 10 %",
        "full at 3 % + 2 % x use_towing, at most 6 %",
        "1 + 2 x use_towing - 0.5 x goal_economy",
        "Worked by the library: score 0.75, weight 2.00.",
        "Flat country.",
        "invented for this test (2026). Kind: common practice; confidence: low.",
        "Since\n  0.1.0",
        "####",
        "* example:",
    ):
        assert words in page
    assert max(len(line) for line in page.splitlines()) <= 100


def test_a_page_says_what_to_use_in_place_of_a_deprecated_rule() -> None:
    old = preference(deprecated={"since": "1.4", "use": "test/new", "why": "Measured again."})
    assert "Since 1.4: Measured again. Use test/new." in page_text(old, **REGISTRIES)


def test_a_page_shows_an_example_that_does_not_agree() -> None:
    wrong = limit(example={"words": "x", "value": "70 %", "expect": {"passes": False}})
    assert "does not agree" in page_text(wrong, **REGISTRIES)


@pytest.mark.parametrize(
    ("shape", "verdict", "words"),
    [
        ({"at_most": {"limit": "75 %"}}, "limit", ["Passes at 75 % or less", "ruled out"]),
        ({"at_least": {"limit": "75 %"}}, "limit", ["Passes at 75 % or more", "passes"]),
        ({"at_least": {"limit": "65 %"}}, "caution", ["Speaks at 65 % or more", "silent"]),
        ({"at_most": {"limit": "65 %"}}, "caution", ["Speaks at 65 % or less", "silent"]),
    ],
)
def test_the_page_of_a_limit_and_of_a_caution(
    shape: dict[str, Any], verdict: str, words: list[str]
) -> None:
    changes: dict[str, Any] = {"shape": shape, "verdict": verdict}
    if verdict == "caution":
        changes["says"] = {"caution": "Mind the shaft."}
        changes["example"] = {"words": "x", "value": "60 %", "expect": {"fires": False}}
    page = page_text(limit(**changes), **REGISTRIES)
    for word in [*words, "A note."]:
        assert word in page


@pytest.mark.parametrize(
    ("shape", "value", "score", "words"),
    [
        (
            {
                "band": {
                    "zero_below": "1 %",
                    "full_from": "2 %",
                    "full_to": {"of": "load_share", "times": 0.5},
                    "zero_above": "9 %",
                }
            },
            "2 %",
            1.0,
            "to 0.5 x load_share",
        ),
        ({"at_most": {"full": "1 %", "zero": "3 %"}}, "2 %", 0.5, "Score 0 at 3 % or more"),
        (
            {"near": {"target": "5 %", "full_within": "1 %", "zero_beyond": "3 %"}},
            "3 %",
            0.5,
            "full within 1 %",
        ),
    ],
)
def test_the_page_of_every_shape(
    shape: dict[str, Any], value: str, score: float, words: str
) -> None:
    metrics = METRICS | {
        "top_grade": SimpleNamespace(name="top_grade", dimension="share", unit="1", per_leg=True)
    }
    example = {
        "words": "x",
        "value": value,
        "attributes": {"use_towing": "50 %", "goal_economy": "0 %", "load_share": "10 %"},
        "expect": {"score": score},
    }
    rule = preference(shape=shape, example=example)
    page = page_text(rule, metrics=metrics, attributes=built_in())
    assert words in page
    assert f"score {score:.2f}" in page
    assert "does not agree" not in page


def test_a_metric_with_its_own_unit_is_shown_with_it() -> None:
    rule = preference(
        metric="shifts",
        shape={"at_most": {"full": "10 1/100 km", "zero": "50 1/100 km"}},
        example={
            "words": "x",
            "value": "20 1/100 km",
            "attributes": {"use_towing": "50 %", "goal_economy": "0 %"},
            "expect": {"score": 0.75},
        },
    )
    assert "shifts: 20 1/100 km" in page_text(rule, **REGISTRIES)


def test_markdown_has_a_heading_per_section_and_a_fenced_drawing() -> None:
    page = page_markdown(preference(), **REGISTRIES)
    assert page.startswith("# Grade held in top gear\n")
    assert "\n## Why\n" in page
    assert page.count("```") == 2
    assert "\n## Drawn" not in page_markdown(caution(), **REGISTRIES)


def test_a_rule_that_cannot_be_compiled_has_no_page() -> None:
    with pytest.raises(CatalogError, match="unknown metric"):
        page_text(limit(metric="shift"), **REGISTRIES)


def test_the_list_is_sorted_and_says_what_each_rule_is() -> None:
    lines = rule_list([limit(), preference()]).splitlines()
    assert [line.split()[:2] for line in lines] == [
        ["test/grade", "preference"],
        ["test/shaft", "limit"],
    ]
    assert rule_list([]) == "no rules"


def test_a_drawing_is_full_between_its_edges_and_empty_beyond() -> None:
    drawing = shape_drawing((1.0, 2.0, 3.0, 4.0), text="{:g}".format, value=2.5)
    lines = drawing.splitlines()
    top = lines[0][3:].ljust(WIDTH)
    assert top[WIDTH // 2] == "#"
    assert top[0] == " "
    assert top[-1] == " "
    for label in ("^ 1", "^ 2", "^ 3", "^ 4", "* example: 2.5"):
        assert label in drawing
    open_end = shape_drawing((1.0, 2.0, None, None), text="{:g}".format).splitlines()
    assert open_end[0].endswith("#")


def test_a_limit_is_drawn_on_its_side() -> None:
    drawing = limit_drawing(0.75, upwards=True, words=("no", "yes"), text="{:g}".format)
    first = drawing.splitlines()[0]
    assert first.index("-") < first.index("#")
    assert "^ 0.75" in drawing
