"""A plan of a few steady levels: where the power changes, the same on every lap."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from simulator.course import Course
from simulator.powerplan.climbdown import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Levels:
    """Steady powers and the places, along one lap, where one gives way to the next.

    Attributes
    ----------
    powers_w : (k,) array
        One a piece, in the order of the lap.
    breaks_m : (k - 1,) array
        Ascending distances from the start of the lap.
    coasts_m : (c, 2) array
        Where nothing is pedalled, whatever the level: from and to, ascending, apart.
    caps_w : (k,) array
        Most that each level may be; empty for no such limits.
    """

    powers_w: FloatArray
    breaks_m: FloatArray
    coasts_m: FloatArray = field(default_factory=lambda: np.empty((0, 2)))
    caps_w: FloatArray = field(default_factory=lambda: np.empty(0))

    def tops_w(self, most_w: float) -> FloatArray:
        """Most that each level may be, where no power of a plan is above `most_w`."""
        if not len(self.caps_w):
            return np.full(len(self.powers_w), most_w)
        return np.minimum(self.caps_w, most_w)


def lap_of(course: Course) -> tuple[FloatArray, float]:
    """Starts of all laps and the length of one; a course ridden once is one lap."""
    starts_m = course.lap_starts_m[:-1]
    return starts_m, float(course.lap_starts_m[1] - course.lap_starts_m[0])


def edges_of(course: Course, levels: Levels) -> tuple[FloatArray, FloatArray]:
    """Edges of all levels along the whole ride (m) and the power between them (W)."""
    starts_m, _ = lap_of(course)
    inner = np.concatenate([[0.0], levels.breaks_m])
    edges_m = np.append((starts_m[:, None] + inner[None, :]).ravel(), course.distance_m)
    return edges_m, np.tile(levels.powers_w, len(starts_m))


def rows_of(course: Course, levels: Levels) -> tuple[FloatArray, FloatArray]:
    """As `edges_of`, with the stretches on which the rider coasts as pieces of their own, 0 W.

    Neighbours of one power are one piece; a lap begins a new one.
    """
    starts_m, lap_m = lap_of(course)
    places_m = np.unique(np.concatenate([[0.0], levels.breaks_m, levels.coasts_m.ravel()]))
    places_m = places_m[places_m < lap_m]
    i_level = np.searchsorted(levels.breaks_m, places_m, side="right")
    powers_w = np.where(_is_coasted(levels, places_m), 0.0, levels.powers_w[i_level])
    keep = np.r_[True, np.diff(powers_w) != 0.0]
    edges_m = np.append((starts_m[:, None] + places_m[keep]).ravel(), course.distance_m)
    return edges_m, np.tile(powers_w[keep], len(starts_m))


def _is_coasted(levels: Levels, places_m: FloatArray) -> NDArray[np.bool_]:
    """Whether the rider coasts just behind each place of the lap."""
    inside = np.zeros(len(places_m), dtype=bool)
    for start_m, end_m in levels.coasts_m:
        inside |= (places_m >= start_m - 1e-6) & (places_m < end_m - 1e-6)
    return inside


def powers_on(course: Course, levels: Levels) -> FloatArray:
    """Mean power on each segment; one that holds a change of level gets its share of both."""
    # Joined rows add up to other last digits, and a search that stands at critical power, where
    # slopes jump, goes another way for them.
    pieces = rows_of if len(levels.coasts_m) else edges_of
    return _spread(course, *pieces(course, levels))


def _spread(course: Course, edges_m: FloatArray, values: FloatArray) -> FloatArray:
    sums = np.concatenate([[0.0], np.cumsum(values * np.diff(edges_m))])
    return np.asarray(np.diff(np.interp(course.node_distances_m, edges_m, sums)) / course.lengths_m)


def pedalled_on(course: Course, levels: Levels) -> FloatArray:
    """Share of each segment that lies on no stretch on which the rider coasts."""
    ones = Levels(powers_w=np.ones(1), breaks_m=np.empty(0), coasts_m=levels.coasts_m)
    return _spread(course, *rows_of(course, ones))


def slopes_by_level(
    course: Course, levels: Levels, by_segment: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Turn slopes by the power of each segment into slopes by level and by break.

    Parameters
    ----------
    course, levels : Course, Levels
        Where and what.
    by_segment : (n,) array
        Change of a result for each watt on a segment.

    Returns
    -------
    tuple of arrays
        By level (per W) and by break (per m).
    """
    edges_m, powers_w = edges_of(course, levels)
    nodes_m = course.node_distances_m
    if len(levels.coasts_m):
        by_segment = by_segment * pedalled_on(course, levels)
    sums = np.concatenate([[0.0], np.cumsum(by_segment)])
    by_piece = np.diff(np.interp(edges_m, nodes_m, sums))
    n_levels = len(levels.powers_w)
    by_level = by_piece.reshape(-1, n_levels).sum(axis=0)
    inner = edges_m[1:-1]
    i_segment = np.clip(np.searchsorted(nodes_m, inner, side="right") - 1, 0, len(by_segment) - 1)
    density = by_segment[i_segment] / course.lengths_m[i_segment]
    by_edge = np.append((powers_w[:-1] - powers_w[1:]) * density, 0.0)
    # Behind each piece of a lap but its last stands a break; the last one ends the lap.
    return by_level, by_edge.reshape(-1, n_levels)[:, :-1].sum(axis=0)


