"""Where the gap arises: by climb, descent, flat and corner."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from simulator.compare.gap import Gap
from simulator.course import Corner, Course
from simulator.ride import ENERGY_CAUSES, Ride

LIMITED_SHARE = 0.99
"""A corner limits a ride that comes within 1 % of its ceiling speed or brakes for it."""

RECOVERED_SHARE = 0.97
"""A surge out of a corner ends where the speed before braking is back, to 3 %."""

SURGE_M = 250.0
"""A surge is followed no farther than this behind a corner."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StretchGap:
    """One stretch of the course with both times.

    ``kind`` is "climb", "descent", "flat" or "corner". A corner reaches from the start of
    braking to the end of the surge out of it; corners lie inside the other stretches, so the
    gaps of the climbs, descents and flats add up to the total and those of the corners do not
    come on top. Pieces of flats, cut by the wind, are of kind "headwind", "crosswind" or
    "tailwind". ``gap_s`` > 0 means that the other build loses. ``share`` is of the total gap (0
    where the total is a dead heat). ``parts_s`` is the gap of a corner in braking, turning and
    the surge out of it; None elsewhere.
    """

    kind: str
    name: str
    start_m: float
    end_m: float
    mean_grade: float
    max_grade: float
    radius_m: float | None
    lap: int
    first_s: float
    other_s: float
    gap_s: float
    share: float
    parts_s: tuple[float, float, float] | None = None


def stretch_gaps(gap: Gap) -> tuple[StretchGap, ...]:
    """The gap on each climb, descent and flat, in order of the course; they sum to the total."""
    course = gap.first.course
    return tuple(
        _stretch(
            gap,
            kind=feature.kind,
            name=feature.name,
            start_m=feature.start_m,
            end_m=feature.end_m,
            mean_grade=feature.mean_grade,
            max_grade=feature.max_grade,
            radius_m=None,
            lap=feature.lap,
        )
        for feature in course.features
    )


def corner_gaps(gap: Gap) -> tuple[StretchGap, ...]:
    """The gap at each corner that limits at least one of the rides.

    Each reaches from where either rider starts to brake to where both have their speed back, at
    most to the next corner's braking.
    """
    course = gap.first.course
    corners = [c for c in course.corners if _limits(gap.first, c) or _limits(gap.other, c)]
    starts_m = [
        min(_braking_from_m(gap.first, corner), _braking_from_m(gap.other, corner))
        for corner in corners
    ]
    gaps = []
    previous_end_m = 0.0
    for i, corner in enumerate(corners):
        start_m = max(starts_m[i], previous_end_m)
        next_m = starts_m[i + 1] if i + 1 < len(corners) else course.distance_m
        room_m = max(min(corner.end_m + SURGE_M, next_m), corner.end_m)
        end_m = max(
            _surge_until_m(ride, starts_m[i], corner.end_m, room_m)
            for ride in (gap.first, gap.other)
        )
        end_m = max(end_m, start_m)
        gaps.append(
            _stretch(
                gap,
                kind="corner",
                name=corner.name,
                start_m=start_m,
                end_m=end_m,
                mean_grade=_mean_grade(course, start_m, end_m),
                max_grade=_mean_grade(course, corner.start_m, corner.end_m),
                radius_m=corner.radius_m,
                lap=corner.lap,
                turn_m=(
                    min(max(corner.start_m, start_m), end_m),
                    min(max(corner.end_m, start_m), end_m),
                ),
            )
        )
        previous_end_m = end_m
    return tuple(gaps)


def stretch_between(
    gap: Gap, *, kind: str, name: str, start_m: float, end_m: float, lap: int
) -> StretchGap:
    """The gap between two places, with the mean grade between them for both grades."""
    grade = _mean_grade(gap.first.course, start_m, end_m)
    return _stretch(
        gap,
        kind=kind,
        name=name,
        start_m=start_m,
        end_m=end_m,
        mean_grade=grade,
        max_grade=grade,
        radius_m=None,
        lap=lap,
    )


def _stretch(
    gap: Gap,
    *,
    kind: str,
    name: str,
    start_m: float,
    end_m: float,
    mean_grade: float,
    max_grade: float,
    radius_m: float | None,
    lap: int,
    turn_m: tuple[float, float] | None = None,
) -> StretchGap:
    first_s, other_s = (
        ride.time_at_s(end_m) - ride.time_at_s(start_m) for ride in (gap.first, gap.other)
    )
    gap_s = gap.between_s(start_m, end_m)
    parts_s = None
    if turn_m is not None:
        bounds_m = [start_m, *turn_m, end_m]
        braking_s, turning_s, surge_s = (gap.between_s(a, b) for a, b in pairwise(bounds_m))
        parts_s = (braking_s, turning_s, surge_s)
    return StretchGap(
        kind=kind,
        name=name,
        start_m=start_m,
        end_m=end_m,
        mean_grade=mean_grade,
        max_grade=max_grade,
        radius_m=radius_m,
        lap=lap,
        first_s=first_s,
        other_s=other_s,
        gap_s=gap_s,
        share=gap_s / gap.total_s if gap.total_s != 0.0 else 0.0,
        parts_s=parts_s,
    )


def _mean_grade(course: Course, start_m: float, end_m: float) -> float:
    heights_m = np.interp([start_m, end_m], course.node_distances_m, course.node_heights_m)
    return float((heights_m[1] - heights_m[0]) / max(end_m - start_m, 1e-9))


def _nodes_between(course: Course, start_m: float, end_m: float) -> slice:
    first, last = np.searchsorted(course.node_distances_m, [start_m, end_m])
    return slice(int(first), int(last) + 1)


def _limits(ride: Ride, corner: Corner) -> bool:
    nodes = _nodes_between(ride.course, corner.start_m, corner.end_m)
    return bool(
        (ride.node_speeds_mps[nodes] >= LIMITED_SHARE * ride.ceilings_mps[nodes]).any()
        or _brakes(ride)[nodes.start : nodes.stop - 1].any()
    )


def _brakes(ride: Ride) -> NDArray[np.bool_]:
    """Mask of segments with braking."""
    return np.asarray(ride.energies_j[ENERGY_CAUSES.index("braking")] > 0.0)


def _braking_from_m(ride: Ride, corner: Corner) -> float:
    """Start of the unbroken braking that leads into a corner."""
    course = ride.course
    brakes = _brakes(ride)
    i_segment = int(np.searchsorted(course.node_distances_m, corner.start_m, side="right")) - 1
    i_segment = min(max(i_segment, 0), course.n_segments - 1)
    while i_segment > 0 and brakes[i_segment - 1]:
        i_segment -= 1
    return min(float(course.node_distances_m[i_segment]), corner.start_m)


def _surge_until_m(ride: Ride, braking_m: float, exit_m: float, room_m: float) -> float:
    course = ride.course
    before_mps = float(np.interp(braking_m, course.node_distances_m, ride.node_speeds_mps))
    nodes = _nodes_between(course, exit_m, room_m)
    recovered = np.flatnonzero(ride.node_speeds_mps[nodes] >= RECOVERED_SHARE * before_mps)
    if len(recovered) == 0:
        return room_m
    return min(float(course.node_distances_m[nodes][recovered[0]]), room_m)
