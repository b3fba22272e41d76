"""What the gearbox delivers to the driveshaft at full load, over driveshaft speed.

It depends on driveshaft speed alone, not on the axle ratio: the envelope over all gears is computed
once per lane and serves all candidates. The leg of the heaviest mass counts, and among equals the
one with the thinnest air.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from gearrec import transmission

if TYPE_CHECKING:
    from gearrec.lanes import Lanes

Floats = npt.NDArray[np.float64]
Indices = npt.NDArray[np.intp]
Masks = npt.NDArray[np.bool_]

MPH_MPS = 0.44704

FINE_CELLS = 32
"""Cells from rest to 60 mph with the numerically highest axle of the lane.

The times then differ by 0.5 % (standard deviation) from those of a hundred times as many."""

_COARSE_CELLS = 12
"""Cells above, for steady climbing only."""

REACH = 1.75
"""End of the grid / 60 mph: steady climbing is counted up to 105 mph, faster as that."""

NODES = np.concatenate(
    [
        np.linspace(0.0, 1.0, FINE_CELLS + 1),
        np.linspace(1.0, REACH, _COARSE_CELLS + 1)[1:],
    ]
)
"""The grid of driveshaft speeds, (V,), as shares of `Envelope.end_rpm`."""

_LEAST = 1.0e-6


@dataclass(frozen=True, slots=True)
class Load:
    """The heaviest leg of each lane, (N,), named as in `Lanes`."""

    mass_kg: Floats
    constant_n: Floats
    linear_n_per_mps: Floats
    square_n_per_mps2: Floats
    torque_factor: Floats


@dataclass(frozen=True, slots=True)
class Engine:
    """Full-load torque on the heaviest leg, ready for look-up by index: (K, N) and (N,)."""

    torque_nm: Floats
    rise_nm: Floats
    per_rpm: Floats
    offset: Floats
    governed_rpm: Floats
    lane: Indices

    def torque(self, engine_rpm: Floats) -> Floats:
        """Torque (..., N) [N m]; 0 above the governed speed."""
        place = engine_rpm * self.per_rpm
        place -= self.offset
        np.maximum(place, 0.0, out=place)
        index = place.astype(np.intp)
        place -= index
        index *= self.lane.size
        index += self.lane
        torque: Floats = self.rise_nm.take(index, mode="clip")
        torque *= place
        torque += self.torque_nm.take(index, mode="clip")
        torque *= engine_rpm <= self.governed_rpm
        return torque


@dataclass(frozen=True, slots=True)
class Envelope:
    """Best of all gears over driveshaft speed.

    Fields
        end_rpm (N,): driveshaft speed at 60 mph with the numerically highest axle ratio.
        torque_nm (V, N): largest torque at the gearbox's output; 0 where no gear has any.
        coupling (V, N): inertia at the driveshaft / inertia of the engine [1].
        gear (V, N): index of the gear that gives it.
    """

    end_rpm: Floats
    torque_nm: Floats
    coupling: Floats
    gear: Indices


def heaviest_load(lanes: Lanes) -> Load:
    """The leg of the largest mass, and among equals the one with the least torque left."""
    mass = np.where(lanes.leg_known, lanes.mass_kg, 0.0)
    factor = np.where(mass >= mass.max(axis=0), lanes.torque_factor, np.inf)
    place = np.argmin(factor, axis=0) * lanes.size + np.arange(lanes.size)
    return Load(
        mass_kg=lanes.mass_kg.take(place),
        constant_n=lanes.force_constant_n.take(place),
        linear_n_per_mps=lanes.force_linear_n_per_mps.take(place),
        square_n_per_mps2=lanes.force_square_n_per_mps2.take(place),
        torque_factor=lanes.torque_factor.take(place),
    )


def engine_at_full_load(lanes: Lanes, load: Load) -> Engine:
    """The torque grids of the lanes, ready for look-up, as the air of the leg leaves them."""
    torque = lanes.torque_nm * load.torque_factor
    per_rpm = 1.0 / lanes.torque_step_rpm
    rise = np.zeros_like(torque)
    np.subtract(torque[1:], torque[:-1], out=rise[:-1])
    return Engine(
        torque_nm=torque,
        rise_nm=rise,
        per_rpm=per_rpm,
        offset=lanes.torque_start_rpm * per_rpm,
        # A rounding error above the governed speed is still the governed speed.
        governed_rpm=lanes.governed_rpm * (1.0 + 1e-9),
        lane=np.arange(lanes.size),
    )


def open_drive(lanes: Lanes, turbine_rpm: Floats) -> tuple[Floats, Floats]:
    """Engine speed and torque ratio with the converter open, or the clutch slipping."""
    if not lanes.is_automatic.any():
        return np.maximum(turbine_rpm, lanes.stall_speed_rpm), np.ones_like(turbine_rpm)
    engine_rpm = transmission.converter_engine_speed_rpm(
        turbine_speed_rpm=turbine_rpm, stall_speed_rpm=lanes.stall_speed_rpm
    )
    # At the governed speed the torque falls until the slip is what is left.
    np.minimum(engine_rpm, np.maximum(lanes.governed_rpm, turbine_rpm), out=engine_rpm)
    if not lanes.is_automatic.all():
        clutch = np.maximum(turbine_rpm, lanes.stall_speed_rpm)
        np.copyto(engine_rpm, clutch, where=~lanes.is_automatic)
    ratio = transmission.converter_torque_ratio(
        speed_ratio=turbine_rpm / engine_rpm, stall_torque_ratio=lanes.stall_torque_ratio
    )
    return engine_rpm, ratio


def _rows_in_use(lanes: Lanes, end_rpm: Floats) -> list[slice]:
    """Per gear the rows between the light lug speed and the governed speed of any lane."""
    ratio = np.where(lanes.gear_ratio > 0.0, lanes.gear_ratio, np.nan) * end_rpm
    first = np.nan_to_num(lanes.light_lug_rpm / ratio, nan=np.inf).min(axis=1)
    last = np.nan_to_num(lanes.governed_rpm / ratio, nan=0.0).max(axis=1)
    begins = np.searchsorted(NODES, first * (1.0 - 1e-9), side="left")
    ends = np.searchsorted(NODES, last * (1.0 + 1e-9), side="right")
    begins[0] = 0
    # One row more, so that every row in use has a change of speed to the next; none makes it two.
    return [
        slice(min(begin, NODES.size - 2), end + 1) if begin < end else slice(0, 0)
        for begin, end in zip(begins.tolist(), ends.tolist(), strict=True)
    ]


def drive_envelope(lanes: Lanes, engine: Engine) -> Envelope:
    """The best of all gears at every node: with the drive home where it can be, slipping else.

    The lowest gear may slip in any gearbox; no other gear is used below the light lug speed.
    """
    sixty_rpm = 60.0 * MPH_MPS / lanes.circumference_planned_m * 60.0
    end_rpm = sixty_rpm * highest_ratio(lanes)
    shaft_rpm = NODES[:, None] * end_rpm
    envelope = Envelope(
        end_rpm=end_rpm,
        torque_nm=np.zeros_like(shaft_rpm),
        coupling=np.zeros_like(shaft_rpm),
        gear=np.zeros(shaft_rpm.shape, dtype=np.intp),
    )
    scales = lanes.gear_ratio * lanes.gear_efficiency
    squares = np.square(lanes.gear_ratio)
    slips: Masks = np.logical_not(lanes.gear_locked)
    some_slip: list[bool] = np.asarray(slips.any(axis=1)).tolist()
    all_slip: list[bool] = np.asarray(slips.all(axis=1)).tolist()
    for place, rows in enumerate(_rows_in_use(lanes, end_rpm)):
        if rows.stop == 0:
            continue
        turbine = shaft_rpm[rows] * lanes.gear_ratio[place]
        allowed = None if place == 0 else turbine >= lanes.light_lug_rpm
        if place == 0 or some_slip[place]:
            engine_rpm, torque_ratio = open_drive(lanes, turbine)
            torque = engine.torque(engine_rpm)
            torque *= torque_ratio
            torque *= scales[place]
            # The engine takes part in the motion as far as its speed follows the turbine's.
            follows = np.empty_like(turbine)
            np.subtract(engine_rpm[1:], engine_rpm[:-1], out=follows[:-1])
            follows[:-1] /= np.maximum(turbine[1:] - turbine[:-1], _LEAST)
            follows[-1] = follows[-2]
            follows *= torque_ratio
            follows *= squares[place]
            mask = None if allowed is None else allowed & slips[place]
            _keep_better(envelope, rows, place, torque, follows, mask)
        if not all_slip[place]:
            torque = engine.torque(turbine)
            torque *= scales[place]
            mask = allowed
            if some_slip[place]:
                mask = lanes.gear_locked[place] if mask is None else mask & lanes.gear_locked[place]
            _keep_better(envelope, rows, place, torque, squares[place], mask)
    return envelope


def highest_ratio(lanes: Lanes) -> Floats:
    """The numerically highest axle ratio of each lane, (N,), padding left out."""
    highest: Floats = np.where(lanes.candidate_known, lanes.axle_ratio, 0.0).max(axis=0)
    return highest


def _keep_better(
    envelope: Envelope,
    rows: slice,
    gear: int,
    torque: Floats,
    coupling: Floats,
    mask: Masks | None,
) -> None:
    better: Masks = np.greater(torque, envelope.torque_nm[rows])
    if mask is not None:
        better &= mask
    np.copyto(envelope.torque_nm[rows], torque, where=better)
    np.copyto(envelope.coupling[rows], coupling, where=better)
    np.copyto(envelope.gear[rows], gear, where=better)
