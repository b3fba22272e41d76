"""Rules on columns: shapes, legs, three-valued outcomes, independence of order, units and batch.

Expected numbers are arithmetic on the rules written here; the trapezoid oracle below is written
anew in plain Python, from the definition of the shapes.
"""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gearrec.attributes import built_in
from gearrec.catalog.rule_records import Rule
from gearrec.errors import CatalogError
from gearrec.rule_compiler import compile_rules
from gearrec.rule_legs import LegChoice, leg_mask
from gearrec.rule_trace import fill, trace_rules
from gearrec.rules import fold, score

METRICS = {
    name: SimpleNamespace(name=name, dimension=dimension, unit=unit, per_leg=per_leg)
    for name, dimension, unit, per_leg in (
        ("climb_speed", "speed", "m/s", False),
        ("tire_load", "share", "1", False),
        ("ratio", "ratio", "1", False),
        ("cruise", "engine_speed", "rpm", True),
        ("shifts", "", "1/100 km", True),
    )
}
TEXTS = {"what": "w", "why": "y", "when_to_doubt": "d"}
SOURCE = {"kind": "invented", "citation": "test", "confidence": "low"}


def rule(shape: Any, *, name: str = "one", **changes: Any) -> Rule:
    verdict = changes.pop("verdict", "preference")
    says, expect, weight = {
        "preference": ({"good": "{value}", "poor": "{value}"}, {"score": 1.0}, {"weight": 1}),
        "limit": ({"limit": "{value}"}, {"passes": True}, {}),
        "caution": ({"caution": "{value}"}, {"fires": True}, {}),
    }[verdict]
    record: dict[str, Any] = {
        "id": f"test/{name}",
        "title": name,
        "since": "0.1.0",
        "verdict": verdict,
        "metric": "climb_speed",
        "shape": shape,
        "says": says,
        "example": {"words": "x", "value": "1 m/s", "expect": expect},
        "source": SOURCE,
        **TEXTS,
        **weight,
        **changes,
    }
    return Rule.model_validate({key: value for key, value in record.items() if value is not None})


def legs(
    *,
    share: Any = (1.0,),
    speed: Any = None,
    mass: Any = None,
    deviation: Any = None,
    towing: Any = None,
    low: Any = None,
    known: Any = None,
    lanes: int = 1,
) -> SimpleNamespace:
    number = len(share)

    def column(values: Any, default: float, kind: Any = np.float64) -> Any:
        filled = [default] * number if values is None else values
        return np.repeat(np.array(filled, dtype=kind)[:, None], lanes, axis=1)

    return SimpleNamespace(
        leg_known=column(known, True, np.bool_),
        leg_share=column(share, 1.0),
        leg_speed_mps=column(speed, 25.0),
        leg_grade_deviation=column(deviation, 0.0),
        leg_towing=column(towing, False, np.bool_),
        leg_low_range=column(low, False, np.bool_),
        mass_kg=column(mass, 2000.0),
    )


def compiled(*rules: Rule) -> Any:
    return compile_rules([(each, 1.0) for each in rules], metrics=METRICS, attributes=built_in())


def one_score(shape: Any, value: float, *, metric: str = "climb_speed", **attributes: Any) -> float:
    columns = {metric: np.array([[value]])}
    found = score(compiled(rule(shape, metric=metric)), columns, attributes, legs())
    return float(found.score[0, 0, 0])


def trapezoid(edges: tuple[float, float, float, float], x: float) -> float:
    a, b, c, d = edges
    if x <= a or x >= d:
        return 0.0
    if x < b:
        return (x - a) / (b - a)
    return 1.0 if x <= c else (d - x) / (d - c)


BAND = {
    "band": {
        "zero_below": "10 m/s",
        "full_from": "20 m/s",
        "full_to": "30 m/s",
        "zero_above": "50 m/s",
    }
}


