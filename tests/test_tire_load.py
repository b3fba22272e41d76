from __future__ import annotations

import math

import numpy as np
import pytest

from gearrec import tire_load
from gearrec.errors import TireSizeError
from gearrec.tire_load import ServiceDescription


def test_capacity_rises_with_the_index() -> None:
    indices = range(tire_load.FIRST_LOAD_INDEX, tire_load.LAST_LOAD_INDEX + 1)
    capacities = [tire_load.load_index_kg(index) for index in indices]
    assert capacities == sorted(set(capacities))


@pytest.mark.parametrize("index", [0, 59, 171, -80])
def test_an_index_outside_the_table_is_refused(index: int) -> None:
    with pytest.raises(TireSizeError, match="allowed: 60 to 170"):
        tire_load.load_index_kg(index)


def test_unknown_letters_are_refused() -> None:
    with pytest.raises(TireSizeError, match=r"no speed symbol; allowed: F, G"):
        tire_load.speed_symbol_mps("X")
    with pytest.raises(TireSizeError, match=r"no load range; allowed: B, C"):
        tire_load.ply_rating("K")


def test_service_description_reads_as_marked() -> None:
    assert str(ServiceDescription(load_index_single=115, speed_symbol="T")) == "115T"
    both = ServiceDescription(load_index_single=120, load_index_dual=117, speed_symbol="R")
    assert str(both) == "120/117R"


def test_derating_takes_arrays_and_keeps_the_unknown() -> None:
    found = tire_load.derated_kg(capacity_kg=np.array([1100.0, math.nan]))
    assert found[0] == pytest.approx(1000.0)
    assert math.isnan(found[1])
