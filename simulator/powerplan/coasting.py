"""Levels told as they are ridden: coasting stands for itself, no level is above what is pedalled.

A rider coasts where a descent is steep or fast and brakes for bends, whatever power is wanted. A
level on such a place changes nothing, so a search leaves it anywhere; on a card it would ask for
watts that nobody rides.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from simulator.powerplan.climbdown import FloatArray
from simulator.powerplan.levels import Levels, lap_of, pedalled_on, powers_on
from simulator.powerplan.problem import Problem
from simulator.ride import Trial

WHOLE_M = 100.0
"""Changes stand at multiples of this along the lap."""

LEAST_PIECE_M = 200.0

COASTED_W = 30.0
"""Less than this is not pedalled on purpose: common practice, no source."""

COASTED_SHARE, BESIDE_SHARE = 0.25, 0.4
"""A place where less than this of a level is ridden is coasted; the second beside such a one."""

HELD_SHARE = 0.9
"""A level is held if half of the time in which the rider pedals is ridden above this of it."""

PEDALLED_SHARE = 0.5
"""Where the mean is below this share of a level, it is not worth a hard effort."""


def coasts_of(
    problem: Problem, levels: Levels, trial: Trial, *, least_w: float, least_share: float
) -> FloatArray:
    """Stretches of a lap, two hundred metres and more, on which nearly nothing is pedalled.

    Parameters
    ----------
    problem, levels, trial : Problem, Levels, Trial
        What was ridden; all laps count together.
    least_w, least_share : float
        Nearly nothing is less than this power, or than this share of the level.

    Returns
    -------
    (c, 2) array
        From and to, in m along the lap, those of `levels` among them.
    """
    starts_m, lap_m = lap_of(problem.course)
    n_cells = max(1, int(lap_m / WHOLE_M))
    grid_m = np.append(np.arange(n_cells) * WHOLE_M, lap_m)
    nodes_m = problem.course.node_distances_m
    at_m = starts_m[:, None] + grid_m[None, :]
    times_s = np.interp(at_m, nodes_m, trial.node_times_s)
    ridden_w = _per_cell(at_m, nodes_m, trial.powers_w * np.diff(trial.node_times_s), times_s)
    wanted_w = powers_on(problem.course, replace(levels, coasts_m=np.empty((0, 2))))
    asked_w = _per_cell(at_m, nodes_m, wanted_w * np.diff(trial.node_times_s), times_s)
    is_coasted = ridden_w < np.maximum(least_w, least_share * asked_w)
    middles_m = 0.5 * (grid_m[:-1] + grid_m[1:])
    for start_m, end_m in levels.coasts_m:
        is_coasted |= (middles_m > start_m) & (middles_m < end_m)
    is_coasted = _without_short(is_coasted, grid_m)
    is_coasted = _grown(is_coasted, ridden_w < BESIDE_SHARE / COASTED_SHARE * least_share * asked_w)
    # A moment of pedalling between two long stretches without is no level to hold either.
    is_coasted = ~_without_short(~is_coasted, grid_m)
    starts, ends = _runs(is_coasted)
    return np.column_stack([grid_m[starts], grid_m[ends]])


def _per_cell(
    at_m: FloatArray, nodes_m: FloatArray, joules: FloatArray, times_s: FloatArray
) -> FloatArray:
    sums = np.concatenate([[0.0], np.cumsum(joules)])
    parts = np.diff(np.interp(at_m, nodes_m, sums), axis=1).sum(axis=0)
    return np.asarray(parts / np.diff(times_s, axis=1).sum(axis=0))


def _runs(mask: NDArray[np.bool_]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """First of each run of True, and the first behind it."""
    steps = np.diff(np.concatenate([[0], mask.astype(np.int64), [0]]))
    return np.flatnonzero(steps == 1), np.flatnonzero(steps == -1)


def _grown(mask: NDArray[np.bool_], may: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The runs of a mask, longer on both sides for as far as they may be."""
    grown = mask.copy()
    for start, end in zip(*_runs(mask), strict=True):
        while start > 0 and may[start - 1]:
            start -= 1
            grown[start] = True
        while end < len(mask) and may[end]:
            grown[end] = True
            end += 1
    return grown


def _without_short(mask: NDArray[np.bool_], grid_m: FloatArray) -> NDArray[np.bool_]:
    """The mask without runs shorter than a piece; those at the ends of the lap stay."""
    kept = mask.copy()
    for start, end in zip(*_runs(mask), strict=True):
        is_inside = start > 0 and end < len(mask)
        if is_inside and grid_m[end] - grid_m[start] < LEAST_PIECE_M - 1e-6:
            kept[start:end] = False
    return kept


