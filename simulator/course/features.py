"""Climbs, descents and flats: stretches that follow each other and cover the course.

The best cutting in the sense of one number: each metre of road scores the height by which it
rises (falls) more than a 2 % road would, if it is called climb (descent), and nothing if flat;
every change of name costs a few metres of height. The highest score over all cuttings is found
exactly (dynamic programming over the three names).
"""

from __future__ import annotations

import numpy as np

from simulator.course.course import Feature, FloatArray

STEEP_FROM_GRADE = 0.02
_CHANGE_COST_M = 4.0
_CELL_M = 25.0
_KINDS = ("flat", "climb", "descent")


def find_features(
    places_m: FloatArray, runs_m: FloatArray, heights_m: FloatArray, *, lap: int = 1
) -> tuple[Feature, ...]:
    """Cut a profile into climbs, descents and flats.

    Parameters
    ----------
    places_m : (n + 1,) array
        Distances of the nodes along the road, from anywhere.
    runs_m : (n + 1,) array
        Horizontal distances of the same nodes.
    heights_m : (n + 1,) array
        Smooth heights.
    lap : int
        Number of the lap these nodes belong to.

    Returns
    -------
    tuple of Feature
        In order, without gap, from the first node to the last.
    """
    bounds, kinds = _cut(places_m, heights_m)
    # Names change at nodes, so that times at features are times at nodes.
    i_nodes = np.searchsorted(places_m, bounds)
    i_nodes[0], i_nodes[-1] = 0, len(places_m) - 1
    numbers = dict.fromkeys(_KINDS, 0)
    features = []
    for start, stop, kind in zip(i_nodes[:-1], i_nodes[1:], kinds, strict=True):
        if stop <= start:
            continue
        numbers[kind] += 1
        part = slice(int(start), int(stop) + 1)
        rises = np.diff(heights_m[part])
        features.append(
            Feature(
                kind=kind,
                name=f"{kind} {numbers[kind]}",
                start_m=float(places_m[start]),
                end_m=float(places_m[stop]),
                mean_grade=float(
                    (heights_m[stop] - heights_m[start]) / (runs_m[stop] - runs_m[start])
                ),
                max_grade=steepest_grade(
                    runs_m[part], heights_m[part], 50.0, sign=-1.0 if kind == "descent" else 1.0
                ),
                ascent_m=float(rises[rises > 0.0].sum()),
                descent_m=float(abs(rises[rises < 0.0].sum())),
                lap=lap,
            )
        )
    return tuple(features)


def steepest_grade(
    runs_m: FloatArray, heights_m: FloatArray, over_m: float, *, sign: float = 1.0
) -> float:
    """Steepest mean grade over a given length; with its sign.

    Parameters
    ----------
    runs_m, heights_m : (n,) arrays
        Horizontal distances and heights.
    over_m : float
        Length to average over, cut to what there is.
    sign : float
        +1 for the steepest rise, -1 for the steepest fall.

    Returns
    -------
    float
        Rise over horizontal run.
    """
    return steepest_place(runs_m, heights_m, over_m, sign=sign)[0]


def steepest_place(
    runs_m: FloatArray, heights_m: FloatArray, over_m: float, *, sign: float = 1.0
) -> tuple[float, float]:
    """Steepest mean grade over a given length, and the horizontal distance where it starts."""
    over_m = min(over_m, float(runs_m[-1] - runs_m[0]))
    # The mean over a window is extreme when one of its ends is at a node.
    starts = np.unique(np.concatenate([runs_m, runs_m - over_m]))
    starts = starts[(starts >= runs_m[0]) & (starts <= runs_m[-1] - over_m)]
    if not len(starts):
        starts = runs_m[:1]
    grades = (
        np.interp(starts + over_m, runs_m, heights_m) - np.interp(starts, runs_m, heights_m)
    ) / over_m
    i_best = int(np.argmax(sign * grades))
    return float(grades[i_best]), float(starts[i_best])


def _cut(places_m: FloatArray, heights_m: FloatArray) -> tuple[FloatArray, list[str]]:
    """Bounds of the stretches (one more than names) and their names."""
    length = float(places_m[-1] - places_m[0])
    n_cells = max(1, round(length / _CELL_M))
    edges = np.linspace(places_m[0], places_m[-1], n_cells + 1)
    rises = np.diff(np.interp(edges, places_m, heights_m))
    allowance = STEEP_FROM_GRADE * length / n_cells
    # Rows as in _KINDS.
    gains = np.stack([np.zeros(n_cells), rises - allowance, -rises - allowance])
    scores = gains[:, 0].tolist()
    came_from = np.zeros((n_cells, 3), dtype=np.int8)
    for i_cell in range(1, n_cells):
        best = max(range(3), key=scores.__getitem__)
        changed = scores[best] - _CHANGE_COST_M
        fresh = []
        for kind in range(3):
            stays = scores[kind] >= changed
            came_from[i_cell, kind] = kind if stays else best
            fresh.append((scores[kind] if stays else changed) + float(gains[kind, i_cell]))
        scores = fresh
    kind = max(range(3), key=scores.__getitem__)
    kinds = [kind]
    for i_cell in range(n_cells - 1, 0, -1):
        kind = int(came_from[i_cell, kind])
        kinds.append(kind)
    kinds.reverse()
    changes = [i for i in range(1, n_cells) if kinds[i] != kinds[i - 1]]
    firsts = [0, *changes]
    return edges[[*firsts, n_cells]], [_KINDS[kinds[i]] for i in firsts]
