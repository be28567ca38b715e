"""A recording on a course: from line to line, with its stops told apart, as a ride."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from simulator.compare.gap import FloatArray
from simulator.course import Course
from simulator.pacing import LaidRecording
from simulator.recordings import Recording
from simulator.ride import ENERGY_CAUSES, Ride

STANDING_MPS = 0.7
"""Below this the rider stands or walks."""

LEAST_STOP_S = 5.0
"""Shorter rests are no stops."""

LINE_M = 30.0
"""Standing this near to start or finish is waiting, not a stop on the way."""

ARRIVED_M = 3.0
"""This near to the farthest place reached, the ride is over."""

SPEED_OVER_S = 4.0
"""Recorded speeds are worked out from places over this time: single places are noisy."""

ROLLING_MPS = 2.5
"""Who crosses the start line faster than this did not start from a standstill."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """One stop on the way; its time counts in neither ride."""

    place_m: float
    standing_s: float


def _still_runs(laid: LaidRecording) -> list[NDArray[np.int64]]:
    """Runs of steps between samples in which the rider does not get ahead on the course."""
    still = np.flatnonzero(~laid.is_moving)
    if len(still) == 0:
        return []
    return np.split(still, np.flatnonzero(np.diff(still) > 1) + 1)


def trimmed(laid: LaidRecording, recording: Recording, course: Course) -> LaidRecording:
    """The recording from the start line to the finish, without the waiting at both."""
    first, last = 0, len(laid.times_s) - 1
    speeds = _device_speeds_mps(laid, recording)
    for run in _still_runs(laid):
        if laid.places_m[run[-1] + 1] <= LINE_M:
            first = int(run[-1]) + 1
    # Who rides on behind the line stays on its last metres: the first sample there is the finish.
    if laid.places_m[-1] >= course.distance_m - LINE_M:
        last = int(np.searchsorted(laid.places_m, laid.places_m[-1] - ARRIVED_M))
    places_m = laid.places_m.copy()
    if first > 0 and speeds is not None:
        while first < last and speeds[first + 1] < STANDING_MPS:
            first += 1
    if first > 0:
        places_m[first] = 0.0  # noise of the places made the waiting creep
    kept = slice(first, last + 1)
    return replace(
        laid,
        times_s=laid.times_s[kept],
        places_m=places_m[kept],
        powers_w=laid.powers_w[kept],
        is_moving=laid.is_moving[first:last],
    )


def _device_speeds_mps(laid: LaidRecording, recording: Recording) -> FloatArray | None:
    """The device's own speed at each sample; None where it has none."""
    known = np.isfinite(recording.speeds_mps)
    if recording.speed_source != "device" or not known.any():
        return None
    return np.interp(laid.times_s, recording.times_s[known], recording.speeds_mps[known])


def rests_of(
    laid: LaidRecording, recording: Recording
) -> tuple[tuple[Stop, NDArray[np.int64]], ...]:
    """Where the rider stood on the way, for how long, and the steps in which that lies."""
    speeds = _device_speeds_mps(laid, recording)
    steps_s = np.diff(laid.times_s)
    rests = []
    for run in _still_runs(laid):
        is_standing = np.ones(len(run), dtype=bool)
        if speeds is not None:
            run = _widened(run, speeds)
            # A hole is a device that paused, or a way off the course.
            slow = np.minimum(speeds[run], speeds[run + 1]) < STANDING_MPS
            is_standing = slow | (steps_s[run] > 2.0 * SPEED_OVER_S)
        standing_s = float(steps_s[run][is_standing].sum())
        if standing_s >= LEAST_STOP_S:
            place_m = float(np.median(laid.places_m[run[0] : run[-1] + 2]))
            rests.append((Stop(place_m=place_m, standing_s=standing_s), run))
    return tuple(rests)


def _widened(run: NDArray[np.int64], speeds: FloatArray) -> NDArray[np.int64]:
    """A run with the steps beside it in which the device shows no speed either."""
    low, high = int(run[0]), int(run[-1])
    while low > 0 and max(speeds[low - 1], speeds[low]) < STANDING_MPS:
        low -= 1
    while high + 2 < len(speeds) and max(speeds[high + 1], speeds[high + 2]) < STANDING_MPS:
        high += 1
    return np.arange(low, high + 1)


