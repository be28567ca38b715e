"""Where the gap arises, as rows: stretches and corners summed over laps, laps, the matrix."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from simulator.compare import Comparison, Gap, StretchGap
from simulator.course import Course, Feature
from simulator.measures import METRIC, Measures
from simulator.report import words
from simulator.report.views import MatrixView, PlaceRow
from simulator.ride import Ride

_SAME_CORNER_M = 15.0
_SAME_PIECE_M = 100.0


def share_of(part_s: float, total_s: float) -> float | None:
    """Share of the whole gap; None where the whole is a tie."""
    return part_s / total_s if abs(total_s) >= words.TIE_S else None


def merge_laps(
    stretches: Sequence[StretchGap], *, course: Course, total_s: float
) -> tuple[tuple[PlaceRow, ...], tuple[tuple[int, ...], ...]]:
    """Sum stretches that recur on every lap.

    Returns
    -------
    rows : tuple of PlaceRow
        In the order of the first lap.
    members : tuple of tuples of int
        Which of `stretches` stand behind each row.
    """
    groups = _groups(stretches, course)
    rows = tuple(_row([stretches[i] for i in group], total_s) for group in groups)
    return rows, tuple(tuple(group) for group in groups)


def wind_rows(
    pieces: Sequence[StretchGap], *, course: Course, total_s: float
) -> tuple[tuple[PlaceRow, ...], bool]:
    """Pieces of flats by the wind, summed over laps.

    Returns
    -------
    rows : tuple of PlaceRow
        In order. Where the wind turns from lap to lap, a row holds all that lies into, across or
        with it on one flat: it reaches over every place where some lap has it, and its length is
        the mean of a lap.
    is_shifting : bool
        Whether that is so.
    """
    rows, members = merge_laps(pieces, course=course, total_s=total_s)
    groups = [[pieces[i] for i in group] for group in members]
    if course.n_laps < 2 or all(_recurs(group, course) for group in groups):
        return rows, False
    flats: dict[int, list[str]] = {}
    shifting: dict[tuple[int, str], list[StretchGap]] = {}
    for piece in pieces:
        names = flats.setdefault(piece.lap, [])
        flat = piece.name.rpartition(", ")[0]
        if flat not in names:
            names.append(flat)
        shifting.setdefault((names.index(flat), piece.kind), []).append(piece)
    found = [_shifting_row(group, course, total_s) for group in shifting.values()]
    return tuple(sorted(found, key=lambda row: row.start_m)), True


def _recurs(group: Sequence[StretchGap], course: Course) -> bool:
    """Whether every lap has one piece at the same place."""
    spans_m = np.array([_span_in_lap_m(piece, course) for piece in group])
    is_on_each = [piece.lap for piece in group] == list(range(1, course.n_laps + 1))
    return is_on_each and float(np.ptp(spans_m, axis=0).max()) <= _SAME_PIECE_M


def _span_in_lap_m(piece: StretchGap, course: Course) -> tuple[float, float]:
    lap_m = float(course.lap_starts_m[piece.lap - 1])
    return piece.start_m - lap_m, piece.end_m - lap_m


def _shifting_row(group: list[StretchGap], course: Course, total_s: float) -> PlaceRow:
    spans_m = np.array([_span_in_lap_m(piece, course) for piece in group])
    lengths_m = spans_m[:, 1] - spans_m[:, 0]
    grades = np.array([piece.mean_grade for piece in group])
    return replace(
        _row(group, total_s),
        start_m=float(spans_m[:, 0].min()),
        end_m=float(spans_m[:, 1].max()),
        length_m=float(lengths_m.sum()) / len({piece.lap for piece in group}),
        mean_grade=float(grades @ lengths_m / lengths_m.sum()),
    )


def corner_rows(
    corners: Sequence[StretchGap],
    *,
    course: Course,
    total_s: float,
    measures: Measures = METRIC,
) -> tuple[PlaceRow, ...]:
    """Corners, each summed over the laps on which it limits a ride."""
    if course.n_laps < 2:
        return _told_apart([_row([corner], total_s) for corner in corners], measures)
    placed = sorted((_apex_in_lap_m(corner, course), i) for i, corner in enumerate(corners))
    groups: list[list[StretchGap]] = []
    last_m = float("-inf")
    for apex_m, i in placed:
        if apex_m - last_m > _SAME_CORNER_M:
            groups.append([])
        groups[-1].append(corners[i])
        last_m = apex_m
    in_order = (sorted(group, key=lambda c: c.start_m) for group in groups)
    return _told_apart([_row(group, total_s) for group in in_order], measures)


def _told_apart(rows: list[PlaceRow], measures: Measures) -> tuple[PlaceRow, ...]:
    """Corners of the same name get their place as well."""
    names = [row.name for row in rows]
    return tuple(
        replace(row, name=f"{row.name}, {measures.place(row.start_m)}")
        if names.count(row.name) > 1
        else row
        for row in rows
    )


def apexes_m(corners: Sequence[StretchGap], course: Course) -> tuple[float, ...]:
    """Where each limiting corner has its apex, m from the start of the ride."""
    return tuple(_apex_m(corner, course) for corner in corners)


def _apex_m(stretch: StretchGap, course: Course) -> float:
    for corner in course.corners:
        is_inside = stretch.start_m <= corner.apex_m <= stretch.end_m
        if corner.lap == stretch.lap and corner.name == stretch.name and is_inside:
            return corner.apex_m
    return stretch.start_m


def _apex_in_lap_m(stretch: StretchGap, course: Course) -> float:
    """Starts shift from lap to lap with the braking point, apexes do not."""
    return _apex_m(stretch, course) - float(course.lap_starts_m[stretch.lap - 1])


def lap_rows(gap: Gap, *, total_s: float) -> tuple[PlaceRow, ...]:
    """Laps one by one; empty for a course ridden once."""
    course = gap.first.course
    if course.n_laps < 2:
        return ()
    rows = []
    for i in range(course.n_laps):
        start_m, end_m = float(course.lap_starts_m[i]), float(course.lap_starts_m[i + 1])
        first_s = gap.first.time_at_s(end_m) - gap.first.time_at_s(start_m)
        other_s = gap.other.time_at_s(end_m) - gap.other.time_at_s(start_m)
        gap_s = gap.between_s(start_m, end_m)
        rise = np.interp([start_m, end_m], course.node_distances_m, course.node_heights_m)
        rows.append(
            PlaceRow(
                kind="lap",
                name=f"Lap {i + 1}",
                start_m=start_m,
                end_m=end_m,
                length_m=end_m - start_m,
                mean_grade=float(rise[1] - rise[0]) / (end_m - start_m),
                max_grade=None,
                radius_m=None,
                n_laps=1,
                first_s=first_s,
                other_s=other_s,
                gap_s=gap_s,
                gap_per_km_s=1000.0 * gap_s / (end_m - start_m),
                share=share_of(gap_s, total_s),
            )
        )
    return tuple(rows)


def metres_at_line(first: Ride, other: Ride) -> float:
    """Way that the slower build still has to go when the faster one finishes; > 0: the other."""
    ahead, behind = (first, other) if first.time_s <= other.time_s else (other, first)
    distances_m = behind.course.node_distances_m
    reached_m = float(np.interp(ahead.time_s, behind.node_times_s, distances_m))
    left_m = float(distances_m[-1]) - reached_m
    return left_m if ahead is first else -left_m


def worst_stretch(comparison: Comparison, length_m: float) -> tuple[float, float] | None:
    """Start and loss of the stretch where the slower build loses most; None if too short."""
    gap = comparison.gap
    distances_m = gap.first.course.node_distances_m
    if distances_m[-1] < 2.0 * length_m:
        return None
    last_m = float(distances_m[-1]) - length_m
    starts_m = np.append(np.arange(0.0, last_m, 100.0), last_m)
    at_start = np.interp(starts_m, distances_m, gap.node_gaps_s)
    at_end = np.interp(starts_m + length_m, distances_m, gap.node_gaps_s)
    lost_s = (at_end - at_start) * (1.0 if gap.total_s > 0.0 else -1.0)
    i_worst = int(np.argmax(lost_s))
    return float(starts_m[i_worst]), float(lost_s[i_worst])


def make_matrix(
    comparison: Comparison,
    *,
    places: Sequence[PlaceRow],
    members: Sequence[Sequence[int]],
    measures: Measures = METRIC,
) -> MatrixView:
    """Places × causes, summed over laps like `places`."""
    by_stretch_s = np.asarray(comparison.matrix_s, dtype=np.float64)
    summed_s = np.array([by_stretch_s[list(group)].sum(axis=0) for group in members])
    summed_s = summed_s.reshape(len(places), len(comparison.causes))
    return MatrixView(
        places=tuple(place.name for place in places),
        kinds=tuple(place.kind for place in places),
        spans=tuple(measures.span(place.start_m, place.end_m) for place in places),
        causes=tuple(cause.cause for cause in comparison.causes),
        gaps_s=tuple(tuple(row.tolist()) for row in summed_s),
        place_totals_s=tuple(place.gap_s for place in places),
        cause_totals_s=tuple(cause.gap_s for cause in comparison.causes),
        total_s=comparison.gap.total_s,
    )


def _groups(stretches: Sequence[StretchGap], course: Course) -> list[list[int]]:
    """Indices of `stretches` that are the same place on different laps."""
    if course.n_laps < 2:
        return [[i] for i in range(len(stretches))]
    on_lap: dict[tuple[str, int], list[Feature]] = {}
    for feature in course.features:
        on_lap.setdefault((feature.kind, feature.lap), []).append(feature)
    groups: dict[tuple[str, int], list[int]] = {}
    seen: dict[tuple[str, int], int] = {}
    for i, stretch in enumerate(stretches):
        # The n-th of its kind on each lap is the same place: names may carry lap numbers. A
        # recording may begin behind the first, so the course is asked which one it is.
        lap_kind = (stretch.kind, stretch.lap)
        seen[lap_kind] = seen.get(lap_kind, 0) + 1
        middle_m = 0.5 * (stretch.start_m + stretch.end_m)
        known = [
            n
            for n, feature in enumerate(on_lap.get(lap_kind, ()), start=1)
            if feature.start_m <= middle_m <= feature.end_m
        ]
        groups.setdefault((stretch.kind, (known or [seen[lap_kind]])[0]), []).append(i)
    return sorted(groups.values(), key=lambda group: group[0])


def _row(parts: list[StretchGap], total_s: float) -> PlaceRow:
    head = parts[0]
    length_m = head.end_m - head.start_m
    ridden_m = sum(part.end_m - part.start_m for part in parts)
    gap_s = sum(part.gap_s for part in parts)
    return PlaceRow(
        kind=head.kind,
        name=words.capital(head.name),
        start_m=head.start_m,
        end_m=head.end_m,
        length_m=length_m,
        mean_grade=head.mean_grade,
        max_grade=head.max_grade,
        radius_m=head.radius_m,
        n_laps=len(parts),
        first_s=sum(part.first_s for part in parts),
        other_s=sum(part.other_s for part in parts),
        gap_s=gap_s,
        gap_per_km_s=1000.0 * gap_s / ridden_m,
        share=share_of(gap_s, total_s),
        parts_s=_summed_parts(parts),
    )


def _summed_parts(stretches: Sequence[StretchGap]) -> tuple[float, float, float] | None:
    """Braking, turning and surge of a corner over the laps."""
    known = [stretch.parts_s for stretch in stretches if stretch.parts_s is not None]
    if not known:
        return None
    braking_s, turning_s, surge_s = (sum(part) for part in zip(*known, strict=True))
    return float(braking_s), float(turning_s), float(surge_s)
