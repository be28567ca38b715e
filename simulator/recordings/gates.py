"""Gates across the road, and when a recording crosses them, between samples."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simulator.recordings.recording import FloatArray, Recording
from simulator.recordings.sphere import plane_m

REACH_M = 150.0
"""Steps between samples longer than this are no crossing: too much is unknown in between."""

MOST_TURN_COS = 0.5
"""Crossings more than 60 degrees off the gate's heading do not count."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GateLine:
    """A line across the road, crossed in one direction.

    ``heading_deg`` is the direction of travel, clockwise from true north; the line lies across
    it, ``width_m`` wide, with the point in its middle.
    """

    name: str
    lat_deg: float
    lon_deg: float
    heading_deg: float
    width_m: float = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """One crossing: seconds since the first sample, speed, and how far right of the middle.

    ``i_sample`` is the last sample before the line.
    """

    time_s: float
    speed_mps: float
    right_m: float
    i_sample: int


def find_crossings(recording: Recording, gate: GateLine) -> tuple[Crossing, ...]:
    """Every crossing of a gate in its direction, in order.

    Parameters
    ----------
    recording : Recording
        With positions.
    gate : GateLine
        The line.

    Notes
    -----
    Between two samples the speed is taken to change evenly from one to the other, which keeps
    the moment good to a few milliseconds at any ordinary acceleration; what is left is the
    noise of the positions.
    """
    easts_m, norths_m = plane_m(
        recording.lats_deg, recording.lons_deg, lat0_deg=gate.lat_deg, lon0_deg=gate.lon_deg
    )
    heading_rad = np.radians(gate.heading_deg)
    along_m = easts_m * np.sin(heading_rad) + norths_m * np.cos(heading_rad)
    right_m = easts_m * np.cos(heading_rad) - norths_m * np.sin(heading_rad)
    d_along, d_right = np.diff(along_m), np.diff(right_m)
    with np.errstate(invalid="ignore"):
        length_m = np.hypot(d_along, d_right)
        passes = (along_m[:-1] < 0.0) & (along_m[1:] >= 0.0) & (length_m < REACH_M)
        passes &= d_along >= MOST_TURN_COS * length_m
    found = []
    for i in np.flatnonzero(passes):
        part = -along_m[i] / d_along[i]
        at_right_m = float(right_m[i] + part * d_right[i])
        if abs(at_right_m) > 0.5 * gate.width_m:
            continue
        before, after = recording.speeds_mps[i], recording.speeds_mps[i + 1]
        share = time_share(float(part), float(before), float(after))
        gap_s = recording.times_s[i + 1] - recording.times_s[i]
        found.append(
            Crossing(
                time_s=float(recording.times_s[i] + share * gap_s),
                speed_mps=float(before + share * (after - before)),
                right_m=at_right_m,
                i_sample=int(i),
            )
        )
    return tuple(found)


def time_share(part: float, before_mps: float, after_mps: float) -> float:
    """Share of the time between two samples at which a share of the way is done.

    Parameters
    ----------
    part : float
        Share of the way, 0 to 1.
    before_mps, after_mps : float
        Speeds at the two samples; where one is missing or both are 0, the speed is even.

    Returns
    -------
    float
        Root x of v0 x + (v1 - v0) x²/2 = part (v0 + v1)/2: even acceleration (textbook).
    """
    if not before_mps + after_mps > 0.0:
        return part
    way = 0.5 * part * (before_mps + after_mps)
    change = after_mps - before_mps
    root = np.sqrt(max(before_mps**2 + 2.0 * change * way, 0.0))
    # This form of the root has no 0/0 where the speed does not change.
    return float(2.0 * way / (before_mps + root)) if before_mps + root > 0.0 else part


def crossing_of_distance(recording: Recording, distance_m: float) -> float:
    """Seconds at which the recorded distance reaches a value; NaN where it never does."""
    distances: FloatArray = recording.distances_m
    known = np.flatnonzero(np.isfinite(distances))
    values = distances[known]
    i = int(np.searchsorted(values, distance_m))
    if i == 0 or i == len(values):
        return float("nan")
    before, after = known[i - 1], known[i]
    part = (distance_m - values[i - 1]) / (values[i] - values[i - 1])
    share = time_share(
        float(part), float(recording.speeds_mps[before]), float(recording.speeds_mps[after])
    )
    gap_s = recording.times_s[after] - recording.times_s[before]
    return float(recording.times_s[before] + share * gap_s)
