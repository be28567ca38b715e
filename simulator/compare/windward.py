"""Flats into and with the wind: the forecast wind along a ride, and flats cut by it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simulator.compare.gap import Gap
from simulator.compare.where import StretchGap, stretch_between
from simulator.course import Course
from simulator.ride import Ride
from simulator.setup import winds_mps

CALM_MPS = 1.0
"""Below this wind, 10 m over open ground, nobody tells the way out from the way home."""

FACING = 0.5
"""Cosine of the angle to the wind from which a road counts as into it or with it (60 degrees)."""

SMOOTH_M = 300.0
"""Directions of the road are averaged over this length: a bend is no change of the wind."""

LEAST_M = 300.0
"""A shorter piece is told with its longer neighbour."""

KINDS = {1: "headwind", 0: "crosswind", -1: "tailwind"}
NAMES = {"headwind": "into the wind", "crosswind": "across the wind", "tailwind": "with the wind"}


def wind_stretches(gap: Gap) -> tuple[StretchGap, ...]:
    """The gap on each flat, cut where the road turns into, across or with the wind.

    Parameters
    ----------
    gap : Gap
        Of two rides; the wind is that of the hour at which the first one comes by.

    Returns
    -------
    tuple of StretchGap
        In order of the course, of kind "headwind", "crosswind" or "tailwind"; those of one flat
        cover it, so that their gaps sum to its gap. Empty where the wind is calm.
    """
    course = gap.first.course
    facing = _facing(gap.first)
    pieces: list[StretchGap] = []
    for feature in course.features:
        if feature.kind != "flat":
            continue
        for start_m, end_m, side in _runs(course, facing, feature.start_m, feature.end_m):
            kind = KINDS[side]
            pieces.append(
                stretch_between(
                    gap,
                    kind=kind,
                    name=f"{feature.name}, {NAMES[kind]}",
                    start_m=start_m,
                    end_m=end_m,
                    lap=feature.lap,
                )
            )
    return tuple(pieces)


def _facing(ride: Ride) -> NDArray[np.int64] | None:
    """Of each segment: 1 into the wind, -1 with it, 0 across; None on a calm day."""
    course = ride.course
    middle_s = 0.5 * (ride.node_times_s[1:] + ride.node_times_s[:-1])
    east, north = winds_mps(ride.setup.weather, middle_s)
    strength = np.hypot(east, north)
    if strength.mean() < CALM_MPS:
        return None
    head = east * np.sin(course.headings_rad) + north * np.cos(course.headings_rad)
    # Means over a length of road, of the wind against the rider and of the wind.
    nodes_m = course.node_distances_m
    middle_m = 0.5 * (nodes_m[1:] + nodes_m[:-1])
    ends = np.clip([middle_m - 0.5 * SMOOTH_M, middle_m + 0.5 * SMOOTH_M], 0.0, nodes_m[-1])
    sums = [
        np.diff(np.interp(ends, nodes_m, np.append(0.0, np.cumsum(x * course.lengths_m))), axis=0)
        for x in (head, strength)
    ]
    share = (sums[0] / np.maximum(sums[1], 1e-9))[0]
    return np.asarray(np.where(share >= FACING, 1, np.where(share <= -FACING, -1, 0)))


def _runs(
    course: Course, facing: NDArray[np.int64] | None, start_m: float, end_m: float
) -> list[tuple[float, float, int]]:
    """Pieces of a stretch that face the wind alike; short ones go to their longer neighbour."""
    if facing is None:
        return []
    middle_m = 0.5 * (course.node_distances_m[1:] + course.node_distances_m[:-1])
    inside = np.flatnonzero((middle_m > start_m) & (middle_m < end_m))
    if len(inside) == 0:
        return []
    sides = facing[inside]
    cuts = np.flatnonzero(np.diff(sides)) + 1
    bounds_m = [start_m, *course.node_distances_m[inside[cuts]].tolist(), end_m]
    runs = [
        [bounds_m[i], bounds_m[i + 1], int(sides[at])] for i, at in enumerate([0, *cuts.tolist()])
    ]
    while len(runs) > 1:
        lengths = [run[1] - run[0] for run in runs]
        i = int(np.argmin(lengths))
        if lengths[i] >= LEAST_M:
            break
        beside = [j for j in (i - 1, i + 1) if 0 <= j < len(runs)]
        j = max(beside, key=lambda k: lengths[k])
        low, high = min(i, j), max(i, j)
        runs[low : high + 1] = [[runs[low][0], runs[high][1], runs[j][2]]]
        # A run that now meets one of its own kind joins it.
        for k in (low, low - 1):
            if 0 <= k < len(runs) - 1 and runs[k][2] == runs[k + 1][2]:
                runs[k : k + 2] = [[runs[k][0], runs[k + 1][1], runs[k][2]]]
    return [(run[0], run[1], int(run[2])) for run in runs]
