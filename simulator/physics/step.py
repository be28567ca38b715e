"""The plain step: one Runge-Kutta step over one step of the course.

State: u = v² over distance, with time and W' alongside, by the classical 4th-order Runge-Kutta
method. It says itself when its result cannot be used (near standstill, or where the step is
stiff); ``careful.py`` then takes the step apart.
"""

from __future__ import annotations

import numpy as np

from simulator.physics.constants import SLOW_SPEED_MPS
from simulator.physics.forces import forces_at
from simulator.physics.jit import kernel
from simulator.physics.params import Step

STIFF_LIMIT = 0.5
"""Step length times the decay rate of a speed difference, above which a step is taken apart."""

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


@kernel(inline=True)
def forces_at_u(u_m2ps2, reserve_j, step, rules):
    """Forces at u = v²; also v and 1/v."""
    # A root of what may be negative is a call, which stops the loop over rides from being turned
    # into vector instructions; a stage below zero shows as an infinite time instead.
    v_mps = np.sqrt(max(u_m2ps2, 0.0))
    inverse_v = 1.0 / v_mps
    return forces_at(v_mps, inverse_v, reserve_j, step, rules), v_mps, inverse_v


@kernel(inline=True)
def weighted(a, b, c, d, scale):
    """Runge-Kutta mean of four stage values times `scale`."""
    return scale * (a + 2.0 * (b + c) + d)


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
    k = rules.two_over_mass_per_kg
    half = 0.5 * h_m
    k_half = k * half
    f1, v1, w1 = forces_at_u(u0, reserve0, step, rules)
    f2, v2, w2 = forces_at_u(
        u0 + k_half * f1.net_n, reserve0 + half * f1.reserve_rate_w * w1, step, rules
    )
    f3, v3, w3 = forces_at_u(
        u0 + k_half * f2.net_n, reserve0 + half * f2.reserve_rate_w * w2, step, rules
    )
    f4, v4, w4 = forces_at_u(
        u0 + (h_m * k) * f3.net_n, reserve0 + h_m * f3.reserve_rate_w * w3, step, rules
    )
    sixth = h_m / 6.0
    u1 = u0 + k * weighted(f1.net_n, f2.net_n, f3.net_n, f4.net_n, sixth)
    dt_s = weighted(w1, w2, w3, w4, sixth)
    reserve1 = reserve0 + weighted(
        f1.reserve_rate_w * w1, f2.reserve_rate_w * w2,
        f3.reserve_rate_w * w3, f4.reserve_rate_w * w4, sixth,
    )  # fmt: skip
    stiffness = h_m * k * (0.5 * (f1.pedal_n - f1.loss_n) + abs(f1.air_n))
    usable = (
        (u1 > SLOW_SPEED_MPS * SLOW_SPEED_MPS)
        & (u0 > SLOW_SPEED_MPS * SLOW_SPEED_MPS)
        & (stiffness < STIFF_LIMIT * u0)
        & (abs(u1 - u0) < 0.5 * u0)
        & (dt_s < np.inf)
    )
    return u1, dt_s, reserve1, usable, f1, f2, f3, f4


@kernel(inline=True)
def add_work(work, i, f1, f2, f3, f4, scale):
    """Add the work of four stages to row `i` of `work`."""
    work[i, 0] += weighted(f1.gravity_n, f2.gravity_n, f3.gravity_n, f4.gravity_n, scale)
    work[i, 1] += weighted(f1.air_n, f2.air_n, f3.air_n, f4.air_n, scale)
    work[i, 2] += weighted(f1.rolling_n, f2.rolling_n, f3.rolling_n, f4.rolling_n, scale)
    work[i, 3] += weighted(f1.bearing_n, f2.bearing_n, f3.bearing_n, f4.bearing_n, scale)
    work[i, 4] += weighted(f1.loss_n, f2.loss_n, f3.loss_n, f4.loss_n, scale)
    work[i, 6] += weighted(f1.pedal_n, f2.pedal_n, f3.pedal_n, f4.pedal_n, scale)