def fitted_levels(
    course: Course,
    wanted_w: FloatArray,
    weights: FloatArray,
    *,
    n_levels: int,
    grid_m: float,
    least_m: float,
) -> Levels:
    """Levels nearest to a power along the course, by weighted squares; exact on a grid of places.

    Parameters
    ----------
    course : Course
        Where.
    wanted_w, weights : (n,) arrays
        Power on each segment, and how much it counts.
    n_levels : int
        At most so many.
    grid_m, least_m : float
        The power may change at multiples of the first; no piece is shorter than the second.

    Returns
    -------
    Levels
        By dynamic programming over the grid of one lap, all laps together (textbook).
    """
    starts_m, lap_m = lap_of(course)
    n_cells = max(1, int(lap_m / grid_m))
    grid = np.append(np.arange(n_cells) * grid_m, lap_m)
    middles_m = 0.5 * (course.node_distances_m[:-1] + course.node_distances_m[1:])
    i_lap = np.clip(np.searchsorted(starts_m, middles_m, side="right") - 1, 0, len(starts_m) - 1)
    cell = np.clip(((middles_m - starts_m[i_lap]) / grid_m).astype(int), 0, n_cells - 1)

    def summed(values: FloatArray) -> FloatArray:
        return np.concatenate([[0.0], np.cumsum(np.bincount(cell, values, n_cells))])

    sums = [summed(weights * wanted_w**power) for power in range(3)]
    # From each place to each later one: weight, its first and second moment.
    width, mass, square = (part[None, :] - part[:, None] for part in sums)
    with np.errstate(divide="ignore", invalid="ignore"):
        cost = square - np.where(width > 0.0, mass**2 / width, 0.0)
    is_short = grid[None, :] - grid[:, None] < min(least_m, lap_m) - 1.0e-6
    cost[is_short] = np.inf
    best = cost[0].copy()
    origins = []
    for _ in range(n_levels - 1):
        total = best[:, None] + cost
        total[np.arange(n_cells + 1), np.arange(n_cells + 1)] = best  # or no further level
        origins.append(np.argmin(total, axis=0))
        best = np.min(total, axis=0)
    cuts = [n_cells]
    for origin in reversed(origins):
        cuts.append(int(origin[cuts[-1]]))
    cuts = sorted({0, *cuts})
    powers_w = [
        float(mass[a, b] / width[a, b]) if width[a, b] > 0.0 else float(wanted_w.mean())
        for a, b in pairwise(cuts)
    ]
    return Levels(powers_w=np.array(powers_w), breaks_m=grid[cuts[1:-1]])
