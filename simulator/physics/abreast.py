"""Passes over a block of rides on one step of the course, written for the vectoriser.

Each pass is a loop over the rides of a block: fixed distances between the rows of flat arrays, no
branch that differs from ride to ride, no sum of floats. A ride depends on its own column only.
"""

from __future__ import annotations

import numpy as np

from simulator.physics.careful import held_piece
from simulator.physics.clock import (
    between_entries,
    entry_before,
    expected_time_s,
    gained,
    staying_share,
    surge_share,
)
from simulator.physics.forces import Steady, steady_at
from simulator.physics.jit import kernel
from simulator.physics.params import RULE_FIELDS, Rules
from simulator.physics.step import (
    ahead,
    forces_at_u,
    is_usable,
    moving_at_u,
    stiffness_per_m,
    weighted_sum,
)

BLOCK = 32
"""Rides in one lock-step block."""

N_STATE_ROWS = 5
"""Rows of a block's state: u, W', and what a pass fills: new u, time taken, new W'."""

N_STAGE_ROWS = 15
"""Rows of the working room of `plain_pass`, behind those of `forces.Steady`: the first stage's
values, the sums of the two inner stages, state at the next stage."""
(NET, NET_INNER, SLOWNESS, SLOWNESS_INNER, RATE, RATE_INNER, U, RESERVE, STIFFNESS) = range(
    6 * BLOCK, N_STAGE_ROWS * BLOCK, BLOCK
)

WIND_EAST = RULE_FIELDS.index("wind_from_east_mps")
WIND_NORTH = RULE_FIELDS.index("wind_from_north_mps")
POWER_FACTOR = RULE_FIELDS.index("power_factor")
EXTRA_W = RULE_FIELDS.index("extra_w")
CP_W = RULE_FIELDS.index("cp_w")


@kernel(inline=True)
def rules_at(lanes, j):
    """Ride `j` of the flat array `lanes` (field after field, `BLOCK` rides each) as `Rules`."""
    return Rules(
        lanes[0 * BLOCK + j], lanes[1 * BLOCK + j], lanes[2 * BLOCK + j], lanes[3 * BLOCK + j],
        lanes[4 * BLOCK + j], lanes[5 * BLOCK + j], lanes[6 * BLOCK + j], lanes[7 * BLOCK + j],
        lanes[8 * BLOCK + j], lanes[9 * BLOCK + j], lanes[10 * BLOCK + j], lanes[11 * BLOCK + j],
        lanes[12 * BLOCK + j], lanes[13 * BLOCK + j], lanes[14 * BLOCK + j], lanes[15 * BLOCK + j],
        lanes[16 * BLOCK + j], lanes[17 * BLOCK + j], lanes[18 * BLOCK + j], lanes[19 * BLOCK + j],
        lanes[20 * BLOCK + j], lanes[21 * BLOCK + j], lanes[22 * BLOCK + j], lanes[23 * BLOCK + j],
        lanes[24 * BLOCK + j], lanes[25 * BLOCK + j], lanes[26 * BLOCK + j], lanes[27 * BLOCK + j],
        lanes[28 * BLOCK + j], lanes[29 * BLOCK + j], lanes[30 * BLOCK + j], lanes[31 * BLOCK + j],
    )  # fmt: skip


