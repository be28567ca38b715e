"""Track -> track: repeated points, clocks that run backwards, pauses and spikes are mended.

Each mend is told as a `Finding`. Distances in findings are along the track as recorded.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from simulator.course.course import Finding
from simulator.course.geometry import cumulative, leg_components_m, leg_lengths_m
from simulator.course.track import Track
from simulator.measures import Measures, Phrase, amount
from simulator.units import duration

SAME_PLACE_M = 0.3
PAUSE_SPEED_MPS = 0.6
_PAUSE_HALF_WINDOW_S = 6.0
_PAUSE_REACH_M = 5.0
# Standing still for less than this is a junction, not a pause.
_PAUSE_MIN_S = 10.0
_LONG_GAP_S = 60.0
_LONG_GAP_M = 250.0
# A road's corners are lost between points farther apart.
_SPARSE_M = 100.0
# Less way than this while the clock jumps: the rider stood still and the recorder slept.
_STOP_M = 50.0
_LONG_STOP_S = 600.0
_SPIKE_M = 30.0


def repair_track(track: Track) -> Track:
    """Mend a track in the order: clock, spikes, pauses, repeated points; then report gaps."""
    for step in (_mend_clock, _drop_spikes, _collapse_pauses, _drop_repeated, _report_gaps):
        track = step(track)
    return track


def kept(track: Track, is_kept: NDArray[np.bool_], *findings: Finding) -> Track:
    """The track with only some of its points, and more findings."""
    # A break on a dropped point moves to the next point that stays.
    breaks = np.zeros(track.n_points + 1, dtype=bool)
    next_kept = np.searchsorted(np.flatnonzero(is_kept), np.flatnonzero(track.is_break))
    kept_points = np.append(np.flatnonzero(is_kept), track.n_points)
    breaks[kept_points[next_kept]] = True
    return replace(
        track,
        lats_deg=track.lats_deg[is_kept],
        lons_deg=track.lons_deg[is_kept],
        heights_m=track.heights_m[is_kept],
        times_s=track.times_s[is_kept],
        is_break=breaks[:-1][is_kept],
        findings=track.findings + findings,
    )


def reversed_track(track: Track) -> Track:
    """The same road ridden the other way; the times no longer mean anything and are dropped."""
    breaks = np.zeros(track.n_points, dtype=bool)
    breaks[0] = True
    n_points = track.n_points
    for i_start in np.flatnonzero(track.is_break):
        if i_start:
            breaks[n_points - i_start] = True
    return replace(
        track,
        lats_deg=track.lats_deg[::-1].copy(),
        lons_deg=track.lons_deg[::-1].copy(),
        heights_m=track.heights_m[::-1].copy(),
        times_s=np.full(n_points, np.nan),
        is_break=breaks,
    )


def _distances_m(track: Track) -> NDArray[np.float64]:
    return cumulative(leg_lengths_m(track.lats_deg, track.lons_deg))


def _plural(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def _mend_clock(track: Track) -> Track:
    """Times that step back are forgotten; the places are kept, in file order."""
    known = np.flatnonzero(np.isfinite(track.times_s))
    if len(known) < 2:
        return track
    times = track.times_s[known]
    latest = np.maximum.accumulate(times)
    is_back = np.append(False, times[1:] < latest[:-1])
    if not is_back.any():
        return track
    bad = known[is_back]
    mended = track.times_s.copy()
    mended[bad] = np.nan
    place = float(_distances_m(track)[bad[0]])
    worst_s = float(np.max(latest[:-1] - times[1:]))
    text = (
        f"the clock runs backwards at {_plural(len(bad), 'point')} (by up to {worst_s:.3g} s); "
        "the places are kept in file order, these times are not used"
    )
    return replace(
        track,
        times_s=mended,
        findings=(*track.findings, Finding(level="doubt", text=text, distance_m=place)),
    )


def _drop_spikes(track: Track) -> Track:
    """Single points that jump away and straight back are dropped."""
    if track.n_points < 4:
        return track
    legs = leg_lengths_m(track.lats_deg, track.lons_deg)
    direct = _skip_lengths_m(track)
    out, back = legs[:-1], legs[1:]
    typical = float(np.median(legs))
    # There and back far beyond what the neighbours' distance and the usual spacing allow: an
    # ordinary turn at a road's end also goes back, but not 30 m and ten legs in one step.
    is_spike = np.zeros(track.n_points, dtype=bool)
    is_spike[1:-1] = (
        (np.minimum(out, back) > max(_SPIKE_M, 10.0 * typical))
        & (direct < 0.25 * np.minimum(out, back))
        & ~track.is_break[1:-1]
        & ~track.is_break[2:]
    )
    if track.kind == "route" or not is_spike.any():
        return track
    place = float(_distances_m(track)[np.flatnonzero(is_spike)[0]])
    text = f"{_plural(int(is_spike.sum()), 'point')} jumped away and back; dropped"
    return kept(track, ~is_spike, Finding(level="note", text=text, distance_m=place))


def _skip_lengths_m(track: Track) -> NDArray[np.float64]:
    """Distance from each point to the next but one."""
    easts, norths = leg_components_m(track.lats_deg, track.lons_deg)
    return np.hypot(easts[:-1] + easts[1:], norths[:-1] + norths[1:])


def _collapse_pauses(track: Track) -> Track:
    """A recording that goes on while the rider stands makes a ball of wool; one point stays."""
    times = track.times_s
    if track.n_points < 5 or np.isnan(times).mean() > 0.05:
        return track
    known = np.isfinite(times)
    index = np.arange(track.n_points)
    clock = np.interp(index, index[known], times[known])
    clock = np.maximum.accumulate(clock) + 1e-6 * index
    easts, norths = leg_components_m(track.lats_deg, track.lons_deg)
    east, north = cumulative(easts), cumulative(norths)
    early = np.maximum(clock - _PAUSE_HALF_WINDOW_S, clock[0])
    late = np.minimum(clock + _PAUSE_HALF_WINDOW_S, clock[-1])
    moved = np.hypot(
        np.interp(late, clock, east) - np.interp(early, clock, east),
        np.interp(late, clock, north) - np.interp(early, clock, north),
    )
    # A turn on the spot also comes back to where it was: the way there must be short too.
    ridden = cumulative(np.hypot(easts, norths))
    way = np.interp(late, clock, ridden) - np.interp(early, clock, ridden)
    span = np.maximum(late - early, 1e-6)
    is_slow = (moved / span < PAUSE_SPEED_MPS) & (way / span < 3.0 * PAUSE_SPEED_MPS)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], is_slow.astype(np.int8), [0]))))
    is_kept = np.ones(track.n_points, dtype=bool)
    n_pauses, paused_s, first = 0, 0.0, -1
    for start, stop in zip(edges[::2], edges[1::2], strict=True):
        lasted_s = clock[stop - 1] - clock[start]
        if lasted_s < _PAUSE_MIN_S or stop - start < 3:
            continue
        first_out, last_out, middle = _ball_of_wool(east, north, int(start), int(stop))
        is_kept[first_out:last_out] = False
        is_kept[middle] = True
        n_pauses, paused_s = n_pauses + 1, paused_s + lasted_s
        first = start if first < 0 else first
    # The first and last point are where the ride starts and ends.
    is_kept[[0, -1]] = True
    if not n_pauses or is_kept.sum() < 2:
        return track
    text = f"{_plural(n_pauses, 'pause')} in the recording ({duration(paused_s)}); left out"
    return kept(track, is_kept, Finding(level="note", text=text, distance_m=float(ridden[first])))


def _ball_of_wool(
    east: NDArray[np.float64], north: NDArray[np.float64], start: int, stop: int
) -> tuple[int, int, int]:
    """Range of points that belong to a pause, and the one nearest to its middle.

    Coming to rest and setting off, points wander too: those within reach of the middle go along.
    """
    centre_e, centre_n = np.median(east[start:stop]), np.median(north[start:stop])
    off = np.hypot(east - centre_e, north - centre_n)
    reach = max(_PAUSE_REACH_M, 2.0 * float(np.median(off[start:stop])))
    while start > 0 and off[start - 1] < reach:
        start -= 1
    while stop < len(off) and off[stop] < reach:
        stop += 1
    return start, stop, start + int(np.argmin(off[start:stop]))


def _drop_repeated(track: Track) -> Track:
    """Points on top of each other carry no direction; the first of them stays."""
    legs = leg_lengths_m(track.lats_deg, track.lons_deg)
    # Distance along the track since the last point kept, so that a slow crawl is thinned too.
    is_kept = np.zeros(track.n_points, dtype=bool)
    is_kept[0] = True
    if legs.min(initial=np.inf) < SAME_PLACE_M:
        since = 0.0
        for i_leg, length in enumerate(legs):
            since += length
            if since >= SAME_PLACE_M:
                is_kept[i_leg + 1] = True
                since = 0.0
    else:
        is_kept[:] = True
    n_dropped = int((~is_kept).sum())
    if not n_dropped:
        return track
    text = Phrase(
        f"{_plural(n_dropped, 'repeated point')} (closer than {{near}}); dropped",
        near=amount(Measures.height, SAME_PLACE_M, 1),
    )
    return kept(track, is_kept, Finding(level="note", text=text))


def _report_gaps(track: Track) -> Track:
    if track.n_points < 2:
        return track
    legs = leg_lengths_m(track.lats_deg, track.lons_deg)
    places = cumulative(legs)
    typical = float(np.median(legs))
    waits = np.diff(track.times_s)
    findings = []
    if typical > _SPARSE_M:
        sparse = Phrase(
            "half of the points stand {gap} or more apart: corners and rises between them are not "
            "seen",
            gap=amount(Measures.height, typical),
        )
        findings.append(Finding(level="doubt", text=sparse))
    is_recorded = track.kind == "track" and bool(np.isfinite(track.times_s).any())
    with np.errstate(invalid="ignore"):
        is_stop = (waits > _LONG_STOP_S) & (legs <= _STOP_M)
        is_late = (waits > _LONG_GAP_S) & (legs > _STOP_M)
    is_far = (legs > max(_LONG_GAP_M, 20.0 * typical)) & (track.kind == "track")
    for i_leg in np.flatnonzero(is_stop)[:20]:
        text = f"a stop of {duration(waits[i_leg])}; left out"
        findings.append(Finding(level="note", text=text, distance_m=float(places[i_leg])))
    for i_leg in np.flatnonzero(is_late | is_far)[:20]:
        wait = (
            f" and {duration(waits[i_leg])}" if is_recorded and waits[i_leg] > _LONG_GAP_S else ""
        )
        level = "doubt" if legs[i_leg] > _LONG_GAP_M or wait else "note"
        text = Phrase(
            f"a gap of {{gap}}{wait} without a point; taken as a straight line",
            gap=amount(Measures.height, float(legs[i_leg])),
        )
        findings.append(Finding(level=level, text=text, distance_m=float(places[i_leg])))
    return replace(track, findings=(*track.findings, *findings))
