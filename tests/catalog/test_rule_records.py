"""Rule and rule-set records: what the models refuse, in the words of their errors."""

from __future__ import annotations

import copy
from typing import Any

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from gearrec.catalog.rule_records import PLACEHOLDERS, Rule, RuleSet
from gearrec.catalog.rule_sets import members
from gearrec.errors import CatalogError, UnknownRecordError

SOURCE = {"kind": "invented", "citation": "test", "confidence": "low"}
GOOD: dict[str, Any] = {
    "id": "test/one",
    "title": "One",
    "since": "0.1.0",
    "verdict": "preference",
    "metric": "gearing_change",
    "shape": {"at_least": {"zero": "1 %", "full": {"base": "3 %", "plus": {"use_towing": "2 %"}}}},
    "weight": {"base": 1.0, "plus": {"use_towing": 2}},
    "what": "What.",
    "why": "Why.",
    "when_to_doubt": "Doubt.",
    "example": {"words": "Words.", "value": "2 %", "expect": {"score": 0.5}},
    "says": {"good": "{value} at {ratio}.", "poor": "Only {value}."},
    "source": SOURCE,
}
LIMIT: dict[str, Any] = {
    "verdict": "limit",
    "shape": {"at_most": {"limit": "75 %"}},
    "weight": None,
    "says": {"limit": "Too much."},
    "example": {"words": "Words.", "value": "2 %", "expect": {"passes": True}},
}
CAUTION: dict[str, Any] = {
    "verdict": "caution",
    "metric": None,
    "shape": "none",
    "weight": None,
    "when": [{"attribute": "tires_grow", "is": True}],
    "says": {"caution": "Mind."},
    "example": {"words": "Words.", "expect": {"fires": True}},
}


def changed(**changes: Any) -> dict[str, Any]:
    merged = copy.deepcopy(GOOD) | changes
    return {key: value for key, value in merged.items() if value is not None}


def test_a_constant_reads_as_a_base() -> None:
    rule = Rule.model_validate(GOOD)
    side = rule.shape.at_least
    assert side is not None
    assert side.zero is not None
    assert side.zero.base == "1 %"
    assert Rule.model_validate(changed(weight=2)).weight.base == 2.0  # type: ignore[union-attr]


def test_limits_and_cautions_are_read() -> None:
    assert Rule.model_validate(changed(**LIMIT)).shape.is_limit
    bare = Rule.model_validate(changed(**CAUTION))
    assert bare.shape.form == "none"
    assert (bare.when[0].operator, bare.when[0].operand) == ("is", True)


@pytest.mark.parametrize("section", ["what", "why", "when_to_doubt", "example", "says", "since"])
def test_a_missing_section_fails(section: str) -> None:
    record = changed()
    del record[section]
    with pytest.raises(ValidationError, match=section):
        Rule.model_validate(record)


