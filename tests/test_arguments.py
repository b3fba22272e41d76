from __future__ import annotations

import inspect
import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from gearrec import air, driveline, gearing, road_load
from gearrec.arguments import ABOVE_ZERO, ANY, EFFICIENCY, ZERO_OR_MORE, numbers
from gearrec.errors import GearrecError, InputError

if TYPE_CHECKING:
    from collections.abc import Callable

FORMULAS = [
    pytest.param(function, id=f"{module.__name__.partition('.')[2]}.{name}")
    for module in (air, driveline, gearing, road_load)
    for name, function in vars(module).items()
    if inspect.isfunction(function)
    and function.__module__ == module.__name__
    and not name.startswith("_")
]


def test_numbers_come_back_in_order_as_float64() -> None:
    first, second = numbers(first=(3, ANY), second=([1, 2], ABOVE_ZERO))
    assert first == 3.0
    assert first.dtype == second.dtype == np.float64
    assert second.tolist() == [1.0, 2.0]


def test_nan_is_unknown_and_passes() -> None:
    (value,) = numbers(value=(math.nan, ABOVE_ZERO))
    assert math.isnan(value)


def test_all_arguments_at_fault_are_named_at_once() -> None:
    with pytest.raises(InputError) as caught:
        numbers(
            mass_kg=([[1.0, 2.0], [3.0, -4.0]], ABOVE_ZERO),
            grade=(math.inf, ANY),
            efficiency=(1.01, EFFICIENCY),
            speed_mps=(5.0, ZERO_OR_MORE),
        )
    assert [str(problem) for problem in caught.value.problems] == [
        "efficiency: 1.01 is not allowed; allowed: above 0, at most 1",
        "grade: inf is not allowed; allowed: any finite number",
        "mass_kg[1, 1]: -4 is not allowed; allowed: a number above 0",
    ]


@pytest.mark.parametrize("given", ["3.85", None, True, [1.0, None], 1j])
def test_what_is_no_number_is_refused(given: Any) -> None:
    with pytest.raises(InputError, match=r"axle_ratio: .* is not a number; allowed: "):
        numbers(axle_ratio=(given, ABOVE_ZERO))


@pytest.mark.parametrize("value", [0.0, -1e-300, -math.inf, math.inf])
def test_above_zero_excludes_zero_and_infinity(value: float) -> None:
    with pytest.raises(InputError, match="a number above 0"):
        numbers(value=(value, ABOVE_ZERO))


def test_zero_or_more_includes_zero() -> None:
    assert numbers(value=(0.0, ZERO_OR_MORE)) == (0.0,)


def test_an_empty_array_has_nothing_to_refuse() -> None:
    (value,) = numbers(value=(np.empty((0, 3)), ABOVE_ZERO))
    assert value.shape == (0, 3)


@pytest.mark.parametrize("formula", FORMULAS)
def test_formula_is_keyword_only_and_documents_each_parameter(
    formula: Callable[..., Any],
) -> None:
    text = inspect.getdoc(formula) or ""
    for name, parameter in inspect.signature(formula).parameters.items():
        assert parameter.kind is inspect.Parameter.KEYWORD_ONLY, name
        assert name in text.partition("Parameters")[2], name


# A plausible value for each parameter of the formulas; invented.
PLAUSIBLE: dict[str, float] = {
    "efficiency": 0.9,
    "tongue_share": 0.12,
    "friction_coefficient": 0.8,
    "rolling_coefficient": 0.01,
    "altitude_m": 1500.0,
    "temperature_k": 300.0,
    "joint_angle_rad": 0.05,
    "grade": 0.05,
    "overall_ratio": 4.0,
    "inner_diameter_m": 0.09,
    "outer_diameter_m": 0.1,
    "speedometer_error": -0.05,
    "driveline_drag_n": 1.0,
    "rolling_coefficient_before": 0.01,
    "rolling_coefficient_after": 0.013,
    "pieces": 1.0,
}
EXTRA: dict[str, Any] = {
    "material": "steel",
    "body": "van",
    "tire_type": "highway",
    "sensor_before_axle": True,
    "load": road_load.from_drag_area(
        mass_kg=2000.0, rolling_coefficient=0.01, drag_area_m2=1.3, air_density_kg_per_m3=1.2
    ),
}
EXTRA["vehicle"] = EXTRA["load"]
WHOLE = {"mesh_pattern", "pinion_turns_to_repeat", "typical_rolling_coefficient"}
# A force above the weight would hold no finite grade, a small area not even the rolling.
PARTICULAR: dict[str, dict[str, float]] = {
    "grade_held": {"force_n": 700.0, "mass_kg": 2000.0},
    "default_drag_area_m2": {"frontal_area_m2": 3.0, "mass_kg": 2000.0},
}
ARRAY_FORMULAS = [each for each in FORMULAS if each.id.partition(".")[2] not in WHOLE]  # type: ignore[union-attr]


def _arguments(formula: Callable[..., Any]) -> tuple[dict[str, float], dict[str, Any]]:
    names = inspect.signature(formula).parameters
    special = PARTICULAR.get(formula.__name__, {})
    plain = {
        name: special.get(name, PLAUSIBLE.get(name, 2.5)) for name in names if name not in EXTRA
    }
    return plain, {name: EXTRA[name] for name in names if name in EXTRA}


def _fields(result: Any) -> list[Any]:
    if isinstance(result, road_load.RoadLoad):
        return [
            result.force_constant_n,
            result.force_linear_n_per_mps,
            result.force_square_n_per_mps2,
        ]
    return [result]


@pytest.mark.parametrize("formula", ARRAY_FORMULAS)
def test_numbers_and_arrays_give_the_same(formula: Callable[..., Any]) -> None:
    plain, extra = _arguments(formula)
    alone = _fields(formula(**plain, **extra))
    arrays = {name: np.full((3, 2), value) for name, value in plain.items()}
    together = _fields(formula(**arrays, **extra))
    for number, array in zip(alone, together, strict=True):
        assert isinstance(number, float)
        assert np.isfinite(number)
        np.testing.assert_array_equal(array, np.broadcast_to(number, np.shape(array)))
    assert together[0].shape == (3, 2)


@pytest.mark.parametrize("formula", ARRAY_FORMULAS)
def test_an_unknown_argument_makes_the_result_unknown_and_nothing_else(
    formula: Callable[..., Any],
) -> None:
    plain, extra = _arguments(formula)
    for name, value in plain.items():
        arrays = plain | {name: np.array([value, math.nan])}
        results = [np.atleast_1d(field) for field in _fields(formula(**arrays, **extra))]
        assert any(field.size == 2 and np.isnan(field[1]) for field in results), name
        assert all(np.isfinite(field[0]) for field in results), name


@pytest.mark.parametrize("formula", ARRAY_FORMULAS)
def test_infinity_is_refused_by_name(formula: Callable[..., Any]) -> None:
    plain, extra = _arguments(formula)
    for name in plain:
        with pytest.raises(GearrecError, match=name):
            formula(**(plain | {name: math.inf}), **extra)


def test_arguments_are_not_changed() -> None:
    speeds = np.array([10.0, 20.0])
    gearing.engine_speed_rpm(road_speed_mps=speeds, overall_ratio=3.0, circumference_m=2.4)
    assert speeds.tolist() == [10.0, 20.0]
