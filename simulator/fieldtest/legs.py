"""A run -> legs: pieces of road to ride, with what was measured on each."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from simulator.errors import InputError
from simulator.fieldtest.roads import (
    RUN_UP_M,
    Cut,
    FloatArray,
    cut_road,
    even_marks_m,
    gate_lines,
    road_points,
)
from simulator.fieldtest.runup import run_up_speed_mps
from simulator.fieldtest.testday import TestDay, TestRun
from simulator.recordings import (
    Pass,
    Recording,
    Stretch,
    clean_stretches,
    crossing_of_distance,
    find_passes,
    read_recording,
)
from simulator.setup import RideSetup, Uncertain
from simulator.units import mps_from_kmh

STOPWATCH_SD_S = 0.2
"""Reaction of a hand on a stopwatch at a gate: common practice, no source."""

POSITION_SD_M = 1.5
"""How far along the road a position of a hand-size receiver is off from second to second, once
errors that last are taken out by riding the same road: common practice, no source."""

SPEED_SD_MPS = 0.10
"""Doubt about a recorded speed at a gate: common practice, no source."""

STOP_SD_M = 1.0
"""Doubt about where a wheel came to rest, by tape: common practice, no source."""

FREE_LEG_M = 400.0
"""Length of the pieces into which a free ride is cut."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Leg:
    """A piece of road ridden once.

    Attributes
    ----------
    name : str
        As shown.
    run : TestRun
        The run that it belongs to.
    cut : Cut
        The road, with nodes at the marks.
    powers_w : (n_segments,) array
        Power as the meter showed it; 0 where the rider coasted.
    times_s : (n_marks,) array
        Times since the first gate at the marks; empty when only the stop was measured.
    stop_m : float or None
        How far it rolled.
    start : Uncertain or None
        Speed at the first gate, m/s; None where the run was at its steady speed already and
        `RUN_UP_M` before the gate is ridden too.
    timing_sd_s : float
        Doubt about each moment.
    run_up_mps : float
        Speed at which the run-up starts where ``start`` is None; not known, and faded at the gate.
    """

    name: str
    run: TestRun
    cut: Cut
    powers_w: FloatArray
    times_s: FloatArray
    stop_m: float | None
    start: Uncertain | None
    timing_sd_s: float
    run_up_mps: float

    @property
    def observed(self) -> FloatArray:
        """What was measured: times in s, or the stop in m."""
        return self.times_s if self.stop_m is None else np.array([self.stop_m])

    def covariance(self, scatter: float) -> FloatArray:
        """Doubt about what was measured: instruments, and the run's own scatter.

        Parameters
        ----------
        scatter : float
            Standard deviation of a run's time by itself, as a share of it. It is one thing for
            the whole run, so all marks share it; so do they share the error at the first gate.

        Returns
        -------
        (n, n) array
        """
        if self.stop_m is not None:
            return np.array([[STOP_SD_M**2 + (2.0 * scatter * self.stop_m) ** 2]])
        n = len(self.times_s)
        timing = self.timing_sd_s**2 * (np.eye(n) + np.ones((n, n)))
        return np.asarray(timing + scatter**2 * np.outer(self.times_s, self.times_s))