@kernel
def set_moments(now, lanes, state, time_s, mark_s, scratch, step, changes):
    """What `clock.rules_now` says, for a block of rides, written for the vectoriser.

    Parameters
    ----------
    now, lanes : (N_RULE_FIELDS * BLOCK,) arrays
        Filled, and as at the start.
    state : (N_STATE_ROWS * BLOCK,) array
        u first.
    time_s, mark_s : (BLOCK,) arrays
        Time, and time at which the last corner was left.
    scratch : (4 * BLOCK,) array
        Room to work in.
    step, changes : Step, Changes
        Place and what changes with time.
    """
    last = changes.wind_times_s.shape[0] - 1
    first_s = changes.wind_times_s[0]
    last_s = changes.wind_times_s[last]
    for j in range(BLOCK):
        expected_s = expected_time_s(np.sqrt(max(state[j], 0.0)), step.length_m)
        scratch[j] = time_s[j] + 0.5 * expected_s
        now[EXTRA_W * BLOCK + j] = step.surge_w * surge_share(
            time_s[j], mark_s[j], changes.surge_s, expected_s
        )
        scratch[2 * BLOCK + j] = changes.winds_mps[0, 0]
        scratch[3 * BLOCK + j] = changes.winds_mps[1, 0]
    earliest_s = np.inf
    latest_s = -np.inf
    for j in range(BLOCK):
        earliest_s = min(earliest_s, scratch[j])
        latest_s = max(latest_s, scratch[j])
    if last > 0:
        # Rides of a block are seconds apart: one or two lines of the table cover them all.
        for low in range(entry_before(earliest_s, changes.wind_times_s), last):
            begin_s = changes.wind_times_s[low]
            if begin_s >= latest_s:
                break
            for j in range(BLOCK):
                east, north = between_entries(
                    scratch[j], low, changes.wind_times_s, changes.winds_mps
                )
                is_here = (scratch[j] >= begin_s) & (scratch[j] > first_s) & (scratch[j] < last_s)
                scratch[2 * BLOCK + j] = east if is_here else scratch[2 * BLOCK + j]
                scratch[3 * BLOCK + j] = north if is_here else scratch[3 * BLOCK + j]
        if latest_s >= last_s:
            for j in range(BLOCK):
                if scratch[j] >= last_s:
                    scratch[2 * BLOCK + j] = changes.winds_mps[0, last]
                    scratch[3 * BLOCK + j] = changes.winds_mps[1, last]
    for j in range(BLOCK):
        now[WIND_EAST * BLOCK + j], now[WIND_NORTH * BLOCK + j] = gained(
            lanes[WIND_EAST * BLOCK + j],
            lanes[WIND_NORTH * BLOCK + j],
            scratch[2 * BLOCK + j],
            scratch[3 * BLOCK + j],
        )
    if latest_s > changes.decline_after_s:
        for j in range(BLOCK):
            share = staying_share(scratch[j], changes)
            now[POWER_FACTOR * BLOCK + j] = lanes[POWER_FACTOR * BLOCK + j] * share
            now[CP_W * BLOCK + j] = lanes[CP_W * BLOCK + j] * share
    elif changes.decline_after_s < np.inf:
        # A slow step looks further ahead than the next one: what it took off is given back.
        for j in range(BLOCK):
            now[POWER_FACTOR * BLOCK + j] = lanes[POWER_FACTOR * BLOCK + j]
            now[CP_W * BLOCK + j] = lanes[CP_W * BLOCK + j]


@kernel(inline=True)
def steady_row(stage, j):
    """The steady part of ride `j`'s forces, as `plain_pass` has laid it down."""
    return Steady(
        stage[0 * BLOCK + j], stage[1 * BLOCK + j], stage[2 * BLOCK + j], stage[3 * BLOCK + j],
        stage[4 * BLOCK + j], stage[5 * BLOCK + j],
    )  # fmt: skip