@pytest.mark.parametrize(
    ("shape", "value", "expected"),
    [
        (BAND, 10.0, 0.0),
        (BAND, 15.0, 0.5),
        (BAND, 20.0, 1.0),
        (BAND, 30.0, 1.0),
        (BAND, 45.0, 0.25),
        (BAND, 99.0, 0.0),
        ({"at_least": {"zero": "10 m/s", "full": "20 m/s"}}, 12.5, 0.25),
        ({"at_least": {"zero": "10 m/s", "full": "20 m/s"}}, 9e9, 1.0),
        ({"at_most": {"full": "10 m/s", "zero": "20 m/s"}}, 12.5, 0.75),
        ({"at_most": {"full": "10 m/s", "zero": "20 m/s"}}, -9e9, 1.0),
        (
            {"near": {"target": "20 m/s", "full_within": "1 m/s", "zero_beyond": "3 m/s"}},
            22.0,
            0.5,
        ),
        (
            {
                "near": {
                    "target": "20 m/s",
                    "full_within": "0 m/s",
                    "zero_below": "10 m/s",
                    "zero_above": "2 m/s",
                }
            },
            15.0,
            0.5,
        ),
    ],
)
def test_shape(shape: Any, value: float, expected: float) -> None:
    # source: arithmetic on the definition of the shapes
    assert one_score(shape, value) == pytest.approx(expected, abs=1e-12)


def test_near_on_a_ratio_scale_takes_distance_in_the_logarithm() -> None:
    shape = {"near": {"target": 4.0, "scale": "ratio", "full_within": "0 %", "zero_beyond": "20 %"}}
    above = one_score(shape, 4.0 * math.exp(0.1), metric="ratio")
    below = one_score(shape, 4.0 / math.exp(0.1), metric="ratio")
    assert above == pytest.approx(0.5)
    assert below == pytest.approx(0.5)
    assert math.isnan(one_score(shape, math.nan, metric="ratio"))
    assert math.isnan(one_score(shape, -1.0, metric="ratio"))


speeds = st.floats(min_value=0.0, max_value=100.0, allow_nan=False)
edge_lists = st.lists(
    st.integers(min_value=0, max_value=900), min_size=4, max_size=4, unique=True
).map(lambda tenths: [tenth / 10 for tenth in sorted(tenths)])


def band(edges: list[float]) -> dict[str, Any]:
    names = ("zero_below", "full_from", "full_to", "zero_above")
    return {"band": {name: f"{edge:g} m/s" for name, edge in zip(names, edges, strict=True)}}


@given(edge_lists, speeds)
@settings(max_examples=60, deadline=None)
def test_a_score_is_the_trapezoid_and_lies_between_zero_and_one(
    edges: list[float], value: float
) -> None:
    found = one_score(band(edges), value)
    assert 0.0 <= found <= 1.0
    assert found == pytest.approx(trapezoid(tuple(edges), value), abs=1e-9)


@given(edge_lists, speeds, st.floats(min_value=0.0, max_value=1.0))
@settings(max_examples=60, deadline=None)
def test_a_score_is_continuous(edges: list[float], value: float, step: float) -> None:
    steepest = 1.0 / min(edges[1] - edges[0], edges[3] - edges[2])
    change = abs(one_score(band(edges), value + step) - one_score(band(edges), value))
    assert change <= step * steepest + 1e-9


@given(edge_lists, speeds, speeds)
@settings(max_examples=60, deadline=None)
def test_at_least_never_falls_and_at_most_never_rises(
    edges: list[float], first: float, second: float
) -> None:
    low, high = sorted((first, second))
    zero, full = f"{edges[0]:g} m/s", f"{edges[1]:g} m/s"
    more = {"at_least": {"zero": zero, "full": full}}
    less = {"at_most": {"full": zero, "zero": full}}
    assert one_score(more, low) <= one_score(more, high)
    assert one_score(less, low) >= one_score(less, high)


