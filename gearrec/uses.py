"""A use made ready for the arrays: its legs as plain numbers, the air on each, its shares."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from gearrec import air, engine
from gearrec.vehicles import Assumption

if TYPE_CHECKING:
    from collections.abc import Callable

    from gearrec.catalog.use_records import Defaults, TerrainData, UseData

Floats = npt.NDArray[np.float64]

HILLY_DEVIATION = 0.025
"""Standard deviation of the grade from which a leg counts as climbing [1]."""
HIGHWAY_SPEED_MPS = 45.0 * 0.44704
"""Speed from which a leg counts as highway [m/s]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """The legs of a use: arrays of shape (L,) named as in `lanes.Lanes`, and shares of distance."""

    title: str
    names: tuple[str, ...]
    arrays: dict[str, Floats]
    shares: dict[str, float]
    tows: bool
    assumptions: tuple[Assumption, ...]


def prepare(
    *, title: str, use: UseData, terrain: Callable[[str], TerrainData], defaults: Defaults
) -> Use:
    """Work out the legs; `terrain` finds the terrain that an id names."""
    legs = use.legs
    grounds = [
        terrain(leg.terrain) if isinstance(leg.terrain, str) else leg.terrain for leg in legs
    ]
    total = math.fsum(leg.share for leg in legs)
    share = np.array([leg.share / total for leg in legs])
    speed = np.array([leg.speed for leg in legs])
    deviation = np.array([ground.grade_deviation for ground in grounds])
    altitude = np.array(
        [defaults.altitude if leg.altitude is None else leg.altitude for leg in legs]
    )
    standard = np.asarray(air.temperature_k(altitude_m=altitude), dtype=np.float64)
    given = np.array([math.nan if leg.temperature is None else leg.temperature for leg in legs])
    temperature = np.where(np.isnan(given), standard + defaults.temperature_above_standard, given)
    pressure = np.asarray(air.pressure_pa(altitude_m=altitude), dtype=np.float64)
    density = air.gas_density_kg_per_m3(pressure_pa=pressure, temperature_k=temperature)
    towing = np.array([float(leg.towing) for leg in legs])
    low = np.array([float(leg.range == "low") for leg in legs])
    stops = np.array([defaults.stops if leg.stops is None else leg.stops for leg in legs])
    standing = np.array(
        [defaults.standing if leg.standing is None else leg.standing for leg in legs]
    )
    highway = (speed >= HIGHWAY_SPEED_MPS) & (low == 0.0)
    taken = []
    if any(leg.altitude is None for leg in legs):
        taken.append(Assumption("altitude", defaults.altitude, "length"))
    if any(leg.temperature is None for leg in legs):
        taken.append(
            Assumption(
                "temperature_above_standard",
                defaults.temperature_above_standard,
                "temperature_difference",
            )
        )
    return Use(
        title=title,
        names=tuple(leg.name for leg in legs),
        arrays={
            "leg_known": np.ones(len(legs)),
            "leg_share": share,
            "leg_speed_mps": speed,
            "leg_grade_deviation": deviation,
            "leg_grade_correlation_m": np.array([ground.correlation_length for ground in grounds]),
            "leg_stops_per_m": stops,
            "leg_standing_share": standing,
            "leg_low_range": low,
            "leg_towing": towing,
            "leg_air_density_kg_per_m3": density,
            "altitude_m": altitude,
            "natural_torque_factor": engine.natural_torque_factor(
                dry_pressure_pa=pressure, temperature_k=temperature
            ),
        },
        shares={
            "use_towing": float(share @ towing),
            "use_climbing": float(share @ (deviation >= HILLY_DEVIATION)),
            "use_low_range": float(share @ low),
            "use_highway": float(share @ highway),
            "use_city": float(share @ (~highway & (low == 0.0))),
            "altitude_max": float(altitude.max()),
            "speed_max": float(speed.max()),
        },
        tows=bool(towing.any()),
        assumptions=tuple(taken),
    )
