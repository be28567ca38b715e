"""The force model: what acts on bike and rider at one place, speed and state of the reserve.

One function, called by the scalar integrator, the batch and the tests alike. Balance after
[Martin1998]; air in cross-wind as a drag area on the square of the apparent wind.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from simulator.physics.constants import (
    FADE_WIDTH_MPS,
    LEAN_FADE,
    SIN2_5,
    SIN2_10,
    SIN2_15,
    SIN2_20,
    SIN2_30,
)
from simulator.physics.jit import kernel


class Forces(NamedTuple):
    """Forces along the road in N; all but `pedal_n` and `loss_n` resist when positive."""

    gravity_n: float
    rolling_n: float
    air_n: float
    bearing_n: float
    pedal_n: float  # power at the pedals over speed
    loss_n: float  # the part of it lost in the drivetrain
    net_n: float  # what accelerates
    reserve_rate_w: float  # change of W' per second


class Steady(NamedTuple):
    """What stays the same over a step at any speed."""

    gravity_n: float
    rolling_n: float
    headwind_mps: float
    crosswind2_m2ps2: float
    half_density_kgm3: float
    wanted_w: float  # power demanded at the pedals, before any limit


@kernel(inline=True)
def drag_area_m2(sin2_yaw, rules):
    """Drag area of bike and rider at a yaw angle, without the turning of the wheels.

    Parameters
    ----------
    sin2_yaw : float
        Squared sine of the angle between apparent wind and direction of travel.
    rules : Rules
        The ride's constants.

    Returns
    -------
    float
        Drag area in m², on the square of the apparent wind. Linear in ``sin2_yaw`` between the
        angles of ``constants.YAW_NODES_DEG``; see ``air.bends_over_yaw``.
    """
    # Summed in pairs: the sums wait for `sin2_yaw`, and a chain would wait for each in turn.
    below_10 = (rules.area_base_m2 + rules.area_bend_0 * sin2_yaw) + rules.area_bend_5 * max(
        sin2_yaw, SIN2_5
    )
    below_20 = rules.area_bend_10 * max(sin2_yaw, SIN2_10) + rules.area_bend_15 * max(
        sin2_yaw, SIN2_15
    )
    above_20 = rules.area_bend_20 * max(sin2_yaw, SIN2_20) + rules.area_bend_30 * max(
        sin2_yaw, SIN2_30
    )
    return below_10 + (below_20 + above_20)


@kernel(inline=True)
def forces_at(v_mps, inverse_v_s_per_m, reserve_j, step, rules):
    """All forces at one speed.

    Parameters
    ----------
    v_mps, inverse_v_s_per_m : float
        Speed along the road and its inverse (``inf`` at standstill).
    reserve_j : float
        W' left.
    step : Step
        The place.
    rules : Rules
        Rider, build and weather.

    Returns
    -------
    Forces
        See there.

    Notes
    -----
    Gravity m g sin(slope), rolling Crr m g cos(slope), bearings [Martin1998, eqs. 4 to 7]. Air:
    1/2 rho (CdA(yaw) + Fw) V (v + headwind), the component along the road of a drag on the
    square of the apparent wind V; Martin squares the axial wind instead. Reserve: differential
    balance [Skiba2015]; power is limited to CP + (Pmax - CP) W / W' [Morton1996].
    """
    return forces_moving(steady_at(step, rules), v_mps, inverse_v_s_per_m, reserve_j, step, rules)


@kernel(inline=True)
def steady_at(step, rules):
    """The part of `forces_at` that no speed changes."""
    headwind_mps = (
        rules.wind_from_east_mps * step.axis_east + rules.wind_from_north_mps * step.axis_north
    )
    crosswind_mps = (
        rules.wind_from_east_mps * step.axis_north - rules.wind_from_north_mps * step.axis_east
    )
    return Steady(
        rules.weight_n * step.sin_slope,
        rules.weight_n * step.cos_slope * rules.crr * step.crr_factor,
        headwind_mps,
        # The addend keeps dead calm at standstill from being 0/0; it is far below any wind felt.
        crosswind_mps * crosswind_mps + 1.0e-24,
        rules.half_density_kgm3 * step.density_ratio,
        (step.power_w + rules.extra_w) * rules.power_factor,
    )


@kernel(inline=True)
def forces_moving(steady, v_mps, inverse_v_s_per_m, reserve_j, step, rules):
    """`forces_at` with its steady part at hand."""
    axial_mps = v_mps + steady.headwind_mps
    apparent2 = axial_mps * axial_mps + steady.crosswind2_m2ps2
    sin2_yaw = steady.crosswind2_m2ps2 / apparent2
    blend = min(max((v_mps - step.position_mps) * (0.5 / FADE_WIDTH_MPS) + 0.5, 0.0), 1.0)
    position = step.position_slow + (step.position_fast - step.position_slow) * blend
    pressure_n_per_m2 = steady.half_density_kgm3 * axial_mps * np.sqrt(apparent2)
    wheels_n = pressure_n_per_m2 * rules.wheel_drag_area_m2
    body_n = (pressure_n_per_m2 * position) * drag_area_m2(sin2_yaw, rules)

    bearing_n = rules.bearing_constant_n + rules.bearing_slope_ns_per_m * v_mps

    spin_fade = (rules.spin_mps - v_mps) * rules.inverse_spin_width_s_per_m
    lean_use = v_mps * v_mps * step.inverse_radius_per_m * rules.inverse_pedal_lateral_s2_per_m
    fade = min(min(max(spin_fade, 0.0), max(LEAN_FADE - LEAN_FADE * lean_use, 0.0)), 1.0)
    wanted_w = steady.wanted_w * fade
    power_w = min(wanted_w, rules.cp_w + rules.surge_w * reserve_j * rules.inverse_wprime_per_j)
    pedal_n = power_w * min(inverse_v_s_per_m, rules.inverse_grind_s_per_m)
    pedal_n = min(pedal_n, rules.start_pedal_n)
    loss_n = pedal_n * (1.0 - rules.efficiency)

    # What waits longest comes last: the drag area needs a root and a division before it.
    resting_n = steady.gravity_n + steady.rolling_n + bearing_n
    net_n = ((pedal_n - loss_n) - resting_n - wheels_n) - body_n
    reserve_rate_w = reserve_rate(pedal_n * v_mps, reserve_j, rules)
    air_n = wheels_n + body_n
    return Forces(
        steady.gravity_n, steady.rolling_n, air_n, bearing_n, pedal_n, loss_n, net_n,
        reserve_rate_w,
    )  # fmt: skip


@kernel(inline=True)
def reserve_rate(power_w, reserve_j, rules):
    """Change of W' per second at a power.

    Parameters
    ----------
    power_w, reserve_j : float
        Power at the pedals and W' left.
    rules : Rules
        The ride's constants.

    Returns
    -------
    float
        W (J/s); 0 when the reserve is not followed.

    Notes
    -----
    -(P - CP) above critical power, (1 - W / W') (CP - P) below [Skiba2015].
    """
    surplus_w = power_w - rules.cp_w
    refill = max(-surplus_w, 0.0) * (1.0 - reserve_j * rules.inverse_wprime_per_j)
    return rules.reserve_on * (refill - max(surplus_w, 0.0))
