"""Power of a recorded ride, brought onto the distance of a course."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.course import Course
from simulator.errors import InputError
from simulator.recordings import Recording, plane_m

FloatArray = NDArray[np.float64]

STRAY_M = 40.0
"""Further than this from the road, the recording was elsewhere."""

LOOK_AHEAD_M = 400.0
"""How far along the course the next sample is looked for first; then further and further."""

FULL_COVER = 0.97
"""Share of the course from which a recording counts as a ride of all of it."""

FASTEST_MPS = 40.0
"""Nobody rides faster: 144 km/h."""

MOST_STARTS = 8
"""So many passes of the start line are tried."""

LANE_M = 15.0
"""Lanes of one road are nearer together than this."""

LEAST_COVER = 0.5
"""Share of the course that the recording must cover; the rest is filled from its ends."""

STANDING_MPS = 0.7
"""Below this the rider stood; the power of a stop is no power of a place."""

STOP_S = 10.0
"""A stop is told from noise of the positions over this time."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LaidRecording:
    """The samples of a recording that lie on a course, in order.

    Attributes
    ----------
    times_s : (k,) array
        Since the first sample of the file.
    places_m : (k,) array
        Distance along the course; never falls.
    powers_w : (k,) array
        Mean power since the sample before.
    is_moving : (k - 1,) array of bool
        Whether the rider moves between two samples.
    """

    times_s: FloatArray
    places_m: FloatArray
    powers_w: FloatArray
    is_moving: NDArray[np.bool_]


def lay_on_course(
    recording: Recording, course: Course, *, needs_power: bool = True
) -> LaidRecording:
    """Find the place of each sample of a recording along a course.

    Parameters
    ----------
    recording : Recording
        With power, and with positions or at least distances.
    course : Course
        Where; all its laps count.
    needs_power : bool
        Whether samples without power are left out.

    Returns
    -------
    LaidRecording
        Only samples on the course (and with power).

    Raises
    ------
    InputError
        If the recording has no power, no place, or covers less than half of the course.
    """
    powers_w = recording.powers_w
    has_power = np.isfinite(powers_w) | (not needs_power)
    if has_power.sum() < 2:
        raise InputError(
            file=recording.name,
            found="no power was recorded",
            expected="a ride with a power meter",
            mend="`buildgap check FILE` tells which columns of it were not understood",
        )
    places_m = _places_m(recording, course)
    known = np.isfinite(places_m) & has_power
    if known.sum() < 2:
        raise InputError(
            file=recording.name,
            found=f"no part of it lies on the course {course.name}",
            expected=f"a ride within {STRAY_M:.0f} m of the road",
        )
    places_m = np.maximum.accumulate(places_m[known])
    times_s = recording.times_s[known]
    covered_m = _covered_m(times_s, places_m)
    if covered_m < LEAST_COVER * course.distance_m:
        raise InputError(
            file=recording.name,
            found=f"it covers {covered_m / 1000.0:.1f} of {course.distance_m / 1000.0:.1f} km "
            f"of the course {course.name}",
            expected="at least half of it, in the same direction",
        )
    return LaidRecording(
        times_s=times_s,
        places_m=places_m,
        powers_w=powers_w[known],
        is_moving=_is_moving(times_s, places_m),
    )


def recorded_powers_w(recording: Recording, course: Course) -> FloatArray:
    """Mean power of a recording on each segment of a course.

    Parameters
    ----------
    recording : Recording
        With power, and with positions or at least distances.
    course : Course
        Where the power is wanted; all its laps count.

    Returns
    -------
    (n,) array
        As `laid_powers_w`.

    Raises
    ------
    InputError
        If the recording has no power, no place, or covers less than half of the course.
    """
    return laid_powers_w(lay_on_course(recording, course), course)