BAD = [
    ({"what": ""}, "at least 1 character"),
    ({"sinze": "1"}, "sinze"),
    ({"since": "first"}, "pattern"),
    ({"id": "nonamespace"}, "pattern"),
    ({"shape": "none"}, "needs a shape"),
    ({"shape": "band"}, "unknown shape"),
    ({"shape": {}}, "no shape"),
    (
        {"shape": {"at_least": {"zero": "1 %", "full": "2 %"}, "at_most": {"limit": "2 %"}}},
        "exactly",
    ),
    ({"shape": {"either": []}}, "either"),
    ({"shape": {"at_least": {"zero": "1 %"}}}, "exactly one of"),
    ({"shape": {"at_least": {"zero": "1 %", "full": "2 %", "limit": "3 %"}}}, "exactly one of"),
    ({"shape": {"at_least": {"limit": "3 %"}}}, "soft edges"),
    ({"shape": {"at_least": {"zero": "1 %", "full": {"either": ["2 %"]}}}}, "either"),
    ({"shape": {"at_least": {"zero": "1 %", "full": True}}}, "a mapping with"),
    ({"shape": {"at_least": {"zero": "1 %", "full": ["2 %"]}}}, "a mapping with"),
    (
        {"shape": {"at_least": {"zero": "1 %", "full": "2 % + use_towing * 3 and so on and on"}}},
        "unit",
    ),
    ({"shape": {"at_least": {"zero": "one %", "full": "2 %"}}}, "number with its unit"),
    (
        {"shape": {"at_least": {"zero": "1 %", "full": {"base": "1 %", "of": "x"}}}},
        "exactly one of",
    ),
    (
        {"shape": {"at_least": {"zero": "1 %", "full": {"base": "1 %", "times": 2}}}},
        "belongs to 'of'",
    ),
    ({"shape": {"at_least": {"zero": "1 %", "full": {"plus": {}}}}}, "exactly one of"),
    ({"shape": {"near": {"target": 3.85, "full_within": "1 %"}}}, "zero_beyond"),
    (
        {"shape": {"near": {"target": 3.85, "full_within": "1 %", "zero_below": "1 %"}}},
        "zero_below and zero_above",
    ),
    (
        {
            "shape": {
                "near": {"target": 3.85, "full_within": "1 %", "zero_beyond": "1 %", "scale": "log"}
            }
        },
        "linear",
    ),
    ({"weight": None}, "needs a 'weight'"),
    ({"weight": True}, "a mapping with"),
    ({"weight": float("nan")}, "number"),
    ({"metric": None}, "needs a 'metric'"),
    ({"metric": "Gearing-Change"}, "pattern"),
    ({"legs": "all"}, "weighted"),
    ({"only_legs": {"range": "low"}}, "needs 'legs'"),
    ({"legs": "each", "only_legs": {"speed_at_least": 40}}, "unit"),
    ({"when": [{"attribute": "use_towing"}]}, "exactly one of"),
    ({"when": [{"attribute": "a", "is": "b", "is_not": "c"}]}, "exactly one of"),
    ({"when": [{"attribute": "a", "equals": "b"}]}, "equals"),
    ({"when": [{"attribute": "a", "is": 3}]}, "a word"),
    ({"says": {"good": "x"}}, "exactly: good, poor"),
    ({"says": {"good": "{speed}", "poor": "x"}}, "unknown placeholder"),
    ({"says": {"good": "{value.real}", "poor": "x"}}, "unknown placeholder"),
    ({"says": {"good": "{value", "poor": "x"}}, "brace stands alone"),
    ({"example": {"words": "x", "expect": {"score": 0.5}}}, "needs a 'value' or 'legs'"),
    ({"example": {"words": "x", "value": "1 %", "expect": {"passes": True}}}, "needs 'score'"),
    ({"example": {"words": "x", "value": "1 %", "expect": {"score": 1.5}}}, "less than or equal"),
    ({"example": {"words": "x", "value": "1 %", "expect": {}}}, "exactly one of"),
    (
        {
            "example": {
                "words": "x",
                "value": "1 %",
                "legs": [{"value": "1 %", "share": "100 %"}],
                "expect": {"score": 1.0},
            }
        },
        "not both",
    ),
    (
        {
            "example": {
                "words": "x",
                "legs": [{"value": "1 %", "share": "100 %"}],
                "expect": {"score": 1.0},
            }
        },
        "rules with 'legs'",
    ),
    (LIMIT | {"shape": {"at_most": {"full": "1 %", "zero": "2 %"}}}, "at_least or at_most {limit}"),
    (LIMIT | {"weight": 1}, "only a preference"),
    (CAUTION | {"when": None}, "needs a 'when'"),
]


@pytest.mark.parametrize(("changes", "words"), BAD)
def test_a_bad_rule_is_refused_with_words_that_help(changes: dict[str, Any], words: str) -> None:
    with pytest.raises(ValidationError) as caught:
        Rule.model_validate(changed(**changes))
    assert words in str(caught.value)


def test_a_scalar_fault_is_reported_once_and_at_its_place() -> None:
    record = changed(shape={"at_least": {"zero": "1 %", "full": {"base": [1]}}})
    with pytest.raises(ValidationError) as caught:
        Rule.model_validate(record)
    (fault,) = caught.value.errors()
    assert fault["loc"] == ("shape", "at_least", "full", "base")


def test_placeholders_are_described() -> None:
    assert all(len(words) > 10 for words in PLACEHOLDERS.values())


SCHEMA = jsonschema.Draft202012Validator(Rule.model_json_schema())


def test_the_schema_is_a_schema_and_accepts_good_rules() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA.schema)
    for changes in ({}, LIMIT, CAUTION):
        SCHEMA.validate(changed(**changes))


# Faults across fields, which the schema leaves to the model.
_BEYOND_SCHEMA = (
    "needs a",
    "soft edges",
    "at_least or at_most",
    "only a preference",
    "needs 'legs'",
    "exactly: good",
    "needs 'score'",
    "rules with 'legs'",
    "number",
)


@pytest.mark.parametrize(
    ("changes", "words"),
    [case for case in BAD if not case[1].startswith(_BEYOND_SCHEMA)],
)
def test_the_schema_refuses_what_the_model_refuses(changes: dict[str, Any], words: str) -> None:
    assert not SCHEMA.is_valid(changed(**changes)), words


values = st.recursive(
    st.one_of(
        st.none(),
        st.booleans(),
        st.integers(min_value=-5, max_value=5),
        st.sampled_from(["1 %", "none", "use_towing", "x", ""]),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=2),
        st.dictionaries(
            st.sampled_from(["base", "of", "plus", "zero", "full", "limit", "at_least"]),
            inner,
            max_size=3,
        ),
    ),
    max_leaves=5,
)


