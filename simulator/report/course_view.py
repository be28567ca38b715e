"""A course as numbers and sentences to show: quality, climbs, corners, plan and profile."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simulator.course import Course, CourseQuality, Finding, quality_of
from simulator.measures import METRIC, Measures
from simulator.report import words

_MOST_PLAN_POINTS = 6000


@dataclass(frozen=True, slots=True, kw_only=True)
class ClimbRow:
    """One climb or descent of the first lap."""

    name: str
    kind: str
    start_m: float
    end_m: float
    mean_grade: float
    max_grade: float
    rise_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CornerRow:
    """One corner of the first lap; ``turn_deg`` is positive to the right."""

    number: int
    name: str
    apex_m: float
    radius_m: float
    turn_deg: float
    length_m: float
    easts_m: float
    norths_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FactRow:
    """A line of the quality page."""

    label: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CourseView:
    """What is shown of a course; plan and profile are those of the first lap.

    It is worded in ``measures``; ``in_si`` is the same for JSON.
    """

    name: str
    lap_text: str
    facts: tuple[FactRow, ...]
    climbs: tuple[ClimbRow, ...]
    corners: tuple[CornerRow, ...]
    findings: tuple[str, ...]
    n_doubts: int
    distances_m: tuple[float, ...]
    heights_m: tuple[float, ...]
    easts_m: tuple[float, ...]
    norths_m: tuple[float, ...]
    wind_from_deg: float | None
    wind_mps: float | None
    measures: Measures = METRIC
    in_si: CourseView | None = None


def make_course_view(
    course: Course,
    *,
    wind_from_deg: float | None = None,
    wind_mps: float | None = None,
    measures: Measures = METRIC,
) -> CourseView:
    """Gather what is shown of a course.

    Parameters
    ----------
    course : Course
    wind_from_deg, wind_mps : float, optional
        Wind to draw, where it blows from and how fast.
    measures : Measures
        Units to word it in.

    Returns
    -------
    CourseView
    """
    quality = quality_of(course)
    n_nodes = int(np.searchsorted(course.node_distances_m, quality.lap_m + 1e-6))
    n_nodes = min(n_nodes, len(course.node_distances_m))
    step = max(1, n_nodes // _MOST_PLAN_POINTS)
    picked = np.unique(np.append(np.arange(0, n_nodes, step), n_nodes - 1))
    return CourseView(
        name=course.name,
        lap_text=measures.distance(quality.lap_m, 2)
        + (f", ridden {quality.n_laps} times" if quality.n_laps > 1 else ""),
        facts=_facts(course, quality, measures),
        climbs=tuple(
            ClimbRow(
                name=feature.name,
                kind=feature.kind,
                start_m=feature.start_m,
                end_m=feature.end_m,
                mean_grade=feature.mean_grade,
                max_grade=feature.max_grade,
                rise_m=feature.ascent_m - feature.descent_m,
            )
            for feature in course.features
            if feature.lap == 1 and feature.kind != "flat"
        ),
        corners=_corners(course),
        findings=tuple(_finding_text(finding, measures) for finding in course.findings),
        n_doubts=sum(finding.level == "doubt" for finding in course.findings),
        distances_m=tuple(course.node_distances_m[picked].tolist()),
        heights_m=tuple(course.node_heights_m[picked].tolist()),
        easts_m=tuple(course.node_easts_m[picked].tolist()),
        norths_m=tuple(course.node_norths_m[picked].tolist()),
        wind_from_deg=wind_from_deg,
        wind_mps=wind_mps,
        measures=measures,
        in_si=None
        if measures is METRIC
        else make_course_view(course, wind_from_deg=wind_from_deg, wind_mps=wind_mps),
    )


def _finding_text(finding: Finding, measures: Measures) -> str:
    place = "" if finding.distance_m is None else f"{measures.place(finding.distance_m, 2)}: "
    return f"{finding.level}: {place}{measures.said(finding.text)}"


def _corners(course: Course) -> tuple[CornerRow, ...]:
    return tuple(
        CornerRow(
            number=corner.number,
            name=corner.name,
            apex_m=corner.apex_m,
            radius_m=corner.radius_m,
            turn_deg=float(np.degrees(corner.turn_rad)),
            length_m=corner.end_m - corner.start_m,
            easts_m=float(np.interp(corner.apex_m, course.node_distances_m, course.node_easts_m)),
            norths_m=float(np.interp(corner.apex_m, course.node_distances_m, course.node_norths_m)),
        )
        for corner in course.corners
        if corner.lap == 1
    )


def _facts(course: Course, quality: CourseQuality, measures: Measures) -> tuple[FactRow, ...]:
    laps = ""
    if quality.n_laps > 1:
        laps = f", {quality.n_laps} laps of {measures.distance(quality.lap_m, 2)}"
    grade, height = words.percent, measures.height
    over_short, over_long = measures.length(50.0), measures.length(200.0)
    noise = f"noise about {height(quality.height_noise_m, 1)}"
    if quality.height_reach_m > 0.0:
        noise += f", each error lasting some {height(quality.height_reach_m)}"
    # As all commands count: every rise and every fall. What reaches the threshold stands beside.
    ends_m = course.node_heights_m[[0, -1]]
    descent_m = course.ascent_m - float(ends_m[1] - ends_m[0])
    rows = (
        ("Length", measures.distance(quality.length_m, 2) + laps),
        (
            "Ascent",
            f"{height(course.ascent_m)} up, {height(descent_m)} down (smoothed heights); "
            f"{height(quality.large_rises_m)} up, {height(quality.large_falls_m)} down if only "
            f"rises and falls of {height(quality.threshold_m)} and more count",
        ),
        (
            "Heights",
            f"{measures.height_number(quality.lowest_m)} to {height(quality.highest_m)}, "
            f"from {quality.height_source}; {noise}",
        ),
        (
            "Steepest up",
            f"{grade(quality.max_grade_50m, 1)} over {over_short} "
            f"({measures.place(quality.max_grade_50m_at_m, 2)}), "
            f"{grade(quality.max_grade_200m, 1)} over {over_long}"
            if quality.max_grade_50m > 0.0
            else "nowhere",
        ),
        (
            "Steepest down",
            f"{grade(quality.min_grade_50m, 1)} over {over_short} "
            f"({measures.place(quality.min_grade_50m_at_m, 2)}), "
            f"{grade(quality.min_grade_200m, 1)} over {over_long}"
            if quality.min_grade_50m < 0.0
            else "nowhere",
        ),
        (
            "Corners",
            words.plural(quality.n_corners, "corner")
            + (" a lap" if quality.n_laps > 1 else "")
            + f"; points wander {height(quality.position_noise_m, 1)} across the road",
        ),
        ("Start", f"{course.start}; {words.plural(quality.n_segments, 'segment')}"),
    )
    return tuple(FactRow(label=label, text=text) for label, text in rows)
