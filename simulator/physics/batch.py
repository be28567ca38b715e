"""Many rides over the same course in lock-step: the inner loop runs over rides.

Rides advance together, `BLOCK` at a time, so that the compiler turns the plain step into vector
instructions; a ride that needs more on some step takes the careful step there, alone. Each ride
depends on its own column only: same bits at any thread count and in any company.
"""

from __future__ import annotations

import numpy as np
from numba import prange

from simulator.physics.careful import careful_step
from simulator.physics.clock import rules_now
from simulator.physics.jit import kernel
from simulator.physics.limits import fill_ceilings
from simulator.physics.params import FINISHED, RULE_FIELDS, Rules
from simulator.physics.step import N_SUMS, plain_step, step_at

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
            for j in range(BLOCK):
                if step.opens_surge > 0.0:
                    mark_s[j] = time_s[j]
                moment = rules_now(
                    rules_at(lanes, j), time_s[j], np.sqrt(max(state[j], 0.0)), mark_s[j],
                    step, changes,
                )  # fmt: skip
                now[WIND_EAST * BLOCK + j] = moment.wind_from_east_mps
                now[WIND_NORTH * BLOCK + j] = moment.wind_from_north_mps
                now[POWER_FACTOR * BLOCK + j] = moment.power_factor
                now[EXTRA_W * BLOCK + j] = moment.extra_w
                now[CP_W * BLOCK + j] = moment.cp_w
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
    """Ceilings of a block of rides.

    Rides that share grip, lean and braking share their ceilings, so the backward pass runs once
    for each distinct set of them in a row.
    """
    column = np.empty(steps.shape[0] + 1)
    for j in range(BLOCK):
        fresh = j == 0
        if not fresh:
            for k in CEILING_FIELDS:
                fresh |= lanes[k * BLOCK + j] != lanes[k * BLOCK + j - 1]
        if fresh:
            fill_ceilings(steps, rules_at(lanes, j), column)
        ceilings[:, j] = column


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