def laid_powers_w(laid: LaidRecording, course: Course) -> FloatArray:
    """Mean power on each segment of a course.

    Parameters
    ----------
    laid : LaidRecording
        Samples on this course.
    course : Course
        Where the power is wanted.

    Returns
    -------
    (n,) array
        Work between the ends of a segment over the moving time between them, in W. Before the
        first and behind the last place that the recording reaches, the power there is held.
    """
    places_m = laid.places_m
    # Only what was ridden counts: a stop adds neither time nor work.
    ridden_s = np.where(laid.is_moving, np.diff(laid.times_s), 0.0)
    moving_s = np.concatenate([[0.0], np.cumsum(ridden_s)])
    works_j = np.concatenate([[0.0], np.cumsum(ridden_s * laid.powers_w[1:])])
    # Of samples at one place the last one counts: it has all the time and work until there.
    keep = np.append(np.diff(places_m) > 0.0, True)
    at_m, at_s, at_j = places_m[keep], moving_s[keep], works_j[keep]
    nodes_m = np.clip(course.node_distances_m, at_m[0], at_m[-1])
    node_s = np.interp(nodes_m, at_m, at_s)
    node_j = np.interp(nodes_m, at_m, at_j)
    took_s = np.diff(node_s)
    inside = took_s > 0.0
    segments = np.arange(course.n_segments)
    ridden_w = np.diff(node_j)[inside] / took_s[inside]
    return np.asarray(np.interp(segments, segments[inside], ridden_w))


def _is_moving(times_s: FloatArray, places_m: FloatArray) -> NDArray[np.bool_]:
    """Whether the rider moves between samples, judged over seconds: single places are noisy."""
    middle_s = 0.5 * (times_s[1:] + times_s[:-1])
    half_s = np.maximum(0.5 * STOP_S, 0.5 * np.diff(times_s))
    ahead_m = np.interp(middle_s + half_s, times_s, places_m)
    behind_m = np.interp(middle_s - half_s, times_s, places_m)
    return np.asarray(ahead_m - behind_m > STANDING_MPS * 2.0 * half_s)


def _places_m(recording: Recording, course: Course) -> FloatArray:
    """Distance along the course of each sample; NaN off the road."""
    has_place = np.isfinite(recording.lats_deg) & np.isfinite(recording.lons_deg)
    if has_place.sum() < 2:
        return _by_distance_m(recording, course)
    lat0_deg, lon0_deg = float(course.node_lats_deg[0]), float(course.node_lons_deg[0])
    road = plane_m(course.node_lats_deg, course.node_lons_deg, lat0_deg=lat0_deg, lon0_deg=lon0_deg)
    seen = plane_m(recording.lats_deg, recording.lons_deg, lat0_deg=lat0_deg, lon0_deg=lon0_deg)
    nodes_m = course.node_distances_m
    best = np.full(recording.n_samples, np.nan)
    most_m = 0.0
    # A ride to the start may use roads of the course, and a loop passes its start again: the
    # first ride from the start line that covers the course counts, else what covers most of it.
    for i_start in (*_starts(road, seen), None):
        places_m = _trace(road, seen, nodes_m, i_start)
        on = np.isfinite(places_m)
        covered_m = _covered_m(recording.times_s[on], places_m[on])
        if covered_m > most_m:
            best, most_m = places_m, covered_m
        if most_m >= FULL_COVER * nodes_m[-1]:
            break
    return best


def _covered_m(times_s: FloatArray, places_m: FloatArray) -> float:
    """Length ridden on the course; a leap that no rider can do covers nothing."""
    steps_m = np.diff(np.maximum.accumulate(places_m))
    return float(steps_m[steps_m <= STRAY_M + FASTEST_MPS * np.diff(times_s)].sum())