def repeats(leg: Leg, other: Leg) -> bool:
    """Whether two legs are the same ride but for what was measured: road, build, air, power."""
    return (
        leg.run.build is other.run.build
        and leg.run.road is other.run.road
        and leg.run.written.back == other.run.written.back
        and leg.run.weather == other.run.weather
        and (leg.stop_m is None) == (other.stop_m is None)
        and np.array_equal(leg.cut.places_m, other.cut.places_m)
        and np.array_equal(leg.cut.marks, other.cut.marks)
        and leg.cut.first == other.cut.first
        and np.array_equal(leg.powers_w, other.powers_w)
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RunReading:
    """The legs of a run, and what should be known about it.

    ``stretches`` are those of a free ride, used or left out, in seconds from the first gate.
    """

    run: TestRun
    legs: tuple[Leg, ...]
    doubts: tuple[str, ...] = ()
    stretches: tuple[Stretch, ...] = ()
    repairs: tuple[str, ...] = ()


def read_runs(day: TestDay) -> tuple[RunReading, ...]:
    """Turn every run of a day into legs.

    Raises
    ------
    InputError
        If a recording cannot be used or does not pass the gates.
    """
    recordings: dict[str, Recording] = {}
    readings = []
    for run in day.runs:
        name = run.written.recording
        if name is None:
            readings.append(RunReading(run=run, legs=(_written_leg(run, day),)))
            continue
        if name not in recordings:
            recordings[name] = read_recording(day.folder / name)
        readings.append(_recorded_run(run, recordings[name], day))
    return tuple(readings)


def _written_leg(run: TestRun, day: TestDay) -> Leg:
    written = run.written
    start = written.start_kmh
    known = None
    if start is not None:
        known = Uncertain(mps_from_kmh(start.value), mps_from_kmh(start.sd))
    length_m = run.road.length_m
    cut = cut_road(
        run.road,
        np.array([length_m]),
        run_up_m=RUN_UP_M if known is None else 0.0,
        back=written.back,
    )
    power_w = (written.power_w or 0.0) if run.is_powered else 0.0
    powers_w = np.full(cut.course.n_segments, power_w)
    setup = RideSetup(rider=day.rider, build=run.build.build, weather=run.weather)
    return Leg(
        name=run.name,
        run=run,
        cut=cut,
        powers_w=powers_w,
        times_s=np.array([] if written.time_s is None else [written.time_s]),
        stop_m=written.stop_m,
        start=known,
        timing_sd_s=written.timing_sd_s or STOPWATCH_SD_S,
        run_up_mps=run_up_speed_mps(cut, setup, powers_w),
    )


def _recorded_run(run: TestRun, recording: Recording, day: TestDay) -> RunReading:
    found = _pass_of(run, recording, day)
    if not recording.has_power and run.is_powered and run.written.power_w is None:
        raise InputError(
            file=str(day.folder / (run.written.recording or "")),
            place=f"run {run.number}",
            found="the recording has no power",
            expected="power, or `power_w` in the test day",
        )
    start_s, end_s = found.times_s[0], found.times_s[-1]
    from_m, to_m = (_distance_at_m(recording, t) for t in (start_s, end_s))
    # The wheel's distance and the course's differ by a percent: gates agree, all between follows.
    stretch = (to_m - from_m) / run.road.length_m
    repairs = tuple(repair.text for repair in recording.repairs)
    pieces: tuple[Stretch, ...] = ()
    if run.written.kind == "free":
        pieces = clean_stretches(recording, start_s=start_s, end_s=end_s)
        bounds = _free_bounds(recording, pieces, from_m, stretch)
    else:
        bounds = [(0.0, run.road.length_m)]
    legs = tuple(
        _recorded_leg(run, recording, bound, from_m, stretch, len(bounds)) for bound in bounds
    )
    if not legs:
        raise InputError(
            file=str(day.folder / (run.written.recording or "")),
            place=f"run {run.number}",
            found="no stretch without stop, braking or missing power",
            expected="a ride with stretches of 400 m that can be used",
        )
    told = tuple(
        Stretch(start_s=p.start_s - start_s, end_s=p.end_s - start_s, reason=p.reason)
        for p in pieces
    )
    # Stops of a free ride are left out stretch by stretch: they are no doubt about the rest.
    doubts = tuple(d for d in found.doubts if run.written.kind != "free" or "stray" in d)
    return RunReading(run=run, legs=legs, doubts=doubts, stretches=told, repairs=repairs)


def _pass_of(run: TestRun, recording: Recording, day: TestDay) -> Pass:
    road_lats, road_lons = road_points(run.road)
    passes = find_passes(
        recording,
        gate_lines(run.road, np.array([0.0, run.road.length_m]), back=run.written.back),
        road_lats_deg=road_lats,
        road_lons_deg=road_lons,
    )
    wanted = run.written.pass_number
    if wanted > len(passes):
        raise InputError(
            file=str(day.folder / (run.written.recording or "")),
            place=f"run {run.number}",
            found=f"{len(passes)} passes through the gates of {run.road.name}",
            expected=f"pass number {wanted}",
            mend="check the gates, the direction (`back`) and `pass_number`",
        )
    return passes[wanted - 1]


def _distance_at_m(recording: Recording, time_s: float) -> float:
    known = np.isfinite(recording.distances_m)
    times, speeds = recording.times_s[known], recording.speeds_mps[known]
    places = recording.distances_m[known]
    i = int(np.clip(np.searchsorted(times, time_s) - 1, 0, len(times) - 2))
    gap_s = times[i + 1] - times[i]
    share = (time_s - times[i]) / gap_s
    # As in the search for crossings: the speed changes evenly between samples.
    mean = speeds[i] + 0.5 * share * (speeds[i + 1] - speeds[i])
    whole = 0.5 * (speeds[i] + speeds[i + 1])
    part = share * mean / whole if whole > 0.0 else share
    return float(places[i] + part * (places[i + 1] - places[i]))


def _free_bounds(
    recording: Recording, pieces: tuple[Stretch, ...], from_m: float, stretch: float
) -> list[tuple[float, float]]:
    """Places (m from the first gate) between which a free ride can be used."""
    bounds = []
    for piece in pieces:
        if piece.reason:
            continue
        a, b = (
            (_distance_at_m(recording, t) - from_m) / stretch for t in (piece.start_s, piece.end_s)
        )
        n = int((b - a) // FREE_LEG_M)
        cuts = np.linspace(a, b, n + 1) if n else np.empty(0)
        bounds += [(float(x), float(y)) for x, y in pairwise(cuts)]
    return bounds


def _recorded_leg(
    run: TestRun,
    recording: Recording,
    bound: tuple[float, float],
    from_m: float,
    stretch: float,
    n_legs: int,
) -> Leg:
    start_m, end_m = bound
    length_m = end_m - start_m
    has_trace = not run.is_powered and recording.speed_source == "device"
    marks_m = even_marks_m(length_m, every_m=50.0, most=10 if has_trace else 1)
    cut = cut_road(run.road, marks_m, start_m=start_m, back=run.written.back)
    moments = [
        crossing_of_distance(recording, from_m + stretch * (start_m + place_m))
        for place_m in (0.0, *marks_m)
    ]
    times_s = np.array(moments[1:]) - moments[0]
    speed_mps = float(np.interp(moments[0], recording.times_s, recording.speeds_mps))
    if recording.speed_source == "positions":
        start = Uncertain(speed_mps, 5.0 * SPEED_SD_MPS)
    else:
        start = Uncertain(speed_mps, SPEED_SD_MPS)
    sd_s = run.written.timing_sd_s or POSITION_SD_M / max(length_m / times_s[-1], 1.0)
    if n_legs > 1 and recording.speed_source == "device":
        # Ends of pieces in a ride are places on the wheel's own distance, not positions.
        sd_s = run.written.timing_sd_s or STOPWATCH_SD_S
    ends_s = moments[0] + _node_times_s(recording, cut, start_m, from_m, stretch, moments)
    powers_w = segment_powers_w(recording, ends_s)
    if not recording.has_power:
        powers_w = np.full(cut.course.n_segments, run.written.power_w or 0.0)
    if not run.is_powered:
        powers_w = np.zeros(cut.course.n_segments)
    km = f", km {start_m / 1000.0:.2f} to {end_m / 1000.0:.2f}" if n_legs > 1 else ""
    return Leg(
        name=run.name + km,
        run=run,
        cut=cut,
        powers_w=powers_w,
        times_s=times_s,
        stop_m=None,
        start=start,
        timing_sd_s=sd_s,
        run_up_mps=start.value,
    )


def _node_times_s(
    recording: Recording,
    cut: Cut,
    start_m: float,
    from_m: float,
    stretch: float,
    moments: list[float],
) -> FloatArray:
    """When each node of the piece was passed, in s since its start."""
    places = cut.course.node_distances_m - cut.course.node_distances_m[cut.first]
    at_m = from_m + stretch * (start_m + places)
    known = np.flatnonzero(np.isfinite(recording.distances_m))
    distances, first = np.unique(recording.distances_m[known], return_index=True)
    times = np.interp(at_m, distances, recording.times_s[known][first])
    return np.asarray(np.clip(times, moments[0], moments[-1]) - moments[0])


def segment_powers_w(recording: Recording, node_times_s: FloatArray) -> FloatArray:
    """Mean recorded power between moments (s since the first sample): (n - 1,) array."""
    times, powers = recording.times_s, np.nan_to_num(recording.powers_w)
    # Work done up to each sample; a sample's power holds until the next one.
    work_j = np.concatenate(([0.0], np.cumsum(powers[:-1] * np.diff(times))))
    at_nodes = np.interp(node_times_s, times, work_j)
    spans_s = np.diff(node_times_s)
    means = np.diff(at_nodes) / np.maximum(spans_s, 1.0e-9)
    return np.asarray(np.where(spans_s > 1.0e-6, means, 0.0))
