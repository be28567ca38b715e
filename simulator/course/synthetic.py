"""Courses made straight from arrays: for tests, closed forms and thought experiments."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from simulator.course.course import Corner, Course, Feature, FloatArray

# Nobody lives there: open ocean in mid-Atlantic, where the made-up Isle of Varrow lies.
ORIGIN_LAT_DEG = 44.5
ORIGIN_LON_DEG = -35.5
_M_PER_DEG = 111_000.0


def course_from_arrays(
    *,
    lengths_m: ArrayLike,
    grades: ArrayLike,
    headings_rad: ArrayLike | None = None,
    radii_m: ArrayLike | None = None,
    shelters: ArrayLike | None = None,
    roughnesses_m: ArrayLike | None = None,
    crr_factors: ArrayLike | None = None,
    grip_factors: ArrayLike | None = None,
    start: str = "rolling",
    name: str = "made",
    lap_starts_m: ArrayLike | None = None,
    is_closed: bool = False,
    corners: Sequence[Corner] = (),
    features: Sequence[Feature] = (),
    start_height_m: float = 0.0,
) -> Course:
    """Make a course from what each segment is like; positions follow by adding segments up.

    Parameters
    ----------
    lengths_m : (n,) array
        Length of each segment along the road surface, > 0.
    grades : (n,) array or float
        Rise over horizontal run.
    headings_rad : (n,) array or float, optional
        Direction of travel clockwise from true north; north if left out.
    radii_m : (n,) array, optional
        Radius of the line ridden; straight (``inf``) if left out.
    shelters, roughnesses_m, crr_factors, grip_factors : (n,) array or float, optional
        Open (1), 0.03 m (open country), 1 and 1 if left out.
    start : str
        ``"standing"`` or ``"rolling"``.
    lap_starts_m : (n_laps + 1,) array, optional
        One lap if left out.
    corners, features : sequences
        Taken as they are; one feature that spans the course if `features` is empty.
    start_height_m : float
        Height of the first node above sea level.

    Returns
    -------
    Course
    """
    length = np.atleast_1d(np.asarray(lengths_m, dtype=np.float64))
    n_segments = len(length)

    def filled(values: ArrayLike | None, default: float) -> FloatArray:
        chosen = default if values is None else values
        return np.array(np.broadcast_to(np.asarray(chosen, dtype=np.float64), (n_segments,)))

    grade = filled(grades, 0.0)
    heading = filled(headings_rad, 0.0)
    run_m = length / np.sqrt(1.0 + grade**2)

    def summed(steps: FloatArray, first: float = 0.0) -> FloatArray:
        return first + np.concatenate(([0.0], np.cumsum(steps)))

    distance = summed(length)
    height = summed(run_m * grade, start_height_m)
    east = summed(run_m * np.sin(heading))
    north = summed(run_m * np.cos(heading))
    if not features:
        features = (_one_feature(distance, height, grade),)
    return Course(
        name=name,
        node_distances_m=distance,
        node_heights_m=height,
        node_easts_m=east,
        node_norths_m=north,
        node_lats_deg=ORIGIN_LAT_DEG + north / _M_PER_DEG,
        node_lons_deg=ORIGIN_LON_DEG + east / (_M_PER_DEG * np.cos(np.radians(ORIGIN_LAT_DEG))),
        lengths_m=length,
        grades=grade,
        headings_rad=heading,
        radii_m=filled(radii_m, np.inf),
        shelters=filled(shelters, 1.0),
        roughnesses_m=filled(roughnesses_m, 0.03),
        crr_factors=filled(crr_factors, 1.0),
        grip_factors=filled(grip_factors, 1.0),
        lap_starts_m=np.asarray(
            [0.0, distance[-1]] if lap_starts_m is None else lap_starts_m, dtype=np.float64
        ),
        is_closed=is_closed,
        start=start,
        corners=tuple(corners),
        features=tuple(features),
        findings=(),
        height_source="made",
        source="arrays",
    )


def _one_feature(distance: FloatArray, height: FloatArray, grade: FloatArray) -> Feature:
    rises = np.diff(height)
    mean = float((height[-1] - height[0]) / distance[-1])
    kind = "climb" if mean > 0.02 else "descent" if mean < -0.02 else "flat"
    return Feature(
        kind=kind,
        name=kind,
        start_m=0.0,
        end_m=float(distance[-1]),
        mean_grade=mean,
        max_grade=float(grade.min() if kind == "descent" else grade.max()),
        ascent_m=float(rises[rises > 0].sum()),
        descent_m=float(-rises[rises < 0].sum()),
        lap=1,
    )
