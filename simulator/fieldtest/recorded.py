"""Recorded runs -> legs: their passes through the gates, and what is doubtful about them."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from simulator.errors import InputError
from simulator.fieldtest.legs import (
    SPEED_SD_MPS,
    STOPWATCH_SD_S,
    Leg,
    RunReading,
    written_leg,
)
from simulator.fieldtest.roads import (
    Cut,
    FloatArray,
    cut_road,
    even_marks_m,
    gate_lines,
    road_points,
)
from simulator.fieldtest.testday import TestDay, TestRun
from simulator.measures import Measures, Phrase, amount
from simulator.recordings import (
    Pass,
    Recording,
    Stretch,
    clean_stretches,
    crossing_of_distance,
    find_passes,
    read_recording,
)
from simulator.setup import Uncertain

POSITION_SD_M = 1.5
"""How far along the road a position of a hand-size receiver is off from second to second, once
errors that last are taken out by riding the same road: common practice, no source."""

FREE_LEG_M = 400.0
"""Length of the pieces into which a free ride is cut."""

LENGTH_AGREES = 0.03
"""Wheel and road agree on the way between the gates to this share, else another way was ridden
(a wheel's circumference is known to one percent: common practice, no source)."""

COASTING_W = 5.0
"""More than this on average is no coasting; less may be the meter's zero."""

POWER_AGREES = 0.05


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
            readings.append(RunReading(run=run, legs=(written_leg(run, day),)))
            continue
        if name not in recordings:
            recordings[name] = read_recording(day.folder / name)
        readings.append(_recorded_run(run, recordings[name], day))
    return tuple(readings)


def _wrong(run: TestRun, day: TestDay, found: str, expected: str, mend: str = "") -> InputError:
    return InputError(
        file=str(day.folder / (run.written.recording or "")),
        place=f"run {run.number}",
        found=found,
        expected=expected,
        mend=mend,
    )


def _recorded_run(run: TestRun, recording: Recording, day: TestDay) -> RunReading:
    passes = _passes_of(run, recording, day)
    found = passes[run.written.pass_number - 1]
    if not recording.has_power and run.is_powered and run.written.power_w is None:
        raise _wrong(
            run,
            day,
            "the recording has no power",
            "power, or `power_w` in the test day",
            mend="`buildgap check FILE` tells which columns of it were not understood",
        )
    if recording.has_power and run.is_powered and not found.mean_power_w > 0.0:
        raise _wrong(
            run,
            day,
            "the meter shows no power between the gates",
            "a pedalled run with power",
            mend="if it was coasted, its kind is `coast` or `roll-down`",
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
        raise _wrong(
            run,
            day,
            "no stretch without stop, braking or missing power",
            "a ride with stretches of 400 m that can be used",
        )
    told = tuple(
        Stretch(start_s=p.start_s - start_s, end_s=p.end_s - start_s, reason=p.reason)
        for p in pieces
    )
    # Stops of a free ride are left out stretch by stretch: they are no doubt about the rest.
    doubts = tuple(d for d in found.doubts if run.written.kind != "free" or "stray" in d)
    return RunReading(
        run=run,
        legs=legs,
        doubts=(*doubts, *_own_doubts(run, found, stretch)),
        stretches=told,
        repairs=repairs,
        passes=passes,
    )


def _own_doubts(run: TestRun, found: Pass, stretch: float) -> list[str]:
    """What the recording says against what was noted; `stretch` is wheel over road."""
    doubts: list[str] = []
    if abs(stretch - 1.0) > LENGTH_AGREES:
        doubts.append(
            Phrase(
                "the wheel measured {way} between the gates of a road of {length}: another way, "
                "or a wrong wheel size",
                way=amount(Measures.distance, stretch * run.road.length_m, 2),
                length=amount(Measures.distance, run.road.length_m, 2),
            )
        )
    power_w, noted_w = found.mean_power_w, run.written.power_w
    if not run.is_powered and power_w > COASTING_W:
        doubts.append(f"the meter shows {power_w:.0f} W on average though the run was not pedalled")
    if run.is_powered and noted_w is not None and abs(power_w - noted_w) > POWER_AGREES * noted_w:
        doubts.append(
            f"the meter shows {power_w:.0f} W on average, {noted_w:.0f} W were noted; what the "
            "meter shows was taken"
        )
    return doubts


def _passes_of(run: TestRun, recording: Recording, day: TestDay) -> tuple[Pass, ...]:
    """All passes through the run's gates; the one that is meant is among them."""
    if run.road.gates is None and not run.road.is_placed:
        raise InputError(
            file=day.file,
            place=f"run {run.number}",
            found=f"a recording on {run.road.name}, which has no place on the map",
            expected="a road with `course`, or with `first_gate` and `last_gate` as points",
        )
    if not np.isfinite(recording.lats_deg).any():
        raise _wrong(
            run,
            day,
            "the recording has no positions",
            "positions, to find when it crosses the gates",
            mend="write `time_s` and `power_w` for this run instead of `recording`",
        )
    road_lats, road_lons = road_points(run.road)
    passes = find_passes(
        recording,
        gate_lines(run.road, back=run.written.back),
        road_lats_deg=road_lats,
        road_lons_deg=road_lons,
    )
    if run.written.pass_number > len(passes):
        raise _wrong(
            run,
            day,
            f"{len(passes)} passes through the gates of {run.road.name}",
            f"pass number {run.written.pass_number}",
            mend="check the gates, the direction (`back`) and `pass_number`",
        )
    return passes


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
    name: str = run.name
    if n_legs > 1:
        name = Phrase(
            "{number} {build}, {start} to {end}",
            number=str(run.number),
            build=run.build.name,
            start=amount(Measures.place, start_m, 2),
            end=amount(Measures.distance_number, end_m, 2),
        )
    return Leg(
        name=name,
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
