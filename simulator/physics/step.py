"""The plain step: one Runge-Kutta step over one step of the course.

State: u = v² over distance, with time and W' alongside, by the classical 4th-order Runge-Kutta
method. It says itself when its result cannot be used (near standstill, or where the step is
stiff); ``careful.py`` then takes the step apart.
"""

from __future__ import annotations

import numpy as np

from simulator.physics.constants import LEAN_FADE, SLOW_SPEED_MPS
from simulator.physics.forces import forces_moving, steady_at
from simulator.physics.jit import kernel
from simulator.physics.params import Step

STIFF_LIMIT = 0.3
"""Step length times the decay rate of a speed difference, above which a step is taken apart."""

MOST_CHANGE = 0.25
"""Change of u over a step at the force at its start, over u, above which it is taken apart."""

FADE_AHEAD = 3.0
"""A fade of power (from 1 down to 0) counts for stiffness from three widths before its end."""

SPENT_AHEAD = 1.5
"""What a step takes out of W', over what it would take at the speed at its start, at most."""

N_SUMS = 7
"""Work sums, in J: climbing, air, rolling, bearings, drivetrain, braking, pedals."""


@kernel(inline=True)
def step_at(steps, i):
    """Row `i` of the array `steps` as a `Step`."""
    return Step(
        steps[i, 0], steps[i, 1], steps[i, 2], steps[i, 3], steps[i, 4], steps[i, 5],
        steps[i, 6], steps[i, 7], steps[i, 8], steps[i, 9], steps[i, 10], steps[i, 11],
        steps[i, 12], steps[i, 13], steps[i, 14], steps[i, 15],
    )  # fmt: skip


@kernel
def lay_rows(columns, counts, rows):
    """Write each segment's row as often as it takes steps.

    Parameters
    ----------
    columns : (N_STEP_FIELDS, n) array
        One `Step` a column.
    counts : (n,) array of int
        Steps by segment.
    rows : (sum of counts, N_STEP_FIELDS) array
        Filled.
    """
    i_row = 0
    for i in range(counts.shape[0]):
        for _ in range(counts[i]):
            for field in range(columns.shape[0]):
                rows[i_row, field] = columns[field, i]
            i_row += 1


@kernel
def sum_by_segment(work, firsts, sums):
    """Add up the work of the steps of each segment.

    Parameters
    ----------
    work : (n_steps, N_SUMS) array
        Work by cause on each step.
    firsts : (n + 1,) array of int
        First step of each segment, and the number of steps.
    sums : (N_SUMS, n) array
        Filled.
    """
    for i in range(sums.shape[1]):
        for cause in range(N_SUMS):
            sums[cause, i] = 0.0
        for i_step in range(firsts[i], firsts[i + 1]):
            for cause in range(N_SUMS):
                sums[cause, i] += work[i_step, cause]


@kernel(inline=True)
def forces_at_u(u_m2ps2, reserve_j, step, rules):
    """Forces at u = v²; also v and 1/v."""
    return moving_at_u(steady_at(step, rules), u_m2ps2, reserve_j, step, rules)


@kernel(inline=True)
def moving_at_u(steady, u_m2ps2, reserve_j, step, rules):
    """`forces_at_u` with its steady part at hand."""
    # A stage below zero comes out as NaN, which `is_usable` refuses: no wait for a comparison here.
    v_mps = np.sqrt(u_m2ps2)
    inverse_v = 1.0 / v_mps
    return forces_moving(steady, v_mps, inverse_v, reserve_j, step, rules), v_mps, inverse_v


@kernel(inline=True)
def ahead(u0, reserve0, net_n, reserve_rate_j_per_m, h_m, rules):
    """State (u in m²/s², W' in J) after `h_m` metres at a net force and a rate of W' a metre."""
    return (
        u0 + (rules.two_over_mass_per_kg * h_m) * net_n,
        reserve0 + h_m * reserve_rate_j_per_m,
    )


@kernel(inline=True)
def weighted(a, b, c, d, scale):
    """Runge-Kutta mean of four stage values times `scale`."""
    return weighted_sum(a, b + c, d, scale)


@kernel(inline=True)
def weighted_sum(a, b_and_c, d, scale):
    """`weighted`, the two inner stages being summed already."""
    return scale * (a + 2.0 * b_and_c + d)


