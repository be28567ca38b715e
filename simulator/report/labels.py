"""What is written on the curves and where, the same for picture and page."""

from __future__ import annotations

import math

import numpy as np

from simulator.report import words
from simulator.report.views import GapView


def facts(view: GapView) -> str:
    """Course and both times in one line."""
    course = view.course
    parts = [words.kilometres(course.distance_m), f"{words.number(course.ascent_m)} m up"]
    if course.n_laps > 1:
        parts.append(words.plural(course.n_laps, "lap"))
    for build in (view.first, view.other):
        parts.append(f"{build.name} {words.stopwatch(build.time_s)}")
    return " · ".join(parts)


def band_labels(view: GapView, share: float) -> list[tuple[str, float]]:
    """Names of laps or of climbs and descents that are long enough to carry one, and where (km)."""
    total_m = view.course.distance_m
    if view.course.n_laps > 1:
        spans = [(lap.name, lap.start_m, lap.end_m) for lap in view.laps]
    else:
        spans = [(b.name, b.start_m, b.end_m) for b in view.bands if b.kind != "flat"]
    return [
        (name, (start_m + end_m) / 2000.0)
        for name, start_m, end_m in spans
        if end_m - start_m >= max(share, 0.008 * len(name)) * total_m
    ]


def gap_labels(view: GapView) -> list[tuple[str, float]]:
    """What each lap, climb or descent adds, where that is worth a label, and at which km."""
    spans = [(b.start_m, b.end_m) for b in view.bands]
    if view.course.n_laps > 1:
        spans = [(lap.start_m, lap.end_m) for lap in view.laps]
    distances, gaps = np.array(view.series.distances_m), np.array(view.series.gaps_s)
    labels = []
    for start_m, end_m in spans:
        at = np.interp([start_m, end_m], distances, gaps)
        part_s = float(at[1] - at[0])
        is_wide = end_m - start_m >= 0.05 * view.course.distance_m
        if is_wide and abs(part_s) >= 0.03 * max(abs(view.gap_s), words.TIE_S):
            labels.append((words.signed_seconds(part_s), (start_m + end_m) / 2000.0))
    return labels


def scale_bar_m(width_m: float) -> float:
    """A round length for a scale bar, near a fifth of the picture's width."""
    wanted = width_m / 5.0
    power = 10.0 ** math.floor(math.log10(wanted))
    return max(step * power for step in (1.0, 2.0, 5.0) if step * power <= wanted)
