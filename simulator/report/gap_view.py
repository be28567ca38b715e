"""From a `Comparison` to the `GapView` that everything else renders."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from simulator.compare import Comparison, Doubt, StretchGap
from simulator.measures import METRIC, Measures
from simulator.report import words
from simulator.report.inputs_view import (
    caution_sentence,
    defaults_sentence,
    input_rows,
    input_words,
    no_doubt_sentence,
)
from simulator.report.places_view import (
    apexes_m,
    corner_rows,
    lap_rows,
    make_matrix,
    merge_laps,
    metres_at_line,
    share_of,
    wind_rows,
    worst_stretch,
)
from simulator.report.views import (
    BandView,
    BuildView,
    CauseRow,
    CourseView,
    DoubtShareRow,
    DoubtView,
    EnergyRow,
    GapView,
    NoteView,
    PlanView,
    SeriesView,
    UnitRow,
)
from simulator.report.wind_view import SHIFTING_NOTE, wind_marks, wind_note
from simulator.ride import ENERGY_CAUSES, Ride

FloatArray = NDArray[np.float64]

_N_BUCKETS = 420
_N_LEGS = 240
_N_BINS = 36
_CORNERS_SAY_WHERE = 0.3

ENERGY_WORDS = {
    "climbing": "Climbing",
    "air": "Air",
    "rolling": "Tyres and road",
    "bearings": "Bearings",
    "drivetrain": "Drivetrain",
    "braking": "Brakes",
    "kinetic": "Speed at the finish",
}


def make_gap_view(comparison: Comparison, measures: Measures = METRIC) -> GapView:
    """Everything that is shown of a comparison.

    Parameters
    ----------
    comparison : Comparison
        As `simulator.compare.explain` returns it.
    measures : Measures
        Units to word it in.

    Returns
    -------
    GapView
        Plain numbers and sentences, the same for terminal, page, pictures and JSON.
    """
    gap = comparison.gap
    course = gap.first.course
    total_s = gap.total_s
    first, other = _build_view(gap.first), _build_view(gap.other)
    doubt = None if comparison.doubt is None else _doubt_view(comparison.doubt, measures)
    is_lapped = course.n_laps > 1
    places, members = merge_laps(comparison.stretches, course=course, total_s=total_s)
    corners = corner_rows(comparison.corners, course=course, total_s=total_s, measures=measures)
    winds, is_shifting = wind_rows(comparison.winds, course=course, total_s=total_s)
    metres = metres_at_line(gap.first, gap.other)
    half_s = None if doubt is None else doubt.half_s
    is_told_apart = doubt is None or doubt.is_told_apart
    sentence = words.spoken(
        course=course.name,
        first=first.name,
        other=other.name,
        gap_s=total_s,
        half_s=half_s,
        is_told_apart=is_told_apart,
        where=_where(comparison, total_s, half_s, is_lapped=is_lapped),
    )
    more = _more_sentences(
        comparison, first, other, doubt, metres, measures=measures, is_lapped=is_lapped
    )
    return GapView(
        sentence=sentence,
        more=more,
        pacing=measures.said(comparison.power_text),
        course=CourseView(
            name=course.name,
            distance_m=course.distance_m,
            ascent_m=course.ascent_m,
            n_laps=course.n_laps,
            n_corners=len(corners),
            start=course.start,
            height_source=course.height_source,
            source=course.source,
        ),
        first=first,
        other=other,
        gap_s=total_s,
        share_is_meant=abs(total_s) >= words.TIE_S,
        metres_at_line=metres,
        places=places,
        corners=corners,
        laps=lap_rows(gap, total_s=total_s),
        causes=tuple(
            CauseRow(
                cause=cause.cause,
                label=words.cause_words(cause.cause),
                first_text=cause.first_text,
                other_text=cause.other_text,
                gap_s=cause.gap_s,
                share=share_of(cause.gap_s, total_s),
            )
            for cause in comparison.causes
        ),
        matrix=make_matrix(comparison, places=places, members=members, measures=measures),
        doubt=doubt,
        units=tuple(
            UnitRow(
                label=words.cause_words(unit.label),
                step=unit.step,
                change_s=unit.change_s,
                slope_change_s=unit.slope_change_s,
            )
            for unit in comparison.units
        ),
        energy=_energy_rows(gap.first, gap.other),
        series=_series(comparison),
        plan=_plan(comparison),
        bands=tuple(
            BandView(kind=s.kind, name=words.capital(s.name), start_m=s.start_m, end_m=s.end_m)
            for s in comparison.stretches
        ),
        corner_marks_m=apexes_m(comparison.corners, course),
        lap_starts_m=tuple(float(x) for x in course.lap_starts_m),
        inputs=input_rows(gap.first.setup, gap.other.setup, measures),
        notes=_notes(comparison, measures, is_shifting=is_shifting),
        winds=winds,
        measures=measures,
        in_si=None if measures is METRIC else make_gap_view(comparison),
    )


def _build_view(ride: Ride) -> BuildView:
    return BuildView(
        name=ride.setup.build.name,
        time_s=ride.time_s,
        mean_speed_mps=ride.mean_speed_mps,
        top_speed_mps=float(ride.node_speeds_mps.max()),
        mean_power_w=ride.mean_power_w,
        work_j=ride.work_j,
    )


def _doubt_view(doubt: Doubt, measures: Measures) -> DoubtView:
    counts, edges = np.histogram(doubt.gaps_s, bins=_N_BINS)
    return DoubtView(
        n_draws=doubt.n_draws,
        n_stopped=doubt.n_stopped,
        seed=doubt.seed,
        mean_s=doubt.mean_s,
        sd_s=doubt.sd_s,
        low_s=doubt.low_s,
        high_s=doubt.high_s,
        half_s=(doubt.high_s - doubt.low_s) / 2.0,
        interval_error_s=doubt.interval_error_s,
        chance_first_faster=doubt.chance_first_faster,
        chance_other_faster=doubt.chance_other_faster,
        is_told_apart=doubt.low_s > 0.0 or doubt.high_s < 0.0,
        edges_s=tuple(float(edge) for edge in edges),
        counts=tuple(int(n) for n in counts),
        shares=tuple(
            DoubtShareRow(name=input_words(share.name, measures), share=share.share)
            for share in sorted(doubt.shares, key=lambda share: -share.share)
        ),
    )


def _where(comparison: Comparison, total_s: float, half_s: float | None, *, is_lapped: bool) -> str:
    if abs(total_s) < words.TIE_S:
        return ""
    if not comparison.stretches:
        return ""
    parts_s, n_places = _by_kind(comparison.stretches)
    if len(parts_s) == 1:
        # All flat or all uphill says nothing about where; the corners may, or the wind.
        corners_s = sum(corner.gap_s for corner in comparison.corners)
        if corners_s / total_s >= _CORNERS_SAY_WHERE:
            parts_s, n_places = {"corner": corners_s}, {"corner": len(comparison.corners)}
        elif len({piece.kind for piece in comparison.winds}) > 1:
            parts_s, n_places = _by_kind(comparison.winds)
        else:
            return ""
    kind = max(parts_s, key=lambda k: parts_s[k] * total_s)
    return words.where_clause(
        gap_s=total_s,
        half_s=half_s,
        kind=kind,
        n_places=n_places[kind],
        part_s=parts_s[kind],
        is_lapped=is_lapped,
    )


def _by_kind(stretches: Sequence[StretchGap]) -> tuple[dict[str, float], dict[str, int]]:
    """Gap and number of stretches of each kind."""
    parts_s: dict[str, float] = {}
    n_places: dict[str, int] = {}
    for stretch in stretches:
        parts_s[stretch.kind] = parts_s.get(stretch.kind, 0.0) + stretch.gap_s
        n_places[stretch.kind] = n_places.get(stretch.kind, 0) + 1
    return parts_s, n_places


def _more_sentences(
    comparison: Comparison,
    first: BuildView,
    other: BuildView,
    doubt: DoubtView | None,
    metres: float,
    *,
    measures: Measures,
    is_lapped: bool,
) -> tuple[str, ...]:
    total_s = comparison.gap.total_s
    sentences = [words.line_sentence(first.name, other.name, metres, measures)]
    if abs(total_s) < words.TIE_S:
        return tuple(sentences)
    slower = other.name if total_s > 0.0 else first.name
    if comparison.tie_power_w is not None:
        sentences.append(words.tie_sentence(slower, comparison.tie_power_w))
    worst = worst_stretch(comparison, measures.m_per_distance)
    if worst is not None:
        sentences.append(words.worst_km_sentence(slower, *worst, measures))
    if comparison.corners:
        corners_s = sum(corner.gap_s for corner in comparison.corners)
        sentences.append(
            words.corners_sentence(total_s, corners_s, len(comparison.corners), is_lapped=is_lapped)
        )
    winds = _by_wind(comparison)
    if winds:
        sentences.append(words.wind_sentence(winds, measures))
    if doubt is not None:
        # Of the draws in which both reach the finish.
        n_ridden = doubt.n_draws - doubt.n_stopped
        chances = (doubt.chance_first_faster, doubt.chance_other_faster)
        sentences.append(words.chance_sentence(first.name, other.name, *chances, n_ridden))
    return tuple(sentences)


def _by_wind(comparison: Comparison) -> dict[str, tuple[float, float]]:
    """Gap and length of all flats by the wind; empty where none lie into it, or none with it."""
    sums = {}
    for kind in ("headwind", "tailwind", "crosswind"):
        pieces = [piece for piece in comparison.winds if piece.kind == kind]
        if not pieces and kind == "crosswind":
            continue
        if not pieces:
            return {}
        length_m = sum(piece.end_m - piece.start_m for piece in pieces)
        sums[kind] = (sum(piece.gap_s for piece in pieces), length_m)
    return sums


def _energy_rows(first: Ride, other: Ride) -> tuple[EnergyRow, ...]:
    return tuple(
        EnergyRow(
            cause=cause,
            label=ENERGY_WORDS.get(cause, cause.capitalize()),
            first_j=float(first.energies_j[i].sum()),
            other_j=float(other.energies_j[i].sum()),
        )
        for i, cause in enumerate(ENERGY_CAUSES)
    )


def _series(comparison: Comparison) -> SeriesView:
    gap = comparison.gap
    course = gap.first.course
    keep = kept_nodes(gap.first.node_speeds_mps, gap.other.node_speeds_mps)
    grades = np.append(course.grades, course.grades[-1])

    def thinned(values: FloatArray, decimals: int) -> tuple[float, ...]:
        return tuple(float(x) for x in np.round(values[keep], decimals) + 0.0)

    return SeriesView(
        distances_m=thinned(course.node_distances_m, 1),
        heights_m=thinned(course.node_heights_m, 1),
        grades=thinned(grades, 4),
        first_mps=thinned(gap.first.node_speeds_mps, 3),
        other_mps=thinned(gap.other.node_speeds_mps, 3),
        gaps_s=thinned(gap.node_gaps_s, 3),
        easts_m=thinned(course.node_easts_m, 1),
        norths_m=thinned(course.node_norths_m, 1),
    )


def kept_nodes(first_mps: FloatArray, other_mps: FloatArray) -> NDArray[np.int64]:
    """Few nodes that keep both ends and each bucket's slowest and fastest point of either ride."""
    n_nodes = len(first_mps)
    if n_nodes <= 3 * _N_BUCKETS:
        return np.arange(n_nodes)
    edges = np.linspace(0, n_nodes, _N_BUCKETS + 1).astype(np.int64)
    keep = {0, n_nodes - 1}
    for start, end in pairwise(edges):
        keep.add(int(start))
        for speeds in (first_mps, other_mps):
            keep.add(int(start + np.argmin(speeds[start:end])))
        keep.add(int(start + np.argmax(first_mps[start:end])))
    return np.array(sorted(keep))


