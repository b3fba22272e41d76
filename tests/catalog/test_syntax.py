"""Plain scalars against the two YAML versions, and the words of refusals."""

from __future__ import annotations

import pytest
import yaml
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from gearrec.catalog import syntax
from gearrec.catalog.syntax import Refusal, plain_scalar


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("true", True),
        ("false", False),
        ("0", 0),
        ("41", 41),
        ("-3", -3),
        ("3.36", 3.36),
        ("3.85", 3.85),
        ("-0.5", -0.5),
        ("0.0", 0.0),
    ],
)
def test_truth_values_and_plain_numbers_are_values(text: str, value: object) -> None:
    found = plain_scalar(text)
    assert found == value
    assert type(found) is type(value)


@pytest.mark.parametrize(
    "text",
    [
        "28.7 in",
        "310 lbf*ft",
        "47/13",
        "1.2.3",
        "12-05-2026",
        "LT215/85R16",
        "-",
        "+",
        "..",
        "-a",
        "6 %",
        "nobody",
        "once",
        "nullify",
        "1,000",
        "1e",
        "0x",
        "e3",
    ],
)
def test_other_plain_words_are_text(text: str) -> None:
    assert plain_scalar(text) == text


@pytest.mark.parametrize(
    ("text", "code", "words"),
    [
        ("", "empty-value", ["no value here", "leave the key", '""']),
        ("~", "null-value", ["no value", "leave the key out", '"~"']),
        ("null", "null-value", ["leave the key out", '"null"']),
        ("NULL", "null-value", ["leave the key out"]),
        ("on", "truth-word", ["true, false", "write true", '"on"']),
        ("off", "truth-word", ["write false", '"off"']),
        ("yes", "truth-word", ["write true"]),
        ("No", "truth-word", ["write false", '"No"']),
        ("y", "truth-word", ["write true"]),
        ("N", "truth-word", ["write false"]),
        ("True", "truth-word", ["write true"]),
        ("FALSE", "truth-word", ["write false"]),
        ("012", "number-leading-zero", ["leading zero", "octal"]),
        ("-007.5", "number-leading-zero", ["leading zero"]),
        ("1e3", "number-exponent", ["without an exponent", "quotes"]),
        ("1.5E-3", "number-exponent", ["without an exponent"]),
        ("0x1F", "number-base", ["base 10"]),
        ("0o17", "number-base", ["base 10"]),
        ("0b101", "number-base", ["base 10"]),
        ("1_000", "number-underscore", ["without '_'"]),
        ("4:10", "number-sexagesimal", ["base 60", "quotes"]),
        ("12:30:45.5", "number-sexagesimal", ["base 60"]),
        (".5", "number-bare-point", ["0.5 for .5"]),
        ("5.", "number-bare-point", ["5.0 for 5."]),
        ("+5", "number-plus", ["without '+'"]),
        (".inf", "number-infinite", ["infinity"]),
        ("-.INF", "number-infinite", ["infinity"]),
        (".nan", "number-infinite", ["not-a-number"]),
        ("2026-01-31", "date-unquoted", ["date", "quotes", '"2026-01-31"']),
        ("2026-1-3 10:20:30", "date-unquoted", ["date", "quotes"]),
        ("2026-01-31T10:20:30Z", "date-unquoted", ["date"]),
        ("123456789012345678901", "number-too-long", ["21 characters", "at most 20"]),
        ("0." + "1" * 30, "number-too-long", ["at most 20"]),
        ("=", "reserved-word", ["quotes"]),
        ("<<", "reserved-word", ["quotes"]),
        ("x" * 65_537, "text-too-long", ["65537 characters", "at most 65536"]),
    ],
)
def test_surprises_are_refused_with_what_to_write(text: str, code: str, words: list[str]) -> None:
    found = plain_scalar(text)
    assert isinstance(found, Refusal)
    assert found.code == code
    for word in words:
        assert word in found.message


NUMBER_LIKE = st.text(alphabet="0123456789+-._:eExXoOb ainfNT", max_size=12)


@settings(max_examples=100, deadline=None)
@given(st.one_of(NUMBER_LIKE, st.text(max_size=6), st.sampled_from(["yEs", "0.", "-", "1_", "._"])))
@example("0o7")
@example("+.5e3")
@example("1:20")
@example("190:20:30.15")
@example("0b_")
@example("685.230_15e+03")
def test_what_is_accepted_means_the_same_to_a_yaml_1_1_reader(text: str) -> None:
    """The resolver of PyYAML follows YAML 1.1: an independent reading of the same word."""
    assume(text not in ("!", "&", "*"))  # no parser gives these as a plain text
    found = plain_scalar(text)
    if isinstance(found, Refusal):
        return
    tag = yaml.SafeLoader("").resolve(yaml.ScalarNode, text, (True, False))
    expected = {
        str: "tag:yaml.org,2002:str",
        int: "tag:yaml.org,2002:int",
        float: "tag:yaml.org,2002:float",
        bool: "tag:yaml.org,2002:bool",
    }
    assert tag == expected[type(found)]


def test_quoted_text_is_kept_as_it_is() -> None:
    assert syntax.quoted_scalar("on") == "on"
    assert syntax.quoted_scalar("") == ""
    assert syntax.quoted_scalar("two\nlines\tand a tab") == "two\nlines\tand a tab"


@pytest.mark.parametrize("character", ["\x00", "\x1b", "\x7f", "\x85", "\u202e", "\ufeff"])
def test_quoted_text_with_a_control_character_is_refused(character: str) -> None:
    found = syntax.quoted_scalar(f"a{character}b")
    assert isinstance(found, Refusal)
    assert f"U+{ord(character):04X}" in found.message


def test_places_are_told_in_any_order() -> None:
    lines = syntax.Lines("ab\ncd\n\nef")
    by_hand = {0: (1, 1), 1: (1, 2), 3: (2, 1), 4: (2, 2), 6: (3, 1), 7: (4, 1), 8: (4, 2)}
    for index in [*by_hand, *reversed(by_hand)]:
        assert lines.line_and_column(index) == by_hand[index]


def test_messages_show_long_and_strange_texts_shortened() -> None:
    assert syntax.shown("a\x1bb") == "'a\\x1bb'"
    assert len(syntax.shown("x" * 10_000)) < 100
    assert syntax.bare("é") == "\\xe9"
    assert len(syntax.bare("x" * 10_000)) < 100


def test_unknown_complaints_of_the_parser_are_passed_on() -> None:
    assert syntax.parser_message("found a surprise", "while testing") == (
        "not YAML: found a surprise while testing"
    )
