"""The comparison as CSV (each segment) and as JSON (everything but the curves)."""

from __future__ import annotations

import numpy as np

from simulator.compare import Comparison
from simulator.files import csv_text, json_text
from simulator.report.review_export import review_data
from simulator.report.review_view import ReviewView
from simulator.report.views import GapView, exported
from simulator.ride import ENERGY_CAUSES, Ride

_VERSION = 1
_DRAWN_ONLY = ("series", "plan", "bands")

JSON_KEYS = {
    "sentence": "the result as one says it",
    "more": "further sentences",
    "course": "name, length and climbing (m), laps, corners a lap, kind of start, sources",
    "pacing": "the power ridden, in words",
    "first": "the build compared with: time (s), speeds (m/s), power (W), work (J)",
    "other": "the build that is compared, as `first`",
    "gap_s": "time of other minus time of first, s; positive means that other loses",
    "share_is_meant": "false on a tie, where shares of the gap mean nothing (null)",
    "metres_at_line": "distance between them when the faster finishes, m; positive: other behind",
    "places": "climbs, descents and flats, summed over laps; their gap_s add up to the gap",
    "winds": "flats cut by the wind (headwind, crosswind, tailwind); inside `places`, not on top",
    "corners": "corners from braking to the end of the surge; inside `places`, not on top; "
    "parts_s is the gap in braking, turning and surge",
    "laps": "lap by lap; empty for a course ridden once",
    "causes": "what makes the gap; their gap_s add up to the gap",
    "matrix": "gaps_s[i][j], s: what cause j adds on place i",
    "doubt": "spread of the gap over paired draws (s); null when every input is exact",
    "units": "what one step of an input changes, s; negative saves time",
    "energy": "where the work went, J",
    "corner_marks_m": "apex of each corner, m from the start",
    "lap_starts_m": "start of each lap and the finish, m from the start",
    "inputs": "all inputs as used, as text with units; other_text is null where both share one",
    "notes": "cautions, doubts and notes about the data",
}
"""Every key of the JSON's data and what it holds."""


def comparison_json(view: GapView, *, review: ReviewView | None = None) -> str:
    """The view as JSON text: schema ``buildgap/compare``, SI units, keys explained in `about`.

    A recorded ride beside it, if there is one, is the key ``review``, as in its own file.
    """
    data = {"about": JSON_KEYS, **exported(view, without=_DRAWN_ONLY)}
    if review is not None:
        data["review"] = review_data(review)
    return json_text("compare", data, version=_VERSION)


def segments_csv(comparison: Comparison) -> str:
    """Every segment of the course with both rides, as CSV text.

    Columns are in SI units, named by their endings; `first_` is the build that the other one is
    compared with. Heights, positions and speeds are those at the end of the segment, times and
    gaps those since the start, powers and energies those on the segment.
    """
    gap = comparison.gap
    course = gap.first.course
    ends_m = course.node_distances_m[1:]
    lap = np.searchsorted(course.lap_starts_m[1:-1], course.node_distances_m[:-1], side="right") + 1
    starts_m = [stretch.start_m for stretch in comparison.stretches]
    middles_m = 0.5 * (course.node_distances_m[:-1] + ends_m)
    i_stretch = np.searchsorted(starts_m, middles_m, side="right") - 1
    names = [stretch.name for stretch in comparison.stretches]
    columns: dict[str, list[object]] = {
        "lap": lap.tolist(),
        "stretch": [names[i] if i >= 0 else "" for i in i_stretch.tolist()],
        "end_m": _rounded(ends_m, 3),
        "length_m": _rounded(course.lengths_m, 4),
        "height_m": _rounded(course.node_heights_m[1:], 3),
        "grade": _rounded(course.grades, 6),
        "heading_deg": _rounded(np.degrees(course.headings_rad) % 360.0, 2),
        "radius_m": _rounded(course.radii_m, 2),
        "lat_deg": _rounded(course.node_lats_deg[1:], 7),
        "lon_deg": _rounded(course.node_lons_deg[1:], 7),
        "gap_s": _rounded(gap.node_gaps_s[1:], 5),
        "gap_here_s": _rounded(np.diff(gap.node_gaps_s), 6),
    }
    for prefix, ride in (("first", gap.first), ("other", gap.other)):
        columns |= _ride_columns(prefix, ride)
    return csv_text(list(columns), zip(*columns.values(), strict=True))


def _ride_columns(prefix: str, ride: Ride) -> dict[str, list[object]]:
    columns: dict[str, list[object]] = {
        f"{prefix}_time_s": _rounded(ride.node_times_s[1:], 5),
        f"{prefix}_speed_mps": _rounded(ride.node_speeds_mps[1:], 5),
        f"{prefix}_ceiling_mps": _rounded(ride.ceilings_mps[1:], 4),
        f"{prefix}_power_w": _rounded(ride.powers_w, 2),
    }
    for cause, energies_j in zip(ENERGY_CAUSES, ride.energies_j, strict=True):
        columns[f"{prefix}_{cause}_j"] = _rounded(energies_j, 3)
    return columns


def _rounded(values: np.ndarray, decimals: int) -> list[object]:
    return list((np.round(values, decimals) + 0.0).tolist())