def _plan(comparison: Comparison) -> PlanView:
    gap = comparison.gap
    course = gap.first.course
    distances_m = course.node_distances_m
    starts_m = course.lap_starts_m
    fractions = np.linspace(0.0, 1.0, _N_LEGS + 1)
    gaps_s = np.zeros(_N_LEGS)
    for start_m, end_m in pairwise(starts_m):
        at_m = start_m + fractions * (end_m - start_m)
        gaps_s += np.diff(np.interp(at_m, distances_m, gap.node_gaps_s))
    lap_m = starts_m[0] + fractions * (starts_m[1] - starts_m[0])
    ridden_km = course.distance_m / _N_LEGS / 1000.0
    rates = gaps_s / ridden_km
    scale = float(np.quantile(np.abs(rates), 0.95))
    weather = gap.first.setup.weather
    return PlanView(
        easts_m=tuple(np.round(np.interp(lap_m, distances_m, course.node_easts_m), 1).tolist()),
        norths_m=tuple(np.round(np.interp(lap_m, distances_m, course.node_norths_m), 1).tolist()),
        rates_s_per_km=tuple(np.round(rates, 3).tolist()),
        scale_s_per_km=scale,
        wind_mps=weather.wind_mps.value,
        wind_from_deg=weather.wind_from_deg.value,
        winds=wind_marks(gap.first),
    )


