"""The envelope of all gears against plain scalars, and the leg that it is taken on."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from gearrec import full_load

if TYPE_CHECKING:
    from collections.abc import Callable

    from gearrec.lanes import Lanes

    Build = Callable[..., Lanes]


def _envelope(lanes: Lanes) -> full_load.Envelope:
    load = full_load.heaviest_load(lanes)
    return full_load.drive_envelope(lanes, full_load.engine_at_full_load(lanes, load))


def test_grid_ends_are_sixty_mph_and_the_reach(build_lanes: Build) -> None:
    lanes = build_lanes(axle_ratio=[3.0, 4.0], circumference_planned_m=2.5)
    # By hand: 60 mph = 26.8224 m/s = 10.729 turns of a 2.5 m tire a second.
    assert _envelope(lanes).end_rpm[0] == pytest.approx(26.8224 / 2.5 * 4.0 * 60.0)
    assert full_load.NODES[full_load.FINE_CELLS] == 1.0
    assert full_load.NODES[-1] == full_load.REACH


def test_every_node_of_a_clutch_gearbox_against_scalars(build_lanes: Build) -> None:
    lanes = build_lanes(lockup_from_gear=1)
    envelope = _envelope(lanes)
    knots = lanes.torque_start_rpm[0] + lanes.torque_step_rpm[0] * np.arange(len(lanes.torque_nm))
    for row, node in enumerate(full_load.NODES):
        shaft = float(node * envelope.end_rpm[0])
        torques = []
        for gear, ratio in enumerate(lanes.gear_ratio[:, 0].tolist()):
            rpm = shaft * ratio
            if gear == 0:
                rpm = max(rpm, float(lanes.stall_speed_rpm[0]))
            used = rpm <= lanes.governed_rpm[0] and (gear == 0 or rpm >= lanes.light_lug_rpm[0])
            torque = float(np.interp(rpm, knots, lanes.torque_nm[:, 0])) if used else 0.0
            torques.append(torque * ratio * float(lanes.gear_efficiency[gear, 0]))
        best = int(np.argmax(torques))
        assert envelope.torque_nm[row, 0] == pytest.approx(torques[best])
        if torques[best] > 0.0:
            assert envelope.gear[row, 0] == best


def test_engine_moves_with_the_road_but_not_while_the_clutch_slips(build_lanes: Build) -> None:
    lanes = build_lanes(lockup_from_gear=1, stall_speed_rpm=1500.0)
    envelope = _envelope(lanes)
    assert envelope.coupling[0, 0] == 0.0
    row = full_load.FINE_CELLS // 2
    ratio = lanes.gear_ratio[envelope.gear[row, 0], 0]
    assert envelope.coupling[row, 0] == pytest.approx(ratio**2)


def test_open_converter_helps_until_its_coupling_point(build_lanes: Build) -> None:
    changes: dict[str, Any] = {"gear_ratio": [3.0, 1.0], "stall_speed_rpm": 2200.0}
    open_first = _envelope(build_lanes(lockup_from_gear=2, **changes))
    clutch = _envelope(build_lanes(lockup_from_gear=1, **changes))
    # Stall: 1.9 times the torque at 2200 rpm, against once.
    assert open_first.torque_nm[0, 0] == pytest.approx(1.9 * clutch.torque_nm[0, 0])


@pytest.mark.parametrize(
    ("turbine", "expected"), [(0.0, 1300.0), (1299.0, 1300.0), (2000.0, 2000.0)]
)
def test_clutch_slips_up_to_the_speed_of_the_start(
    build_lanes: Build, turbine: float, expected: float
) -> None:
    lanes = build_lanes(lockup_from_gear=1, stall_speed_rpm=1300.0)
    engine_rpm, ratio = full_load.open_drive(lanes, np.array([[turbine]]))
    assert (engine_rpm[0, 0], ratio[0, 0]) == (expected, 1.0)


def test_open_converter_is_held_at_the_governed_speed(build_lanes: Build) -> None:
    lanes = build_lanes(governed_rpm=4000.0)
    engine_rpm, _ratio = full_load.open_drive(lanes, np.array([[3900.0], [4100.0]]))
    assert engine_rpm[:, 0].tolist() == [4000.0, 4100.0]


def test_a_gearbox_beyond_its_governed_speed_gives_nothing(build_lanes: Build) -> None:
    envelope = _envelope(build_lanes(gear_ratio=[4.0, 3.0], governed_rpm=4000.0))
    shaft = full_load.NODES * envelope.end_rpm[0]
    assert (envelope.torque_nm[shaft * 3.0 > 4001.0, 0] == 0.0).all()
    assert (envelope.torque_nm[shaft * 3.0 < 3999.0, 0] > 0.0).all()


def test_padded_legs_are_never_the_heaviest(build_lanes: Build) -> None:
    known = np.array([True, True, True, True, False])[:, None]
    mass = np.array([2000.0, 2500.0, 2500.0, 2100.0, 9000.0])[:, None]
    factor = np.array([0.7, 1.0, 0.9, 0.8, 0.5])[:, None]
    load = full_load.heaviest_load(build_lanes(leg_known=known, mass_kg=mass, torque_factor=factor))
    assert (load.mass_kg[0], load.torque_factor[0]) == (2500.0, 0.9)
