"""Converter, losses by gear, lock-up and the choice of gear."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gearrec import transmission

GEARS = np.array([4.64, 2.97, 2.03, 1.16, 1.0, 0.68])


def test_efficiency_steps_and_lock_up_by_gear() -> None:
    efficiency = transmission.gear_efficiency(gear_ratio=GEARS, direct=0.98, other=0.96)
    assert efficiency.tolist() == [0.96, 0.96, 0.96, 0.96, 0.98, 0.96]
    assert transmission.gear_steps(gear_ratio=GEARS)[3] == pytest.approx(1.16)
    locked = transmission.locked_gears(gears=6, lockup_from_gear=3)
    assert locked.tolist() == [False, False, True, True, True, True]
    assert transmission.locked_gears(gears=3, lockup_from_gear=None).all()
    with pytest.raises(ValueError, match="allowed: 1 to 6"):
        transmission.locked_gears(gears=6, lockup_from_gear=7)


def test_converter_multiplies_torque_from_stall_to_the_coupling_point() -> None:
    ratio = transmission.converter_torque_ratio(
        speed_ratio=np.array([0.0, transmission.COUPLING_SPEED_RATIO, 1.0]), stall_torque_ratio=1.9
    )
    assert ratio == pytest.approx([1.9, 1.0, 1.0])


@given(speed_ratio=st.floats(0.0, 1.0), stall_ratio=st.floats(1.0, 2.3))
@settings(max_examples=80, deadline=None)
def test_a_converter_gives_no_more_power_than_it_takes(
    speed_ratio: float, stall_ratio: float
) -> None:
    ratio = transmission.converter_torque_ratio(
        speed_ratio=speed_ratio, stall_torque_ratio=stall_ratio
    )
    assert speed_ratio * float(ratio) <= 1.0 + 1e-12


@given(turbine=st.floats(0.0, 6000.0), more=st.floats(1.0, 500.0))
@settings(max_examples=80, deadline=None)
def test_open_converter_speed_satisfies_its_capacity(turbine: float, more: float) -> None:
    def speed(n: float) -> float:
        return float(
            transmission.converter_engine_speed_rpm(turbine_speed_rpm=n, stall_speed_rpm=2000.0)
        )

    engine = speed(turbine)
    capacity = float(transmission.converter_capacity(speed_ratio=turbine / engine))
    # The torque taken, capacity x speed squared, is that of the stall point.
    assert capacity * engine**2 == pytest.approx(2000.0**2, rel=1e-6)
    assert engine > turbine
    assert speed(turbine + more) > engine


def test_stall_speed_is_where_the_curves_cross() -> None:
    speeds, torques = [1000.0, 2000.0, 3000.0], [200.0, 400.0, 400.0]
    # By hand: 400 N m at 2500 rpm are 64 N m at 1000 rpm; 300 at 1500 are 133.3.
    for torque, expected in ((64.0, 2500.0), (400.0 / 3.0, 1500.0)):
        assert transmission.stall_speed_rpm(
            curve_speed_rpm=speeds, curve_torque_nm=torques, torque_at_1000rpm_nm=torque
        ) == pytest.approx(expected)
    for torque in (10.0, 300.0):
        with pytest.raises(ValueError, match="allowed: 1000 to 3000 rpm"):
            transmission.stall_speed_rpm(
                curve_speed_rpm=speeds, curve_torque_nm=torques, torque_at_1000rpm_nm=torque
            )


def test_usable_torque_rises_from_the_light_lug_speed_and_ends_at_the_governor() -> None:
    share = transmission.usable_torque_share(
        engine_speed_rpm=np.array([999.0, 1000.0, 1150.0, 1300.0, 4000.0, 4001.0]),
        light_lug_rpm=1000.0,
        lug_rpm=1300.0,
        governed_rpm=4000.0,
        torque_reserve=0.1,
    )
    assert share == pytest.approx([0.0, 0.0, 0.45, 0.9, 0.9, 0.0])
    step = transmission.usable_torque_share(
        engine_speed_rpm=np.array([1299.0, 1300.0]),
        light_lug_rpm=1300.0,
        lug_rpm=1300.0,
        governed_rpm=4000.0,
        torque_reserve=0.0,
    )
    assert step.tolist() == [0.0, 1.0]


def _choose(demand: list[float], **changes: list[float]) -> int:
    given_values = {"torque_available_nm": [400.0] * 3, "usable_share": [0.9] * 3} | changes
    permitted = np.array(given_values.pop("permitted", [True] * 3), dtype=bool)
    arrays = {name: np.array(values) for name, values in given_values.items()}
    return int(
        transmission.highest_gear(torque_demand_nm=np.array(demand), permitted=permitted, **arrays)
    )


def test_the_highest_gear_that_holds_is_chosen() -> None:
    assert _choose([100.0, 150.0, 200.0]) == 2
    assert _choose([200.0, 300.0, 361.0]) == 1
    assert _choose([200.0, 300.0, 360.0]) == 2
    assert _choose([400.0, 500.0, 600.0]) == -1
    assert _choose([100.0, 150.0, 200.0], permitted=[True, True, False]) == 1
    # A gear above the governed or below the light lug speed has no usable torque, not even none.
    assert _choose([-50.0, -40.0, -30.0], usable_share=[0.9, 0.9, 0.0]) == 1


@given(demand=st.floats(0.0, 400.0), more=st.floats(0.0, 200.0), reserve=st.floats(0.0, 0.4))
@settings(max_examples=60, deadline=None)
def test_more_demand_or_reserve_never_raises_the_gear(
    demand: float, more: float, reserve: float
) -> None:
    in_gear = np.array([1.0, 1.3, 1.7])
    low = _choose((demand * in_gear).tolist())
    assert _choose(((demand + more) * in_gear).tolist()) <= low
    assert _choose((demand * in_gear).tolist(), usable_share=[0.9 * (1.0 - reserve)] * 3) <= low


def test_a_converter_may_never_lock() -> None:
    """Older automatics have no lock-up clutch: common practice, no source."""
    assert not transmission.locked_gears(gears=3, lockup_from_gear="never").any()
