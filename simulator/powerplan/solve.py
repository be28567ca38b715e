"""The quickest power along a course: an optimal control solved through the ride itself.

One unknown for each segment of the course. Above critical power it is the share of what W′ still
allows there, below it the share of critical power, so that every plan tried can be ridden: W′
cannot run out. Slopes of the time come from the ride's own steps, backward (``ride.slopes_of``);
``climbdown.descend`` walks down. Where a mean is to be kept, a multiplier holds it (augmented
Lagrangian, textbook).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from simulator.errors import CannotFinish
from simulator.powerplan.climbdown import FloatArray, Lowest, Slope, descend
from simulator.powerplan.problem import Problem
from simulator.ride import Answers, Trial, answers_of, holdable_power_w, rehearse, slopes_of

SETTLED_SHARE = 2.0e-6
"""Share of the time that ten steps of the search together must gain to go on."""

MOST_STEPS = 400
KEPT_SHARE = 1.0e-6
"""How well a mean to be kept is met."""

MOST_ROUNDS = 12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solution:
    """The quickest plan found and the constant power that it is measured against.

    ``powers_w`` is wanted on each segment, before the rider's habits and the limits that depend on
    speed. ``gained_share`` is what the last steps of the search still gained of the time.
    """

    problem: Problem
    trial: Trial
    powers_w: FloatArray
    constant_w: float
    constant: Trial
    n_rides: int
    gained_share: float
    is_settled: bool

    @property
    def time_s(self) -> float:
        """Time of the plan."""
        return self.trial.time_s

    @property
    def saved_s(self) -> float:
        """Time saved against the best constant power."""
        return self.constant.time_s - self.trial.time_s


def solve(problem: Problem, *, most_steps: int = MOST_STEPS) -> Solution:
    """Find the quickest power along the course.

    Parameters
    ----------
    problem : Problem
        What is asked.
    most_steps : int
        Steps of the search after which to stop in any case.

    Returns
    -------
    Solution
        Never slower than the best constant power.

    Raises
    ------
    CannotFinish
        If the rider does not reach the finish within the budget.
    """
    constant_w, constant = best_constant(problem)
    if problem.budget.is_reserve:
        lowest, trial = _spend_reserve(problem, constant_w, constant, most_steps)
    else:
        lowest, trial = _keep_mean(problem, constant_w, constant, most_steps)
    if trial.time_s > constant.time_s:
        trial = constant
    return Solution(
        problem=problem,
        trial=trial,
        powers_w=trial.wanted_w,
        constant_w=constant_w,
        constant=constant,
        n_rides=lowest.n_rides,
        gained_share=lowest.gained / trial.time_s,
        is_settled=lowest.is_settled,
    )


def best_constant(problem: Problem) -> tuple[float, Trial]:
    """The best constant power within the budget, and its ride.

    Raises
    ------
    CannotFinish
        If the rider does not reach the finish within the budget.
    """
    rehearsal, budget = problem.rehearsal, problem.budget
    n_segments = problem.course.n_segments
    if budget.is_reserve:
        power_w = min(holdable_power_w(rehearsal), budget.most_w)
        return power_w, rehearse(rehearsal, np.full(n_segments, power_w))

    def excess(power_w: float) -> float:
        trial = rehearse(rehearsal, np.full(n_segments, power_w))
        return mean_excess(problem, trial) if trial.is_finished else -1.0

    if excess(budget.most_w) < 0.0:
        msg = (
            f"On {problem.course.name} even {budget.most_w:.0f} W throughout does not come out at "
            "that mean: coasting and corners hold it down. Lower the mean."
        )
        raise CannotFinish(msg)
    power_w = float(brentq(excess, 1.0, budget.most_w, xtol=1e-6))
    trial = rehearse(rehearsal, np.full(n_segments, power_w))
    if not trial.is_finished:
        msg = f"On {problem.course.name} the rider does not reach the finish at {power_w:.0f} W."
        raise CannotFinish(msg)
    return power_w, trial


def mean_excess(problem: Problem, trial: Trial) -> float:
    """By how much of itself a ride exceeds the mean to be kept."""
    budget = problem.budget
    if budget.mean_w is not None:
        return trial.mean_power_w / budget.mean_w - 1.0
    wanted_w = budget.fourth_power_mean_w or 1.0
    return trial.fourth_power_mean_w / wanted_w - 1.0


def mean_slopes(problem: Problem, trial: Trial, answers: Answers) -> tuple[FloatArray, FloatArray]:
    """Slopes of `mean_excess` by the power on each segment, for less and for more."""
    budget = problem.budget
    if budget.mean_w is not None:
        scale = 1.0 / (budget.mean_w * trial.time_s)  # mean = work / time
        return slopes_of(answers, time=-scale * trial.mean_power_w, work=scale)
    mean_w = trial.fourth_power_mean_w
    scale = 1.0 / ((budget.fourth_power_mean_w or 1.0) * 4.0 * mean_w**3 * trial.time_s)
    return slopes_of(answers, time=-scale * mean_w**4, fourth=scale)


def _spend_reserve(
    problem: Problem, constant_w: float, constant: Trial, most_steps: int
) -> tuple[Lowest, Trial]:
    rehearsal, feed_w = problem.rehearsal, problem.feed_w
    cp_w = problem.setup.rider.cp_w or 0.0
    full_j = problem.setup.rider.wprime_j or 1.0
    ridden: list[Trial] = [constant]

    def ride(x: FloatArray) -> float:
        trial = rehearse(rehearsal, cp_w * (1.0 + np.minimum(x, 0.0)), feed_w * np.maximum(x, 0.0))
        ridden[0] = trial
        return trial.time_s

    def slope_at(x: FloatArray) -> Slope:
        trial = ridden[0]
        below, above = slopes_of(answers_of(trial), time=1.0)
        up_w = feed_w * trial.node_reserves_j[:-1] / full_j
        # Below zero a unit of x is critical power, above it is what W′ still allows.
        return Slope(
            value=trial.time_s,
            below=below * np.where(x > 0.0, up_w, cp_w),
            above=above * np.where(x < 0.0, cp_w, up_w),
        )

    with np.errstate(divide="ignore"):
        start = (constant_w - cp_w) / (feed_w * constant.node_reserves_j[:-1] / full_j)
    ones = np.ones(problem.course.n_segments)
    lowest = descend(
        ride,
        slope_at,
        np.clip(start, 0.0, 1.0),
        low=-ones,
        high=ones,
        tolerance=SETTLED_SHARE * constant.time_s,
        most_steps=most_steps,
    )
    ride(lowest.x)
    return lowest, ridden[0]


def _keep_mean(
    problem: Problem, constant_w: float, constant: Trial, most_steps: int
) -> tuple[Lowest, Trial]:
    rehearsal, budget = problem.rehearsal, problem.budget
    ridden: list[Trial] = [constant]
    scale_s = constant.time_s
    multiplier, stiffness = 0.0, 20.0

    def ride(x: FloatArray) -> float:
        trial = rehearse(rehearsal, constant_w * (1.0 + x))
        ridden[0] = trial
        if not trial.is_finished:
            return float("inf")
        over = mean_excess(problem, trial)
        return trial.time_s + scale_s * (multiplier * over + 0.5 * stiffness * over * over)

    def slope_at(x: FloatArray) -> Slope:
        trial = ridden[0]
        over = mean_excess(problem, trial)
        pull = scale_s * (multiplier + stiffness * over)
        answers = answers_of(trial)
        by_time, by_mean = slopes_of(answers, time=1.0), mean_slopes(problem, trial, answers)
        below, above = (t + pull * m for t, m in zip(by_time, by_mean, strict=True))
        value = trial.time_s + scale_s * (multiplier * over + 0.5 * stiffness * over * over)
        return Slope(value=value, below=below * constant_w, above=above * constant_w)

    ones = np.ones(problem.course.n_segments)
    x = np.zeros_like(ones)
    n_rides = 0
    for _ in range(MOST_ROUNDS):
        lowest = descend(
            ride,
            slope_at,
            x,
            low=-ones,
            high=ones * (budget.most_w / constant_w - 1.0),
            tolerance=SETTLED_SHARE * scale_s,
            most_steps=most_steps,
        )
        x = lowest.x
        n_rides += lowest.n_rides
        ride(x)
        over = mean_excess(problem, ridden[0])
        if abs(over) < KEPT_SHARE:
            break
        multiplier += stiffness * over
    return lowest, _met(problem, ridden[0])


def _met(problem: Problem, trial: Trial) -> Trial:
    """The same plan, scaled by the hair that brings its mean out exactly."""

    def excess(scale: float) -> float:
        return mean_excess(problem, rehearse(problem.rehearsal, trial.wanted_w * scale))

    over = mean_excess(problem, trial)
    low, high = sorted((1.0, 1.0 - 3.0 * over))
    if over == 0.0 or excess(low) * excess(high) > 0.0:
        return trial
    scale = float(brentq(excess, low, high, xtol=1e-12))
    return rehearse(problem.rehearsal, trial.wanted_w * scale)