def _notes(
    comparison: Comparison, measures: Measures, *, is_shifting: bool
) -> tuple[NoteView, ...]:
    first, other = comparison.gap.first.setup, comparison.gap.other.setup
    # Every view shows speeds, if only the highest.
    notes = [NoteView(level="caution", text=words.CAUTION)]
    if comparison.doubt is None:
        notes.append(NoteView(level="doubt", text=no_doubt_sentence(first, other)))
    elif comparison.doubt.n_stopped:
        text = words.stopped_sentence(comparison.doubt.n_stopped, comparison.doubt.n_draws)
        notes.append(NoteView(level="doubt", text=text))
    marks = wind_marks(comparison.gap.first)
    if marks:
        notes.append(NoteView(level="note", text=wind_note(marks, measures)))
    if is_shifting:
        notes.append(NoteView(level="note", text=SHIFTING_NOTE))
    if taken := defaults_sentence(first, measures):
        notes.append(NoteView(level="note", text=taken))
    text = caution_sentence(first.rider, (first.build, other.build))
    notes.append(NoteView(level="note", text=text))
    for finding in comparison.gap.first.course.findings:
        text = words.finding_text(finding.text, finding.distance_m, measures)
        notes.append(NoteView(level=finding.level, text=text))
    return tuple(notes)
