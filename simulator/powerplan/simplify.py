"""From the quickest power to what a person can ride: a few steady levels, and what that costs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from simulator.powerplan.climbdown import FloatArray
from simulator.powerplan.levels import (
    Levels,
    edges_of,
    fitted_levels,
    lap_of,
    powers_on,
    slopes_by_level,
)
from simulator.powerplan.plan import Plan, plan_of
from simulator.powerplan.problem import Problem
from simulator.powerplan.solve import Solution, mean_excess, mean_slopes
from simulator.ride import (
    CUT_W,
    Trial,
    answers_of,
    capacity_w,
    rehearse,
    slopes_of,
    trial_cut_w,
)

WHOLE_W = 1.0
"""Powers of a plan are multiples of this. Coarser ones cost more than changes of level gain: 4 W
of 294 W, rounded down, are 46 s in 1:48 on a hilly course."""

WHOLE_M = 100.0
"""Changes stand at multiples of this along the lap."""

LEAST_PIECE_M = 200.0
MOST_CELLS = 400
MOST_ROUNDS = 60
MOST_WHOLE_STEPS = 40


def simplify(solution: Solution, *, most_changes: int, name: str = "Plan") -> Plan:
    """Find a few steady levels that lose little against the quickest power.

    Parameters
    ----------
    solution : Solution
        The quickest power.
    most_changes : int
        Most changes of power on the way; on laps, on each lap.
    name : str
        What to call the pacing.

    Returns
    -------
    Plan
        In whole watts and hundreds of metres, within the same budget.
    """
    problem = solution.problem
    starts_m, lap_m = lap_of(problem.course)
    # A lap that starts at another level than it ended with is a change as well.
    n_levels = most_changes + 1 if len(starts_m) == 1 else max(1, most_changes)
    n_levels = max(1, min(n_levels, int(lap_m / LEAST_PIECE_M)))
    levels = _improved(problem, _first_guess(solution, n_levels), most_rounds=MOST_ROUNDS)
    levels = _on_whole_metres(levels, lap_m)
    levels = _improved(problem, levels, most_rounds=MOST_ROUNDS, move_breaks=False)
    levels = _merged(_whole_watts(problem, levels))
    steady_w = np.floor(solution.constant_w / WHOLE_W) * WHOLE_W
    steady = Levels(powers_w=np.array([steady_w]), breaks_m=np.empty(0))
    plans = [plan_of(solution, found, name) for found in (levels, _whole_watts(problem, steady))]
    return min(plans, key=lambda plan: plan.time_s)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Look:
    """A set of levels as ridden, with the slopes of its time and of what it leaves to spend.

    ``room`` is what the budget still allows, in units of `SCALE_W`; the rows of `room_slope` belong
    to its entries.
    """

    x: FloatArray
    levels: Levels
    trial: Trial
    slope: FloatArray
    room: FloatArray
    room_slope: FloatArray


SCALE_W = 100.0
NEAR_ROOM = 1.0
"""In units of `SCALE_W`: limits of W′ that are nearer than this are followed."""


def _look(problem: Problem, levels: Levels, x: FloatArray, scale_m: float) -> _Look | None:
    """Ride a set of levels; None if the rider stops on the way."""
    course = problem.course
    n, n_breaks = len(levels.powers_w), len(x) - len(levels.powers_w)
    trial = rehearse(problem.rehearsal, powers_on(course, levels))
    if not trial.is_finished:
        return None
    answers = answers_of(trial)

    def chained(by_segment: FloatArray) -> FloatArray:
        by_level, by_break = slopes_by_level(course, levels, by_segment)
        return np.concatenate([by_level * SCALE_W, by_break[:n_breaks] * scale_m])

    if not problem.budget.is_reserve:
        room = np.array([-mean_excess(problem, trial)])
        room_slope = -chained(_both(mean_slopes(problem, trial, answers)))[None]
    else:
        room, worst = _reserve_room(problem, levels, trial)
        per_j = problem.rehearsal.surge_w / (problem.setup.rider.wprime_j or 1.0) / SCALE_W
        # A limit that is far off does not bend the search: its slopes are left at zero.
        room_slope = np.zeros((n, n + n_breaks))
        for k in np.flatnonzero(room < NEAR_ROOM):
            by_node = _both(slopes_of(answers, reserve_nodes=worst[k : k + 1]))
            room_slope[k] = chained(by_node * per_j)
        room_slope[:, :n] -= np.eye(n)
    return _Look(
        x=x.copy(),
        levels=levels,
        trial=trial,
        slope=chained(_both(slopes_of(answers, time=1.0))),
        room=room,
        room_slope=room_slope,
    )


def _reserve_room(
    problem: Problem, levels: Levels, trial: Trial
) -> tuple[FloatArray, NDArray[np.int64]]:
    """What W′ allows over the power wanted on each level, at the node where it is least."""
    course = problem.course
    edges_m, powers_w = edges_of(course, levels)
    ends = np.clip(np.searchsorted(course.node_distances_m, edges_m), 0, course.n_segments)
    most_w = capacity_w(problem.rehearsal, trial.node_reserves_j)
    n = len(levels.powers_w)
    room, worst = np.full(n, np.inf), np.zeros(n, dtype=np.int64)
    for j, power_w in enumerate(powers_w):
        i = int(ends[j] + np.argmin(most_w[ends[j] : ends[j + 1] + 1]))
        if most_w[i] - power_w < room[j % n]:
            room[j % n], worst[j % n] = most_w[i] - power_w, i
    return room / SCALE_W, worst


def _first_guess(solution: Solution, n_levels: int) -> Levels:
    """The levels nearest to the quickest power.

    Where W′ decides, power below critical power counts as critical power: it is on descents, where
    a level matters little, and W′ refills by itself.
    """
    problem, trial = solution.problem, solution.trial
    _, lap_m = lap_of(problem.course)
    weights = np.diff(trial.node_times_s)
    least_w = 0.0
    if problem.budget.is_reserve:
        least_w = problem.setup.rider.cp_w or 0.0
    else:
        asked_w = trial.wanted_w * trial.rehearsal.shares
        pedals = (trial.powers_w > 0.5 * asked_w) & (trial.rehearsal.shares > 0.0)
        weights = np.where(pedals, weights, 1.0e-3 * weights)
    return fitted_levels(
        problem.course,
        np.clip(trial.powers_w, least_w, problem.budget.most_w),
        weights,
        n_levels=n_levels,
        grid_m=max(WHOLE_M, lap_m / MOST_CELLS),
        least_m=LEAST_PIECE_M,
    )


def _improved(
    problem: Problem, levels: Levels, *, most_rounds: int, move_breaks: bool = True
) -> Levels:
    """Better levels (and places of change) by sequential quadratic programming."""
    _, lap_m = lap_of(problem.course)
    n = len(levels.powers_w)
    n_breaks = len(levels.breaks_m) if move_breaks else 0
    scale_m = lap_m / 10.0
    far_s = 10.0 * problem.course.distance_m
    held: list[_Look | None] = [None]
    asked: list[FloatArray] = [np.empty(0)]

    def levels_at(x: FloatArray) -> Levels:
        breaks_m = np.sort(x[n:] * scale_m) if n_breaks else levels.breaks_m
        return Levels(powers_w=x[:n] * SCALE_W, breaks_m=breaks_m)

    def look(x: FloatArray) -> _Look | None:
        if not np.array_equal(asked[0], x):
            asked[0] = x.copy()
            held[0] = _look(problem, levels_at(x), x, scale_m) or held[0]
        return held[0]

    def value(x: FloatArray) -> float:
        seen = look(x)
        # A rider who stops on the way: too far, the search steps back from here.
        return far_s if seen is None or not np.array_equal(seen.x, x) else seen.trial.time_s

    start = np.concatenate([levels.powers_w / SCALE_W, levels.breaks_m[:n_breaks] / scale_m])
    first = look(start)
    if first is None:
        return levels
    conditions: list[dict[str, Any]] = [
        {
            "type": "ineq",
            "fun": lambda x: getattr(look(x), "room", None),
            "jac": lambda x: getattr(look(x), "room_slope", None),
        }
    ]
    if n_breaks > 1:
        spread = np.zeros((n_breaks - 1, n + n_breaks))
        for k in range(n_breaks - 1):
            spread[k, n + k], spread[k, n + k + 1] = -1.0, 1.0
        least = LEAST_PIECE_M / scale_m
        conditions.append(
            {"type": "ineq", "fun": lambda x: spread @ x - least, "jac": lambda _: spread}
        )
    low, high = LEAST_PIECE_M / scale_m, (lap_m - LEAST_PIECE_M) / scale_m
    found = cast(Any, minimize)(
        value,
        start,
        jac=lambda x: getattr(look(x), "slope", None),
        bounds=[(0.0, problem.budget.most_w / SCALE_W)] * n + [(low, high)] * n_breaks,
        constraints=conditions,
        method="SLSQP",
        options={"maxiter": most_rounds, "ftol": 1e-3},
    )
    last = look(np.asarray(found.x))
    if last is None or not np.array_equal(last.x, found.x):
        return levels
    is_worse = last.trial.time_s > first.trial.time_s
    return levels if is_worse and first.room.min() > -1e-3 else last.levels


def _both(sides: tuple[FloatArray, FloatArray]) -> FloatArray:
    return 0.5 * (sides[0] + sides[1])


def _on_whole_metres(levels: Levels, lap_m: float) -> Levels:
    """Changes at whole hundreds of metres; where two fall together, the later level holds."""
    whole_m = np.round(levels.breaks_m / WHOLE_M) * WHOLE_M
    keep = (np.diff(whole_m, append=np.inf) > 0.0) & (whole_m > 0.0) & (whole_m < lap_m)
    return Levels(powers_w=levels.powers_w[np.r_[True, keep]], breaks_m=whole_m[keep])


def _is_within(problem: Problem, trial: Trial) -> bool:
    if problem.budget.is_reserve:
        return trial_cut_w(trial) <= CUT_W
    return trial.is_finished and mean_excess(problem, trial) <= 0.0


def _whole_watts(problem: Problem, levels: Levels) -> Levels:
    """Levels in whole steps: the quickest found by lowering, raising and swapping single steps."""
    top_w = np.floor(problem.budget.most_w / WHOLE_W) * WHOLE_W
    powers_w = np.clip(np.round(levels.powers_w / WHOLE_W) * WHOLE_W, 0.0, top_w)

    def ridden(candidate_w: FloatArray) -> Trial:
        changed = replace(levels, powers_w=candidate_w)
        return rehearse(problem.rehearsal, powers_on(problem.course, changed))

    def neighbours(steps: list[tuple[int, float]]) -> FloatArray | None:
        other_w = powers_w.copy()
        for k, step_w in steps:
            other_w[k] += step_w
        return None if other_w.min() < 0.0 or other_w.max() > top_w else other_w

    here = ridden(powers_w)
    levels_of = range(len(powers_w))
    for _ in range(MOST_WHOLE_STEPS):
        is_within = _is_within(problem, here)
        moves = [[(k, WHOLE_W if is_within else -WHOLE_W)] for k in levels_of]
        best = _best_move(problem, here, moves, neighbours, ridden)
        if best is None and is_within:
            swaps = [[(k, WHOLE_W), (m, -WHOLE_W)] for k in levels_of for m in levels_of if k != m]
            best = _best_move(problem, here, swaps, neighbours, ridden)
        if best is None:
            break
        powers_w, here = best
    return replace(levels, powers_w=powers_w)


def _best_move(
    problem: Problem,
    here: Trial,
    moves: list[list[tuple[int, float]]],
    neighbours: Callable[[list[tuple[int, float]]], FloatArray | None],
    ridden: Callable[[FloatArray], Trial],
) -> tuple[FloatArray, Trial] | None:
    """The move that gains most within the budget, or relieves it at the least price."""
    is_within = _is_within(problem, here)
    found: tuple[float, FloatArray, Trial] | None = None
    for move in moves:
        other_w = neighbours(move)
        if other_w is None:
            continue
        trial = ridden(other_w)
        if is_within and not (_is_within(problem, trial) and trial.time_s < here.time_s - 1.0e-6):
            continue
        price = _price(problem, here, trial, is_within)
        if found is None or price < found[0]:
            found = (price, other_w, trial)
    return None if found is None else (found[1], found[2])


def _price(problem: Problem, here: Trial, there: Trial, is_within: bool) -> float:
    """Time gained by a step up; time lost for each unit of relief by a step down."""
    lost_s = there.time_s - here.time_s
    if is_within:
        return lost_s
    if problem.budget.is_reserve:
        relief = trial_cut_w(here) - trial_cut_w(there)
    else:
        relief = mean_excess(problem, here) - mean_excess(problem, there)
    return lost_s / relief if relief > 0.0 else 1.0e6 + lost_s


def _merged(levels: Levels) -> Levels:
    keep = np.diff(levels.powers_w) != 0.0
    return Levels(powers_w=levels.powers_w[np.r_[True, keep]], breaks_m=levels.breaks_m[keep])
