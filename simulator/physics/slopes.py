"""How a ride answers to small changes of power: one ride forward, then its slopes backward.

Each step is a map from (u, W', time, power) to (u, W', time taken, work). Its slopes are taken by
differences of the very step that rides it, plain or careful, so that no formula stands twice; the
chain rule then runs backward over all steps, once for each result whose slopes are wanted.
"""

from __future__ import annotations

import numpy as np

from simulator.physics.careful import careful_step
from simulator.physics.clock import rules_now
from simulator.physics.jit import kernel
from simulator.physics.params import FINISHED, STEP_FIELDS
from simulator.physics.step import N_SUMS, plain_step, step_at, weighted

POWER = STEP_FIELDS.index("power_w")

N_OUT = 4
"""Results of a step: u, W', time taken, work at the pedals."""

N_IN = 5
"""What they are differentiated by: u, W', time at its start, power from below, power from above."""

U_PART = 1.0e-6
RESERVE_STEP_J = 1.0e-2
TIME_STEP_S = 1.0e-3
POWER_STEP_W = 1.0e-3
"""Sizes of the differences: their errors of rounding and of bending are both below 1e-6."""


@kernel
def one_step(u, reserve, time_s, power_w, i, steps, rules, changes, ceilings, scratch):
    """Ride one step as `integrate.ride_steps` does, at a power of its own.

    Parameters
    ----------
    u, reserve, time_s, power_w : float
        u = v² (m²/s²), W' (J) and time (s) at its start; demanded power (W).
    i : int
        Which step.
    steps, rules, changes, ceilings
        As in `integrate.ride_steps`; the power in `steps` is overwritten. Surges are left out.
    scratch : (1, N_SUMS) array
        Overwritten.

    Returns
    -------
    tuple
        u, W', time taken (s), work at the pedals (J), outcome code.
    """
    steps[i, POWER] = power_w
    step = step_at(steps, i)
    now = rules
    if changes.is_on:
        now = rules_now(rules, time_s, np.sqrt(max(u, 0.0)), -np.inf, step, changes)
    usable = False
    if u > 0.0:
        u1, dt_s, reserve1, usable, f1, f2, f3, f4 = plain_step(
            u, reserve, step.length_m, step, now
        )
    if usable and u1 <= ceilings[i + 1] and u <= ceilings[i]:
        work_j = weighted(f1.pedal_n, f2.pedal_n, f3.pedal_n, f4.pedal_n, step.length_m / 6.0)
        return u1, reserve1, dt_s, work_j, FINISHED
    for cause in range(N_SUMS):
        scratch[0, cause] = 0.0
    u1, dt_s, reserve1, outcome, gone_m = careful_step(
        u, reserve, ceilings[i], ceilings[i + 1], step, now, scratch, 0
    )
    return u1, reserve1, dt_s, scratch[0, 6], outcome


@kernel
def ride_powers(
    steps, rules, changes, ceilings, u_start, reserve_start, plain_w, per_reserve_w, us, reserves,
    times, powers, works,
):  # fmt: skip
    """Ride every step at a power that may follow what is left of W'.

    Parameters
    ----------
    steps, rules, changes, ceilings
        As in `integrate.ride_steps`.
    u_start, reserve_start : float
        u (m²/s²) and W' (J) at the start.
    plain_w, per_reserve_w : (n,) arrays
        Power demanded on each step: plain + per_reserve W' / (full W').
    us, reserves, times : (n + 1,) arrays
        Filled at the nodes.
    powers, works : (n,) arrays
        Filled: power demanded (W), work at the pedals (J).

    Returns
    -------
    int
        Outcome code.
    """
    scratch = np.zeros((1, N_SUMS))
    us[0] = min(u_start, ceilings[0])
    reserves[0] = reserve_start
    times[0] = 0.0
    for i in range(steps.shape[0]):
        powers[i] = plain_w[i] + per_reserve_w[i] * reserves[i] * rules.inverse_wprime_per_j
        us[i + 1], reserves[i + 1], dt_s, works[i], outcome = one_step(
            us[i], reserves[i], times[i], powers[i], i, steps, rules, changes, ceilings, scratch
        )
        times[i + 1] = times[i] + dt_s
        if outcome != FINISHED:
            return outcome
    return FINISHED