@kernel
def plain_pass(state, unfit, stage, lanes, ceilings0, ceilings1, step):
    """`step.plain_step` for a block of rides, one stage of all rides after the other.

    Parameters
    ----------
    state : (N_STATE_ROWS * BLOCK,) array
        u and W' at the step's start; the other rows are filled.
    unfit : (BLOCK,) array of int
        Filled: 1 where the result cannot be used, else 0.
    stage : (N_STAGE_ROWS * BLOCK,) array
        Room to work in.
    lanes : (N_RULE_FIELDS * BLOCK,) array
        Field after field.
    ceilings0, ceilings1 : (BLOCK,) arrays
        Ceilings of u at both ends.
    step : Step
        Place.

    Returns
    -------
    int
        How many rides are unfit.

    Notes
    -----
    All four stages of one ride are a chain of some 500 instructions, each waiting for the one
    before: more than a processor looks ahead, so that it never reaches the next rides. A loop for
    each stage keeps several rides in sight (a step of the batch: 27 -> 19 ns).
    """
    h_m = step.length_m
    half = 0.5 * h_m
    sixth = h_m / 6.0
    for j in range(BLOCK):
        u0 = state[j]
        reserve0 = state[BLOCK + j]
        rules = rules_at(lanes, j)
        steady = steady_at(step, rules)
        for row in range(6):
            stage[row * BLOCK + j] = steady[row]
        f, v, w = moving_at_u(steady, u0, reserve0, step, rules)
        rate = f.reserve_rate_w * w
        stage[STIFFNESS + j] = stiffness_per_m(f, u0, v, w, reserve0, step, rules)
        stage[NET + j] = f.net_n
        stage[SLOWNESS + j] = w
        stage[RATE + j] = rate
        stage[U + j], stage[RESERVE + j] = ahead(u0, reserve0, f.net_n, rate, half, rules)
        stage[NET_INNER + j] = 0.0
        stage[SLOWNESS_INNER + j] = 0.0
        stage[RATE_INNER + j] = 0.0
    for reach_m in (half, h_m):
        for j in range(BLOCK):
            rules = rules_at(lanes, j)
            f, v, w = moving_at_u(
                steady_row(stage, j), stage[U + j], stage[RESERVE + j], step, rules
            )
            rate = f.reserve_rate_w * w
            stage[NET_INNER + j] += f.net_n
            stage[SLOWNESS_INNER + j] += w
            stage[RATE_INNER + j] += rate
            stage[U + j], stage[RESERVE + j] = ahead(
                state[j], state[BLOCK + j], f.net_n, rate, reach_m, rules
            )
    n_unfit = 0
    for j in range(BLOCK):
        u0 = state[j]
        rules = rules_at(lanes, j)
        f, v, w = moving_at_u(steady_row(stage, j), stage[U + j], stage[RESERVE + j], step, rules)
        gain_j = weighted_sum(stage[NET + j], stage[NET_INNER + j], f.net_n, sixth)
        u1 = u0 + rules.two_over_mass_per_kg * gain_j
        dt_s = weighted_sum(stage[SLOWNESS + j], stage[SLOWNESS_INNER + j], w, sixth)
        rate = f.reserve_rate_w * w
        change = (rules.two_over_mass_per_kg * h_m) * stage[NET + j]
        usable = is_usable(u0, u1, dt_s, stage[STIFFNESS + j] * h_m, change)
        fits = usable & (u1 <= ceilings1[j]) & (u0 <= ceilings0[j])
        state[2 * BLOCK + j] = u1
        state[3 * BLOCK + j] = dt_s
        state[4 * BLOCK + j] = state[BLOCK + j] + weighted_sum(
            stage[RATE + j], stage[RATE_INNER + j], rate, sixth
        )
        unfit[j] = 0 if fits else 1
        n_unfit += 0 if fits else 1
    return n_unfit


@kernel
def held_pass(state, unfit, lanes, ceilings0, ceilings1, step):
    """Rides that follow their ceiling over the whole step, as most that brake do.

    Parameters and result as those of `plain_pass`, which must have gone before: what it left is
    overwritten for the rides that hold their ceiling. Computing it for all and keeping what fits
    costs less than one careful step for each of them.
    """
    n_unfit = 0
    for j in range(BLOCK):
        u0 = state[j]
        reserve0 = state[BLOCK + j]
        ceiling0 = ceilings0[j]
        rules = rules_at(lanes, j)
        slope = (ceilings1[j] - ceiling0) / step.length_m
        free, v0, inverse_v0 = forces_at_u(u0, reserve0, step, rules)
        u1 = ceilings1[j]
        dt_s, reserve1, holds, a, b, c, brake_a, brake_b, brake_c = held_piece(
            u0, u1, reserve0, free, v0, step.length_m, slope, step, rules
        )
        fits = (
            holds
            & (unfit[j] != 0)
            & (rules.two_over_mass_per_kg * free.net_n >= slope)
            & (u0 >= ceiling0 * (1.0 - 1.0e-14))
            & (u0 <= ceiling0)
            & (u1 >= 0.0)
            & (dt_s < np.inf)
        )
        state[2 * BLOCK + j] = u1 if fits else state[2 * BLOCK + j]
        state[3 * BLOCK + j] = dt_s if fits else state[3 * BLOCK + j]
        state[4 * BLOCK + j] = reserve1 if fits else state[4 * BLOCK + j]
        is_left = (unfit[j] != 0) & (not fits)
        unfit[j] = 1 if is_left else 0
        n_unfit += 1 if is_left else 0
    return n_unfit
