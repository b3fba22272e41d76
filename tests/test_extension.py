"""The records of hooks: frozen, and an evaluation that can be read by name."""

from __future__ import annotations

import dataclasses

import pytest

from gearrec import extension
from gearrec.extension import JobMetrics, same_ratio

EVALUATION = JobMetrics(
    axle_ratios=(3.62, 3.85),
    metrics={"tire_growth": (0.06, None)},
    leg_metrics={"cruise_engine_speed": {"highway": (1900.0, 2090.0)}},
)


def test_all_records_are_frozen_and_slotted():
    records = [value for value in vars(extension).values() if dataclasses.is_dataclass(value)]
    assert len(records) == 7
    for record in records:
        assert record.__dataclass_params__.frozen
        assert "__slots__" in vars(record)


def test_an_evaluation_is_read_by_metric_ratio_and_leg():
    assert EVALUATION.value("tire_growth", 3.62) == 0.06
    assert EVALUATION.value("tire_growth", 47 / 13) == 0.06
    assert EVALUATION.value("tire_growth", 3.85) is None
    assert EVALUATION.value("cruise_engine_speed", 3.85, leg="highway") == 2090.0


@pytest.mark.parametrize(
    ("teeth", "name", "same"),
    # By hand: a quotient of tooth counts and the two-decimal name that the trade gives it.
    [
        (47 / 13, 3.62, True),
        (50 / 13, 3.85, True),
        (37 / 8, 4.62, True),
        (37 / 8, 4.63, True),
        (47 / 14, 3.35, False),
        (47 / 13, 3.61, False),
    ],
)
def test_a_ratio_is_known_by_its_name_or_its_teeth(teeth, name, same):
    assert same_ratio(teeth, name) is same
    assert same_ratio(name, teeth) is same


def test_an_evaluation_does_not_guess():
    with pytest.raises(KeyError):
        EVALUATION.value("tire_grow", 3.62)
    with pytest.raises(KeyError):
        EVALUATION.value("cruise_engine_speed", 3.85, leg="trail")
    with pytest.raises(ValueError, match=r"3\.86 is not among"):
        EVALUATION.value("tire_growth", 3.86)