@given(edge_lists, speeds)
@settings(max_examples=40, deadline=None)
def test_the_unit_of_an_edge_does_not_matter(edges: list[float], value: float) -> None:
    names = ("zero_below", "full_from", "full_to", "zero_above")
    other = {
        "band": {name: f"{edge * 3.6:.10f} km/h" for name, edge in zip(names, edges, strict=True)}
    }
    assert one_score(other, value) == pytest.approx(one_score(band(edges), value), abs=1e-7)


def test_a_computed_edge_follows_attributes_and_bounds() -> None:
    shape = {
        "at_least": {
            "zero": "0 m/s",
            "full": {"base": "10 m/s", "plus": {"use_towing": "20 m/s"}, "most": "25 m/s"},
        }
    }
    assert one_score(shape, 10.0, use_towing=0.0) == pytest.approx(1.0)
    assert one_score(shape, 10.0, use_towing=0.5) == pytest.approx(0.5)
    assert one_score(shape, 10.0, use_towing=1.0) == pytest.approx(0.4)
    assert math.isnan(one_score(shape, 10.0, use_towing=math.nan))
    assert math.isnan(one_score(shape, 10.0))


def test_an_edge_can_be_an_attribute_times_a_number() -> None:
    shape = {
        "at_most": {
            "full": {"of": "engine_cruise_high", "times": 0.5, "plus": {"use_towing": "-100 rpm"}},
            "zero": {"of": "engine_cruise_high"},
        }
    }
    each = rule(shape, metric="cruise", legs="each")
    columns = {"cruise": np.array([[[1450.0]]])}
    given_attributes = {"engine_cruise_high": 2000.0, "use_towing": 1.0}
    found = score(compiled(each), columns, given_attributes, legs())
    assert found.edges[2:, 0, 0].tolist() == [900.0, 2000.0]
    assert found.score[0, 0, 0] == pytest.approx(550.0 / 1100.0)


def test_computed_edges_that_cross_make_the_rule_unknown_and_say_so() -> None:
    shape = {
        "at_least": {
            "zero": "10 m/s",
            "full": {"base": "12 m/s", "plus": {"use_towing": "-5 m/s"}},
        }
    }
    rules = compiled(rule(shape))
    columns = {"climb_speed": np.array([[11.0, 11.0]])}
    attributes = {"use_towing": np.array([0.0, 1.0])}
    found = score(rules, columns, attributes, legs(lanes=2))
    assert found.known[0, 0].tolist() == [True, False]
    assert found.score[0, 0, 0] == pytest.approx(0.5)
    (line,) = trace_rules(
        found,
        candidate=0,
        lane=1,
        columns=columns,
        attributes=attributes,
        legs=legs(lanes=2),
    )
    assert "out of order" in line.reason


@pytest.mark.parametrize(
    ("condition", "value", "applies"),
    [
        ({"attribute": "engine_fuel", "is": "gasoline"}, 1.0, True),
        ({"attribute": "engine_fuel", "is": "diesel"}, 1.0, False),
        ({"attribute": "engine_fuel", "is_not": "diesel"}, 1.0, True),
        ({"attribute": "has_low_range", "is": True}, 0.0, False),
        ({"attribute": "use_towing", "at_least": "20 %"}, 0.2, True),
        ({"attribute": "use_towing", "above": "20 %"}, 0.2, False),
        ({"attribute": "use_towing", "at_most": "20 %"}, 0.2, True),
        ({"attribute": "use_towing", "below": "20 %"}, 0.2, False),
        ({"attribute": "power_per_mass", "below": "40 kW/t"}, 39.0, True),
        ({"attribute": "gear_count", "at_most": 6}, 8.0, False),
    ],
)
def test_condition(condition: dict[str, Any], value: float, applies: bool) -> None:
    rules = compiled(rule(BAND, when=[condition]))
    columns = {"climb_speed": np.array([[25.0]])}
    found = score(rules, columns, {condition["attribute"]: value}, legs())
    assert found.applies[0, 0] == applies
    assert found.known[0, 0, 0] == applies


