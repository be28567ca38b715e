"""Corners: where the road bends enough to limit speed, and the radius of the line ridden there.

**From the road to the line.** A rider with room uses it: wide at the entry, at the inside in the
middle, wide again at the exit. Let the road's middle turn by θ with radius R, let the line move
up to `a` to either side of the middle, and c = cos(θ/2). The two straights moved outwards by `a`
meet a/c further out along the bisector; a single arc that touches both and passes the middle of
the corner `a` further in has the radius::

    R_line = R + a·(1 + c)/(1 − c)

(R + a in a hairpin of 180°, R + 5.8·a at a right angle) and starts earlier on the road than the
bend itself, at R·θ/2 + 2·a·sin(θ/2)/(1 − c) from its middle. Where the next corner leaves less
room than that, `a` shrinks until the line fits. ``tests/course/test_corners.py`` checks the
formula against an arc fitted between the kerbs.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from simulator.course.course import FloatArray
from simulator.course.line import Line

# A line of larger radius is a straight as far as speed goes: at 200 m even 0.3 g sideways, a wet
# road, allows 24 m/s (87 km/h).
STRAIGHT_FROM_RADIUS_M = 200.0
# The bend reaches as far as the road is tighter than this.
_EDGE_RADIUS_M = 250.0
_LEAST_TURN_RAD = np.radians(12.0)
# Two bends the same way are two corners when the road straightens to this share of their curvature
# between them, and their sharpest places lie this far apart: a hairpin that a coarse recording
# shows as two knees stays one corner.
_SPLIT_SHARE = 0.35
_SPLIT_FROM_M = 25.0
HAIRPIN_TURN_RAD = np.radians(140.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bend:
    """A bend of the road's middle; places are along one lap.

    ``turn_rad`` is positive to the right. ``line_radius_m`` and the extent of the line ridden
    equal the road's own until `ridden_lines` widens them.
    """

    start_m: float
    apex_m: float
    end_m: float
    radius_m: float
    turn_rad: float
    line_radius_m: float
    line_start_m: float
    line_end_m: float
    name: str = ""


def find_bends(line: Line) -> list[Bend]:
    """Bends of a smooth line that turn by 12° or more, in order.

    Parameters
    ----------
    line : Line

    Returns
    -------
    list of Bend
        Radius from the middle two thirds of the turn, which the smoothing touches least.
    """
    curvature, places = line.curvatures_per_m, line.places_m
    bends = []
    for start, stop in _runs(curvature):
        for first, last in _split(np.abs(curvature), places, start, stop):
            bend = _bend(line.headings_rad, places, first, last)
            if bend is not None:
                bends.append(bend)
    return bends


def _runs(curvature: FloatArray) -> list[tuple[int, int]]:
    """Index ranges [start, stop) where the line bends one way without a break."""
    sign = np.where(np.abs(curvature) > 1.0 / _EDGE_RADIUS_M, np.sign(curvature), 0.0)
    edges = np.flatnonzero(np.diff(sign)) + 1
    bounds = np.concatenate(([0], edges, [len(sign)]))
    return [(int(a), int(b)) for a, b in pairwise(bounds) if sign[a] != 0.0]


def _split(size: FloatArray, places: FloatArray, start: int, stop: int) -> list[tuple[int, int]]:
    """Cut a run at its deepest dip if the dip is deep against the peaks on both sides."""
    values = size[start:stop]
    if len(values) < 5:
        return [(start, stop)]
    left_peak = np.maximum.accumulate(values)
    right_peak = np.maximum.accumulate(values[::-1])[::-1]
    depth = values / np.minimum(left_peak, right_peak)
    i_dip = int(np.argmin(depth))
    if depth[i_dip] >= _SPLIT_SHARE or i_dip in (0, len(values) - 1):
        return [(start, stop)]
    middle = start + i_dip
    peaks = [start + int(np.argmax(values[:i_dip])), middle + int(np.argmax(values[i_dip:]))]
    if places[peaks[1]] - places[peaks[0]] < _SPLIT_FROM_M:
        return [(start, stop)]
    return _split(size, places, start, middle) + _split(size, places, middle, stop)


def _bend(headings: FloatArray, places: FloatArray, first: int, last: int) -> Bend | None:
    lo, hi = max(first - 1, 0), min(last, len(headings) - 1)
    turn = float(headings[hi] - headings[lo])
    if abs(turn) < _LEAST_TURN_RAD:
        return None
    way = places[lo : hi + 1]
    share = (headings[lo : hi + 1] - headings[lo]) / turn
    share = np.maximum.accumulate(share) + 1e-12 * np.arange(len(share))
    early, middle, late = np.interp([1.0 / 6.0, 0.5, 5.0 / 6.0], share, way)
    radius = float((late - early) / (abs(turn) * 2.0 / 3.0))
    half = radius * abs(turn) / 2.0
    return Bend(
        start_m=float(middle - half),
        apex_m=float(middle),
        end_m=float(middle + half),
        radius_m=radius,
        turn_rad=turn,
        line_radius_m=radius,
        line_start_m=float(middle - half),
        line_end_m=float(middle + half),
    )


def line_radius_m(radius_m: float, turn_rad: float, side_m: float) -> float:
    """Radius of the widest single arc through a corner (formula in the module's text)."""
    c = np.cos(0.5 * abs(turn_rad))
    return float(radius_m + side_m * (1.0 + c) / (1.0 - c))


def line_half_extent_m(radius_m: float, turn_rad: float, side_m: float) -> float:
    """Distance along the road from the middle of a corner to where the ridden arc starts."""
    half = 0.5 * abs(turn_rad)
    return float(radius_m * half + 2.0 * side_m * np.sin(half) / (1.0 - np.cos(half)))


def ridden_lines(bends: list[Bend], *, side_m: float, lap_m: float, is_closed: bool) -> list[Bend]:
    """Widen each bend to the line ridden, as far as its neighbours leave room.

    Parameters
    ----------
    bends : list of Bend
        In order.
    side_m : float
        How far the line may move to either side of the road's middle.
    lap_m : float
        Length of one lap.
    is_closed : bool
        Whether the last bend is followed by the first.

    Returns
    -------
    list of Bend
        Only those whose line is tighter than `STRAIGHT_FROM_RADIUS_M`.
    """
    found = []
    for i_bend, bend in enumerate(bends):
        before = bends[i_bend - 1].end_m if i_bend else (bends[-1].end_m - lap_m)
        after = bends[i_bend + 1].start_m if i_bend + 1 < len(bends) else bends[0].start_m + lap_m
        if not is_closed:
            before = before if i_bend else -np.inf
            after = after if i_bend + 1 < len(bends) else np.inf
        # Half the straight to each neighbour belongs to this corner.
        room = 0.5 * min(max(bend.start_m - before, 0.0), max(after - bend.end_m, 0.0))
        half = 0.5 * abs(bend.turn_rad)
        fits = room * (1.0 - np.cos(half)) / (2.0 * np.sin(half)) if np.sin(half) > 1e-9 else side_m
        used = min(side_m, fits)
        radius = line_radius_m(bend.radius_m, bend.turn_rad, used)
        if radius >= STRAIGHT_FROM_RADIUS_M:
            continue
        extent = line_half_extent_m(bend.radius_m, bend.turn_rad, used)
        found.append(
            replace(
                bend,
                line_radius_m=radius,
                line_start_m=bend.apex_m - extent,
                line_end_m=bend.apex_m + extent,
            )
        )
    return found


def bend_name(bend: Bend) -> str:
    """What one would call the corner: side and sharpness."""
    side = "right" if bend.turn_rad > 0.0 else "left"
    if abs(bend.turn_rad) >= HAIRPIN_TURN_RAD:
        return f"{side} hairpin"
    if abs(bend.turn_rad) >= np.radians(60.0):
        return f"{side} corner"
    return f"{side} bend"


def radii_of_segments_m(
    middles_m: FloatArray, bends: list[Bend], *, lap_m: float, is_closed: bool
) -> FloatArray:
    """Radius of the line at each segment; ``inf`` where none of the bends is.

    Parameters
    ----------
    middles_m : (n,) array
        Middle of each segment along the lap.
    bends : list of Bend
    lap_m : float
    is_closed : bool
        Bends that reach over the line count on both of its sides.

    Returns
    -------
    (n,) array
    """
    radii = np.full(len(middles_m), np.inf)
    shifts = (-lap_m, 0.0, lap_m) if is_closed else (0.0,)
    for bend in bends:
        for shift in shifts:
            low, high = np.searchsorted(
                middles_m, [bend.line_start_m + shift, bend.line_end_m + shift]
            )
            inside: slice[int, int, None] = slice(int(low), int(high))
            radii[inside] = np.minimum(radii[inside], bend.line_radius_m)
    return radii


def is_near(places_m: FloatArray, starts_m: FloatArray, ends_m: FloatArray) -> NDArray[np.bool_]:
    """Whether each place lies in any of the stretches."""
    opened = np.searchsorted(np.sort(starts_m), places_m, side="right")
    closed = np.searchsorted(np.sort(ends_m), places_m, side="right")
    return opened > closed
