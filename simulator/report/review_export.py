"""A recorded ride beside the predicted one as CSV (each segment) and JSON (all but the curves)."""

from __future__ import annotations

import numpy as np

from simulator.compare import Review
from simulator.files import csv_text, json_text
from simulator.report.review_view import ReviewView

_VERSION = 1

REVIEW_KEYS = {
    "sentence": "the result as one says it",
    "more": "further sentences: verdict, what to doubt, where they part, stops",
    "recording": "name of the recording",
    "course": "name, length and climbing (m), laps, corners a lap, kind of start, sources",
    "recorded_w": "mean recorded power over the moving time, W",
    "predicted_w": "mean power that the model rode, W",
    "usual_s": "what the uncertainties of all inputs bring on this ride, one standard deviation, s",
    "from_m": "where the recording gets on the course, m from the start",
    "to_m": "where it leaves it, m",
    "standing_s": "time of all stops, s; in neither time",
    "stops": "place (m) and time (s) of each stop",
    "is_partial": "whether the recording covers part of the course only: times, powers and the gap "
    "are then of this part",
    "predicted": "the predicted ride: time (s), speeds (m/s), power (W), work (J)",
    "recorded": "the recorded ride without its stops, as `predicted`",
    "gap_s": "recorded minus predicted time, s; positive: slower than predicted",
    "places": "climbs, descents and flats: first is predicted, other recorded; s",
    "corners": "corners, as `places`",
    "laps": "lap by lap; empty for a course ridden once",
    "suspects": "likeliest first: `needed` instead of `nominal` explains the whole gap (SI; for "
    "the power meter true over shown power); times_doubt: change over its uncertainty; doubt_s: "
    "what one uncertainty is worth, s; fit: share of the differences along the course explained; "
    "score: -2 ln likelihood above the best",
    "inputs": "all inputs as used, as text with units",
    "notes": "cautions, and what was mended in the recording",
}
"""Every key of the JSON's data and what it holds."""


def review_json(view: ReviewView) -> str:
    """The review as JSON text: schema ``buildgap/review``, SI units."""
    return json_text("review", review_data(view), version=_VERSION)


def review_data(view: ReviewView) -> dict[str, object]:
    """Everything but the curves in SI, by the names in `REVIEW_KEYS`."""
    view = view.in_si or view
    along = view.along
    held: dict[str, object] = {
        "course": along.course,
        "predicted": along.first,
        "recorded": along.other,
        "gap_s": along.gap_s,
        "places": along.places,
        "corners": along.corners,
        "laps": along.laps,
        "inputs": along.inputs,
        "notes": along.notes,
    }
    data: dict[str, object] = {"about": REVIEW_KEYS}
    return data | {key: held[key] if key in held else getattr(view, key) for key in REVIEW_KEYS}


def review_csv(review: Review) -> str:
    """Both rides on every segment as CSV text, SI units; times without stops."""
    gap = review.gap
    course = gap.first.course
    ends_m = course.node_distances_m[1:]
    columns = {
        "end_m": np.round(ends_m, 3),
        "height_m": np.round(course.node_heights_m[1:], 3),
        "grade": np.round(course.grades, 6),
        "lat_deg": np.round(course.node_lats_deg[1:], 7),
        "lon_deg": np.round(course.node_lons_deg[1:], 7),
        "is_recorded": (ends_m >= review.from_m) & (ends_m <= review.to_m),
        "predicted_time_s": np.round(gap.first.node_times_s[1:], 3),
        "recorded_time_s": np.round(gap.other.node_times_s[1:], 3),
        "gap_s": np.round(gap.node_gaps_s[1:], 3) + 0.0,
        "predicted_speed_mps": np.round(gap.first.node_speeds_mps[1:], 3),
        "recorded_speed_mps": np.round(gap.other.node_speeds_mps[1:], 3),
        "predicted_power_w": np.round(gap.first.powers_w, 1),
        "recorded_power_w": np.round(gap.other.powers_w, 1),
    }
    rows = zip(*(column.tolist() for column in columns.values()), strict=True)
    return csv_text(list(columns), rows)
