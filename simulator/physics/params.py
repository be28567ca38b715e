"""The NamedTuples and array columns that kernels take, and the codes they return."""

from __future__ import annotations

from typing import Any, NamedTuple

FINISHED = 0
STOPPED = 1
"""Outcome codes of a ride."""


class Step(NamedTuple):
    """What one step of the course does to any rider. One row of the array ``steps``."""

    length_m: float
    sin_slope: float
    cos_slope: float
    density_ratio: float  # air density over that at the weather station
    axis_east: float  # unit vector of travel times the factor on the wind here
    axis_north: float
    crr_factor: float
    power_w: float  # demanded at the pedals before any limit
    position_slow: float  # factor on drag area well below `position_mps`
    position_fast: float  # and well above it
    position_mps: float
    inverse_radius_per_m: float  # of the line ridden; 0 on a straight
    grip_factor: float
    surge_w: float  # on top of power_w for a while behind a corner
    opens_surge: float  # 1 on the first step behind a corner
    standstill: float  # 1 if the rider must stop and start again where this step begins


class Rules(NamedTuple):
    """What one rider on one build in one weather brings. One column of the array ``lanes``."""

    weight_n: float  # mass times gravity
    two_over_mass_per_kg: float  # 2 / (mass + wheel inertia / radius²)
    crr: float
    half_density_kgm3: float  # half the air density at the weather station
    area_base_m2: float  # drag area over yaw as base + sum of bends, see air.bends_over_yaw
    area_bend_0: float
    area_bend_5: float
    area_bend_10: float
    area_bend_15: float
    area_bend_20: float
    area_bend_30: float
    wheel_drag_area_m2: float
    wind_from_east_mps: float  # vector that points to where the wind comes from
    wind_from_north_mps: float
    efficiency: float
    bearing_constant_n: float
    bearing_slope_ns_per_m: float
    start_pedal_n: float  # most that the pedals can give as a force along the road
    inverse_grind_s_per_m: float  # 1 / speed in the lowest gear at the lowest cadence
    spin_mps: float  # speed at which pedalling has faded out
    inverse_spin_width_s_per_m: float
    power_factor: float  # scales the demand
    extra_w: float  # added to the demand
    cp_w: float
    inverse_wprime_per_j: float
    surge_w: float  # power above cp_w with the reserve full
    reserve_on: float  # 1 if W' is followed, else 0
    grip: float
    lean_tan: float
    inverse_pedal_lateral_s2_per_m: float  # 1 / (g tan(lean at which pedalling has faded out))
    braking_mps2: float
    lift_ratio: float  # centre of mass: distance behind the front contact over height


class Changes(NamedTuple):
    """What changes with time during a ride.

    Where ``is_on`` is 1, the wind of `Rules` is not a wind but a gain on this table, a complex
    factor (real part in the east field, imaginary part in the north field) that scales and turns
    it, so that each ride of a batch can have its own.
    """

    is_on: int
    wind_times_s: Any  # (k,) array
    winds_mps: Any  # (2, k) array
    decline_after_s: float  # see ``clock.staying_share``
    decline_per_log: float
    surge_s: float


STEP_FIELDS = Step._fields
RULE_FIELDS = Rules._fields
N_STEP_FIELDS = len(STEP_FIELDS)
N_RULE_FIELDS = len(RULE_FIELDS)
