"""One ride over the steps of a course: the plain step where it holds, else the careful one."""

from __future__ import annotations

import numpy as np

from simulator.physics.careful import careful_step
from simulator.physics.clock import rules_now
from simulator.physics.jit import kernel
from simulator.physics.params import FINISHED
from simulator.physics.step import N_SUMS, add_work, plain_step, step_at


@kernel
def ride_steps(steps, rules, changes, ceilings, u_start, reserve_start, us, times, reserves, work):
    """Ride every step; fills the outputs.

    Parameters
    ----------
    steps : (n, N_STEP_FIELDS) array
        The course.
    rules : Rules
        The ride's constants.
    changes : Changes
        What changes with time.
    ceilings : (n + 1,) array
        From ``limits.fill_ceilings``.
    u_start, reserve_start : float
        u = v² in m²/s² (0 from a standing start) and W' in J.
    us, times, reserves : (n + 1,) arrays
        Filled: u, time in s, W' in J at the nodes.
    work : (n, N_SUMS) array
        Filled: work by cause on each step in J.

    Returns
    -------
    tuple
        Outcome code, index of the last step entered, metres covered in it.
    """
    n = steps.shape[0]
    u = min(u_start, ceilings[0])
    reserve = reserve_start
    time_s = 0.0
    us[0] = u
    times[0] = 0.0
    reserves[0] = reserve
    mark_s = -np.inf
    now = rules
    for i in range(n):
        step = step_at(steps, i)
        if changes.is_on:
            if step.opens_surge > 0.0:
                mark_s = time_s
            now = rules_now(rules, time_s, np.sqrt(max(u, 0.0)), mark_s, step, changes)
        for cause in range(N_SUMS):
            work[i, cause] = 0.0
        usable = False
        if u > 0.0:
            u1, dt_s, reserve1, usable, f1, f2, f3, f4 = plain_step(
                u, reserve, step.length_m, step, now
            )
        if usable and u1 <= ceilings[i + 1] and u <= ceilings[i]:
            add_work(work, i, f1, f2, f3, f4, step.length_m / 6.0)
        else:
            u1, dt_s, reserve1, outcome, gone_m = careful_step(
                u, reserve, ceilings[i], ceilings[i + 1], step, now, work, i
            )
            if outcome != FINISHED:
                return outcome, i, gone_m
        u = u1
        reserve = reserve1
        time_s += dt_s
        us[i + 1] = u
        times[i + 1] = time_s
        reserves[i + 1] = reserve
    return FINISHED, n - 1, steps[n - 1, 0]
