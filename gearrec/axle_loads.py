"""What a vehicle of a batch weighs, and how the weight stands on its axles."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Reading = Callable[[str], Floats]
"""Gives a row of a table by name, (N,)."""

_DRIVER_ON_REAR = 0.5


@dataclass(frozen=True, slots=True)
class Masses:
    """Masses of each lane [kg]: as loaded, and what they are made of."""

    vehicle: Floats
    trailer: Floats
    payload: Floats
    empty: Floats


@dataclass(frozen=True, slots=True)
class AxleLoads:
    """Loads of the axles with the heaviest load of the job [kg]."""

    front: Floats
    rear: Floats


def masses(of_vehicle: Reading, of_lane: Reading) -> Masses:
    factor = of_lane("mass_factor")
    empty = of_vehicle("curb_mass_kg") + of_vehicle("driver_kg")
    own = empty + of_lane("tires_added_kg") + of_lane("payload_kg") + of_lane("added_kg")
    return Masses(
        vehicle=own * factor,
        trailer=of_lane("trailer_kg") * factor,
        payload=of_lane("payload_kg") + of_lane("added_kg"),
        empty=of_vehicle("curb_mass_kg"),
    )


def axle_loads(of_vehicle: Reading, of_lane: Reading, mass: Masses) -> AxleLoads:
    tongue = mass.trailer * of_lane("tongue_share")
    factor = of_lane("mass_factor")
    shared = of_lane("tires_added_kg") * 0.5 + of_vehicle("driver_kg") * _DRIVER_ON_REAR
    rear_share = 1.0 - of_vehicle("front_share")
    payload, added = of_lane("payload_kg"), of_lane("added_kg")
    payload_rear, added_rear = of_vehicle("payload_on_rear"), of_lane("added_on_rear")
    over = of_vehicle("overhang_share")
    rear = of_vehicle("curb_mass_kg") * rear_share + payload * payload_rear + added * added_rear
    front = (
        of_vehicle("curb_mass_kg") * of_vehicle("front_share")
        + payload * (1.0 - payload_rear)
        + added * (1.0 - added_rear)
    )
    return AxleLoads(
        front=(front + shared) * factor - tongue * over,
        rear=(rear + shared) * factor + tongue * (1.0 + over),
    )