@kernel
def fill_slopes(steps, rules, changes, ceilings, us, reserves, times, powers, slopes):
    """Slopes of every step of a ride that `ride_powers` has ridden.

    Parameters
    ----------
    steps, rules, changes, ceilings, us, reserves, times, powers
        Of that ride.
    slopes : (n, N_OUT, N_IN) array
        Filled.
    """
    scratch = np.zeros((1, N_SUMS))
    low = np.empty(N_OUT)
    high = np.empty(N_OUT)
    here = np.empty(N_OUT)
    for i in range(steps.shape[0]):
        u, reserve, time_s, power = us[i], reserves[i], times[i], powers[i]
        here[0], here[1], here[2], here[3], outcome = one_step(
            u, reserve, time_s, power, i, steps, rules, changes, ceilings, scratch
        )
        # Along u downward: above a ceiling there is no ride.
        span = U_PART * u
        low[0], low[1], low[2], low[3], outcome = one_step(
            u - span, reserve, time_s, power, i, steps, rules, changes, ceilings, scratch
        )
        for k in range(N_OUT):
            slopes[i, k, 0] = (here[k] - low[k]) / span if span > 0.0 else 0.0
            slopes[i, k, 1] = 1.0 if k == 1 else 0.0
        if rules.reserve_on > 0.0:
            low[0], low[1], low[2], low[3], outcome = one_step(
                u, reserve - RESERVE_STEP_J, time_s, power, i, steps, rules, changes, ceilings,
                scratch,
            )  # fmt: skip
            for k in range(N_OUT):
                slopes[i, k, 1] = (here[k] - low[k]) / RESERVE_STEP_J
        for k in range(N_OUT):
            slopes[i, k, 2] = 0.0
        if changes.is_on:
            high[0], high[1], high[2], high[3], outcome = one_step(
                u, reserve, time_s + TIME_STEP_S, power, i, steps, rules, changes, ceilings, scratch
            )
            for k in range(N_OUT):
                slopes[i, k, 2] = (high[k] - here[k]) / TIME_STEP_S
        low[0], low[1], low[2], low[3], outcome = one_step(
            u, reserve, time_s, power - POWER_STEP_W, i, steps, rules, changes, ceilings, scratch
        )
        high[0], high[1], high[2], high[3], outcome = one_step(
            u, reserve, time_s, power + POWER_STEP_W, i, steps, rules, changes, ceilings, scratch
        )
        for k in range(N_OUT):
            slopes[i, k, 3] = (here[k] - low[k]) / POWER_STEP_W
            slopes[i, k, 4] = (high[k] - here[k]) / POWER_STEP_W
        steps[i, POWER] = power


@kernel
def gather_slopes(
    slopes, time_weights, work_weights, reserve_weights, per_reserve, from_below, from_above
):
    """Slopes of one result by the power of every step, backward over the ride.

    Parameters
    ----------
    slopes : (n, N_OUT, N_IN) array
        From `fill_slopes`.
    time_weights, work_weights : (n,) arrays
        What the result gains for each second and each joule of work on a step.
    reserve_weights : (n + 1,) array
        What it gains for each joule of W' at a node.
    per_reserve : (n,) array
        Change of the step's power (W) for each joule of W' at its start.
    from_below, from_above : (n,) arrays
        Filled: slope by the power of the step, for less and for more power. They differ where
        W' is spent and refilled at different rates.

    Returns
    -------
    float
        Slope by W' at the start.
    """
    n = slopes.shape[0]
    by_u = 0.0
    by_reserve = reserve_weights[n]
    by_time = 0.0
    for i in range(n - 1, -1, -1):
        on_time = time_weights[i] + by_time
        on_work = work_weights[i]
        below = (
            by_u * slopes[i, 0, 3] + by_reserve * slopes[i, 1, 3]
            + on_time * slopes[i, 2, 3] + on_work * slopes[i, 3, 3]
        )  # fmt: skip
        above = (
            by_u * slopes[i, 0, 4] + by_reserve * slopes[i, 1, 4]
            + on_time * slopes[i, 2, 4] + on_work * slopes[i, 3, 4]
        )  # fmt: skip
        new_u = (
            by_u * slopes[i, 0, 0] + by_reserve * slopes[i, 1, 0]
            + on_time * slopes[i, 2, 0] + on_work * slopes[i, 3, 0]
        )  # fmt: skip
        new_reserve = (
            by_u * slopes[i, 0, 1] + by_reserve * slopes[i, 1, 1]
            + on_time * slopes[i, 2, 1] + on_work * slopes[i, 3, 1]
        )  # fmt: skip
        by_time = by_time + (
            by_u * slopes[i, 0, 2] + by_reserve * slopes[i, 1, 2]
            + on_time * slopes[i, 2, 2] + on_work * slopes[i, 3, 2]
        )  # fmt: skip
        from_below[i] = below
        from_above[i] = above
        by_u = new_u
        by_reserve = new_reserve + 0.5 * (below + above) * per_reserve[i] + reserve_weights[i]
    return by_reserve