def test_an_unknown_condition_makes_a_rule_unknown_unless_another_one_is_false() -> None:
    conditions = [
        {"attribute": "use_towing", "at_least": "50 %"},
        {"attribute": "engine_fuel", "is": "diesel"},
    ]
    rules = compiled(rule(BAND, when=conditions))
    columns = {"climb_speed": np.full((1, 3), 25.0)}
    attributes = {
        "use_towing": np.array([np.nan, np.nan, 0.9]),
        "engine_fuel": np.array([0.0, 1.0, 0.0]),
    }
    found = score(rules, columns, attributes, legs(lanes=3))
    assert found.applies[0].tolist() == [True, False, True]
    assert found.known[0, 0].tolist() == [False, False, True]


@pytest.mark.parametrize(
    ("shape", "value", "passed", "failed"),
    [
        ({"at_most": {"limit": "75 %"}}, 0.75, True, False),
        ({"at_most": {"limit": "75 %"}}, 0.7500001, False, True),
        ({"at_least": {"limit": "75 %"}}, 0.75, True, False),
        ({"at_least": {"limit": "75 %"}}, 0.7, False, True),
        ({"at_least": {"limit": "75 %"}}, math.nan, False, False),
    ],
)
def test_a_limit_passes_fails_or_is_unknown(
    shape: Any, value: float, passed: bool, failed: bool
) -> None:
    rules = compiled(rule(shape, verdict="limit", metric="tire_load"))
    found = score(rules, {"tire_load": np.array([[value]])}, {}, legs())
    assert bool(found.passed[0, 0, 0]) == passed
    assert bool(found.failed[0, 0, 0]) == failed
    assert bool(found.ruled_out[0, 0]) == failed
    assert bool(found.limits_unknown[0, 0]) == math.isnan(value)


def test_one_leg_that_breaks_a_limit_settles_it_whatever_else_is_unknown() -> None:
    limit = rule({"at_most": {"limit": "2000 rpm"}}, verdict="limit", metric="cruise", legs="each")
    columns = {
        "cruise": np.array([[[2100.0], [np.nan]], [[1900.0], [np.nan]], [[1900.0], [2000.0]]])
    }
    found = score(compiled(limit), columns, {}, legs(share=(0.5, 0.5)))
    assert found.failed[0, :, 0].tolist() == [True, False, False]
    assert found.passed[0, :, 0].tolist() == [False, False, True]
    assert found.limits_unknown[:, 0].tolist() == [False, True, False]


def test_a_caution_fires_on_one_leg_or_on_its_conditions_alone() -> None:
    crossing = rule(
        {"at_least": {"limit": "2000 rpm"}},
        name="crossing",
        verdict="caution",
        metric="cruise",
        legs="each",
    )
    bare = rule(
        "none",
        name="bare",
        verdict="caution",
        metric=None,
        when=[{"attribute": "use_towing", "above": "0 %"}],
    )
    columns = {"cruise": np.array([[[1900.0], [2000.0]], [[1900.0], [1999.0]]])}
    rules = compiled(crossing, bare)
    for towing, speaks in ((0.1, True), (0.0, False)):
        found = score(rules, columns, {"use_towing": towing}, legs(share=(0.5, 0.5)))
        fired = dict(zip([each.id for each in rules.rules], found.fired, strict=True))
        assert fired["test/crossing"][:, 0].tolist() == [True, False]
        assert fired["test/bare"][:, 0].tolist() == [speaks, speaks]


LEG_VALUES = [1200.0, 1500.0, 1900.0, 2300.0]
CRUISE_BAND = {
    "band": {
        "zero_below": "1000 rpm",
        "full_from": "1400 rpm",
        "full_to": "2000 rpm",
        "zero_above": "2600 rpm",
    }
}


