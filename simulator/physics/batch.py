"""Many rides over the same course in lock-step: the inner loop runs over rides.

Rides advance together, `BLOCK` at a time, so that the compiler turns the plain step into vector
instructions; a ride that needs more on some step takes the careful step there, alone. Each ride
depends on its own column only: same bits at any thread count and in any company.
"""

from __future__ import annotations

import numpy as np
from numba import prange

from simulator.physics.careful import careful_step, held_piece
from simulator.physics.clock import (
    between_entries,
    entry_before,
    expected_time_s,
    gained,
    staying_share,
    surge_share,
)
from simulator.physics.constants import NO_CEILING_M2PS2
from simulator.physics.jit import kernel
from simulator.physics.limits import ceiling_before
from simulator.physics.params import FINISHED, RULE_FIELDS, Rules
from simulator.physics.step import N_SUMS, forces_at_u, plain_step, step_at

BLOCK = 32
"""Rides in one lock-step block."""

WIND_EAST = RULE_FIELDS.index("wind_from_east_mps")
WIND_NORTH = RULE_FIELDS.index("wind_from_north_mps")
POWER_FACTOR = RULE_FIELDS.index("power_factor")
EXTRA_W = RULE_FIELDS.index("extra_w")
CP_W = RULE_FIELDS.index("cp_w")
CEILING_FIELDS = tuple(
    RULE_FIELDS.index(name) for name in ("grip", "lean_tan", "braking_mps2", "lift_ratio")
)


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
    state : (6 * BLOCK,) array
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


@kernel
def ride_block(
    steps, lanes, changes, ceilings, u_start, reserve_start, marks, mark_times, outcomes
):
    """Ride `BLOCK` rides over all steps.

    Parameters
    ----------
    steps : (n, N_STEP_FIELDS) array
        The course.
    lanes : (N_RULE_FIELDS * BLOCK,) array
        Field after field, `BLOCK` rides each.
    changes : Changes
        What changes with time.
    ceilings : (n + 1, BLOCK) array
        Ceilings of u at the nodes.
    u_start, reserve_start : (BLOCK,) arrays
        Start values.
    marks : (n_marks,) array of int
        Nodes, ascending, at which the time is wanted.
    mark_times : (n_marks, BLOCK) array
        Filled with times in s; ``inf`` behind the place where a ride stops.
    outcomes : (BLOCK,) array of int
        Filled: -1 finished, else the step in which the ride stopped.

    Notes
    -----
    The inner loop is written for the vectoriser: one flat array for all that changes, fixed
    distances between its rows, no sum over rides in it.
    """
    n = steps.shape[0]
    # Rows: u, reserve, new u, time taken, new reserve, 1 if the plain step will not do.
    state = np.zeros(6 * BLOCK)
    time_s = np.zeros(BLOCK)
    mark_s = np.full(BLOCK, -np.inf)
    now = lanes
    if changes.is_on:
        now = lanes.copy()
    scratch = np.empty(4 * BLOCK)
    unused_work = np.zeros((1, N_SUMS))
    for j in range(BLOCK):
        state[j] = min(u_start[j], ceilings[0, j])
        state[BLOCK + j] = reserve_start[j]
        outcomes[j] = -1
    mark = 0
    n_marks = marks.shape[0]
    while mark < n_marks and marks[mark] == 0:
        mark_times[mark, :] = 0.0
        mark += 1
    for i in range(n):
        step = step_at(steps, i)
        ceilings0 = ceilings[i]
        ceilings1 = ceilings[i + 1]
        if changes.is_on:
            if step.opens_surge > 0.0:
                mark_s[:] = time_s
            set_moments(now, lanes, state, time_s, mark_s, scratch, step, changes)
        for j in range(BLOCK):
            u0 = state[j]
            u1, dt_s, reserve1, usable, f1, f2, f3, f4 = plain_step(
                u0, state[BLOCK + j], step.length_m, step, rules_at(now, j)
            )
            fits = usable & (u1 <= ceilings1[j]) & (u0 <= ceilings0[j])
            state[2 * BLOCK + j] = u1
            state[3 * BLOCK + j] = dt_s
            state[4 * BLOCK + j] = reserve1
            state[5 * BLOCK + j] = 0.0 if fits else 1.0
        n_unfit = 0.0
        for j in range(BLOCK):
            n_unfit += state[5 * BLOCK + j]
        if n_unfit > 0.0:
            # Rides that follow their ceiling over the whole step, as most that brake do.
            for j in range(BLOCK):
                u0 = state[j]
                reserve0 = state[BLOCK + j]
                ceiling0 = ceilings0[j]
                rules = rules_at(now, j)
                slope = (ceilings1[j] - ceiling0) / step.length_m
                free, v0, inverse_v0 = forces_at_u(u0, reserve0, step, rules)
                u1, dt_s, reserve1, holds, a, b, c, brake_a, brake_b, brake_c = held_piece(
                    u0, reserve0, free, v0, step.length_m, slope, step, rules
                )
                fits = (
                    holds
                    & (state[5 * BLOCK + j] > 0.0)
                    & (rules.two_over_mass_per_kg * free.net_n >= slope)
                    & (u0 >= ceiling0 * (1.0 - 1.0e-14))
                    & (u0 <= ceiling0)
                    & (ceilings1[j] >= 0.0)
                    & (dt_s < np.inf)
                )
                state[2 * BLOCK + j] = u1 if fits else state[2 * BLOCK + j]
                state[3 * BLOCK + j] = dt_s if fits else state[3 * BLOCK + j]
                state[4 * BLOCK + j] = reserve1 if fits else state[4 * BLOCK + j]
                state[5 * BLOCK + j] = 0.0 if fits else state[5 * BLOCK + j]
        for j in range(BLOCK):
            if state[5 * BLOCK + j] == 0.0:
                continue
            u1 = 0.0
            dt_s = np.inf
            reserve1 = 0.0
            if outcomes[j] < 0:
                u1, dt_s, reserve1, outcome, gone_m = careful_step(
                    state[j], state[BLOCK + j], ceilings0[j], ceilings1[j],
                    step, rules_at(now, j), unused_work, 0,
                )  # fmt: skip
                if outcome != FINISHED:
                    outcomes[j] = i
                    u1 = 0.0
                    dt_s = np.inf
            state[2 * BLOCK + j] = u1
            state[3 * BLOCK + j] = dt_s
            state[4 * BLOCK + j] = reserve1
        for j in range(BLOCK):
            state[j] = state[2 * BLOCK + j]
            time_s[j] += state[3 * BLOCK + j]
            state[BLOCK + j] = state[4 * BLOCK + j]
        while mark < n_marks and marks[mark] == i + 1:
            mark_times[mark, :] = time_s
            mark += 1


