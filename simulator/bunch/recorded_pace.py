"""A recorded race as the pace of a bunch: laid on the course, stops bridged, smoothed by rule."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.fft import dct, idct

from simulator.bunch.pace import FloatArray, Pace, recorded_dips
from simulator.course import Course
from simulator.errors import InputError
from simulator.measures import Measures, Phrase, amount
from simulator.pacing import LaidRecording, lay_on_course
from simulator.recordings import Recording
from simulator.units import duration

LEAST_COVER = 0.9
"""Share of the course that must be recorded; the rest is ridden at the mean speed."""

DRIFT_S = 60.0
"""A device's own speed tells the shape, positions tell where: they are joined over this time."""

LEAST_S, MOST_S = 1.0, 12.0
"""Bounds of the smoothing. A bend slows a bunch for some five seconds: beyond the upper bound
nothing of it would be left; below the lower one a device has no more samples."""

GAP_S = 6.0
"""Longer without a sample, the speed in between is the mean over the gap."""

BRIDGED_M = 300.0
"""A stop is bridged at most this far to either side, from where speed began to fall to where it
had come back."""

WALKING_MPS = 1.5
"""Slower than this the bunch does not ride; what is slower is taken as this."""


def pace_of_recording(
    recording: Recording, course: Course, *, place: float | None = None, smooth_factor: float = 1.0
) -> Pace:
    """Lay a recorded race on a course.

    Parameters
    ----------
    recording : Recording
        With positions, or at least distances; power is not needed.
    course : Course
        Where; all its laps count.
    place : float, optional
        Place in the bunch of the one who recorded it; one's own if left out.
    smooth_factor : float
        Smooth this much longer than the rule says.

    Returns
    -------
    Pace
        Its `remarks` say what was smoothed, bridged and filled. With `smooth_factor` 1 it comes
        with the variants of half and twice the smoothing.

    Raises
    ------
    InputError
        If the recording is not a ride of this course.
    """
    laid = lay_on_course(recording, course, needs_power=False)
    covered_m = float(laid.places_m[-1] - laid.places_m[0])
    if covered_m < LEAST_COVER * course.distance_m:
        raise InputError(
            file=recording.name,
            found=f"it covers {covered_m / 1000.0:.1f} of {course.distance_m / 1000.0:.1f} km of "
            f"the course {course.name}",
            expected="at least nine tenths of it, in the same direction",
            mend="check `--laps`, or take a recording of the whole race",
        )
    trace = _smoothed_trace(recording, laid, smooth_factor)
    speeds_mps = np.interp(course.node_distances_m, trace.places_m, trace.speeds_mps)
    outside = (course.node_distances_m < laid.places_m[0]) | (
        course.node_distances_m > laid.places_m[-1]
    )
    moving_s = float(np.diff(laid.times_s)[laid.is_moving].sum())
    speeds_mps[outside] = covered_m / moving_s
    speeds_mps, n_stops, bridged_m = _bridged(course, speeds_mps, laid)
    speeds_mps = np.maximum(speeds_mps, WALKING_MPS)
    taken_s = 2.0 * course.lengths_m / (speeds_mps[:-1] + speeds_mps[1:])
    variants: tuple[Pace, ...] = ()
    if smooth_factor == 1.0:
        variants = tuple(
            pace_of_recording(recording, course, place=place, smooth_factor=factor)
            for factor in (0.5, 2.0)
        )
    return Pace(
        course=course,
        node_times_s=np.concatenate([[0.0], np.cumsum(taken_s)]),
        node_speeds_mps=speeds_mps,
        dips=recorded_dips(course, speeds_mps),
        place=place,
        source=f"bunch as recorded in {recording.name}",
        remarks=_remarks(recording, laid, course, trace, n_stops, bridged_m),
        smoothed_s=trace.smoothed_s,
        variants=variants,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Trace:
    """Places (never falling) and speeds every second, and over how long they are smoothed."""

    places_m: FloatArray
    speeds_mps: FloatArray
    smoothed_s: float
    is_device_speed: bool


def _smoothed_trace(recording: Recording, laid: LaidRecording, factor: float) -> _Trace:
    """Smooth the device's own speed, or the steps from place to place where there is none.

    How much is told by generalised cross-validation [Wahba1978]: what smooths so that a left-out
    sample is best predicted. Errors are taken for independent from second to second in speed: a
    receiver's position drifts. A device that smooths by itself is smoothed too little then, which
    the variants show.
    """
    times_s, places_m = laid.times_s, laid.places_m
    seconds = np.arange(times_s[0], times_s[-1] + 0.5)
    at_m = np.interp(seconds, times_s, places_m)
    middles_mps = np.diff(at_m)
    speeds_mps = np.interp(seconds, seconds[:-1] + 0.5, middles_mps)
    own_mps = recording.speeds_mps[np.searchsorted(recording.times_s, times_s)]
    known = np.isfinite(own_mps)
    is_device = recording.speed_source == "device" and bool(known.mean() > 0.5)
    if is_device:
        i_after = np.clip(np.searchsorted(times_s[known], seconds), 1, known.sum() - 1)
        in_gap = np.diff(times_s[known])[i_after - 1] > GAP_S
        own_mps = np.interp(seconds, times_s[known], own_mps[known])
        speeds_mps = np.where(in_gap, speeds_mps, own_mps)
    speeds_mps, smoothed_s = _smoothed(speeds_mps if is_device else middles_mps, factor)
    if not is_device:
        speeds_mps = np.interp(seconds, seconds[:-1] + 0.5, speeds_mps)
    ridden_m = np.concatenate([[0.0], np.cumsum(0.5 * (speeds_mps[1:] + speeds_mps[:-1]))])
    drift_m = _held_back(at_m - ridden_m, DRIFT_S)
    return _Trace(
        places_m=np.maximum.accumulate(ridden_m + drift_m),
        speeds_mps=np.maximum(speeds_mps + np.gradient(drift_m), 0.0),
        smoothed_s=smoothed_s,
        is_device_speed=is_device,
    )


def _smoothed(values: FloatArray, factor: float) -> tuple[FloatArray, float]:
    """Least squares with a penalty on second differences [Eilers1996], in cosines.

    Returns the values and the time in s beyond which swings pass by more than half, over 2 pi.
    """
    n = len(values)
    parts = dct(values, norm="ortho")
    best = (np.inf, LEAST_S)
    for width_s in np.geomspace(LEAST_S, MOST_S, 40):
        kept = _kept(n, width_s)
        score = float(np.sum(((1.0 - kept) * parts) ** 2)) / (n - kept.sum()) ** 2
        best = min(best, (score, float(width_s)))
    width_s = factor * best[1]
    return np.asarray(idct(_kept(n, width_s) * parts, norm="ortho")), width_s


def _kept(n: int, width_s: float) -> FloatArray:
    rates = 2.0 - 2.0 * np.cos(np.pi * np.arange(n) / n)
    return np.asarray(1.0 / (1.0 + (rates * width_s**2) ** 2))


def _held_back(values: FloatArray, width_s: float) -> FloatArray:
    """The slow part of a series, its trend kept."""
    trend = np.linspace(values[0], values[-1], len(values))
    parts = dct(values - trend, norm="ortho")
    return np.asarray(trend + idct(_kept(len(values), width_s) * parts, norm="ortho"))


def _bridged(
    course: Course, speeds_mps: FloatArray, laid: LaidRecording
) -> tuple[FloatArray, int, float]:
    """Speeds with a straight line over every stop; how many stops, and how far it reaches."""
    nodes_m = course.node_distances_m
    stops_m = np.unique(np.round(laid.places_m[:-1][~laid.is_moving], -1))
    # Neither before the start nor behind the finish does a stop matter.
    stops_m = stops_m[(stops_m > 20.0) & (stops_m < course.distance_m - 20.0)]
    speeds_mps = speeds_mps.copy()
    bridged = np.zeros(len(nodes_m), dtype=bool)
    n_stops = 0
    for stop_m in stops_m:
        i = int(np.searchsorted(nodes_m, stop_m))
        if bridged[min(i, len(nodes_m) - 1)]:
            continue
        n_stops += 1
        low, high = i, i
        while low > 0 and (speeds_mps[low - 1] > speeds_mps[low] or nodes_m[low] > stop_m - 15.0):
            low -= 1
            if nodes_m[low] < stop_m - BRIDGED_M:
                break
        while high < len(nodes_m) - 1 and (
            speeds_mps[high + 1] > speeds_mps[high] or nodes_m[high] < stop_m + 15.0
        ):
            high += 1
            if nodes_m[high] > stop_m + BRIDGED_M:
                break
        inside = slice(low, high + 1)
        speeds_mps[inside] = np.interp(
            nodes_m[inside], nodes_m[[low, high]], speeds_mps[[low, high]]
        )
        bridged[inside] = True
    return speeds_mps, n_stops, float(course.lengths_m[bridged[:-1] & bridged[1:]].sum())


def _remarks(
    recording: Recording,
    laid: LaidRecording,
    course: Course,
    trace: _Trace,
    n_stops: int,
    bridged_m: float,
) -> tuple[str, ...]:
    kind = "the device itself," if trace.is_device_speed else "its positions, which is rough,"
    told = [
        f"Speed in {recording.name} is from {kind} smoothed so that swings faster than about "
        f"{2.0 * np.pi * trace.smoothed_s:.0f} s are flattened: short surges and the deepest point "
        "of tight bends are ridden harder than this shows."
    ]
    if n_stops:
        stood_s = float(np.diff(laid.times_s)[~laid.is_moving].sum())
        times = "1 stop" if n_stops == 1 else f"{n_stops} stops"
        told.append(
            Phrase(
                f"The recording has {times}, about {duration(stood_s)} in all: a bunch rides on, "
                "so speed is taken as a straight line over {bridged} around them.",
                bridged=amount(Measures.height, bridged_m),
            )
        )
    gaps_s = np.diff(laid.times_s)[laid.is_moving & (np.diff(laid.times_s) > GAP_S)]
    if len(gaps_s):
        times = "1 gap" if len(gaps_s) == 1 else f"{len(gaps_s)} gaps"
        told.append(
            f"Over {times} without samples, {duration(float(gaps_s.sum()))} in all, speed is the "
            "mean there."
        )
    open_m = course.distance_m - float(laid.places_m[-1] - laid.places_m[0])
    if open_m > 0.005 * course.distance_m:
        told.append(
            Phrase(
                "{open} of the course were not recorded: they are ridden at the mean speed.",
                open=amount(Measures.length, open_m),
            )
        )
    return tuple(told)