@pytest.mark.parametrize(
    ("role", "only", "expected"),
    [
        # scores of the four legs: 0.5, 1, 1, 0.5
        ("each", None, 0.5),
        ("weighted", None, 0.5 * 0.1 + 0.2 + 0.3 + 0.5 * 0.4),
        ("fastest", None, 1.0),
        ("slowest", None, 0.5),
        ("heaviest", None, 1.0),
        ("steepest", None, 0.5),
        ("towing", None, 0.5),
        ("each", {"towing": False}, 0.5),
        ("each", {"range": "low"}, 1.0),
        ("each", {"speed_at_least": "20 m/s", "speed_below": "31 m/s"}, 1.0),
        ("weighted", {"range": "high"}, (0.5 * 0.1 + 0.3 + 0.5 * 0.4) / 0.8),
    ],
)
def test_role_of_legs(role: str, only: Any, expected: float) -> None:
    # source: arithmetic on the trapezoid
    use = legs(
        share=(0.1, 0.2, 0.3, 0.4),
        speed=(10.0, 20.0, 30.0, 10.0),
        mass=(2000.0, 4000.0, 4000.0, 2000.0),
        deviation=(0.0, 0.0, 0.01, 0.04),
        towing=(False, True, True, True),
        low=(False, True, False, False),
    )
    rules = compiled(rule(CRUISE_BAND, metric="cruise", legs=role, only_legs=only))
    columns = {"cruise": np.array(LEG_VALUES)[None, :, None]}
    found = score(rules, columns, {}, use)
    assert found.score[0, 0, 0] == pytest.approx(expected)
    (line,) = trace_rules(found, candidate=0, lane=0, columns=columns, attributes={}, legs=use)
    if role != "weighted":
        assert line.leg is not None
        edges = (1000.0, 1400.0, 2000.0, 2600.0)
        assert trapezoid(edges, LEG_VALUES[line.leg]) == pytest.approx(expected)
        assert line.value == LEG_VALUES[line.leg]


def test_an_average_that_explains_nothing_gives_way_to_the_leg_that_costs_most() -> None:
    # Arithmetic: legs at 1,000 rpm (score 0) and 1,800 (score 1) average 1,400, where the full
    # score starts, but score 0.5: the average would be no reason.
    only = rule(CRUISE_BAND, metric="cruise", legs="weighted")
    use = legs(share=(0.5, 0.5), speed=(20.0, 30.0))
    columns = {"cruise": np.array([[[1000.0], [1800.0]], [[1200.0], [1200.0]]])}
    found = score(compiled(only), columns, {}, use)
    mixed, even = (
        trace_rules(found, candidate=place, lane=0, columns=columns, attributes={}, legs=use)[0]
        for place in (0, 1)
    )
    assert mixed.score == pytest.approx(0.5)
    assert (mixed.value, mixed.leg, mixed.voice) == (1000.0, 0, "poor")
    assert (even.value, even.leg) == (pytest.approx(1200.0), None)


def test_a_rule_without_a_leg_to_look_at_does_not_apply() -> None:
    rules = compiled(rule(CRUISE_BAND, metric="cruise", legs="towing"))
    columns = {"cruise": np.full((1, 1, 1), 1500.0)}
    found = score(rules, columns, {}, legs())
    assert not found.applies[0, 0]
    (line,) = trace_rules(found, candidate=0, lane=0, columns=columns, attributes={}, legs=legs())
    assert line.state == "does-not-apply"
    assert "no leg" in line.reason
    assert line.template == ""


def test_padded_legs_never_count() -> None:
    use = legs(share=(1.0, 0.0), speed=(20.0, 90.0), known=(True, False))
    for role in ("each", "weighted", "fastest", "slowest"):
        rules = compiled(rule(CRUISE_BAND, metric="cruise", legs=role))
        found = score(rules, {"cruise": np.array([[[1500.0], [np.nan]]])}, {}, use)
        assert found.score[0, 0, 0] == 1.0, role


