"""Ride at given speeds: the power they need, and whether the rider can give it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.course import Course
from simulator.pacing import constant_demand
from simulator.physics.follow import follow_many, follow_wheel
from simulator.physics.params import RULE_FIELDS, STEP_FIELDS, Changes
from simulator.ride.prepare import (
    Draws,
    FloatArray,
    nominal_rules,
    prepare_changes,
    rule_columns,
)
from simulator.ride.rehearse import NOMINAL_W
from simulator.ride.roadsteps import Steps, prepare_steps
from simulator.setup import RideSetup

_CP_W = RULE_FIELDS.index("cp_w")
_SURGE_W = RULE_FIELDS.index("surge_w")
_INVERSE_WPRIME = RULE_FIELDS.index("inverse_wprime_per_j")
_LENGTH, _EAST, _NORTH = (
    STEP_FIELDS.index(name) for name in ("length_m", "axis_east", "axis_north")
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wheel:
    """Speeds to follow over a course, and the shelter behind the wheel ahead.

    Attributes
    ----------
    node_speeds_mps : (n + 1,) array
        Wanted speed at each node.
    factors : (n,) array
        Factor on all air drag by place in the bunch.
    gaps_m : (n,) array
        Metres by which the wheel ahead is further away than usual.
    start_s : float
        Time since the start of the race at the first node, for the wind of the moment.
    """

    course: Course
    node_speeds_mps: FloatArray
    factors: FloatArray
    gaps_m: FloatArray
    start_s: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Following:
    """How a rider follows a wheel.

    Attributes
    ----------
    needed_w : (n,) array
        Power at the pedals that the speeds need on the wheel.
    given_w : (n,) array
        What the rider gives; 0 behind the place where contact is lost.
    node_times_s : (n + 1,) array
        Time at the wanted speeds.
    node_reserves_j, node_lags_m : (n + 1,) arrays
        W' left, and metres behind.
    lost_at_m : float or None
        Where contact is lost; None if it is held to the end.
    """

    wheel: Wheel
    setup: RideSetup
    needed_w: FloatArray
    given_w: FloatArray
    node_times_s: FloatArray
    node_reserves_j: FloatArray
    node_lags_m: FloatArray
    lost_at_m: float | None


def follow(
    wheel: Wheel,
    setup: RideSetup,
    *,
    lost_m: float,
    start_reserve_j: float | None = None,
) -> Following:
    """Follow given speeds once.

    Parameters
    ----------
    wheel : Wheel
        Speeds and shelter.
    setup : RideSetup
        Who, on what, in which weather. The rider pedals at any speed that the highest gear allows.
    lost_m : float
        Metres behind at which contact is lost.
    start_reserve_j : float, optional
        W' at the start; full if left out.

    Returns
    -------
    Following
    """
    course = wheel.course
    steps, us, changes = _laid_out(wheel, setup)
    rules = nominal_rules(setup, changes=changes, coast_mps=math.inf)
    factors, gaps = _by_step(wheel, steps)
    n = len(factors)
    needed, given = np.empty(n), np.empty(n)
    times, reserves, lags = np.empty(n + 1), np.empty(n + 1), np.empty(n + 1)
    lost = follow_wheel(
        steps.rows,
        rules,
        us,
        factors,
        gaps,
        (setup.rider.wprime_j or 0.0) if start_reserve_j is None else start_reserve_j,
        lost_m,
        needed,
        given,
        times,
        reserves,
        lags,
    )
    at = steps.node_steps
    taken_s = np.diff(times)
    span_s = np.diff(times[at])
    lost_at_m = None
    if lost >= 0:
        i_segment = int(np.searchsorted(at, lost, side="right")) - 1
        lost_at_m = float(course.node_distances_m[i_segment])
    return Following(
        wheel=wheel,
        setup=setup,
        needed_w=np.add.reduceat(needed * taken_s, at[:-1]) / span_s,
        given_w=np.add.reduceat(given * taken_s, at[:-1]) / span_s,
        node_times_s=times[at],
        node_reserves_j=reserves[at],
        node_lags_m=lags[at],
        lost_at_m=lost_at_m,
    )


def follow_draws(
    wheel: Wheel,
    setups: Sequence[RideSetup],
    draws: Sequence[Draws],
    *,
    lost_m: float,
    cp_factors: FloatArray,
    wprime_factors: FloatArray,
) -> NDArray[np.bool_]:
    """Follow given speeds with every draw of several setups.

    Parameters
    ----------
    wheel : Wheel
        Speeds and shelter, the same for all.
    setups, draws : sequences
        One set of draws of length n for each setup.
    lost_m : float
        Metres behind at which contact is lost.
    cp_factors, wprime_factors : (n,) arrays
        Factors on critical power and on W', the same for all setups.

    Returns
    -------
    (n_setups, n) array
        Whether contact is lost.
    """
    n_draws = len(cp_factors)
    steps, us, changes = _laid_out(wheel, setups[0])
    factors, gaps = _by_step(wheel, steps)
    results = []
    for setup, values in zip(setups, draws, strict=True):
        columns = rule_columns(setup, values or None, changes=changes, coast_mps=math.inf)
        columns = np.array(np.broadcast_to(columns, (len(columns), n_draws)))
        if setup.rider.cp_w is not None:
            # The highest power for a few seconds stays what it is.
            top_w = columns[_CP_W] + columns[_SURGE_W]
            columns[_CP_W] = columns[_CP_W] * cp_factors
            columns[_SURGE_W] = top_w - columns[_CP_W]
            columns[_INVERSE_WPRIME] = columns[_INVERSE_WPRIME] / wprime_factors
        lost, lows = np.empty(n_draws, dtype=np.int64), np.empty(n_draws)
        follow_many(
            steps.rows,
            np.ascontiguousarray(columns.T),
            us,
            factors,
            gaps,
            (setup.rider.wprime_j or 0.0) * wprime_factors,
            lost_m,
            lost,
            lows,
        )
        results.append(lost >= 0)
    return np.array(results)


def _laid_out(wheel: Wheel, setup: RideSetup) -> tuple[Steps, FloatArray, Changes]:
    """Steps, squared speeds at their nodes (linear in between), and what changes with time.

    All follow at the same speeds, so that the clock at each step is known beforehand: where the
    wind changes, its vector goes into the axes of the steps, and `rule_columns` gives the gain
    on it that a draw has.
    """
    demand = constant_demand(wheel.course, setup.rider, power_w=NOMINAL_W)
    steps = prepare_steps(wheel.course, setup, demand)
    changes = prepare_changes(setup, demand)
    at = steps.node_steps
    us = np.interp(np.arange(at[-1] + 1), at, np.square(wheel.node_speeds_mps))
    if not changes.is_on:
        return steps, us, changes
    rows = steps.rows.copy()
    speeds_mps = np.sqrt(us)
    taken_s = 2.0 * rows[:, _LENGTH] / np.maximum(speeds_mps[:-1] + speeds_mps[1:], 2.0e-3)
    middles_s = wheel.start_s + np.cumsum(taken_s) - 0.5 * taken_s
    east, north = (np.interp(middles_s, changes.wind_times_s, wind) for wind in changes.winds_mps)
    along, across = rows[:, _EAST].copy(), rows[:, _NORTH].copy()
    # Gain g times wind w on axis a is Re(g w a*), which is g on the axis w* a.
    rows[:, _EAST] = east * along + north * across
    rows[:, _NORTH] = east * across - north * along
    return Steps(rows=rows, node_steps=at), us, changes


def _by_step(wheel: Wheel, steps: Steps) -> tuple[FloatArray, FloatArray]:
    """Factors and gaps on the steps."""
    counts = np.diff(steps.node_steps)
    return np.repeat(wheel.factors, counts), np.repeat(wheel.gaps_m, counts)