def _starts(road: tuple[FloatArray, FloatArray], seen: tuple[FloatArray, FloatArray]) -> list[int]:
    """Samples nearest to the start line, one for each time the recording comes by."""
    with np.errstate(invalid="ignore"):
        away_m = np.hypot(seen[0] - road[0][0], seen[1] - road[1][0])
        near = np.flatnonzero(away_m <= STRAY_M)
    if len(near) == 0:
        return []
    visits = np.split(near, np.flatnonzero(np.diff(near) > 1) + 1)
    return [int(visit[np.argmin(away_m[visit])]) for visit in visits[:MOST_STARTS]]


def _trace(
    road: tuple[FloatArray, FloatArray],
    seen: tuple[FloatArray, FloatArray],
    nodes_m: FloatArray,
    i_start: int | None,
) -> FloatArray:
    """Place of each sample from one on that is at the start; None: from wherever it gets on."""
    places_m = np.full(len(seen[0]), np.nan)
    i_now = 0
    is_on = i_start is not None
    has_place = np.flatnonzero(np.isfinite(seen[0]) & np.isfinite(seen[1]))
    for i in has_place[has_place >= (i_start or 0)].tolist():
        found = _nearest(road, (seen[0][i], seen[1][i]), nodes_m, i_now, is_on=is_on)
        if found is None:
            continue
        i_now, places_m[i] = found
        is_on = True
    return places_m


def _nearest(
    road: tuple[FloatArray, FloatArray],
    point: tuple[float, float],
    nodes_m: FloatArray,
    i_from: int,
    *,
    is_on: bool,
) -> tuple[int, float] | None:
    """The place nearest to a point, from a node on: node and distance along the course."""
    ahead_m = LOOK_AHEAD_M if is_on else nodes_m[-1]
    while True:
        i_to = int(np.searchsorted(nodes_m, nodes_m[i_from] + ahead_m)) + 1
        away2 = (road[0][i_from:i_to] - point[0]) ** 2 + (road[1][i_from:i_to] - point[1]) ** 2
        i_best = int(np.argmin(away2))
        if away2[i_best] <= STRAY_M**2:
            break
        if i_to >= len(nodes_m) or ahead_m > 8.0 * LOOK_AHEAD_M:
            return None
        ahead_m *= 2.0
    # Of lanes side by side (out and back, laps) the one ridden first.
    near = np.flatnonzero(away2 <= (np.sqrt(away2[i_best]) + LANE_M) ** 2)
    lane = near[: int(np.argmax(np.append(np.diff(near) > 1, True))) + 1]
    i = i_from + int(lane[np.argmin(away2[lane])])
    return i, _on_leg_m(road, point, nodes_m, i)


def _on_leg_m(
    road: tuple[FloatArray, FloatArray], point: tuple[float, float], nodes_m: FloatArray, i: int
) -> float:
    """Distance of the foot of the perpendicular on the legs beside a node."""
    best_m, best2 = float(nodes_m[i]), np.inf
    for a, b in ((i - 1, i), (i, i + 1)):
        if a < 0 or b >= len(nodes_m):
            continue
        leg = (road[0][b] - road[0][a], road[1][b] - road[1][a])
        length2 = max(leg[0] ** 2 + leg[1] ** 2, 1e-12)
        off = (point[0] - road[0][a], point[1] - road[1][a])
        share = min(max((off[0] * leg[0] + off[1] * leg[1]) / length2, 0.0), 1.0)
        away2 = (off[0] - share * leg[0]) ** 2 + (off[1] - share * leg[1]) ** 2
        if away2 < best2:
            best_m, best2 = float(nodes_m[a] + share * (nodes_m[b] - nodes_m[a])), away2
    return best_m


def _by_distance_m(recording: Recording, course: Course) -> FloatArray:
    """Without positions: the recorded distance, as it stands, from the start of the course."""
    distances_m = recording.distances_m
    if np.isfinite(distances_m).sum() < 2:
        raise InputError(
            file=recording.name,
            found="neither positions nor distances were recorded",
            expected="one of them",
        )
    ridden_m = distances_m - np.nanmin(distances_m)
    return np.where(ridden_m <= course.distance_m, ridden_m, np.nan)