@kernel
def fill_block_ceilings(steps, lanes, ceilings):
    """Ceilings of a block of rides; see `limits.fill_ceilings`.

    Parameters
    ----------
    steps : (n, N_STEP_FIELDS) array
        The course.
    lanes : (N_RULE_FIELDS * BLOCK,) array
        Field after field, `BLOCK` rides each.
    ceilings : (n + 1, BLOCK) array
        Filled with u_max in m²/s².

    Notes
    -----
    Rides that share grip, lean and braking share their ceilings. On open road, where nothing
    limits any ride, a whole row is written at once.
    """
    n = steps.shape[0]
    n_kinds = 0
    kinds = np.empty(BLOCK, dtype=np.int64)
    firsts = np.empty(BLOCK, dtype=np.int64)
    for j in range(BLOCK):
        kinds[j] = n_kinds
        for kind in range(n_kinds):
            same = True
            for field in CEILING_FIELDS:
                same &= lanes[field * BLOCK + j] == lanes[field * BLOCK + firsts[kind]]
            if same:
                kinds[j] = kind
                break
        if kinds[j] == n_kinds:
            firsts[n_kinds] = j
            n_kinds += 1
    ahead = np.full(n_kinds, NO_CEILING_M2PS2)
    behind = np.full(n_kinds, NO_CEILING_M2PS2)
    ends = np.empty(n_kinds)
    is_open = True
    ceilings[n, :] = NO_CEILING_M2PS2
    for i in range(n - 1, -1, -1):
        if is_open and steps[i, 11] == 0.0:
            start = 0.0 if steps[i, 15] > 0.0 else NO_CEILING_M2PS2
            ceilings[i, :] = start
            ahead[:] = start
            is_open = start > 0.0
            continue
        is_open = True
        for kind in range(n_kinds):
            ahead[kind], ends[kind], behind[kind] = ceiling_before(
                steps, i, rules_at(lanes, firsts[kind]), ahead[kind], behind[kind]
            )
            is_open &= (ahead[kind] >= NO_CEILING_M2PS2) & (behind[kind] >= NO_CEILING_M2PS2)
        for j in range(BLOCK):
            ceilings[i + 1, j] = ends[kinds[j]]
            ceilings[i, j] = ahead[kinds[j]]


@kernel(parallel=True)
def ride_many(steps, lanes, changes, u_start, reserve_start, marks, mark_times, outcomes):
    """Ride any number of rides over the same steps, blocks in parallel.

    Parameters
    ----------
    steps : (n, N_STEP_FIELDS) array
        The course.
    lanes : (n_blocks, N_RULE_FIELDS * BLOCK) array
        Field after field, `BLOCK` rides each; the last block is padded with copies.
    changes : Changes
        What changes with time.
    u_start, reserve_start : (n_blocks, BLOCK) arrays
        Start values.
    marks : (n_marks,) array of int
        Nodes at which the time is wanted.
    mark_times : (n_blocks, n_marks, BLOCK) array
        Filled with times in s.
    outcomes : (n_blocks, BLOCK) array of int
        Filled, see `ride_block`.
    """
    for b in prange(lanes.shape[0]):
        ceilings = np.empty((steps.shape[0] + 1, BLOCK))
        fill_block_ceilings(steps, lanes[b], ceilings)
        ride_block(
            steps, lanes[b], changes, ceilings, u_start[b], reserve_start[b],
            marks, mark_times[b], outcomes[b],
        )  # fmt: skip
