"""Downhill over many variables, each between bounds and with a kink of its own at zero.

A limited-memory quasi-Newton method that keeps every variable on its side of zero within one step
(orthant-wise, [Andrew2007]) and inside its bounds by projection. The kink is real: above critical
power W' is spent, below it is refilled at another rate, and a good plan may stay at it exactly.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

MEMORY = 20
SUFFICIENT = 1.0e-4
MOST_HALVINGS = 25


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Slope:
    """Value at a place with its slopes towards less and towards more of each variable."""

    value: float
    below: FloatArray
    above: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lowest:
    """Where the way down ended.

    ``gained`` is what the last `patience` steps brought; 0 where no step leads further down.
    """

    x: FloatArray
    value: float
    n_steps: int
    n_rides: int
    gained: float
    is_settled: bool


def descend(
    value_of: Callable[[FloatArray], float],
    slope_at: Callable[[FloatArray], Slope],
    start: FloatArray,
    *,
    low: FloatArray,
    high: FloatArray,
    tolerance: float,
    most_steps: int,
    patience: int = 10,
) -> Lowest:
    """Walk down until ten steps together gain less than a tolerance.

    Parameters
    ----------
    value_of : callable
        Value at a place; ``inf`` where there is none.
    slope_at : callable
        Value and slopes at a place that `value_of` was called for last.
    start, low, high : (n,) arrays
        First place and bounds (low <= 0 <= high where zero is a kink).
    tolerance : float
        In the unit of the value, for `patience` steps together.
    most_steps : int
        Steps after which to stop in any case.

    Returns
    -------
    Lowest
        See there.
    """
    x = np.clip(start, low, high)
    value_of(x)
    here = slope_at(x)
    moves: list[tuple[FloatArray, FloatArray]] = []
    values = [here.value]
    n_rides = 1
    is_settled = is_bottom = False
    for _ in range(most_steps):
        force = _pseudo_slope(x, here, low, high)
        if not np.any(force):
            is_settled = is_bottom = True
            break
        direction = -_inverse_times(force, moves)
        direction[direction * force >= 0.0] = 0.0
        if not np.any(direction):
            direction = -force
        side = np.where(x != 0.0, np.sign(x), np.sign(-force))
        length = 1.0 if moves else 0.05 / float(np.abs(direction).max())
        found = False
        for _ in range(MOST_HALVINGS):
            y = np.clip(x + length * direction, low, high)
            y[y * side < 0.0] = 0.0
            n_rides += 1
            if value_of(y) <= here.value + SUFFICIENT * _dot(force, y - x):
                found = True
                break
            length *= 0.5
        if not found:
            if not moves:
                is_settled = is_bottom = True
                break
            moves = []  # a stale memory of bends is the usual reason: start afresh
            continue
        there = slope_at(y)
        bend = 0.5 * (there.below + there.above) - 0.5 * (here.below + here.above)
        move = y - x
        if _dot(move, bend) > 1.0e-12 * _dot(move, move):
            moves = [*moves[-(MEMORY - 1) :], (move, bend)]
        x, here = y, there
        values.append(here.value)
        if len(values) > patience and values[-1 - patience] - values[-1] < tolerance:
            is_settled = True
            break
    gained = values[max(0, len(values) - 1 - patience)] - values[-1]
    return Lowest(
        x=x,
        value=here.value,
        n_steps=len(values) - 1,
        n_rides=n_rides,
        gained=0.0 if is_bottom else gained,
        is_settled=is_settled,
    )


def _pseudo_slope(x: FloatArray, here: Slope, low: FloatArray, high: FloatArray) -> FloatArray:
    """The slope along which each variable can fall; 0 where it cannot."""
    smooth = 0.5 * (here.below + here.above)
    kink = np.where(here.above < 0.0, here.above, np.where(here.below > 0.0, here.below, 0.0))
    force = np.where(x == 0.0, kink, smooth)
    force = np.where((x <= low) & (force > 0.0), 0.0, force)
    return np.asarray(np.where((x >= high) & (force < 0.0), 0.0, force))


def _inverse_times(force: FloatArray, moves: list[tuple[FloatArray, FloatArray]]) -> FloatArray:
    """Two-loop recursion over the remembered moves."""
    if not moves:
        return force.copy()
    rest = force.copy()
    parts = []
    for move, bend in reversed(moves):
        scale = 1.0 / _dot(move, bend)
        part = scale * _dot(move, rest)
        rest -= part * bend
        parts.append((scale, part))
    move, bend = moves[-1]
    rest *= _dot(move, bend) / _dot(bend, bend)
    for (move, bend), (scale, part) in zip(moves, reversed(parts), strict=True):
        rest += (part - scale * _dot(bend, rest)) * move
    return np.asarray(rest)


def _dot(a: FloatArray, b: FloatArray) -> float:
    """Inner product in one thread: threads of a linear-algebra library cost more than they give."""
    return float(np.einsum("i,i", a, b))
