"""What is written on the curves and where, the same for picture and page."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simulator.measures import METRIC, Measures
from simulator.report import words
from simulator.report.views import AlongCourse, BandView, GapView, MatrixView

_MOST_MARKS = 120
_MOST_LAPS = 40
_MOST_BANDS = 80


def course_facts(view: AlongCourse) -> str:
    """Course and pacing in one line."""
    course = view.course
    measures = view.measures
    parts = [measures.distance(course.distance_m), f"{measures.height(course.ascent_m)} up"]
    if course.n_laps > 1:
        parts.append(words.plural(course.n_laps, "lap"))
    if course.n_corners:
        each = " a lap" if course.n_laps > 1 else ""
        parts.append(words.plural(course.n_corners, "limiting corner") + each)
    parts += [f"{course.start} start", measures.said(view.pacing)]
    return " · ".join(part for part in parts if part)


def over_laps(title: str, view: AlongCourse) -> str:
    """Title of a table whose rows are sums over laps."""
    return f"{title}, {view.course.n_laps} laps" if view.course.n_laps > 1 else title


def times(view: GapView) -> str:
    """Both times in one line."""
    return " · ".join(f"{b.name} {words.stopwatch(b.time_s)}" for b in (view.first, view.other))


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """A word over a stretch of the distance axis."""

    text: str
    start_m: float
    end_m: float

    @property
    def middle_m(self) -> float:
        """Where it is centred."""
        return (self.start_m + self.end_m) / 2.0


def band_labels(view: AlongCourse) -> list[Label]:
    """Names of the laps, or of climbs and descents on a course ridden once."""
    if view.course.n_laps > _MOST_LAPS:
        return []
    if view.course.n_laps > 1:
        return [Label(text=x.name, start_m=x.start_m, end_m=x.end_m) for x in view.laps]
    named = [band for band in view.bands if band.kind != "flat"]
    return [Label(text=x.name, start_m=x.start_m, end_m=x.end_m) for x in named]


def gap_labels(view: GapView) -> list[Label]:
    """What each lap or stretch adds to the gap, where that is worth a label."""
    if view.course.n_laps > _MOST_LAPS:
        return []
    spans = [(b.start_m, b.end_m) for b in view.bands]
    if view.course.n_laps > 1:
        spans = [(lap.start_m, lap.end_m) for lap in view.laps]
    distances, gaps = np.array(view.series.distances_m), np.array(view.series.gaps_s)
    labels = []
    for start_m, end_m in spans:
        at = np.interp([start_m, end_m], distances, gaps)
        part_s = float(at[1] - at[0])
        if abs(part_s) >= 0.03 * max(abs(view.gap_s), words.TIE_S):
            # A number keeps its unit where the label breaks.
            text = words.signed_seconds(part_s).replace(" ", "\N{NO-BREAK SPACE}")
            labels.append(Label(text=text, start_m=start_m, end_m=end_m))
    return labels


def shown_marks_m(view: GapView) -> tuple[float, ...]:
    """Corners to mark under the speeds; none where they would run into one band."""
    return view.corner_marks_m if len(view.corner_marks_m) <= _MOST_MARKS else ()


def shown_laps_m(view: AlongCourse) -> tuple[float, ...]:
    """Where laps begin, without the start; of very many laps only every tenth."""
    starts_m = view.lap_starts_m[1:-1]
    return starts_m if len(starts_m) <= _MOST_LAPS else starts_m[9::10]


def shown_bands(view: AlongCourse) -> tuple[BandView, ...]:
    """Climbs and descents to shade; none where they would run into stripes."""
    bands = tuple(band for band in view.bands if band.kind != "flat")
    return bands if len(bands) <= _MOST_BANDS else ()


def shown_causes(matrix: MatrixView) -> tuple[int, ...]:
    """Columns of the matrix in which something shows; all of them if nothing does."""
    columns = range(len(matrix.causes))
    seen = tuple(j for j in columns if any(abs(row[j]) >= 0.05 for row in matrix.gaps_s))
    return seen or tuple(columns)


def scale_bar_m(width_m: float, measures: Measures = METRIC) -> float:
    """A round length for a scale bar, near a fifth of the picture's width."""
    return measures.round_length_m(width_m / 5.0)