@kernel(inline=True)
def stiffness_per_m(f, u_m2ps2, v_mps, inverse_v_s_per_m, reserve_j, step, rules):
    """How fast a difference in speed or W' dies out along the road.

    Parameters
    ----------
    f : Forces
        At this place and speed.
    u_m2ps2, v_mps, inverse_v_s_per_m, reserve_j : float
        State.
    step, rules : Step, Rules
        Place and ride.

    Returns
    -------
    float
        Estimate of the decay rate in 1/m: power over speed, air, and, where power fades (near the
        top cadence, at a lean, with W' running out) or soon will, the slope of that fade.
    """
    wanted_w = (step.power_w + rules.extra_w) * rules.power_factor
    wanted_n = wanted_w * rules.efficiency * inverse_v_s_per_m
    near_spin = (rules.spin_mps - v_mps) * rules.inverse_spin_width_s_per_m < FADE_AHEAD
    spin_n = (0.5 * wanted_n) * (v_mps * rules.inverse_spin_width_s_per_m)
    lean_use = u_m2ps2 * step.inverse_radius_per_m * rules.inverse_pedal_lateral_s2_per_m
    near_lean = LEAN_FADE - LEAN_FADE * lean_use < FADE_AHEAD
    lean_n = (LEAN_FADE * wanted_n) * lean_use
    fade_n = max(spin_n if near_spin else 0.0, lean_n if near_lean else 0.0)
    reserve_rate = rules.reserve_on * rules.surge_w * rules.inverse_wprime_per_j
    fade_rate = reserve_rate * inverse_v_s_per_m
    # How soon depends on how much a step takes: it may end a third slower than it begins.
    ahead = FADE_AHEAD + SPENT_AHEAD * step.length_m * fade_rate
    near_empty = reserve_rate * reserve_j < ahead * (wanted_w - rules.cp_w)
    refill_rate = rules.reserve_on * rules.cp_w * rules.inverse_wprime_per_j * inverse_v_s_per_m
    reserve_rate_per_m = max(fade_rate if near_empty else 0.0, refill_rate)
    force_n = 0.5 * (f.pedal_n - f.loss_n) + abs(f.air_n) + fade_n
    return (
        rules.two_over_mass_per_kg * force_n * (inverse_v_s_per_m * inverse_v_s_per_m)
        + reserve_rate_per_m
    )


@kernel(inline=True)
def plain_step(u0, reserve0, h_m, step, rules):
    """One Runge-Kutta step over `h_m` metres.

    Parameters
    ----------
    u0, reserve0 : float
        u = v² (m²/s²) and W' (J) at its start.
    h_m : float
        Length in m.
    step, rules : Step, Rules
        Place and ride.

    Returns
    -------
    tuple
        u1, time taken (s), W' at the end, whether the result can be used, and the four stages'
        forces. Unused results are optimised away.
    """
    half = 0.5 * h_m
    sixth = h_m / 6.0
    steady = steady_at(step, rules)
    f1, v1, w1 = moving_at_u(steady, u0, reserve0, step, rules)
    rate1 = f1.reserve_rate_w * w1
    u2, reserve2 = ahead(u0, reserve0, f1.net_n, rate1, half, rules)
    f2, v2, w2 = moving_at_u(steady, u2, reserve2, step, rules)
    rate2 = f2.reserve_rate_w * w2
    u3, reserve3 = ahead(u0, reserve0, f2.net_n, rate2, half, rules)
    f3, v3, w3 = moving_at_u(steady, u3, reserve3, step, rules)
    rate3 = f3.reserve_rate_w * w3
    u4, reserve4 = ahead(u0, reserve0, f3.net_n, rate3, h_m, rules)
    f4, v4, w4 = moving_at_u(steady, u4, reserve4, step, rules)
    rate4 = f4.reserve_rate_w * w4
    gain_j = weighted(f1.net_n, f2.net_n, f3.net_n, f4.net_n, sixth)
    u1 = u0 + rules.two_over_mass_per_kg * gain_j
    dt_s = weighted(w1, w2, w3, w4, sixth)
    reserve1 = reserve0 + weighted(rate1, rate2, rate3, rate4, sixth)
    stiffness = stiffness_per_m(f1, u0, v1, w1, reserve0, step, rules)
    change = (rules.two_over_mass_per_kg * h_m) * f1.net_n
    return u1, dt_s, reserve1, is_usable(u0, u1, dt_s, stiffness * h_m, change), f1, f2, f3, f4


@kernel(inline=True)
def is_usable(u0, u1, dt_s, stiffness, change):
    """Whether the result of a plain step holds: fast enough, not stiff, no stage at standstill."""
    return (
        (u1 > SLOW_SPEED_MPS * SLOW_SPEED_MPS)
        & (u0 > SLOW_SPEED_MPS * SLOW_SPEED_MPS)
        & (stiffness < STIFF_LIMIT)
        & (abs(change) < MOST_CHANGE * u0)
        & (dt_s < np.inf)
    )


@kernel(inline=True)
def add_work(work, i, f1, f2, f3, f4, scale):
    """Add the work of four stages to row `i` of `work`."""
    work[i, 0] += weighted(f1.gravity_n, f2.gravity_n, f3.gravity_n, f4.gravity_n, scale)
    work[i, 1] += weighted(f1.air_n, f2.air_n, f3.air_n, f4.air_n, scale)
    work[i, 2] += weighted(f1.rolling_n, f2.rolling_n, f3.rolling_n, f4.rolling_n, scale)
    work[i, 3] += weighted(f1.bearing_n, f2.bearing_n, f3.bearing_n, f4.bearing_n, scale)
    work[i, 4] += weighted(f1.loss_n, f2.loss_n, f3.loss_n, f4.loss_n, scale)
    work[i, 6] += weighted(f1.pedal_n, f2.pedal_n, f3.pedal_n, f4.pedal_n, scale)