def told_as_ridden(
    problem: Problem,
    levels: Levels,
    trial: Trial,
    *,
    constant_w: float,
    is_last: bool = False,
) -> Levels | None:
    """Levels that come nearer to what is ridden; None where they already tell it.

    Parameters
    ----------
    problem, levels, trial : Problem, Levels, Trial
        What was wanted, and how it was ridden.
    constant_w : float
        The best constant power: the most that is worth wanting where the rider mostly coasts.
    is_last : bool
        Coast where a level is not ridden as it stands, instead of lowering it once more.

    Returns
    -------
    Levels or None
        With more stretches of coasting, or lower caps.
    """
    course = problem.course
    coasts_m = coasts_of(problem, levels, trial, least_w=COASTED_W, least_share=COASTED_SHARE)
    starts_m, lap_m = lap_of(course)
    edges_m = np.concatenate([[0.0], levels.breaks_m, [lap_m]])
    caps_w = levels.tops_w(problem.budget.most_w)
    middles_m = 0.5 * (course.node_distances_m[:-1] + course.node_distances_m[1:])
    i_lap = np.clip(np.searchsorted(starts_m, middles_m, side="right") - 1, 0, None)
    i_level = np.searchsorted(levels.breaks_m, middles_m - starts_m[i_lap], side="right")
    taken_s = np.diff(trial.node_times_s)
    free_s = taken_s * pedalled_on(course, replace(levels, coasts_m=coasts_m))
    is_new = len(coasts_m) != len(levels.coasts_m) or not np.allclose(coasts_m, levels.coasts_m)
    for k, level_w in enumerate(levels.powers_w):
        time_s = np.where(i_level == k, free_s, 0.0)
        if time_s.sum() < 1e-6:
            continue
        busy_s = np.where(trial.powers_w > 0.1 * level_w, time_s, 0.0)
        held_w = _median_w(trial.powers_w, busy_s)
        mean_w = float(trial.powers_w @ time_s / time_s.sum())
        is_held = held_w >= HELD_SHARE * level_w
        if level_w < COASTED_W or held_w < COASTED_W or (is_last and not is_held):
            coasts_m = _joined(np.vstack([coasts_m, edges_m[k : k + 2]]))
        elif not is_held:
            caps_w[k] = np.floor(held_w)
        elif mean_w < PEDALLED_SHARE * level_w and level_w > constant_w + 1.0:
            caps_w[k] = np.floor(constant_w)
        else:
            continue
        is_new = True
    if not is_new:
        return None
    told = replace(levels, coasts_m=coasts_m, caps_w=caps_w)
    return _tidied(told, lap_m)


def _median_w(powers_w: FloatArray, times_s: FloatArray) -> float:
    """Power above which half of some time was ridden; 0 where there is none."""
    order = np.argsort(powers_w)
    passed_s = np.cumsum(times_s[order])
    if passed_s[-1] <= 0.0:
        return 0.0
    return float(powers_w[order][np.searchsorted(passed_s, 0.5 * passed_s[-1])])


def _joined(coasts_m: FloatArray) -> FloatArray:
    """Stretches in order; those that touch or overlap are one."""
    out: list[list[float]] = []
    for start_m, end_m in coasts_m[np.argsort(coasts_m[:, 0])]:
        if out and start_m <= out[-1][1] + 1e-6:
            out[-1][1] = max(out[-1][1], float(end_m))
        else:
            out.append([float(start_m), float(end_m)])
    return np.array(out)


def _tidied(levels: Levels, lap_m: float) -> Levels | None:
    """Changes nearer to a stretch of coasting than a piece move to it; a level of no length goes.

    None where nothing is left to pedal.
    """
    breaks_m = levels.breaks_m.copy()
    for start_m, end_m in levels.coasts_m:
        breaks_m[(breaks_m < start_m) & (start_m - breaks_m < LEAST_PIECE_M - 1e-6)] = start_m
        breaks_m[(breaks_m > end_m) & (breaks_m - end_m < LEAST_PIECE_M - 1e-6)] = end_m
    edges_m = np.concatenate([[0.0], breaks_m, [lap_m]])
    keep = np.array(
        [
            end_m - start_m > 1e-6
            and not np.any(
                (levels.coasts_m[:, 0] <= start_m + 1e-6) & (levels.coasts_m[:, 1] >= end_m - 1e-6)
            )
            for start_m, end_m in pairwise(edges_m)
        ]
    )
    if not keep.any():
        return None
    tops_w = levels.caps_w[keep]
    return Levels(
        powers_w=np.minimum(levels.powers_w[keep], tops_w),
        breaks_m=edges_m[:-1][keep][1:],
        coasts_m=levels.coasts_m,
        caps_w=tops_w,
    )