def test_a_weight_is_never_negative_and_takes_its_factor() -> None:
    each = rule(BAND, weight={"base": 1, "plus": {"use_towing": -4, "goal_economy": 0.5}})
    rules = compile_rules([(each, 2.0)], metrics=METRICS, attributes=built_in())
    columns = {"climb_speed": np.full((1, 3), 25.0)}
    attributes = {
        "use_towing": np.array([0.0, 1.0, np.nan]),
        "goal_economy": np.array([1.0, 1.0, 1.0]),
    }
    found = score(rules, columns, attributes, legs(lanes=3))
    assert found.weight[0, :2].tolist() == [3.0, 0.0]
    assert found.known[0, 0].tolist() == [True, True, False]


def many_rules() -> list[Rule]:
    shapes: list[tuple[Any, dict[str, Any]]] = [
        (BAND, {}),
        (
            {
                "at_least": {
                    "zero": "10 m/s",
                    "full": {"base": "20 m/s", "plus": {"use_towing": "5 m/s"}},
                }
            },
            {"weight": {"base": 1, "plus": {"use_towing": 2}}},
        ),
        (CRUISE_BAND, {"metric": "cruise", "legs": "weighted"}),
        (CRUISE_BAND, {"metric": "cruise", "legs": "each"}),
        (
            {"at_most": {"full": "10 1/100 km", "zero": "80 1/100 km"}},
            {"metric": "shifts", "legs": "weighted", "only_legs": {"towing": True}},
        ),
        (
            {
                "near": {
                    "target": 4.0,
                    "scale": "ratio",
                    "full_within": "1 %",
                    "zero_beyond": "20 %",
                }
            },
            {"metric": "ratio"},
        ),
        ({"at_most": {"limit": "90 %"}}, {"metric": "tire_load", "verdict": "limit"}),
        (
            {"at_least": {"limit": "1200 rpm"}},
            {"metric": "cruise", "legs": "slowest", "verdict": "limit"},
        ),
        (
            {"at_least": {"limit": "80 %"}},
            {
                "metric": "tire_load",
                "verdict": "caution",
                "when": [{"attribute": "use_towing", "above": "30 %"}],
            },
        ),
    ]
    return [
        rule(shape, name=f"rule-{number}", **changes)
        for number, (shape, changes) in enumerate(shapes)
    ]


def random_batch(candidates: int = 5, leg_count: int = 4, lanes: int = 37) -> Any:
    random = np.random.default_rng(7)

    def values(low: float, high: float, *shape: int) -> Any:
        drawn = random.uniform(low, high, shape)
        drawn[random.random(shape) < 0.05] = np.nan
        return drawn

    columns = {
        "climb_speed": values(5, 60, candidates, lanes),
        "tire_load": values(0.5, 1.2, candidates, lanes),
        "ratio": values(3, 5, candidates, lanes),
        "cruise": values(900, 2800, candidates, leg_count, lanes),
        "shifts": values(0, 100, candidates, leg_count, lanes),
    }
    use = legs(
        share=(0.4, 0.3, 0.2, 0.1),
        speed=(30.0, 25.0, 12.0, 20.0),
        towing=(False, True, False, True),
        lanes=lanes,
    )
    return columns, {"use_towing": random.random(lanes)}, use


def part(columns: Any, attributes: Any, use: Any, lanes: Any) -> Any:
    return (
        {name: np.ascontiguousarray(column[..., lanes]) for name, column in columns.items()},
        {name: column[lanes] for name, column in attributes.items()},
        SimpleNamespace(**{key: value[:, lanes] for key, value in vars(use).items()}),
    )


FIELDS = ("applies", "known", "score", "weight", "passed", "failed", "fired", "edges")


