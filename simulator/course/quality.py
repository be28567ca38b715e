"""How far a course can be trusted: findings and figures about it, as values."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simulator.course.course import Course, Finding, FloatArray
from simulator.course.features import steepest_place
from simulator.measures import Measures, Phrase, amount

# Paved public roads steeper than this over 50 m are rare enough to be named wherever they exist.
DOUBTFUL_GRADE = 0.22
ASCENT_THRESHOLD_M = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CourseQuality:
    """Figures about a course's data.

    Attributes
    ----------
    length_m, lap_m : float
        Whole ride and first lap, along the road.
    n_laps : int
    large_rises_m, large_falls_m : float
        Sums of those rises and falls of the smooth profile that reach `threshold_m`, whole ride.
        `Course.ascent_m` counts the small ones too, and is the climbing that commands tell.
    threshold_m : float
    lowest_m, highest_m : float
        Heights above sea level.
    max_grade_50m, max_grade_200m, min_grade_50m, min_grade_200m : float
        Steepest mean grades up and down, and where the 50 m ones start (``*_at_m``).
    n_corners : int
        In the first lap.
    height_noise_m, height_reach_m, position_noise_m : float
        Noise found in the raw data.
    height_source : str
    findings : tuple of Finding
    """

    length_m: float
    lap_m: float
    n_laps: int
    n_segments: int
    large_rises_m: float
    large_falls_m: float
    threshold_m: float
    lowest_m: float
    highest_m: float
    max_grade_50m: float
    max_grade_50m_at_m: float
    max_grade_200m: float
    min_grade_50m: float
    min_grade_50m_at_m: float
    min_grade_200m: float
    n_corners: int
    height_noise_m: float
    height_reach_m: float
    position_noise_m: float
    height_source: str
    findings: tuple[Finding, ...]


def quality_of(course: Course) -> CourseQuality:
    """Figures about a course's data.

    Parameters
    ----------
    course : Course

    Returns
    -------
    CourseQuality
    """
    runs = horizontal_m(course)
    heights = course.node_heights_m
    up_50, up_at = steepest_place(runs, heights, 50.0)
    down_50, down_at = steepest_place(runs, heights, 50.0, sign=-1.0)
    rises_m, falls_m = ascent_and_descent_m(heights, ASCENT_THRESHOLD_M)
    return CourseQuality(
        length_m=course.distance_m,
        lap_m=float(course.lap_starts_m[1]),
        n_laps=course.n_laps,
        n_segments=course.n_segments,
        large_rises_m=rises_m,
        large_falls_m=falls_m,
        threshold_m=ASCENT_THRESHOLD_M,
        lowest_m=float(heights.min()),
        highest_m=float(heights.max()),
        max_grade_50m=up_50,
        max_grade_50m_at_m=float(np.interp(up_at, runs, course.node_distances_m)),
        max_grade_200m=steepest_place(runs, heights, 200.0)[0],
        min_grade_50m=down_50,
        min_grade_50m_at_m=float(np.interp(down_at, runs, course.node_distances_m)),
        min_grade_200m=steepest_place(runs, heights, 200.0, sign=-1.0)[0],
        n_corners=sum(corner.lap == 1 for corner in course.corners),
        height_noise_m=course.height_noise_m,
        height_reach_m=course.height_reach_m,
        position_noise_m=course.position_noise_m,
        height_source=course.height_source,
        findings=course.findings,
    )


def horizontal_m(course: Course) -> FloatArray:
    """Horizontal distance of each node from the start."""
    steps = course.lengths_m / np.sqrt(1.0 + course.grades**2)
    return np.concatenate(([0.0], np.cumsum(steps)))


def ascent_and_descent_m(heights_m: FloatArray, threshold_m: float) -> tuple[float, float]:
    """Sums of rises and falls, counting only those between turning points this far apart.

    Parameters
    ----------
    heights_m : (n,) array
    threshold_m : float
        A change of direction smaller than this is not a change of direction.

    Returns
    -------
    ascent_m, descent_m : float
        Their difference is the difference of the ends.
    """
    kinks = np.flatnonzero(np.diff(np.sign(np.diff(heights_m)))) + 1
    turning = [float(heights_m[0])]
    low = high = float(heights_m[0])
    direction = 0
    for height in heights_m[[*kinks.tolist(), len(heights_m) - 1]].tolist():
        low, high = min(low, height), max(high, height)
        if direction >= 0 and height < high - threshold_m:
            if direction == 0:
                turning[0] = float(heights_m[0])
            turning.append(high)
            direction, low, high = -1, height, height
        elif direction <= 0 and height > low + threshold_m:
            turning.append(low)
            direction, low, high = 1, height, height
    turning.append(float(heights_m[-1]))
    steps = np.diff(turning)
    return float(steps[steps > 0.0].sum()), float(abs(steps[steps < 0.0].sum()))


def profile_findings(
    places_m: FloatArray, runs_m: FloatArray, heights_m: FloatArray
) -> list[Finding]:
    """Places where the smooth profile is steeper than roads are.

    Parameters
    ----------
    places_m, runs_m, heights_m : (n,) arrays
        Distance along the road, horizontal distance and height of the nodes.

    Returns
    -------
    list of Finding
        At most one for rises and one for falls.
    """
    findings = []
    for sign, word in ((1.0, "rises"), (-1.0, "falls")):
        grade, run = steepest_place(runs_m, heights_m, 50.0, sign=sign)
        if sign * grade > DOUBTFUL_GRADE:
            place = float(np.interp(run, runs_m, places_m))
            text = Phrase(
                f"the road {word} at {100.0 * abs(grade):.0f} % over {{run}}: true, or bad "
                "heights? a [[fix]] in course.toml sets a straight grade",
                run=amount(Measures.height, 50.0),
            )
            findings.append(Finding(level="doubt", text=text, distance_m=place))
    return findings