@given(st.sampled_from(sorted(GOOD)), values)
@settings(max_examples=80, deadline=None)
def test_nonsense_is_refused_with_a_validation_error_only(key: str, value: Any) -> None:
    record = changed() | {key: value}
    try:
        Rule.model_validate(record)
    except ValidationError:
        return
    SCHEMA.validate(record)


def rule(name: str, **changes: Any) -> Rule:
    return Rule.model_validate(changed(id=f"test/{name}", **changes))


RULES = {
    each.id: each for each in (rule("a"), rule("b"), rule("c"), rule("d"), rule("limit", **LIMIT))
}


def rule_set(name: str, **keys: Any) -> RuleSet:
    return RuleSet.model_validate(
        {"id": f"test/{name}", "title": name, "purpose": "Test.", "source": SOURCE, **keys}
    )


BASE = rule_set("base", rules=["test/a", "test/b", "test/limit"], weights={"test/a": 2.0})


def found(*sets: RuleSet) -> dict[str, float]:
    by_id = {each.id: each for each in (BASE, *sets)}
    chosen = (sets or (BASE,))[-1].id
    return {each.id: factor for each, factor in members(chosen, rule_sets=by_id, rules=RULES)}


def test_a_set_lists_its_rules_with_factors() -> None:
    assert found() == {"test/a": 2.0, "test/b": 1.0, "test/limit": 1.0}


def test_a_set_can_drop_replace_add_and_weigh() -> None:
    changed_set = rule_set(
        "shop",
        extends="test/base",
        drop=["test/b"],
        replace={"test/a": "test/c"},
        add=["test/d"],
        weights={"test/c": 1.5, "test/d": 0.5},
    )
    assert found(changed_set) == {"test/c": 3.0, "test/d": 0.5, "test/limit": 1.0}


def test_sets_build_on_one_another() -> None:
    first = rule_set("first", extends="test/base", add=["test/c"])
    second = rule_set("second", extends="test/first", drop=["test/c"], weights={"test/b": 2.0})
    assert found(first, second) == {"test/a": 2.0, "test/b": 2.0, "test/limit": 1.0}


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({"drop": ["test/c"]}, ["drop", "'test/c' is not in the set"]),
        ({"replace": {"test/c": "test/d"}}, ["replace.test/c", "not in the set"]),
        ({"replace": {"test/a": "test/b"}}, ["already in the set"]),
        ({"replace": {"test/a": "test/x"}}, ["no rule 'test/x'"]),
        ({"add": ["test/a"]}, ["add[0]", "already in the set"]),
        ({"add": ["test/e"]}, ["no rule 'test/e'", "did you mean"]),
        ({"weights": {"test/c": 2.0}}, ["weights.test/c", "not in the set"]),
        ({"weights": {"test/limit": 2.0}}, ["is a limit: no weight"]),
        ({"extends": "test/bass", "add": ["test/c"]}, ["no rule set 'test/bass'", "test/base"]),
        ({"extends": "test/shop", "add": ["test/c"]}, ["extends itself"]),
    ],
)
def test_a_change_that_changes_nothing_is_an_error(keys: dict[str, Any], words: list[str]) -> None:
    with pytest.raises(CatalogError) as caught:
        found(rule_set("shop", **{"extends": "test/base", **keys}))
    for word in words:
        assert word in str(caught.value)


def test_all_faults_of_a_set_come_in_one_pass() -> None:
    bad = rule_set("shop", extends="test/base", drop=["test/c"], add=["test/a", "test/x"])
    with pytest.raises(CatalogError) as caught:
        found(bad)
    assert len(caught.value.problems) == 3


def test_an_unknown_set_is_named_with_those_that_exist() -> None:
    with pytest.raises(UnknownRecordError, match="test/base"):
        members("test/bas", rule_sets={BASE.id: BASE}, rules=RULES)


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({}, "needs 'rules' or 'extends'"),
        ({"rules": ["test/a"], "add": ["test/b"]}, "only with 'extends'"),
        ({"rules": ["test/a"], "extends": "test/base"}, "not both"),
        ({"rules": ["test/a"], "weights": {"test/a": -1.0}}, "greater than or equal"),
    ],
)
def test_a_bad_set_is_refused(keys: dict[str, Any], words: str) -> None:
    with pytest.raises(ValidationError, match=words):
        rule_set("bad", **keys)


def test_a_renamed_rule_is_found_by_its_earlier_id() -> None:
    renamed = Rule.model_validate(changed(id="test/new", aliases=("test/old",)))
    base = rule_set("base", rules=["test/old"])
    shop = rule_set("shop", extends="test/base", weights={"test/old": 2.0})
    result = members(
        "test/shop",
        rule_sets={each.id: each for each in (base, shop)},
        rules={renamed.id: renamed},
    )
    assert [(each.id, factor) for each, factor in result] == [("test/new", 2.0)]
