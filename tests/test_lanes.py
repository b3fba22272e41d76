"""The arrays of a batch: shapes, cutting into chunks, what breaks the contract."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from gearrec.lanes import Lanes, chunks, concatenate, field_names, take, validate


def test_example_keeps_the_contract(example_lanes):
    assert validate(example_lanes) == ()


def test_every_field_is_documented():
    for name in field_names():
        assert name in Lanes.__doc__, f"{name} is not documented"


@pytest.mark.parametrize("size", [1, 7, 64, 1000])
def test_chunks_cover_every_lane_once_and_in_order(example_lanes, size):
    seen = []
    for place, part in chunks(example_lanes, size=size):
        assert part.size == place.stop - place.start <= size
        np.testing.assert_array_equal(part.mass_kg, example_lanes.mass_kg[:, place])
        seen.extend(range(place.start, place.stop))
    assert seen == list(range(example_lanes.size))


def test_take_and_concatenate_undo_each_other(example_lanes):
    halves = [take(example_lanes, range(40)), take(example_lanes, range(40, 64))]
    joined = concatenate(halves)
    for name in field_names():
        np.testing.assert_array_equal(getattr(joined, name), getattr(example_lanes, name))


@pytest.mark.parametrize(
    ("name", "change", "words"),
    [
        ("mass_kg", lambda array: array[:1], "mass_kg: shape"),
        ("mass_kg", lambda array: array.astype(np.float32), "mass_kg: type float32"),
        ("mass_kg", lambda array: array * np.nan, "mass_kg: not finite"),
        ("mass_kg", lambda array: -array, "mass_kg: not above zero"),
        ("leg_share", lambda array: array * 0.5, "must sum to 1"),
        ("leg_share", lambda array: -array, "leg_share: below zero"),
        ("gear_ratio", lambda array: array[::-1], "must fall from gear to gear"),
        ("torque_start_rpm", lambda array: array + 5000.0, "start at idle or below"),
        ("torque_step_rpm", lambda array: array * 0.5, "reach the governed speed"),
        ("light_lug_rpm", lambda array: array * 3.0, "must not be above lug_rpm"),
        ("leg_standing_share", lambda array: array + 1.0, "must be below 1"),
        ("candidate_known", lambda array: array & False, "a lane needs a candidate"),
        ("leg_known", lambda array: array.astype(np.float64), "leg_known: type float64"),
    ],
)
def test_a_broken_contract_is_named(example_lanes, name, change, words):
    broken = dataclasses.replace(example_lanes, **{name: change(getattr(example_lanes, name))})
    assert any(words in problem for problem in validate(broken))


def test_unknown_is_allowed_where_the_documentation_says_so(example_lanes):
    unknown = np.full(example_lanes.size, np.nan)
    lanes = dataclasses.replace(
        example_lanes, driveshaft_critical_rpm=unknown, axle_torque_rating_nm=unknown
    )
    assert validate(lanes) == ()
