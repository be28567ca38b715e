"""Ride one course again and again at other powers, and say how the result answers to each of them.

For those who search for power along a course: everything but power is laid out once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.course import Course
from simulator.pacing import constant_demand
from simulator.physics.limits import fill_ceilings
from simulator.physics.params import FINISHED, STEP_FIELDS, Changes, Rules
from simulator.physics.slopes import N_IN, N_OUT, fill_slopes, gather_slopes, ride_powers
from simulator.ride.prepare import (
    FloatArray,
    ceiling_speeds_mps,
    nominal_rules,
    prepare_changes,
)
from simulator.ride.roadsteps import Steps, prepare_steps
from simulator.ride.simulate import start_speed_of
from simulator.setup import RideSetup

NOMINAL_W = 250.0
"""Power for which the course is cut into steps; the ride itself cuts finer where it must."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rehearsal:
    """A course laid out for one rider, build and weather, waiting for powers.

    Attributes
    ----------
    shares : (n_segments,) array
        Share of a wanted power that the rider pedals on each segment (habit of coasting downhill,
        delay behind tight corners), before the limits that depend on speed.
    ceilings_mps : (n_segments + 1,) array
        Speed that corners and braking for them allow at each node; ``inf`` where nothing limits.
    surge_w : float
        Most power above critical power with W' full; 0 where W' is not followed.
    """

    course: Course
    setup: RideSetup
    shares: FloatArray
    ceilings_mps: FloatArray
    surge_w: float
    start_speed_mps: float
    start_reserve_j: float
    steps: Steps
    rules: Rules
    changes: Changes
    step_shares: FloatArray
    ceilings: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trial:
    """One ride of a rehearsal; arrays by node (n + 1) or by segment (n).

    ``time_s`` is ``inf`` where the rider stops on the way. ``powers_w`` is what was pedalled,
    ``wanted_w`` what was asked for before the shares of the rehearsal.
    """

    rehearsal: Rehearsal
    time_s: float
    node_times_s: FloatArray
    node_speeds_mps: FloatArray
    node_reserves_j: FloatArray
    wanted_w: FloatArray
    powers_w: FloatArray
    per_reserve_w: FloatArray
    us: FloatArray
    reserves: FloatArray
    times: FloatArray
    demanded: FloatArray
    works: FloatArray

    @property
    def is_finished(self) -> bool:
        """Whether the rider reached the finish."""
        return bool(np.isfinite(self.time_s))

    @property
    def mean_power_w(self) -> float:
        """Mean power at the pedals over time."""
        return float(self.works.sum() / self.time_s)

    @property
    def fourth_power_mean_w(self) -> float:
        """Fourth root of the time mean of the fourth power of the steps."""
        times = np.diff(self.times)
        return float((np.sum((self.works / times) ** 4 * times) / self.time_s) ** 0.25)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Answers:
    """Slopes of every step of a trial, from which those of any result follow."""

    trial: Trial
    slopes: FloatArray


def open_rehearsal(
    *,
    course: Course,
    setup: RideSetup,
    start_speed_mps: float | None = None,
    start_reserve_j: float | None = None,
) -> Rehearsal:
    """Lay a course out for many rides at other powers.

    Parameters
    ----------
    course, setup : Course, RideSetup
        Where; who, on what, in which weather, nominal values.
    start_speed_mps : float, optional
        As in `simulate`.
    start_reserve_j : float, optional
        W' at the start; full if left out.

    Returns
    -------
    Rehearsal
    """
    nominal = constant_demand(course, setup.rider, power_w=NOMINAL_W)
    shared = prepare_steps(course, setup, nominal)
    steps = Steps(rows=shared.rows.copy(), node_steps=shared.node_steps)  # powers are written there
    changes = prepare_changes(setup, nominal)
    rules = nominal_rules(setup, changes=changes)
    ceilings = np.empty(len(steps.rows) + 1)
    fill_ceilings(steps.rows, rules, ceilings)
    step_shares = steps.rows[:, STEP_FIELDS.index("power_w")] / NOMINAL_W
    at = steps.node_steps
    full_j = setup.rider.wprime_j or 0.0
    return Rehearsal(
        course=course,
        setup=setup,
        shares=step_shares[at[:-1]],
        ceilings_mps=ceiling_speeds_mps(ceilings[at]),
        surge_w=float(rules.surge_w),
        start_speed_mps=start_speed_of(course, start_speed_mps),
        start_reserve_j=full_j if start_reserve_j is None else start_reserve_j,
        steps=steps,
        rules=rules,
        changes=changes,
        step_shares=step_shares,
        ceilings=ceilings,
    )


