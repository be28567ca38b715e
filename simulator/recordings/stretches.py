"""Which stretches of a real ride can be used: no stops, no braking, no traffic, power known."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from simulator.recordings.recording import FloatArray, Recording

SLOW_MPS = 2.0
"""Slower than this the rider is stopping, starting or walking."""

BRAKING_MPS2 = 0.6
"""Losing speed faster than this without a climb to explain it is braking: air and tyres take
about 0.3 m/s² at 45 km/h on the flat (closed form, 80 kg, CdA 0.30)."""

GRAVITY_MPS2 = 9.80665

MARGIN_S = 4.0
"""Left out on both sides of what disturbs: getting going again takes a while."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Part of a recording in seconds since the first sample; ``reason`` is empty if it is used."""

    start_s: float
    end_s: float
    reason: str = ""


def clean_stretches(
    recording: Recording,
    *,
    grades: FloatArray | None = None,
    least_s: float = 20.0,
    start_s: float = -np.inf,
    end_s: float = np.inf,
) -> tuple[Stretch, ...]:
    """Cut a recording into stretches that can be used and stretches that are left out.

    Parameters
    ----------
    recording : Recording
        The ride.
    grades : (n,) array, optional
        Rise over run at each sample, from the course; by default from the recorded heights.
    least_s : float
        Shorter stretches between two disturbances are left out with them.
    start_s, end_s : float
        Only this part is cut.

    Returns
    -------
    tuple of Stretch
        In order, covering the part; neighbours differ in their reason.
    """
    times = recording.times_s
    reasons = np.full(len(times), "", dtype=object)
    speeds = recording.speeds_mps
    grade = _grades(recording) if grades is None else grades
    with np.errstate(invalid="ignore"):
        slowing = np.gradient(_smoothed(speeds), times) + GRAVITY_MPS2 * np.clip(grade, 0.0, None)
        _mark(reasons, times, slowing < -BRAKING_MPS2, "braking or traffic")
        _mark(reasons, times, speeds < SLOW_MPS, "stop")
    if recording.has_power:
        _mark(reasons, times, ~np.isfinite(recording.powers_w), "power missing", margin_s=1.0)
    for repair in recording.repairs:
        if repair.kind in ("pause", "dropout") and repair.start_s is not None:
            end = repair.end_s if repair.end_s is not None else repair.start_s
            _mark(reasons, times, (times >= repair.start_s) & (times <= end), repair.kind)
    inside = (times >= start_s) & (times <= end_s)
    return _joined(times[inside], reasons[inside], least_s)


def _mark(
    reasons: NDArray[np.object_],
    times: FloatArray,
    is_meant: NDArray[np.bool_],
    reason: str,
    *,
    margin_s: float = MARGIN_S,
) -> None:
    hits = times[is_meant]
    if not len(hits):
        return
    after = np.searchsorted(hits, times)
    to_next = np.abs(hits[np.minimum(after, len(hits) - 1)] - times)
    to_last = np.abs(times - hits[np.maximum(after - 1, 0)])
    reasons[np.minimum(to_next, to_last) <= margin_s] = reason


def _joined(times: FloatArray, reasons: NDArray[np.object_], least_s: float) -> tuple[Stretch, ...]:
    if len(times) < 2:
        return ()
    cuts = np.flatnonzero(reasons[1:] != reasons[:-1]) + 1
    bounds = [0, *cuts.tolist(), len(times)]
    joined: list[Stretch] = []
    for start, end in pairwise(bounds):
        start_s, end_s = float(times[start]), float(times[min(end, len(times) - 1)])
        reason = str(reasons[start])
        if not reason and end_s - start_s < least_s:
            reason = "too short between disturbances"
        if joined and joined[-1].reason == reason:
            joined[-1] = replace(joined[-1], end_s=end_s)
        else:
            joined.append(Stretch(start_s=start_s, end_s=end_s, reason=reason))
    return tuple(joined)


def _smoothed(values: FloatArray) -> FloatArray:
    """Mean of three neighbours: one noisy sample is no braking."""
    padded = np.concatenate((values[:1], values, values[-1:]))
    return np.asarray((padded[:-2] + padded[1:-1] + padded[2:]) / 3.0)


def _grades(recording: Recording) -> FloatArray:
    """Rough grade from recorded heights over about 100 m; 0 where there is none."""
    heights, distances = recording.heights_m, recording.distances_m
    known = np.isfinite(heights) & np.isfinite(distances)
    if known.sum() < 2:
        return np.zeros(len(heights))
    places, first = np.unique(distances[known], return_index=True)
    levels = heights[known][first]
    around = np.interp(np.nan_to_num(distances), places, places)
    ahead = np.interp(around + 50.0, places, levels)
    behind = np.interp(around - 50.0, places, levels)
    return np.asarray(np.clip((ahead - behind) / 100.0, -0.3, 0.3))