def test_one_lane_and_a_batch_give_identical_numbers() -> None:
    columns, attributes, use = random_batch()
    rules = compiled(*many_rules())
    batch = score(rules, columns, attributes, use)
    for lane in range(37):
        single = score(rules, *part(columns, attributes, use, slice(lane, lane + 1)))
        for name in FIELDS:
            np.testing.assert_array_equal(
                getattr(batch, name)[..., lane : lane + 1], getattr(single, name), err_msg=name
            )


def test_the_order_of_rules_candidates_and_legs_does_not_matter() -> None:
    columns, attributes, use = random_batch()
    forward = score(compiled(*many_rules()), columns, attributes, use)
    backward = score(compiled(*reversed(many_rules())), columns, attributes, use)
    np.testing.assert_array_equal(forward.score, backward.score)
    turned = {name: column[::-1] for name, column in columns.items()}
    for name in ("cruise", "shifts"):
        turned[name] = turned[name][:, ::-1]
    use_turned = SimpleNamespace(**{key: value[::-1] for key, value in vars(use).items()})
    other = score(compiled(*many_rules()), turned, attributes, use_turned)
    np.testing.assert_allclose(other.score[:, ::-1], forward.score, rtol=1e-13)
    np.testing.assert_array_equal(other.failed[:, ::-1], forward.failed)
    np.testing.assert_array_equal(other.fired[:, ::-1], forward.fired)


def test_scores_are_where_known_and_nowhere_else() -> None:
    columns, attributes, use = random_batch()
    found = score(compiled(*many_rules()), columns, attributes, use)
    number = found.score.shape[0]
    np.testing.assert_array_equal(~np.isnan(found.score), found.known[:number])
    inside = found.score[found.known[:number]]
    assert inside.min() >= 0.0
    assert inside.max() <= 1.0
    assert not (found.passed & found.failed).any()


def test_traces_agree_with_the_columns() -> None:
    columns, attributes, use = random_batch()
    rules = compiled(*many_rules())
    found = score(rules, columns, attributes, use)
    for lane in range(10):
        lines = trace_rules(
            found,
            candidate=2,
            lane=lane,
            columns=columns,
            attributes=attributes,
            legs=use,
            reasons={"climb_speed": "no torque curve"},
        )
        total = 0.0
        for place, line in enumerate(lines):
            assert (line.state == "known") == bool(found.known[place, 2, lane])
            assert (line.state == "known") == (line.reason == "")
            if line.score is not None:
                assert line.score == found.score[place, 2, lane]
                total += line.contribution or 0.0
        known = found.known[: rules.preferences, 2, lane]
        weight = found.weight[known, lane]
        mean = (weight * found.score[known, 2, lane]).sum() / weight.sum()
        assert total == pytest.approx(mean)
    assert rules.index("rule-3") == rules.index("test/rule-3")
    with pytest.raises(KeyError):
        rules.index("rule-99")