def moving_times_s(
    laid: LaidRecording, rests: tuple[tuple[Stop, NDArray[np.int64]], ...]
) -> FloatArray:
    """Time of each sample since the first one, without the stops."""
    steps_s = np.diff(laid.times_s)
    for stop, run in rests:
        steps_s[run] *= 1.0 - stop.standing_s / steps_s[run].sum()
    return np.append(0.0, np.cumsum(steps_s))


def start_speed_mps(laid: LaidRecording, recording: Recording) -> float:
    """Speed at the first sample: 0 for a standing start, as recorded for a rolling one."""
    later = np.flatnonzero(laid.times_s >= laid.times_s[0] + SPEED_OVER_S)
    if len(later) == 0:
        return 0.0
    i = int(later[0])
    speed_mps = float((laid.places_m[i] - laid.places_m[0]) / (laid.times_s[i] - laid.times_s[0]))
    speeds = _device_speeds_mps(laid, recording)
    if speeds is not None:
        speed_mps = float(speeds[0])
    return speed_mps if speed_mps >= ROLLING_MPS else 0.0


def recorded_ride(
    predicted: Ride,
    laid: LaidRecording,
    recording: Recording,
    *,
    moving_s: FloatArray,
    powers_w: FloatArray,
) -> Ride:
    """The recording as a ride over the course's nodes; where it is missing, the gap stays.

    Parameters
    ----------
    predicted : Ride
        Gives the course, and the times where the recording has none.
    laid, recording : LaidRecording, Recording
        The samples, from line to line.
    moving_s : (k,) array
        Time of each sample without the stops.
    powers_w : (n,) array
        Recorded power on each segment.
    """
    course = predicted.course
    nodes_m = course.node_distances_m
    # Of samples at one place the last one counts: the rider has left it then.
    keep = np.append(np.diff(laid.places_m) > 0.0, True)
    at_m, at_s = laid.places_m[keep], moving_s[keep]
    inside = np.clip(nodes_m, at_m[0], at_m[-1])
    ridden_s = np.interp(inside, at_m, at_s)
    begins_s = float(np.interp(at_m[0], nodes_m, predicted.node_times_s))
    ends_s = float(np.interp(at_m[-1], nodes_m, predicted.node_times_s))
    late_s = np.maximum(predicted.node_times_s - ends_s, 0.0)
    early_s = np.minimum(predicted.node_times_s, begins_s)
    times_s = np.where(nodes_m < at_m[0], early_s, begins_s + ridden_s + late_s)
    # Two nodes are never passed at the same moment.
    times_s = np.maximum.accumulate(times_s + 1e-6 * np.arange(len(times_s)))
    shown_mps = _device_speeds_mps(laid, recording)
    speeds_mps = _speeds_mps(nodes_m, times_s)
    if shown_mps is not None:
        is_shown = (nodes_m >= at_m[0]) & (nodes_m <= at_m[-1])
        speeds_mps = np.where(is_shown, np.interp(nodes_m, at_m, shown_mps[keep]), speeds_mps)
    return replace(
        predicted,
        node_times_s=times_s,
        node_speeds_mps=speeds_mps,
        powers_w=powers_w,
        energies_j=np.zeros((len(ENERGY_CAUSES), course.n_segments)),
        ceilings_mps=np.full(course.n_segments + 1, np.inf),
        node_reserves_j=None,
    )


def _speeds_mps(nodes_m: FloatArray, times_s: FloatArray) -> FloatArray:
    low_s = np.maximum(times_s - 0.5 * SPEED_OVER_S, times_s[0])
    high_s = np.minimum(times_s + 0.5 * SPEED_OVER_S, times_s[-1])
    way_m = np.interp(high_s, times_s, nodes_m) - np.interp(low_s, times_s, nodes_m)
    return np.asarray(way_m / (high_s - low_s))
