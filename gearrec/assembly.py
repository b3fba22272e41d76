"""From a batch to the wide arrays that the metrics need."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from gearrec.axle_loads import axle_loads, masses
from gearrec.batches import ROW
from gearrec.lanes import Lanes

if TYPE_CHECKING:
    from gearrec.batches import Batch

Floats = npt.NDArray[np.float64]

STANDARD_GRAVITY = 9.80665
COAST_DOWN_DENSITY = 1.167
"""Air at 20 degC and 98.2 kPa, to which coast-down results are corrected (SAE J1263) [kg/m3]."""


def lanes(batch: Batch) -> Lanes:
    """The wide arrays of a batch (usually of one chunk of it)."""
    table = batch.vehicle_table
    scalars = np.take(table.scalars, batch.vehicle, axis=1)
    legs = np.take(batch.use_table.arrays, batch.use, axis=2)

    def of_vehicle(name: str) -> Floats:
        row: Floats = scalars[table.rows[name]]
        return row

    def of_leg(name: str) -> Floats:
        rows: Floats = legs[batch.use_table.rows[name]]
        return rows

    def of_lane(name: str) -> Floats:
        row: Floats = batch.columns[ROW[name]]
        return row

    mass = masses(of_vehicle, of_lane)
    towing = of_leg("leg_towing")
    rolling = of_lane("rolling_coefficient") * of_lane("rolling_factor")
    per_kg = of_vehicle("constant_per_kg")
    own_rolling = np.where(
        np.isnan(per_kg),
        rolling * STANDARD_GRAVITY,
        per_kg * rolling / of_vehicle("factory_rolling_coefficient"),
    )
    trailer_rolling = (
        of_lane("trailer_rolling_coefficient")
        * of_lane("rolling_factor")
        * STANDARD_GRAVITY
        * mass.trailer
    )
    # Half the density goes with a drag area; coast-down coefficients hold theirs already.
    area = np.where(
        np.isnan(of_vehicle("drag_area_m2")),
        of_vehicle("drag_square") * (2.0 / COAST_DOWN_DENSITY),
        of_vehicle("drag_area_m2"),
    )
    density = of_leg("leg_air_density_kg_per_m3")
    drag_areas = area + towing * of_lane("trailer_drag_area_m2")
    loss = of_vehicle("altitude_loss_per_m")
    above = np.maximum(of_leg("altitude_m") - of_vehicle("altitude_flat_to_m"), 0.0)
    altitude = np.where(
        np.isnan(loss), of_leg("natural_torque_factor"), np.maximum(1.0 - loss * above, 0.2)
    )
    load = axle_loads(of_vehicle, of_lane, mass)
    return Lanes(
        axle_ratio=np.take(table.axle_ratio, batch.vehicle, axis=1),
        candidate_known=np.take(table.candidate_known, batch.vehicle, axis=1),
        front_ratio=np.take(table.front_ratio, batch.vehicle, axis=1),
        factory_ratio=of_vehicle("factory_ratio"),
        diameter_factory_m=of_vehicle("diameter_factory_m"),
        diameter_now_m=of_lane("diameter_now_m"),
        diameter_planned_m=of_lane("diameter_planned_m"),
        circumference_factory_m=of_vehicle("circumference_factory_m"),
        circumference_planned_m=of_lane("circumference_planned_m"),
        tire_capacity_front_kg=of_lane("capacity_kg"),
        tire_capacity_rear_kg=of_lane("capacity_dual_kg"),
        axle_load_front_kg=load.front,
        axle_load_rear_kg=load.rear,
        gear_ratio=np.take(table.gear_ratio, batch.vehicle, axis=1),
        gear_efficiency=np.take(table.gear_efficiency, batch.vehicle, axis=1),
        gear_locked=np.take(table.gear_locked, batch.vehicle, axis=1),
        reverse_ratio=of_vehicle("reverse_ratio"),
        low_range_ratio=of_vehicle("low_range_ratio"),
        transfer_high_efficiency=of_vehicle("transfer_high_efficiency"),
        transfer_low_efficiency=of_vehicle("transfer_low_efficiency"),
        axle_efficiency=of_vehicle("axle_efficiency"),
        drag_torque_nm=of_vehicle("drag_torque_nm"),
        is_automatic=of_vehicle("is_automatic") > 0.5,
        stall_torque_ratio=of_vehicle("stall_torque_ratio"),
        stall_speed_rpm=of_vehicle("stall_speed_rpm"),
        torque_reserve=of_vehicle("torque_reserve"),
        speed_sensor_before_axle=of_vehicle("speed_sensor_before_axle") > 0.5,
        driveshaft_critical_rpm=of_vehicle("driveshaft_critical_rpm"),
        axle_torque_rating_nm=of_vehicle("axle_torque_rating_nm"),
        torque_nm=np.take(table.torque_nm, batch.vehicle, axis=1),
        torque_start_rpm=of_vehicle("torque_start_rpm"),
        torque_step_rpm=of_vehicle("torque_step_rpm"),
        torque_factor=altitude * of_lane("torque_factor"),
        idle_rpm=of_vehicle("idle_rpm"),
        governed_rpm=of_vehicle("governed_rpm"),
        lug_rpm=of_vehicle("lug_rpm"),
        light_lug_rpm=of_vehicle("light_lug_rpm"),
        displacement_m3=of_vehicle("displacement_m3"),
        friction_0_pa=of_vehicle("friction_0_pa"),
        friction_1_pa_per_rpm=of_vehicle("friction_1_pa_per_rpm"),
        friction_2_pa_per_rpm2=of_vehicle("friction_2_pa_per_rpm2"),
        indicated_efficiency=of_vehicle("indicated_efficiency"),
        fuel_factor_low=of_vehicle("fuel_factor_low"),
        fuel_factor_high=of_vehicle("fuel_factor_high"),
        lower_heating_value_j_per_kg=of_vehicle("lower_heating_value_j_per_kg"),
        fuel_density_kg_per_m3=of_vehicle("fuel_density_kg_per_m3"),
        idle_fuel_kg_per_s=of_vehicle("idle_fuel_kg_per_s"),
        engine_inertia_kg_m2=of_vehicle("engine_inertia_kg_m2"),
        wheel_inertia_kg_m2=of_lane("wheel_inertia_kg_m2"),
        leg_known=of_leg("leg_known") > 0.5,
        leg_share=of_leg("leg_share"),
        leg_speed_mps=of_leg("leg_speed_mps") * of_lane("speed_factor"),
        leg_grade_deviation=of_leg("leg_grade_deviation"),
        leg_grade_correlation_m=of_leg("leg_grade_correlation_m"),
        leg_stops_per_m=of_leg("leg_stops_per_m"),
        leg_standing_share=of_leg("leg_standing_share"),
        leg_low_range=of_leg("leg_low_range") * of_vehicle("has_low_range") > 0.5,
        leg_towing=towing > 0.5,
        leg_air_density_kg_per_m3=density,
        mass_kg=mass.vehicle + towing * mass.trailer,
        force_constant_n=own_rolling * mass.vehicle + towing * trailer_rolling,
        force_linear_n_per_mps=np.broadcast_to(
            of_vehicle("linear_n_per_mps"), density.shape
        ).copy(),
        force_square_n_per_mps2=0.5 * density * drag_areas * of_lane("drag_factor"),
        driven_load_kg=load.rear + of_vehicle("all_driven") * load.front,
        friction_coefficient=of_lane("friction_coefficient"),
        reference_grade=of_vehicle("reference_grade"),
        passing_margin_mps=of_vehicle("passing_margin_mps"),
    )