def rehearse(
    rehearsal: Rehearsal, powers_w: FloatArray, per_reserve_w: FloatArray | None = None
) -> Trial:
    """Ride once.

    Parameters
    ----------
    rehearsal : Rehearsal
        Where, who, on what.
    powers_w : (n_segments,) array
        Wanted power on each segment, before the shares of the rehearsal.
    per_reserve_w : (n_segments,) array, optional
        Wanted on top of it for a full W', in proportion to what is left of it.

    Returns
    -------
    Trial
        See there.
    """
    n_segments = rehearsal.course.n_segments
    counts = np.diff(rehearsal.steps.node_steps)
    n_steps = int(rehearsal.steps.node_steps[-1])
    if per_reserve_w is None:
        per_reserve_w = np.zeros(n_segments)
    us, reserves, times = np.empty(n_steps + 1), np.empty(n_steps + 1), np.empty(n_steps + 1)
    demanded, works = np.zeros(n_steps), np.zeros(n_steps)
    outcome = ride_powers(
        rehearsal.steps.rows,
        rehearsal.rules,
        rehearsal.changes,
        rehearsal.ceilings,
        rehearsal.start_speed_mps**2,
        rehearsal.start_reserve_j,
        np.repeat(powers_w, counts) * rehearsal.step_shares,
        np.repeat(per_reserve_w, counts) * rehearsal.step_shares,
        us,
        reserves,
        times,
        demanded,
        works,
    )
    is_finished = outcome == FINISHED
    at = rehearsal.steps.node_steps
    if not is_finished:
        us[:], reserves[:], times[:] = np.nan, np.nan, np.nan
    node_times_s = times[at]
    with np.errstate(invalid="ignore"):
        pedalled_w = np.add.reduceat(works, at[:-1]) / np.diff(node_times_s)
    left = reserves[at[:-1]] * float(rehearsal.rules.inverse_wprime_per_j)
    return Trial(
        rehearsal=rehearsal,
        time_s=float(times[-1]) if is_finished else float("inf"),
        node_times_s=node_times_s,
        node_speeds_mps=np.sqrt(us[at]),
        node_reserves_j=reserves[at],
        wanted_w=powers_w + per_reserve_w * left,
        powers_w=pedalled_w,
        per_reserve_w=per_reserve_w,
        us=us,
        reserves=reserves,
        times=times,
        demanded=demanded,
        works=works,
    )


def answers_of(trial: Trial) -> Answers:
    """Slopes of every step of a finished trial."""
    if not trial.is_finished:
        msg = "a ride that stops on the way has no slopes"
        raise ValueError(msg)
    r = trial.rehearsal
    slopes = np.empty((len(trial.works), N_OUT, N_IN))
    fill_slopes(
        r.steps.rows,
        r.rules,
        r.changes,
        r.ceilings,
        trial.us,
        trial.reserves,
        trial.times,
        trial.demanded,
        slopes,
    )
    return Answers(trial=trial, slopes=slopes)


def slopes_of(
    answers: Answers,
    *,
    time: float = 0.0,
    work: float = 0.0,
    fourth: float = 0.0,
    reserve_nodes: NDArray[np.int64] | None = None,
) -> tuple[FloatArray, FloatArray]:
    """How a result answers to the wanted power on each segment.

    The result is ``time`` times the ride's time, plus ``work`` times the work at the pedals, plus
    ``fourth`` times the integral of the fourth power over time, plus W' at `reserve_nodes`.

    Parameters
    ----------
    answers : Answers
        Of one trial.
    time, work, fourth : float
        Weights, per s, J and W⁴ s.
    reserve_nodes : (k,) array of int, optional
        Nodes of the course at which W' counts with weight one.

    Returns
    -------
    tuple of (n_segments,) arrays
        Slope by power on each segment for less power, and for more. The two differ at critical
        power, where W' is spent and refilled at different rates.
    """
    trial = answers.trial
    r = trial.rehearsal
    n_steps = len(trial.works)
    at = r.steps.node_steps
    counts = np.diff(at)
    power_w = trial.works / np.diff(trial.times)
    time_weights = np.full(n_steps, time) - 3.0 * fourth * power_w**4
    work_weights = np.full(n_steps, work) + 4.0 * fourth * power_w**3
    reserve_weights = np.zeros(n_steps + 1)
    if reserve_nodes is not None:
        reserve_weights[at[reserve_nodes]] = 1.0
    per_reserve = (
        np.repeat(trial.per_reserve_w, counts) * r.step_shares * r.rules.inverse_wprime_per_j
    )
    below, above = np.empty(n_steps), np.empty(n_steps)
    gather_slopes(
        answers.slopes, time_weights, work_weights, reserve_weights, per_reserve, below, above
    )
    return (
        np.add.reduceat(below * r.step_shares, at[:-1]),
        np.add.reduceat(above * r.step_shares, at[:-1]),
    )