def test_a_trace_speaks_the_sentence_that_fits() -> None:
    limit = rule({"at_most": {"limit": "75 %"}}, verdict="limit", metric="tire_load")
    columns = {"tire_load": np.array([[0.8], [0.7]])}
    found = score(compiled(limit), columns, {}, legs())
    broken, kept = (
        trace_rules(
            found, candidate=candidate, lane=0, columns=columns, attributes={}, legs=legs()
        )[0]
        for candidate in (0, 1)
    )
    assert (broken.voice, kept.voice) == ("limit", "")
    assert broken.edge == 0.75
    assert fill(broken.template, {"value": "80 %"}) == "80 %"
    assert fill(broken.template, {}) == "not known"


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"metric": "climb_sped"}, ["unknown metric", "climb_speed"]),
        ({"shape": {"at_least": {"zero": "1 kg", "full": "2 m/s"}}}, ["kg", "mph"]),
        ({"shape": {"at_least": {"zero": 1, "full": "2 m/s"}}}, ["no unit", "mph"]),
        ({"shape": {"at_least": {"zero": "3 m/s", "full": "2 m/s"}}}, ["out of order", "zero <"]),
        (
            {
                "shape": {
                    "near": {"target": "3 m/s", "full_within": "2 m/s", "zero_beyond": "1 m/s"}
                }
            },
            ["distances out of order"],
        ),
        ({"legs": "each"}, ["not computed per leg"]),
        ({"metric": "cruise", "shape": CRUISE_BAND}, ["per leg", "weighted"]),
        ({"when": [{"attribute": "use_tow", "above": "1 %"}]}, ["unknown attribute", "use_towing"]),
        ({"when": [{"attribute": "use_towing", "is": True}]}, ["does not fit", "at_least"]),
        ({"when": [{"attribute": "engine_fuel", "is": "petrol"}]}, ["petrol", "gasoline"]),
        ({"when": [{"attribute": "engine_fuel", "above": 3}]}, ["does not fit", "is_not"]),
        ({"when": [{"attribute": "use_towing", "above": 0.2}]}, ["no unit", "%"]),
        ({"when": [{"attribute": "power_per_mass", "above": "4 kg"}]}, ["kW/t"]),
        ({"weight": {"base": 1, "plus": {"engine_idle": 1}}}, ["no share", "use_towing"]),
        ({"weight": "2 kg"}, ["bare number"]),
        (
            {"shape": {"at_least": {"zero": {"of": "engine_idle"}, "full": "2 m/s"}}},
            ["engine_speed", "speed"],
        ),
        (
            {
                "shape": {
                    "at_least": {
                        "zero": {"base": "1 m/s", "least": "4 m/s", "most": "2 m/s"},
                        "full": "9 m/s",
                    }
                }
            },
            ["above 'most'"],
        ),
        ({"source": None}, ["no source"]),
        (
            {
                "metric": "shifts",
                "legs": "each",
                "shape": {"at_most": {"full": "1 1/km", "zero": "2 1/100 km"}},
            },
            ["20 1/100 km"],
        ),
    ],
)
def test_a_bad_rule_says_what_is_wrong(changes: dict[str, Any], words: list[str]) -> None:
    with pytest.raises(CatalogError) as caught:
        compiled(rule(**{"shape": BAND, **changes}))
    for word in words:
        assert word in str(caught.value)
    assert "test/one" in str(caught.value)


def test_all_faults_of_all_rules_come_in_one_pass() -> None:
    first = rule(BAND, name="a", metric="nothing", when=[{"attribute": "no", "above": "1 %"}])
    second = rule({"at_least": {"zero": "1 kg", "full": "2 kg"}}, name="b")
    with pytest.raises(CatalogError) as caught:
        compiled(first, second)
    assert len(caught.value.problems) == 4


def test_a_difference_may_be_negative_but_not_in_a_reciprocal_unit() -> None:
    metrics = {
        "fuel": SimpleNamespace(name="fuel", dimension="fuel_use", unit="L/100km", per_leg=False)
    }
    shape = {
        "at_most": {
            "full": {"base": "25 mpg (US)", "plus": {"use_towing": "1 mpg (US)"}},
            "zero": "30 L/100km",
        }
    }
    with pytest.raises(CatalogError, match="difference"):
        compile_rules([(rule(shape, metric="fuel"), 1.0)], metrics=metrics, attributes=built_in())


def test_ties_for_a_role_are_all_taken() -> None:
    use = legs(share=(0.5, 0.3, 0.2), mass=(3000.0, 3000.0, 2000.0))
    assert leg_mask(LegChoice(role="heaviest"), use)[:, 0].tolist() == [True, True, False]


@given(st.integers(min_value=0, max_value=40))
def test_fold_is_a_sum(length: int) -> None:
    values = np.random.default_rng(length).random((length, 3))
    np.testing.assert_allclose(fold(values), values.sum(axis=0), rtol=1e-12)
