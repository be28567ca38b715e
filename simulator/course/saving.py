"""A course as files for other programs: a GPX track, and its segments as CSV."""

from __future__ import annotations

from html import escape

import numpy as np

from simulator.course.course import Course
from simulator.files import csv_text

SEGMENT_COLUMNS = (
    "lap",
    "start_m",
    "length_m",
    "height_m",
    "grade_pct",
    "heading_deg",
    "radius_m",
    "shelter",
    "roughness_m",
    "crr_factor",
    "grip_factor",
    "lat_deg",
    "lon_deg",
)


def course_gpx(course: Course) -> str:
    """The smooth course as a GPX 1.1 track with heights, all laps.

    Parameters
    ----------
    course : Course

    Returns
    -------
    str
        XML text; positions to 1e-7 degrees (about 1 cm), heights to 1 cm.
    """
    name = "".join(char for char in course.name if char.isprintable())
    rows = [
        f'<trkpt lat="{lat:.7f}" lon="{lon:.7f}"><ele>{height:.2f}</ele></trkpt>'
        for lat, lon, height in zip(
            course.node_lats_deg.tolist(),
            course.node_lons_deg.tolist(),
            course.node_heights_m.tolist(),
            strict=True,
        )
    ]
    head = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<gpx version="1.1" creator="buildgap" xmlns="http://www.topografix.com/GPX/1/1">\n'
        f"<trk><name>{escape(name, quote=False)}</name><trkseg>\n"
    )
    return head + "\n".join(rows) + "\n</trkseg></trk></gpx>\n"


def course_csv(course: Course) -> str:
    """The segments of a course as CSV, one row each, heights and places at their starts.

    Parameters
    ----------
    course : Course

    Returns
    -------
    str
        Columns as in `SEGMENT_COLUMNS`; the radius is empty on straights.
    """
    starts = course.node_distances_m[:-1]
    laps = np.searchsorted(course.lap_starts_m[:-1], starts, side="right")
    columns = (
        laps.tolist(),
        np.round(starts, 3).tolist(),
        np.round(course.lengths_m, 4).tolist(),
        np.round(course.node_heights_m[:-1], 3).tolist(),
        np.round(100.0 * course.grades, 4).tolist(),
        np.round(np.degrees(course.headings_rad), 3).tolist(),
        np.round(course.radii_m, 2).tolist(),
        course.shelters.tolist(),
        course.roughnesses_m.tolist(),
        course.crr_factors.tolist(),
        course.grip_factors.tolist(),
        np.round(course.node_lats_deg[:-1], 7).tolist(),
        np.round(course.node_lons_deg[:-1], 7).tolist(),
    )
    return csv_text(SEGMENT_COLUMNS, zip(*columns, strict=True))
