"""Many rides over the same course in lock-step: the inner loop runs over rides.

Rides advance together, `BLOCK` at a time, so that the compiler turns the plain step into vector
instructions; a ride that needs more on some step takes the careful step there, alone. Each ride
depends on its own column only: same bits at any thread count and in any company.
"""

from __future__ import annotations

import numpy as np
from numba import prange

from simulator.physics.abreast import (
    BLOCK,
    N_STAGE_ROWS,
    N_STATE_ROWS,
    held_pass,
    plain_pass,
    rules_at,
    set_moments,
)
from simulator.physics.careful import careful_step
from simulator.physics.constants import NO_CEILING_M2PS2
from simulator.physics.jit import kernel
from simulator.physics.limits import ceiling_before_bend, ceiling_before_straight
from simulator.physics.params import FINISHED
from simulator.physics.step import N_SUMS, step_at


@kernel
def fill_block_ceilings(steps, lanes, rows, ceilings):
    """Ceilings of a block of rides; see `limits.fill_ceilings`.

    Parameters
    ----------
    steps : (n, N_STEP_FIELDS) array
        The course.
    lanes : (N_RULE_FIELDS * BLOCK,) array
        Field after field, `BLOCK` rides each.
    rows : (n + 1,) array of int
        Filled: which row of `ceilings` holds those of each node.
    ceilings : (n + 2, BLOCK) array
        Its first rows are filled with u_max in m²/s². The very first stands for all nodes at which
        nothing limits any ride, so that open road costs neither time nor memory.
    """
    n = steps.shape[0]
    ceilings[0, :] = NO_CEILING_M2PS2
    n_rows = 1
    rows[n] = 0
    behind = np.full(BLOCK, NO_CEILING_M2PS2)
    is_open = True
    for i in range(n - 1, -1, -1):
        step = step_at(steps, i)
        if is_open and step.inverse_radius_per_m == 0.0:
            rows[i] = 0
            if step.standstill > 0.0:
                rows[i] = n_rows
                ceilings[n_rows, :] = 0.0
                n_rows += 1
                is_open = False
            continue
        if rows[i + 1] == 0:
            # What the road ahead leaves open this step's own bend does not.
            rows[i + 1] = n_rows
            ceilings[n_rows, :] = NO_CEILING_M2PS2
            n_rows += 1
        rows[i] = n_rows
        n_rows += 1
        end = ceilings[rows[i + 1]]
        start = ceilings[rows[i]]
        n_limited = 0
        if step.inverse_radius_per_m == 0.0:
            for j in range(BLOCK):
                start[j], end[j], behind[j] = ceiling_before_straight(
                    step, rules_at(lanes, j), end[j], behind[j]
                )
                n_limited += 1 if start[j] < NO_CEILING_M2PS2 else 0
        else:
            for j in range(BLOCK):
                start[j], end[j], behind[j] = ceiling_before_bend(
                    step, rules_at(lanes, j), end[j], behind[j]
                )
                n_limited += 1 if min(start[j], behind[j]) < NO_CEILING_M2PS2 else 0
        is_open = n_limited == 0
        if is_open:
            n_rows -= 1
            rows[i] = 0


@kernel
def ride_block(steps, lanes, changes, u_start, reserve_start, marks, mark_times, outcomes):
    """Ride `BLOCK` rides over all steps.

    Parameters
    ----------
    steps : (n, N_STEP_FIELDS) array
        The course.
    lanes : (N_RULE_FIELDS * BLOCK,) array
        Field after field, `BLOCK` rides each.
    changes : Changes
        What changes with time.
    u_start, reserve_start : (BLOCK,) arrays
        Start values.
    marks : (n_marks,) array of int
        Nodes, ascending, at which the time is wanted.
    mark_times : (n_marks, BLOCK) array
        Filled with times in s; ``inf`` behind the place where a ride stops.
    outcomes : (BLOCK,) array of int
        Filled: -1 finished, else the step in which the ride stopped.
    """
    n = steps.shape[0]
    rows = np.empty(n + 1, dtype=np.int64)
    ceilings = np.empty((n + 2, BLOCK))
    fill_block_ceilings(steps, lanes, rows, ceilings)
    state = np.zeros(N_STATE_ROWS * BLOCK)
    unfit = np.zeros(BLOCK, dtype=np.int64)
    time_s = np.zeros(BLOCK)
    mark_s = np.full(BLOCK, -np.inf)
    now = lanes
    if changes.is_on:
        now = lanes.copy()
    scratch = np.empty(4 * BLOCK)
    stage = np.empty(N_STAGE_ROWS * BLOCK)
    unused_work = np.zeros((1, N_SUMS))
    for j in range(BLOCK):
        state[j] = min(u_start[j], ceilings[rows[0], j])
        state[BLOCK + j] = reserve_start[j]
        outcomes[j] = -1
    mark = 0
    n_marks = marks.shape[0]
    while mark < n_marks and marks[mark] == 0:
        mark_times[mark, :] = 0.0
        mark += 1
    for i in range(n):
        step = step_at(steps, i)
        ceilings0 = ceilings[rows[i]]
        ceilings1 = ceilings[rows[i + 1]]
        if changes.is_on:
            if step.opens_surge > 0.0:
                mark_s[:] = time_s
            set_moments(now, lanes, state, time_s, mark_s, scratch, step, changes)
        n_unfit = plain_pass(state, unfit, stage, now, ceilings0, ceilings1, step)
        if n_unfit > 0:
            n_unfit = held_pass(state, unfit, now, ceilings0, ceilings1, step)
        for j in range(BLOCK if n_unfit > 0 else 0):
            if unfit[j] == 0:
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
        ride_block(
            steps, lanes[b], changes, u_start[b], reserve_start[b], marks, mark_times[b],
            outcomes[b],
        )  # fmt: skip
