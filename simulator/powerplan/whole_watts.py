"""Levels in whole watts: roundings that the slopes promise to be quick, each of them ridden."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from simulator.powerplan.climbdown import FloatArray
from simulator.powerplan.levels import Levels
from simulator.powerplan.ridden_levels import SCALE_W, Look, look_at
from simulator.ride import CUT_W

REACH_W = 32.0
"""How far a short level may move so that a long one need not be rounded down: one watt of a level
that lasts the whole ride costs seconds, twenty of one that lasts a minute do not."""

MARGIN_W = 0.05
MOST_RIDDEN = 24
MOST_LOWERED = 20
MOST_TRIES = 8
MOST_MOVES = 200
EXCHANGED_W = (1.0, 2.0, 3.0, 5.0, 8.0, 13.0, 21.0)
BREACH_S = 1.0e3
"""Seconds that a breach of a limit by one watt (or by all of a mean) counts in that search."""


def in_whole_watts(seen: Look) -> Levels | None:
    """Round levels to whole watts within the budget.

    Parameters
    ----------
    seen : Look
        Levels of any power.

    Returns
    -------
    Levels or None
        None where no rounding nearby keeps to the budget.
    """
    best = _rounded(seen)
    if best is None:
        return None
    reach_w, margin_w = REACH_W, 0.0
    for _ in range(MOST_TRIES):
        powers_w = _promising(best, reach_w, margin_w)
        found = look_at(seen.problem, replace(seen.levels, powers_w=powers_w))
        if found is not None and found.is_within and _gains(found, best):
            best = found
        else:  # straight lines promised too much: stay nearer, and further from the limits
            reach_w, margin_w = 0.5 * reach_w, margin_w + MARGIN_W
        if reach_w < 1.0:
            break
    return best.levels


def _gains(found: Look, best: Look) -> bool:
    return found.trial.time_s < best.trial.time_s - 1.0e-4


def _rounded(seen: Look) -> Look | None:
    """Every level down or up: the quickest of those that promise most and keep to the budget."""
    levels, problem = seen.levels, seen.problem
    top_w = np.floor(levels.tops_w(problem.budget.most_w))
    down_w = np.clip(np.floor(levels.powers_w), 0.0, top_w)
    n = len(down_w)
    ups = (np.arange(2**n)[:, None] >> np.arange(n)) & 1
    tried_w = np.minimum(down_w + ups, top_w)
    promised = _promised(seen, tried_w, 0.0)
    order = np.lexsort((promised[0], promised[1]))[:MOST_RIDDEN]
    looks = [look_at(problem, replace(levels, powers_w=tried_w[i])) for i in order]
    kept = [look for look in looks if look is not None and look.is_within]
    if kept:
        return min(kept, key=lambda look: look.trial.time_s)
    for step_w in range(1, MOST_LOWERED):
        look = look_at(problem, replace(levels, powers_w=np.maximum(down_w - step_w, 0.0)))
        if look is not None and look.is_within:
            return look
    return None


def _promised(here: Look, tried_w: FloatArray, margin_w: float) -> tuple[FloatArray, FloatArray]:
    """Change of time (s) and breach of limits (W; of a mean: its share) by the slopes there."""
    n = len(here.levels.powers_w)
    is_reserve = here.problem.budget.is_reserve
    less, more = (side[:, :n].T for side in here.sides())
    moved_w = tried_w - here.levels.powers_w
    told = np.maximum(moved_w, 0.0) @ more + np.minimum(moved_w, 0.0) @ less
    slack = (CUT_W - margin_w) / SCALE_W if is_reserve else -1.0e-3 * margin_w
    breach = np.maximum(-(here.room + slack + told[:, 1:]), 0.0).sum(axis=1)
    return told[:, 0], breach * (SCALE_W if is_reserve else 1.0)


def _promising(here: Look, reach_w: float, margin_w: float) -> FloatArray:
    """Whole watts of little time by the slopes at some levels, within what they allow.

    Single steps and exchanges between two levels, the best one each time, for as long as one helps.
    """
    start_w = here.levels.powers_w
    low_w = np.maximum(np.floor(start_w - reach_w), 0.0)
    top_w = np.floor(here.levels.tops_w(here.problem.budget.most_w))
    high_w = np.minimum(np.ceil(start_w + reach_w), top_w)
    moves = _moves(len(start_w))
    powers_w = start_w
    for _ in range(MOST_MOVES):
        tried_w = np.concatenate([powers_w[None], powers_w + moves])
        told_s, breaches = _promised(here, tried_w, margin_w)
        prices_s = told_s + BREACH_S * breaches
        prices_s[((tried_w < low_w) | (tried_w > high_w)).any(axis=1)] = np.inf
        i = int(np.argmin(prices_s))
        if prices_s[i] > prices_s[0] - 1.0e-6:
            break
        powers_w = tried_w[i]
    return powers_w


def _moves(n: int) -> FloatArray:
    """One watt up or down on one level, alone or against some watts on another one."""
    one = np.eye(n)
    alone = [one, -one]
    against = [
        sign * (one[k] - step_w * one[[m for m in range(n) if m != k]])
        for k in range(n)
        for step_w in EXCHANGED_W
        for sign in (1.0, -1.0)
    ]
    return np.concatenate([*alone, *against]) if n > 1 else np.concatenate(alone)
