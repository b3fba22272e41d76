from __future__ import annotations

import math
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gearrec import tires
from gearrec.errors import InputError


def test_the_public_face_is_complete_and_sorted() -> None:
    assert tires.__all__ == sorted(tires.__all__, key=lambda name: (not name.isupper(), name))
    for name in tires.__all__:
        assert hasattr(tires, name)


def test_reading_a_size_imports_no_numpy() -> None:
    code = (
        "import sys, gearrec.tires; gearrec.tires.parse_size('225/75R16'); "
        "sys.exit('numpy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


@pytest.mark.parametrize(
    ("function", "arguments", "expected"),
    [
        # 3.05: ETRTO, quoted; 2.99: from memory; the rest by definition, by hand.
        (tires.rolling_circumference_m, {"diameter_m": 0.8}, 2.44),
        (tires.rolling_circumference_m, {"diameter_m": 0.8, "construction": "diagonal"}, 2.392),
        (tires.rolling_circumference_m, {"diameter_m": 0.8, "construction": "bias-belted"}, 2.392),
        (tires.rolling_circumference_from_revs, {"revs_per_mile": 804.672}, 2.0),
        (tires.rolling_circumference_from_revs, {"revs_per_m": 0.4}, 2.5),
        (tires.revs_per_mile, {"circumference_m": 2.0}, 804.672),
        (tires.revs_per_km, {"circumference_m": 2.5}, 400.0),
        (tires.worn_diameter_m, {"diameter_m": 0.8, "tread_worn_m": 0.01}, 0.78),
    ],
)
def test_numbers_and_arrays(function, arguments, expected) -> None:
    assert function(**arguments) == pytest.approx(expected)
    arrays = {
        name: np.array([value, math.nan]) if isinstance(value, float) else value
        for name, value in arguments.items()
    }
    found = function(**arrays)
    assert found[0] == pytest.approx(expected)
    assert math.isnan(found[1])


@pytest.mark.parametrize(
    ("function", "arguments", "words"),
    [
        (tires.rolling_circumference_m, {"diameter_m": 0.0}, "diameter_m"),
        (tires.rolling_circumference_m, {"diameter_m": math.inf}, "diameter_m"),
        (tires.rolling_circumference_m, {"diameter_m": "28.7 in"}, "not a number"),
        (
            tires.rolling_circumference_m,
            {"diameter_m": 0.8, "construction": "radiall"},
            "did you mean 'radial'",
        ),
        (tires.rolling_circumference_from_revs, {}, "revs_per_mile or revs_per_m"),
        (
            tires.rolling_circumference_from_revs,
            {"revs_per_mile": 705.0, "revs_per_m": 0.4},
            "due once",
        ),
        (tires.rolling_circumference_from_revs, {"revs_per_mile": 0.0}, "revs_per_mile"),
        (tires.rolling_circumference_from_revs, {"revs_per_m": -1.0}, "revs_per_m"),
        (tires.revs_per_mile, {"circumference_m": 0.0}, "circumference_m"),
        (tires.revs_per_km, {"circumference_m": -2.0}, "circumference_m"),
        (tires.worn_diameter_m, {"diameter_m": 0.8, "tread_worn_m": -0.01}, "tread_worn_m"),
        (tires.worn_diameter_m, {"diameter_m": 0.8, "tread_worn_m": 0.4}, "worn_diameter_m"),
    ],
)
def test_values_outside_their_range_are_refused(function, arguments, words) -> None:
    with pytest.raises(InputError, match=words):
        function(**arguments)


@settings(max_examples=50)
@given(st.floats(min_value=0.3, max_value=1.8))
def test_turns_and_circumference_are_each_others_inverse(diameter_m: float) -> None:
    circumference = tires.rolling_circumference_m(diameter_m=diameter_m)
    assert circumference < math.pi * diameter_m
    turns = tires.revs_per_mile(circumference_m=circumference)
    again = tires.rolling_circumference_from_revs(revs_per_mile=turns)
    assert again == pytest.approx(circumference, rel=1e-12)
    assert tires.revs_per_km(circumference_m=circumference) == pytest.approx(turns / 1.609344)
