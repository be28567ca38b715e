"""Samples -> `Recording`: what cannot be true is blanked, short holes are filled, all is listed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from simulator.errors import InputError
from simulator.measures import Measures, Phrase, amount
from simulator.recordings.recording import CHANNELS, FloatArray, Recording, Repair
from simulator.recordings.samples import Samples
from simulator.recordings.sphere import steps_m
from simulator.units import duration

FASTEST_MPS = 40.0
"""No bicycle on a road: 144 km/h (common practice, no source)."""

HARDEST_MPS2 = 9.0
"""No bicycle speeds up or brakes harder from sample to sample (common practice, no source)."""

MOST_POWER_W = 2500.0
"""More than any sprint (common practice, no source)."""

FILLED_S = 3.5
"""Holes up to this long are filled by a straight line."""

HOLE_S = 6.0
"""A step in time above this is a pause or a dropout in a recording of every second."""

SLOWEST_S = 60.0
"""No device records more rarely; a table of milliseconds looks like that."""

_LIMITS = {
    "lats_deg": (-90.0, 90.0),
    "lons_deg": (-180.0, 180.0),
    "heights_m": (-500.0, 9000.0),
    "distances_m": (0.0, 2.0e6),
    "speeds_mps": (0.0, FASTEST_MPS),
    "powers_w": (0.0, MOST_POWER_W),
    "cadences_rpm": (0.0, 254.0),
    "temperatures_degc": (-40.0, 60.0),
}
_WORDS = {
    "lats_deg": "position",
    "lons_deg": "position",
    "heights_m": "height",
    "distances_m": "distance",
    "speeds_mps": "speed",
    "powers_w": "power",
    "cadences_rpm": "cadence",
    "temperatures_degc": "temperature",
}


def mended(samples: Samples, path: Path) -> Recording:
    """Mend samples and say what was done.

    Parameters
    ----------
    samples : Samples
        As read.
    path : Path
        Name of the file.

    Raises
    ------
    InputError
        If fewer than two samples carry a time of their own, if times can be no seconds, or if there
        is neither speed, distance nor position.
    """
    repairs = list(samples.notes)
    order, times_s = _in_order(samples, repairs)
    if len(order) < 2:
        same = np.isfinite(samples.unix_s).sum() > 1
        raise InputError(
            file=str(path),
            found="all samples carry the same time"
            if same
            else "fewer than two samples carry a time",
            expected="a recording with times, not a planned route",
        )
    if (middle_s := float(np.median(np.diff(times_s)))) > SLOWEST_S:
        raise InputError(
            file=str(path),
            found=f"a sample every {middle_s:,.10g} s",
            expected="times in seconds, with a sample every few seconds",
            mend="are they milliseconds?",
        )
    columns = {name: np.array(samples.columns[name])[order] for name in CHANNELS}
    for name, (low, high) in _LIMITS.items():
        values = columns[name]
        is_wrong = (values < low) | (values > high)
        if is_wrong.any():
            text = f"{is_wrong.sum()} values of {_WORDS[name]} cannot be true and were left out"
            repairs.append(_at("spike", text, times_s, is_wrong))
            values[is_wrong] = np.nan
    _blank_null_island(columns, times_s, repairs)
    _blank_jumps(columns, times_s, path, repairs)
    for name in CHANNELS:
        _fill(name, columns, times_s, repairs)
    speed_source = _complete(columns, times_s, path, repairs)
    _tell_holes(columns, times_s, repairs)
    _mend_power(columns, times_s, repairs)
    return Recording(
        name=path.name,
        kind=samples.kind,
        start_time=samples.start_time,
        times_s=times_s,
        speed_source=speed_source,
        rhythm=_rhythm(times_s),
        repairs=tuple(repairs),
        **columns,
    )


def _in_order(samples: Samples, repairs: list[Repair]) -> tuple[NDArray[np.int64], FloatArray]:
    """Samples with a time, ascending, one for each moment; the first one of each stands."""
    known = np.flatnonzero(np.isfinite(samples.unix_s))
    if len(known) < len(samples.unix_s):
        n = len(samples.unix_s) - len(known)
        repairs.append(Repair(kind="no time", text=f"{n} samples without a time were left out"))
    unix_s = samples.unix_s[known]
    if (np.diff(unix_s) < 0.0).any():
        repairs.append(
            Repair(kind="order", text="samples stood out of order and were sorted by time")
        )
    distinct_s, first = np.unique(unix_s, return_index=True)
    if len(distinct_s) < len(known):
        n = len(known) - len(distinct_s)
        repairs.append(
            Repair(kind="twice", text=f"{n} samples repeat a moment; the first one was kept")
        )
    start_s = distinct_s[0] if len(distinct_s) else 0.0
    return known[first], distinct_s - start_s


def _at(kind: str, text: str, times_s: FloatArray, is_meant: NDArray[np.bool_]) -> Repair:
    where = np.flatnonzero(is_meant)
    return Repair(
        kind=kind, text=text, start_s=float(times_s[where[0]]), end_s=float(times_s[where[-1]])
    )


def _blank_null_island(
    columns: dict[str, FloatArray], times_s: FloatArray, repairs: list[Repair]
) -> None:
    """A receiver without a fix writes 0, 0."""
    lats, lons = columns["lats_deg"], columns["lons_deg"]
    is_null = (lats == 0.0) & (lons == 0.0)
    if is_null.any():
        text = f"{is_null.sum()} positions are 0, 0 (no fix) and were left out"
        repairs.append(_at("no fix", text, times_s, is_null))
    is_half = np.isfinite(lats) != np.isfinite(lons)
    lats[is_null | is_half] = lons[is_null | is_half] = np.nan


def _blank_jumps(
    columns: dict[str, FloatArray], times_s: FloatArray, path: Path, repairs: list[Repair]
) -> None:
    """Single positions far off both neighbours, and single speeds no bicycle reaches."""
    gaps_s = np.diff(times_s)
    lats, lons = columns["lats_deg"], columns["lons_deg"]
    with np.errstate(invalid="ignore"):
        speeds_mps = steps_m(lats, lons) / gaps_s
        fast = speeds_mps > FASTEST_MPS
        if 2 * fast.sum() > np.isfinite(speeds_mps).sum():
            raise InputError(
                file=str(path),
                found="most positions lie further apart than any bicycle rides in the time between",
                expected="times in seconds and positions in degrees",
                mend="look at the columns of times, latitude and longitude",
            )
        is_jump = np.zeros(len(times_s), dtype=bool)
        is_jump[1:-1] = fast[:-1] & fast[1:]
        if is_jump.any():
            text = f"{is_jump.sum()} positions jump off the road and back and were left out"
            repairs.append(_at("spike", text, times_s, is_jump))
            lats[is_jump] = lons[is_jump] = np.nan
        change = np.diff(columns["speeds_mps"]) / gaps_s
        is_spike = np.zeros(len(times_s), dtype=bool)
        is_spike[1:-1] = (change[:-1] * change[1:] < 0.0) & (
            np.minimum(np.abs(change[:-1]), np.abs(change[1:])) > HARDEST_MPS2
        )
    if is_spike.any():
        text = f"{is_spike.sum()} speeds jump up or down and back and were left out"
        repairs.append(_at("spike", text, times_s, is_spike))
        columns["speeds_mps"][is_spike] = np.nan


def _fill(
    name: str, columns: dict[str, FloatArray], times_s: FloatArray, repairs: list[Repair]
) -> None:
    """Holes of a few seconds by a straight line; longer ones stay and are told."""
    values = columns[name]
    known = np.flatnonzero(np.isfinite(values))
    if not len(known) or len(known) == len(values):
        return
    # Cadence and temperature are only shown; nothing is inferred from them.
    is_told = name not in ("lons_deg", "cadences_rpm", "temperatures_degc")
    inner = np.arange(known[0], known[-1] + 1)
    holes = inner[~np.isfinite(values[inner])]
    before = known[np.searchsorted(known, holes) - 1]
    after = known[np.minimum(np.searchsorted(known, holes), len(known) - 1)]
    is_short = times_s[after] - times_s[before] <= FILLED_S
    short = holes[is_short]
    values[short] = np.interp(times_s[short], times_s[known], values[known])
    if len(short) and is_told:
        text = f"{len(short)} missing values of {_WORDS[name]} in holes of at most 3 s were filled"
        repairs.append(
            Repair(
                kind="filled",
                text=text,
                start_s=float(times_s[short[0]]),
                end_s=float(times_s[short[-1]]),
            )
        )
    n_left = int((~np.isfinite(values)).sum())
    if n_left and is_told:
        text = f"{n_left} values of {_WORDS[name]} are missing and stay so"
        repairs.append(Repair(kind="dropout", text=text))


def _complete(
    columns: dict[str, FloatArray], times_s: FloatArray, path: Path, repairs: list[Repair]
) -> str:
    """Distance and speed from what there is; the source of the speed."""
    steps = steps_m(columns["lats_deg"], columns["lons_deg"])
    has_position = np.isfinite(steps).any()
    has_speed = np.isfinite(columns["speeds_mps"]).any()
    has_distance = np.isfinite(columns["distances_m"]).any()
    if not (has_position or has_speed or has_distance):
        raise InputError(
            file=str(path),
            found="neither position, distance nor speed",
            expected="a recording of a ride on a road",
        )
    gaps_s = np.diff(times_s)
    if not has_distance:
        source = "positions" if has_position else "speed"
        if not has_position:
            speeds = np.nan_to_num(columns["speeds_mps"])
            steps = 0.5 * (speeds[1:] + speeds[:-1]) * gaps_s
        columns["distances_m"] = np.concatenate(([0.0], np.cumsum(np.nan_to_num(steps))))
        repairs.append(Repair(kind="distance", text=f"distance was worked out from {source}"))
    distances = columns["distances_m"]
    known = np.flatnonzero(np.isfinite(distances))
    highest = np.maximum.accumulate(distances[known])
    n_falls = int((np.diff(distances[known]) < -0.5).sum())
    if n_falls:
        text = f"the distance falls at {n_falls} places; it was held until it grew again"
        repairs.append(Repair(kind="distance", text=text))
    distances[known] = highest
    if has_speed:
        return "device"
    distances = np.interp(times_s, times_s[known], highest)
    columns["speeds_mps"] = np.clip(np.gradient(distances, times_s), 0.0, FASTEST_MPS)
    repairs.append(
        Repair(
            kind="speed",
            text="the file has no speed of its own; it was worked out here and is too rough for "
            "a speed trace",
        )
    )
    return "positions"


def _tell_holes(columns: dict[str, FloatArray], times_s: FloatArray, repairs: list[Repair]) -> None:
    """Long steps in time: a pause where the rider stood, else a dropout."""
    gaps_s = np.diff(times_s)
    for i in np.flatnonzero(gaps_s > max(HOLE_S, 4.0 * float(np.median(gaps_s)))):
        moved_m = columns["distances_m"][i + 1] - columns["distances_m"][i]
        stood = not np.isfinite(moved_m) or moved_m < 1.0 * gaps_s[i]
        kind = "pause" if stood else "dropout"
        lasted = duration(float(gaps_s[i]))
        text = Phrase(
            "{what} for {lasted}" if stood else "nothing recorded over {moved} for {lasted}",
            what="paused",
            moved=amount(Measures.height, 0.0 if stood else float(moved_m)),
            lasted=lasted,
        )
        repairs.append(
            Repair(
                kind=kind,
                text=text,
                start_s=float(times_s[i]),
                end_s=float(times_s[i + 1]),
            )
        )


def _mend_power(columns: dict[str, FloatArray], times_s: FloatArray, repairs: list[Repair]) -> None:
    """Zeros of one to three samples between pushes while the cranks turn are lost messages."""
    powers, cadences = columns["powers_w"], columns["cadences_rpm"]
    if not np.isfinite(powers).any():
        repairs.append(Repair(kind="no power", text="the recording has no power"))
        return
    is_zero = powers == 0.0
    is_lost = np.zeros(len(powers), dtype=bool)
    starts = np.flatnonzero(is_zero & ~np.concatenate(([False], is_zero[:-1])))
    ends = np.flatnonzero(is_zero & ~np.concatenate((is_zero[1:], [False])))
    for start, end in zip(starts, ends, strict=True):
        if start == 0 or end == len(powers) - 1:
            continue
        turning = np.nan_to_num(cadences[start : end + 1]).min() > 30.0
        lasted_s = times_s[end + 1] - times_s[start - 1]
        if turning and lasted_s <= FILLED_S + 1.0 and min(powers[start - 1], powers[end + 1]) > 60:
            is_lost[start : end + 1] = True
    if is_lost.any():
        good = np.flatnonzero(~is_lost & np.isfinite(powers))
        powers[is_lost] = np.interp(times_s[is_lost], times_s[good], powers[good])
        text = f"{is_lost.sum()} zeros of power while the cranks turned were filled"
        repairs.append(_at("power zeros", text, times_s, is_lost))
    share = float(np.mean(powers[np.isfinite(powers)] == 0.0))
    if share >= 0.005:
        text = (
            f"{100.0 * share:.0f} % of the samples have no power (coasting) and stand as they are"
        )
        repairs.append(Repair(kind="coasting", text=text))


def _rhythm(times_s: FloatArray) -> str:
    gaps_s = np.diff(times_s)
    middle_s = float(np.median(gaps_s))
    steady = float(np.mean(np.abs(gaps_s - middle_s) < 0.25 * middle_s))
    if steady < 0.9:
        return "smart"
    return "every second" if abs(middle_s - 1.0) < 0.05 else f"every {middle_s:g} s"
