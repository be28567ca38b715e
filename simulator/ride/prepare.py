"""Rider, build and weather -> the constants that the kernels take. One layout, made here only."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from simulator.pacing import Demand
from simulator.physics.air import (
    air_density_kgm3,
    bends_over_yaw,
    station_pressure_pa,
)
from simulator.physics.constants import (
    BEARING_CONSTANT_N,
    BEARING_SLOPE_NS_PER_M,
    NO_CEILING_M2PS2,
    SPIN_FADE_SHARE,
    STANDARD_GRAVITY_MPS2,
)
from simulator.physics.constants import YAW_NODES_DEG as YAW_NODES_DEG
from simulator.physics.params import RULE_FIELDS, Changes, Rules
from simulator.setup import (
    RideSetup,
    Uncertain,
    caution_of,
    low_speed_mps,
    top_speed_mps,
    wind_table,
)
from simulator.units import PA_PER_HPA, ZERO_DEGC_K

FloatArray = NDArray[np.float64]
Draws = Mapping[str, FloatArray]
"""Values by input name ("rider.mass_kg", "build.crr", "weather.wind_mps"), one a ride.

Besides the uncertain inputs there is ``"build.area_changes_m2"``, an (n, 7) array added to the
drag area at each of `YAW_NODES_DEG`.
"""

LIFT_RATIO = 0.60 / 1.15
"""Centre of mass behind the front contact over its height, 0.60 m and 1.15 m: from memory."""

RESERVE_EASE_S = 3.0
"""Power comes down to critical power over the last W' that this many seconds of surge would take:
common practice, no source. Without it, a rider without a stated maximum would fall from any power
to critical power at one instant, which no step of the ride could follow."""

NO_RESERVE_W = 1.0e9
"""Critical power of a rider whose W' is not followed: never reached."""


def prepare_changes(setup: RideSetup, demand: Demand) -> Changes:
    """What changes with time on a ride: wind table, decline of power, surges."""
    rider, weather = setup.rider, setup.weather
    wind_times_s, winds_mps = wind_table(weather)
    if len(wind_times_s) == 1:
        # One wind for the whole ride stays in the rules: a gain on a calm would be a calm for ever.
        winds_mps = np.array([[1.0], [0.0]])
    declines = rider.decline_after_s is not None
    is_on = len(wind_times_s) > 1 or declines or demand.surge_w != 0.0
    return Changes(
        is_on=int(is_on),
        wind_times_s=wind_times_s,
        winds_mps=winds_mps,
        decline_after_s=rider.decline_after_s if rider.decline_after_s is not None else math.inf,
        decline_per_log=rider.decline_per_log,
        surge_s=demand.surge_s,
    )


