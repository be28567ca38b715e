"""The shape of a ride: closed loops, where it starts and ends, laps.

A loop's ends never meet exactly. What the track overshoots is cut; a small error that remains is
spread evenly over the lap (it is drift, and drift grows along the way); a larger one is bridged by
a straight leg.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from simulator.course.course import Finding, FloatArray
from simulator.course.geometry import cumulative, leg_components_m, leg_lengths_m
from simulator.course.geometry import shifted_positions_deg as shifted
from simulator.course.track import Track
from simulator.errors import InputError
from simulator.measures import Measures, Phrase, amount

# Ends this close make a loop by themselves; further apart only when laps are asked for.
_LOOP_GAP_M = 40.0
_LOOP_GAP_IF_LAPS_M = 150.0
_LEAST_LOOP_M = 200.0
# A gap up to this is an error of position and is spread; a larger one is road not recorded.
_SPREAD_GAP_M = 15.0
_OVERSHOOT_SHARE = 0.15
_OVERSHOOT_M = 400.0
# Same place again: within this distance and this change of direction.
_SAME_LINE_M = 25.0
_SAME_WAY_RAD = np.radians(50.0)
_LAP_SPREAD = 0.05


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shape:
    """A track cut to what is ridden in one lap.

    ``is_closed`` tells that the ends meet, ``is_repeated`` that the line is crossed on the way, so
    that the track must run on across it. ``finish_m`` is how far into the last lap the ride ends,
    equal to the lap's length unless the finish lies elsewhere.
    """

    track: Track
    is_closed: bool
    is_repeated: bool
    finish_m: float
    findings: tuple[Finding, ...] = ()


def distances_m(track: Track) -> FloatArray:
    """Distance of each point along the track."""
    return cumulative(leg_lengths_m(track.lats_deg, track.lons_deg))


def shape_of(
    track: Track,
    *,
    file: str,
    n_laps: int,
    start_m: float = 0.0,
    finish_m: float | None = None,
) -> Shape:
    """Close a loop, move the start, cut at the finish.

    Parameters
    ----------
    track : Track
        Repaired, in riding order, with heights chosen.
    file : str
        For messages.
    n_laps : int
        Laps asked for; more than one needs a loop. A single lap is ridden as recorded.
    start_m, finish_m : float
        Where along the track start and finish are; the finish of a loop may lie before the start.

    Returns
    -------
    Shape

    Raises
    ------
    InputError
        If laps are asked for on a track that does not close, or start or finish lie outside.
    """
    total = float(distances_m(track)[-1])
    for name, value in (("start_km", start_m), ("finish_km", finish_m)):
        if value is not None and not 0.0 <= value <= total + 1.0:
            raise InputError(
                file=file,
                place=f"key `{name}`",
                found=f"{value / 1000.0:g} km on a track of {total / 1000.0:.3f} km",
                expected="a place on the track",
            )
    wants_loop = n_laps > 1
    if not wants_loop and start_m <= 0.0 and finish_m is None:
        return _ridden_once(track, total)
    closed = _closed(track, _LOOP_GAP_IF_LAPS_M if wants_loop else _LOOP_GAP_M)
    if closed is None:
        if wants_loop:
            gap = float(leg_lengths_m(track.lats_deg[[0, -1]], track.lons_deg[[0, -1]])[0])
            raise InputError(
                file=file,
                found=f"{n_laps} laps asked for, but start and end of the track are "
                f"{gap:.0f} m apart",
                expected=f"a loop that closes within {_LOOP_GAP_IF_LAPS_M:.0f} m",
                mend="ride one lap, or close the track",
            )
        end = total if finish_m is None else finish_m
        if end - start_m < 10.0:
            raise InputError(
                file=file,
                place="key `finish_km`",
                found="the finish does not lie behind the start",
                expected="a finish behind the start on a track that is not a loop",
            )
        part = track if start_m <= 0.0 and finish_m is None else between(track, start_m, end)
        return _open(part)
    loop, findings = closed
    lap = float(distances_m(loop)[-1])
    if start_m > 0.0:
        loop = _from_point(loop, min(start_m, lap) % lap)
    finish = lap
    if finish_m is not None:
        finish = (min(finish_m, lap) - start_m) % lap
        finish = lap if finish < 1.0 else finish
    if finish < lap - 1.0 and not wants_loop:
        # Part of one round is no loop any more.
        return _open(between(loop, 0.0, finish), findings)
    return Shape(
        track=loop,
        is_closed=True,
        is_repeated=wants_loop,
        finish_m=finish,
        findings=findings,
    )


def _open(track: Track, findings: tuple[Finding, ...] = ()) -> Shape:
    return Shape(
        track=track,
        is_closed=False,
        is_repeated=False,
        finish_m=float(distances_m(track)[-1]),
        findings=findings,
    )


def _ridden_once(track: Track, total_m: float) -> Shape:
    """One ride from the first point to the last; only a small closing error is mended."""
    if total_m < _LEAST_LOOP_M or track.n_points < 5:
        return _open(track)
    gap_m = float(leg_lengths_m(track.lats_deg[[-1, 0]], track.lons_deg[[-1, 0]])[0])
    if gap_m > _LOOP_GAP_M:
        return _open(track)
    findings: tuple[Finding, ...] = ()
    if gap_m <= _SPREAD_GAP_M and _ends_agree(track):
        track, findings = _with_error_spread(track), _spread_finding(gap_m)
    return replace(_open(track, findings), is_closed=True)


def _ends_agree(track: Track) -> bool:
    """Whether the road leaves the way it arrives; an out-and-back ends on the other side."""
    places = distances_m(track)
    reach = min(30.0, 0.1 * float(places[-1]))
    ends = np.array([0.0, reach, places[-1] - reach, places[-1]])
    lats, lons = np.interp(ends, places, track.lats_deg), np.interp(ends, places, track.lons_deg)
    first = leg_components_m(lats[:2], lons[:2])
    last = leg_components_m(lats[2:], lons[2:])
    dot = float(first[0][0] * last[0][0] + first[1][0] * last[1][0])
    return dot > 0.5 * reach**2


def _spread_finding(gap_m: float) -> tuple[Finding, ...]:
    if gap_m <= 1.0:
        return ()
    text = Phrase(
        "the loop closed with an error of {gap}; spread over the lap",
        gap=amount(Measures.height, gap_m, 1),
    )
    return (Finding(level="note", text=text),)


def between(track: Track, from_m: float, to_m: float) -> Track:
    """The part of a track between two distances, with points exactly there."""
    places = distances_m(track)
    from_m, to_m = max(from_m, 0.0), min(to_m, float(places[-1]))
    inside = (places > from_m + 0.05) & (places < to_m - 0.05)
    wanted = np.concatenate(([from_m], places[inside], [to_m]))
    is_break = np.concatenate(([True], track.is_break[inside], [False]))
    return replace(
        track,
        lats_deg=np.interp(wanted, places, track.lats_deg),
        lons_deg=np.interp(wanted, places, track.lons_deg),
        heights_m=_between_known(wanted, places, track.heights_m),
        times_s=np.full(len(wanted), np.nan),
        is_break=is_break,
    )


def _between_known(wanted: FloatArray, places: FloatArray, heights: FloatArray) -> FloatArray:
    """Heights at the wanted places; NaN stays where the points around have none."""
    return np.interp(wanted, places, heights)  # NaN spreads to places next to it


def _joined(first: Track, second: Track) -> Track:
    """Two parts, the second of which starts where the first ends."""

    def both(name: str) -> FloatArray:
        return np.concatenate([getattr(first, name), getattr(second, name)[1:]])

    return replace(
        first,
        lats_deg=both("lats_deg"),
        lons_deg=both("lons_deg"),
        heights_m=both("heights_m"),
        times_s=both("times_s"),
        is_break=np.concatenate([first.is_break, second.is_break[1:]]),
    )


def _from_point(loop: Track, start_m: float) -> Track:
    """The same loop ridden from another place."""
    if start_m < 0.5:
        return loop
    total = float(distances_m(loop)[-1])
    if total - start_m < 0.5:
        return loop
    late, early = between(loop, start_m, total), between(loop, 0.0, start_m)
    return _joined(late, early)


def _closed(track: Track, largest_gap_m: float) -> tuple[Track, tuple[Finding, ...]] | None:
    """The track as a loop, or None if its ends are too far apart."""
    places = distances_m(track)
    total = float(places[-1])
    if total < _LEAST_LOOP_M or track.n_points < 5:
        return None
    end_m, gap_m = _nearest_to_start(track, places)
    if gap_m > largest_gap_m:
        return None
    findings: list[Finding] = []
    if total - end_m > 0.5:
        text = Phrase(
            "the track runs {past} past its start; cut where the loop closes",
            past=amount(Measures.height, total - end_m),
        )
        findings.append(Finding(level="note", text=text))
        track = between(track, 0.0, end_m)
    if gap_m <= _SPREAD_GAP_M:
        return _with_error_spread(track), (*findings, *_spread_finding(gap_m))
    text = Phrase(
        "the loop is open by {gap}; closed by a straight line", gap=amount(Measures.height, gap_m)
    )
    findings.append(Finding(level="doubt", text=text, distance_m=end_m))
    return _with_last_leg(track), tuple(findings)


def _nearest_to_start(track: Track, places: FloatArray) -> tuple[float, float]:
    """Where, near its end, the track comes closest to its start, and how close."""
    total = float(places[-1])
    window = min(_OVERSHOOT_M, _OVERSHOOT_SHARE * total)
    i_first = max(1, int(np.searchsorted(places, total - window)) - 1)
    easts, norths = leg_components_m(track.lats_deg, track.lons_deg)
    # Seen from the last point backwards, so that the plane is true where it matters.
    to_start_e, to_start_n = leg_components_m(track.lats_deg[[-1, 0]], track.lons_deg[[-1, 0]])
    e = cumulative(easts[i_first:])
    n = cumulative(norths[i_first:])
    target_e, target_n = e[-1] + to_start_e[0], n[-1] + to_start_n[0]
    de, dn = np.diff(e), np.diff(n)
    square = np.maximum(de**2 + dn**2, 1e-12)
    share = np.clip(((target_e - e[:-1]) * de + (target_n - n[:-1]) * dn) / square, 0.0, 1.0)
    off = np.hypot(e[:-1] + share * de - target_e, n[:-1] + share * dn - target_n)
    i_leg = int(np.argmin(off))
    return float(places[i_first + i_leg] + share[i_leg] * np.sqrt(square[i_leg])), float(off[i_leg])


def _with_error_spread(track: Track) -> Track:
    """Move each point by its share of the closing error, in position and height."""
    gap_e, gap_n = leg_components_m(track.lats_deg[[-1, 0]], track.lons_deg[[-1, 0]])
    share = distances_m(track)
    share = share / share[-1]
    lats, lons = shifted(track.lats_deg, track.lons_deg, share * gap_e[0], share * gap_n[0])
    lats[-1] = lats[0]
    lons[-1] = lons[0] + 360.0 * np.round((lons[-1] - lons[0]) / 360.0)
    return replace(track, lats_deg=lats, lons_deg=lons)


def _with_last_leg(track: Track) -> Track:
    def again(values: FloatArray) -> FloatArray:
        return np.append(values, values[0])

    return replace(
        track,
        lats_deg=again(track.lats_deg),
        lons_deg=again(track.lons_deg),
        heights_m=again(track.heights_m),
        times_s=np.append(track.times_s, np.nan),
        is_break=np.append(track.is_break, False),
    )


def closed_heights(
    heights_m: FloatArray, places_m: FloatArray
) -> tuple[FloatArray, tuple[Finding, ...]]:
    """Heights of a loop that end where they start, with the error spread along the way."""
    error = float(heights_m[-1] - heights_m[0])
    spread = heights_m - error * places_m / places_m[-1]
    spread[-1] = spread[0]
    findings: tuple[Finding, ...] = ()
    if abs(error) > 3.0:
        text = Phrase(
            "heights at the loop's ends differ by {error}; spread over the lap",
            error=amount(Measures.height, abs(error)),
        )
        findings = (Finding(level="note" if abs(error) < 15.0 else "doubt", text=text),)
    return spread, findings


def padded(track: Track, pad_m: float) -> tuple[Track, float]:
    """A loop with some of its end before it and some of its start behind it.

    Returns
    -------
    Track
    float
        Distance in the new track where the old one starts.
    """
    total = float(distances_m(track)[-1])
    pad_m = min(pad_m, 0.45 * total)
    before, after = between(track, total - pad_m, total), between(track, 0.0, pad_m)
    return _joined(_joined(before, track), after), pad_m


def lap_starts_in_track(
    easts_m: FloatArray, norths_m: FloatArray, headings_rad: FloatArray, places_m: FloatArray
) -> FloatArray:
    """Where a long recording passes its own start again, the same way: its laps.

    Parameters
    ----------
    easts_m, norths_m, headings_rad, places_m : (n,) arrays
        The smooth line.

    Returns
    -------
    (k,) array
        Starts of the laps and, last, the end; ``[0, end]`` if there is only one.
    """
    end = float(places_m[-1])
    one = np.array([0.0, end])
    off = np.hypot(easts_m - easts_m[0], norths_m - norths_m[0])
    # The direction at the very start may still be unsteady.
    early = headings_rad[: max(2, int(np.searchsorted(places_m, 30.0)))]
    turn = (headings_rad - np.median(early) + np.pi) % (2.0 * np.pi) - np.pi
    is_there = (off < _SAME_LINE_M) & (np.abs(turn) < _SAME_WAY_RAD) & (places_m > _LEAST_LOOP_M)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], is_there.astype(np.int8), [0]))))
    passes = [
        float(places_m[a + int(np.argmin(off[a:b]))])
        for a, b in zip(edges[::2], edges[1::2], strict=True)
    ]
    passes = [place for place in passes if place < end - 0.3 * _LEAST_LOOP_M]
    if not passes:
        return one
    starts = np.array([0.0, *passes])
    lengths = np.diff(starts)
    if np.any(np.abs(lengths - np.median(lengths)) > _LAP_SPREAD * np.median(lengths)):
        return one
    if end - starts[-1] < 0.5 * np.median(lengths):
        # A short way on behind the last lap belongs to it.
        starts = starts[:-1] if len(starts) > 2 else starts[:1]
    elif len(starts) == 2 and end - starts[-1] > (1.0 + _LAP_SPREAD) * lengths[0]:
        # One pass and then another road: legs of a mountain road lie as close as laps do.
        return one
    return np.append(starts, end) if len(starts) > 1 else one
