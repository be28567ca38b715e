"""Holding a wheel: the power that given speeds need, and what happens to a rider who lacks it.

The force model turned round: speed is given, power follows. A rider who cannot give what is needed
falls back; the shelter opens with the gap, so that what is needed grows.
"""

from __future__ import annotations

import numpy as np
from numba import prange

from simulator.physics.forces import forces_at, reserve_rate
from simulator.physics.jit import kernel
from simulator.physics.params import Rules, Step
from simulator.physics.step import step_at

CATCH_UP_S = 5.0
"""How soon a rider who is behind wants to be back on the wheel: common practice, no source."""

SLOWEST_MPS = 0.5
"""Below this speed forces are taken at it: a start is over in a second."""


@kernel
def gap_share(gap_m):
    """Share of the shelter that a gap to the wheel ahead takes away.

    Parameters
    ----------
    gap_m : float
        Distance between the wheels in m.

    Returns
    -------
    float
        0 on the wheel, 1 from 3 m on.

    Notes
    -----
    From the factor on drag 0.62 - 0.0104 d + 0.0452 d² [Olds1998], as its rise over its value on
    the wheel, relative to what is left to 1.
    """
    return min(max((0.0452 * gap_m * gap_m - 0.0104 * gap_m) / 0.38, 0.0), 1.0)


@kernel
def needed_work_j(u0, u1, step, rules, factor):
    """Work at the pedals over a step ridden at given speeds; 0 where the rider brakes or coasts.

    Parameters
    ----------
    u0, u1 : float
        u = v² at both ends, linear between them.
    step, rules : Step, Rules
        Place and ride.
    factor : float
        Factor on all air drag.

    Returns
    -------
    tuple
        Work in J, and the part of it that a drag factor of 1 would add.
    """
    speeding_n = (u1 - u0) / (rules.two_over_mass_per_kg * step.length_m)
    work = 0.0
    more = 0.0
    for k in range(3):
        u = u0 + 0.5 * k * (u1 - u0)
        v = max(np.sqrt(max(u, 0.0)), SLOWEST_MPS)
        f = forces_at(v, 1.0 / v, 0.0, step, rules)
        weight = (4.0 if k == 1 else 1.0) / 6.0 * step.length_m / rules.efficiency
        rest_n = speeding_n + f.gravity_n + f.rolling_n + f.bearing_n
        work += weight * max(rest_n + factor * f.air_n, 0.0)
        more += weight * max(rest_n + f.air_n, 0.0)
    return work, max(more - work, 0.0)


@kernel
def most_power_w(v_mps, reserve_j, step, rules):
    """Most power that the rider can give here: W', gears, cadence and lean allow it."""
    v = max(v_mps, SLOWEST_MPS)
    wanting = Step(
        step.length_m, step.sin_slope, step.cos_slope, step.density_ratio, step.axis_east,
        step.axis_north, step.crr_factor, rules.cp_w + rules.surge_w, step.position_slow,
        step.position_fast, step.position_mps, step.inverse_radius_per_m, step.grip_factor,
        0.0, 0.0, 0.0,
    )  # fmt: skip
    return forces_at(v, 1.0 / v, reserve_j, wanting, rules).pedal_n * v


@kernel
def follow_wheel(
    steps, rules, us, factors, gaps, reserve_start, lost_m, needed, given, times, reserves, lags
):
    """Follow given speeds over every step.

    Parameters
    ----------
    steps : (n, N_STEP_FIELDS) array
        The course.
    rules : Rules
        The rider's constants.
    us : (n + 1,) array
        u = v² wanted at the nodes.
    factors, gaps : (n,) arrays
        Factor on air drag by place in the bunch, and metres by which the wheel ahead is away.
    reserve_start, lost_m : float
        W' at the start; lag at which contact is lost.
    needed, given : (n,) arrays
        Filled: power in W that the speeds need on the wheel, and that the rider gives. Behind the
        place where contact is lost, what is given is 0.
    times, reserves, lags : (n + 1,) arrays
        Filled: time at the wanted speeds (s), W' (J), metres behind.

    Returns
    -------
    int
        Step on which contact is lost; -1 if it is held.
    """
    reserve = reserve_start
    behind_j = 0.0
    lag_m = 0.0
    lost = -1
    mass_kg = 2.0 / rules.two_over_mass_per_kg
    times[0] = 0.0
    reserves[0] = reserve
    lags[0] = 0.0
    for i in range(steps.shape[0]):
        step = step_at(steps, i)
        v = 0.5 * (np.sqrt(us[i]) + np.sqrt(us[i + 1]))
        dt = step.length_m / max(v, 1.0e-3)
        times[i + 1] = times[i] + dt
        factor = factors[i] + (1.0 - factors[i]) * gap_share(gaps[i])
        work, more = needed_work_j(us[i], us[i + 1], step, rules, factor)
        needed[i] = work / dt
        given[i] = 0.0
        if lost < 0:
            # A rider who is behind sits further from the wheel than the others do.
            wanted = needed[i] + more / dt * gap_share(lag_m)
            pull_w = (behind_j + mass_kg * v * lag_m / CATCH_UP_S) / (CATCH_UP_S * rules.efficiency)
            power = min(wanted + pull_w, most_power_w(v, reserve, step, rules))
            given[i] = max(power, 0.0)
            behind_j += (wanted - given[i]) * rules.efficiency * dt
            lag_m += behind_j / (mass_kg * max(v, 1.0)) * dt
            if lag_m <= 0.0:
                lag_m = 0.0
                behind_j = max(behind_j, 0.0)
            reserve = max(reserve + reserve_rate(given[i], reserve, rules) * dt, 0.0)
            if lag_m > lost_m:
                lost = i
        reserves[i + 1] = reserve
        lags[i + 1] = lag_m
    return lost


@kernel(parallel=True)
def follow_many(steps, columns, us, factors, gaps, reserve_starts, lost_m, lost, lows):
    """Follow the same wheel with many riders.

    Parameters
    ----------
    columns : (n_rides, N_RULE_FIELDS) array
        One rider's constants a row.
    reserve_starts : (n_rides,) array
        W' of each at the start.
    lost, lows : (n_rides,) arrays
        Filled: step on which contact is lost (-1: held), and least W'.
    """
    n = steps.shape[0]
    for j in prange(columns.shape[0]):
        row = columns[j]
        rules = Rules(
            row[0], row[1], row[2], row[3], row[4], row[5], row[6], row[7], row[8], row[9],
            row[10], row[11], row[12], row[13], row[14], row[15], row[16], row[17], row[18],
            row[19], row[20], row[21], row[22], row[23], row[24], row[25], row[26], row[27],
            row[28], row[29], row[30], row[31],
        )  # fmt: skip
        needed = np.empty(n)
        given = np.empty(n)
        times = np.empty(n + 1)
        reserves = np.empty(n + 1)
        lags = np.empty(n + 1)
        lost[j] = follow_wheel(
            steps, rules, us, factors, gaps, reserve_starts[j], lost_m, needed, given, times,
            reserves, lags,
        )  # fmt: skip
        lows[j] = reserves.min()