def rule_columns(
    setup: RideSetup,
    draws: Draws | None = None,
    *,
    changes: Changes | None = None,
    coast_mps: float | None = None,
) -> FloatArray:
    """Lay out rider, build and weather for the kernels.

    Parameters
    ----------
    setup : RideSetup
        Nominal values.
    draws : mapping of str to (n,) arrays, optional
        Values that replace nominal ones, by input name.
    changes : Changes, optional
        Where on and of several winds, the wind fields hold the gain on its table instead of a wind.
    coast_mps : float, optional
        Speed above which the rider stops pedalling, instead of the rider's own.

    Returns
    -------
    (N_RULE_FIELDS, n) array
        One `physics.params.Rules` a column; ``n`` is 1 without draws.
    """
    draws = draws or {}
    n_rides = len(next(iter(draws.values()))) if draws else 1
    rider, build, weather = setup.rider, setup.build, setup.weather

    def value(name: str, nominal: Uncertain) -> FloatArray:
        return np.asarray(draws.get(name, nominal.value), dtype=np.float64)

    body_kg = value("rider.mass_kg", rider.mass_kg) + value("rider.kit_kg", rider.kit_kg)
    body_kg = body_kg + value("rider.bottles_kg", rider.bottles_kg)
    mass_kg = body_kg + value("build.mass_kg", build.mass_kg)
    inertia_kgm2 = value("build.wheel_inertia_kgm2", build.wheel_inertia_kgm2)
    temperature_k = value("weather.temperature_degc", weather.temperature_degc) + ZERO_DEGC_K
    pressure_pa = value("weather.pressure_hpa", weather.pressure_hpa) * PA_PER_HPA
    if weather.is_pressure_reduced:
        pressure_pa = station_pressure_pa(pressure_pa, temperature_k, weather.station_height_m)
    humidity = value("weather.humidity_pct", weather.humidity_pct) / 100.0
    wind_mps = value("weather.wind_mps", weather.wind_mps)
    wind_from_rad = np.radians(value("weather.wind_from_deg", weather.wind_from_deg))
    wind_east_mps = wind_mps * np.sin(wind_from_rad)
    wind_north_mps = wind_mps * np.cos(wind_from_rad)
    if changes is not None and changes.is_on and len(changes.wind_times_s) > 1:
        nominal_mps = weather.wind_mps.value
        scale = wind_mps / nominal_mps if nominal_mps > 0.0 else np.ones_like(wind_mps)
        # Degrees grow clockwise from north: turning the vector (east + i north) goes the other way.
        turn_rad = math.radians(weather.wind_from_deg.value) - wind_from_rad
        wind_east_mps, wind_north_mps = scale * np.cos(turn_rad), scale * np.sin(turn_rad)
    cda_m2 = value("build.cda_m2", build.cda_m2)
    yaw_factors = np.interp(YAW_NODES_DEG, build.yaw_degs, build.cda_factors)
    areas_m2 = np.multiply.outer(cda_m2, yaw_factors)
    if "build.area_changes_m2" in draws:
        areas_m2 = areas_m2 + draws["build.area_changes_m2"]
    bends = bends_over_yaw(areas_m2)
    efficiency = value("build.drivetrain_efficiency", build.drivetrain_efficiency)
    bearing = value("build.bearing_factor", build.bearing_factor)
    grip = (
        value("build.grip_wet", build.grip_wet)
        if weather.is_wet
        else value("build.grip_dry", build.grip_dry)
    )
    coast_mps = rider.coast_speed_mps if coast_mps is None else coast_mps
    spin_mps = min(top_speed_mps(build, rider.cadence_top_rpm), coast_mps)
    willing = caution_of(rider, build)
    pedal_lateral_mps2 = STANDARD_GRAVITY_MPS2 * math.tan(math.radians(willing.pedal_lean_deg))
    power_w = value("rider.power_w", rider.power_w)
    reserve = _reserve_rules(setup)
    fields = {
        "weight_n": mass_kg * STANDARD_GRAVITY_MPS2,
        "two_over_mass_per_kg": 2.0 / (mass_kg + inertia_kgm2 / build.wheel_radius_m**2),
        "crr": value("build.crr", build.crr),
        "half_density_kgm3": 0.5 * air_density_kgm3(temperature_k, pressure_pa, humidity),
        "area_base_m2": bends[..., 0],
        "area_bend_0": bends[..., 1],
        "area_bend_5": bends[..., 2],
        "area_bend_10": bends[..., 3],
        "area_bend_15": bends[..., 4],
        "area_bend_20": bends[..., 5],
        "area_bend_30": bends[..., 6],
        "wheel_drag_area_m2": value("build.wheel_drag_area_m2", build.wheel_drag_area_m2),
        "wind_from_east_mps": wind_east_mps,
        "wind_from_north_mps": wind_north_mps,
        "efficiency": efficiency,
        "bearing_constant_n": BEARING_CONSTANT_N * bearing,
        "bearing_slope_ns_per_m": BEARING_SLOPE_NS_PER_M * bearing,
        "start_pedal_n": rider.start_force_n / efficiency,
        "inverse_grind_s_per_m": 1.0 / low_speed_mps(build, rider.cadence_low_rpm),
        "spin_mps": spin_mps,
        "inverse_spin_width_s_per_m": 1.0 / (SPIN_FADE_SHARE * spin_mps),
        "power_factor": power_w / rider.power_w.value if rider.power_w.value > 0.0 else 1.0,
        "extra_w": 0.0,
        "grip": grip,
        "lean_tan": math.tan(math.radians(willing.lean_deg)),
        "inverse_pedal_lateral_s2_per_m": 1.0 / pedal_lateral_mps2,
        "braking_mps2": willing.braking_g * STANDARD_GRAVITY_MPS2,
        "lift_ratio": LIFT_RATIO,
        **reserve,
    }
    columns = np.empty((len(RULE_FIELDS), n_rides))
    for i_field, name in enumerate(RULE_FIELDS):
        columns[i_field] = fields[name]
    return columns


def nominal_rules(
    setup: RideSetup, *, changes: Changes | None = None, coast_mps: float | None = None
) -> Rules:
    """The one column of `rule_columns` without draws, as the kernels of a single ride take it."""
    return Rules(*rule_columns(setup, changes=changes, coast_mps=coast_mps)[:, 0].tolist())


def ceiling_speeds_mps(ceilings_m2ps2: FloatArray) -> FloatArray:
    """Speeds of the kernels' ceilings: ``inf`` where nothing limits, 0 where no speed will do."""
    speeds_mps: FloatArray = np.sqrt(np.maximum(ceilings_m2ps2, 0.0))
    speeds_mps[ceilings_m2ps2 >= NO_CEILING_M2PS2] = np.inf
    return speeds_mps


def _reserve_rules(setup: RideSetup) -> dict[str, float]:
    """W' and the limits on power that come from it."""
    rider = setup.rider
    if rider.cp_w is None or rider.wprime_j is None:
        return {
            # With nothing in reserve, "critical power" is the most that is ever pedalled.
            "cp_w": NO_RESERVE_W if rider.max_power_w is None else rider.max_power_w,
            "inverse_wprime_per_j": 0.0,
            "surge_w": 0.0,
            "reserve_on": 0.0,
        }
    surge_w = rider.wprime_j / RESERVE_EASE_S
    if rider.max_power_w is not None:
        surge_w = min(surge_w, rider.max_power_w - rider.cp_w)
    return {
        "cp_w": rider.cp_w,
        "inverse_wprime_per_j": 1.0 / rider.wprime_j,
        "surge_w": surge_w,
        "reserve_on": 1.0,
    }
