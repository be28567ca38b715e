"""From the quickest power to what a person can ride: a few steady levels, and what that costs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, cast

import numpy as np
from scipy.optimize import minimize

from simulator.powerplan.card import MOST_ROWS
from simulator.powerplan.climbdown import FloatArray
from simulator.powerplan.coasting import LEAST_PIECE_M, WHOLE_M, coasts_of, told_as_ridden
from simulator.powerplan.levels import Levels, fitted_levels, lap_of, rows_of
from simulator.powerplan.plan import Plan, plan_of
from simulator.powerplan.problem import Problem
from simulator.powerplan.ridden_levels import SCALE_W, Look, look_at
from simulator.powerplan.solve import Solution
from simulator.powerplan.whole_watts import in_whole_watts

MOST_CELLS = 400
LEVEL_ROUNDS = 30
PLACE_ROUNDS = 15
MOST_TWICE = 8
"""Most steps of the search for levels alone, and for levels together with their places."""

MOST_TELLINGS = 10
"""How often levels are brought nearer to what is ridden; from half of them on by coasting alone."""


def simplify(
    solution: Solution,
    *,
    most_changes: int,
    name: str = "Plan",
    known: Sequence[Levels] = (),
) -> Plan:
    """Find a few steady levels that lose little against the quickest power.

    Parameters
    ----------
    solution : Solution
        The quickest power.
    most_changes : int
        Most changes of power on the way; on laps, on each lap. Coasting comes by itself and is
        not counted.
    name : str
        What to call the pacing.
    known : sequence of Levels
        Good levels of the same course, as for another weather, to begin a search from as well.

    Returns
    -------
    Plan
        Within the same budget, in whole watts and hundreds of metres; or the best constant power
        itself, as it is, where no such levels are quicker. So it is never slower than that. What
        it says is what is ridden: where the rider coasts, it says so.
    """
    problem = solution.problem
    starts_m, lap_m = lap_of(problem.course)
    # A lap that starts at another level than it ended with is a change as well.
    n_levels = most_changes + 1 if len(starts_m) == 1 else max(1, most_changes)
    n_levels = max(1, min(n_levels, int(lap_m / LEAST_PIECE_M)))
    steady = Levels(powers_w=np.array([solution.constant_w]), breaks_m=np.empty(0))
    # Where nothing at all is pedalled, coasting is told and changes nothing.
    idle_m = coasts_of(problem, steady, solution.constant, least_w=1.0, least_share=0.0)
    plans = [plan_of(solution, replace(steady, coasts_m=idle_m), name)]
    # One level fewer as well, where that is quick: a search may end in a lesser valley.
    for n in range(max(n_levels - 1, 2) if n_levels <= MOST_TWICE else n_levels, n_levels + 1):
        found = _found(solution, n, known)
        if found is not None:
            plans.append(plan_of(solution, found, name))
    return min(plans, key=lambda plan: plan.time_s)


def _found(solution: Solution, n_levels: int, known: Sequence[Levels]) -> Levels | None:
    """Levels in whole watts, told as they are ridden, in as many rows as a card holds."""
    _, lap_m = lap_of(solution.problem.course)
    while n_levels > 1:
        seen = _best_levels(solution, n_levels, known)
        levels = None if seen is None else _told(solution, seen)
        if levels is None:
            return None
        edges_m, _ = rows_of(solution.problem.course, levels)
        excess = np.searchsorted(edges_m, lap_m - 1e-6) - MOST_ROWS
        if excess <= 0:
            return levels
        n_levels -= int(excess)
    return None


def _told(solution: Solution, seen: Look) -> Levels | None:
    """Whole watts that are ridden as they stand, searched anew after each mend."""
    problem = solution.problem
    for i in range(MOST_TELLINGS):
        told = told_as_ridden(
            problem,
            seen.levels,
            seen.trial,
            constant_w=solution.constant_w,
            is_last=2 * i >= MOST_TELLINGS,
        )
        if told is None:
            break
        better = _improved(problem, told, most_rounds=LEVEL_ROUNDS) or look_at(problem, told)
        if better is None:
            return None
        seen = better
    whole = in_whole_watts(seen)
    return None if whole is None else _merged(whole)


def _best_levels(solution: Solution, n_levels: int, known: Sequence[Levels]) -> Look | None:
    """The best of several searches, each from the levels nearest to the quickest power."""
    problem = solution.problem
    _, lap_m = lap_of(problem.course)
    taken_s = np.diff(solution.trial.node_times_s)
    best: Look | None = None
    # By time, and by time where the ride is slow: there time answers more to power.
    for weights in (taken_s, taken_s**2 / problem.course.lengths_m):
        guess = _first_guess(solution, n_levels, weights)
        best = _better(best, _improved(problem, guess, most_rounds=LEVEL_ROUNDS))
    for other in known:
        if 1 < len(other.powers_w) <= n_levels:
            levels = Levels(powers_w=other.powers_w, breaks_m=other.breaks_m)
            best = _better(best, _improved(problem, levels, most_rounds=LEVEL_ROUNDS))
    if best is None:
        return None
    moved = _improved(problem, best.levels, most_rounds=PLACE_ROUNDS, move_breaks=True)
    if moved is not None:
        snapped = _on_whole_metres(moved.levels, lap_m)
        best = _better(best, _improved(problem, snapped, most_rounds=LEVEL_ROUNDS))
    return best


def _better(one: Look | None, other: Look | None) -> Look | None:
    """The quicker one of those within the budget; a breach of a hair is mended by whole watts."""
    looks = [look for look in (one, other) if look is not None]
    kept = [look for look in looks if look.room.min() > -0.02] or looks
    return min(kept, key=lambda look: look.trial.time_s) if kept else None


def _first_guess(solution: Solution, n_levels: int, weights: FloatArray) -> Levels:
    """The levels nearest to the quickest power.

    Where W′ decides, power below critical power counts as critical power: it is on descents, where
    a level matters little, and W′ refills by itself.
    """
    problem, trial = solution.problem, solution.trial
    _, lap_m = lap_of(problem.course)
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
        grid_m=WHOLE_M * np.ceil(lap_m / MOST_CELLS / WHOLE_M),
        least_m=LEAST_PIECE_M,
    )


def _improved(
    problem: Problem, levels: Levels, *, most_rounds: int, move_breaks: bool = False
) -> Look | None:
    """Better levels (and places of change) by sequential quadratic programming."""
    _, lap_m = lap_of(problem.course)
    n = len(levels.powers_w)
    n_breaks = len(levels.breaks_m) if move_breaks else 0
    n_all = n + n_breaks
    scales = np.r_[np.full(n, SCALE_W), np.full(n_breaks, lap_m / 10.0)]
    far_s = 10.0 * problem.course.distance_m
    looks: dict[bytes, Look | None] = {}
    last: list[Look] = []

    def look(x: FloatArray) -> Look | None:
        key = x.tobytes()
        if key not in looks:
            breaks_m = np.sort(x[n:] * scales[n:]) if n_breaks else levels.breaks_m
            tried = replace(levels, powers_w=x[:n] * SCALE_W, breaks_m=breaks_m)
            looks[key] = look_at(problem, tried)
        found = looks[key]
        if found is not None:
            last[:] = [found]
        return found

    def seen(x: FloatArray) -> Look:
        """Where a rider stops on the way the search steps back, whatever the slopes say."""
        return look(x) or last[0]

    def value(x: FloatArray) -> float:
        found = look(x)
        return far_s if found is None else found.trial.time_s

    start = np.concatenate([levels.powers_w, levels.breaks_m[:n_breaks]]) / scales
    if look(start) is None:
        return None
    conditions: list[dict[str, Any]] = [
        {
            "type": "ineq",
            "fun": lambda x: seen(x).room,
            "jac": lambda x: seen(x).room_slope[:, :n_all] * scales,
        }
    ]
    if n_breaks > 1:
        spread = np.zeros((n_breaks - 1, n_all))
        for k in range(n_breaks - 1):
            spread[k, n + k], spread[k, n + k + 1] = -1.0, 1.0
        least = LEAST_PIECE_M / scales[-1]
        conditions.append(
            {"type": "ineq", "fun": lambda x: spread @ x - least, "jac": lambda _: spread}
        )
    edge = LEAST_PIECE_M / lap_m * 10.0
    found = cast(Any, minimize)(
        value,
        start,
        jac=lambda x: seen(x).slope[:n_all] * scales,
        bounds=[(0.0, top_w / SCALE_W) for top_w in levels.tops_w(problem.budget.most_w)]
        + [(edge, 10.0 - edge)] * n_breaks,
        constraints=conditions,
        method="SLSQP",
        options={"maxiter": most_rounds, "ftol": 2e-3},
    )
    return look(np.asarray(found.x))


def _on_whole_metres(levels: Levels, lap_m: float) -> Levels:
    """Changes at whole hundreds of metres; where two fall together, the later level holds."""
    whole_m = np.round(levels.breaks_m / WHOLE_M) * WHOLE_M
    keep = (np.diff(whole_m, append=np.inf) > 0.0) & (whole_m > 0.0) & (whole_m < lap_m)
    return Levels(powers_w=levels.powers_w[np.r_[True, keep]], breaks_m=whole_m[keep])


def _merged(levels: Levels) -> Levels:
    keep = np.diff(levels.powers_w) != 0.0
    return Levels(
        powers_w=levels.powers_w[np.r_[True, keep]],
        breaks_m=levels.breaks_m[keep],
        coasts_m=levels.coasts_m,
    )
