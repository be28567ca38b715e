"""A lap -> the whole ride: laps one after another, cut at roll-out and finish, with names."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np

from simulator.course.corners import Bend, bend_name
from simulator.course.course import Corner, Course, Feature, Finding, FloatArray, Gate
from simulator.course.features import find_features
from simulator.course.geometry import cumulative, plane_positions_m
from simulator.course.laps import lap_starts_in_track
from simulator.course.line import Line
from simulator.course.noise import HeightNoise
from simulator.course.quality import profile_findings
from simulator.course.segments import Lap
from simulator.course.settings import CourseFile
from simulator.errors import InputError
from simulator.measures import Measures, Phrase, amount

_LAP_NODE_NAMES = ("lats_deg", "lons_deg", "heights_m")
_LAP_SEGMENT_NAMES = (
    "headings_rad",
    "radii_m",
    "shelters",
    "roughnesses_m",
    "crr_factors",
    "grip_factors",
)


def unrolled(
    lap: Lap,
    bends: list[Bend],
    settings: CourseFile,
    *,
    line: Line,
    finish_m: float,
    is_closed: bool,
    findings: list[Finding],
    file: str,
    height_source: str,
    noise: HeightNoise,
    source: str,
) -> Course:
    """Ride the laps one after another.

    Parameters
    ----------
    lap : Lap
    bends : list of Bend
        Of one lap.
    settings : CourseFile
    line : Line
        Places count from the start line.
    finish_m : float
        Where in the last lap the ride ends.
    is_closed : bool
    findings : list of Finding
        So far.
    file, source : str
        File as the user named it.
    height_source : str
    noise : HeightNoise
        As used for smoothing.

    Returns
    -------
    Course

    Raises
    ------
    InputError
        If the roll-out is longer than the ride, or a gate lies outside it.
    """
    lap_m = float(lap.runs_m[-1])
    n_laps = settings.laps
    first_m = 1000.0 * settings.neutral_km
    last_m = (n_laps - 1) * lap_m + finish_m
    if first_m > last_m - 10.0:
        raise InputError(
            file=file,
            place="key `neutral_km`",
            found=f"a roll-out of {settings.neutral_km:g} km",
            expected=f"less than the whole ride of {last_m / 1000:.3f} km",
        )
    runs = np.concatenate([[0.0], *(k * lap_m + lap.runs_m[1:] for k in range(n_laps))])
    i_first, i_last = (int(np.argmin(np.abs(runs - place))) for place in (first_m, last_m))
    nodes = slice(i_first, i_last + 1)
    runs = runs[nodes] - runs[i_first]
    node = {
        name: np.concatenate([getattr(lap, name)[:1], *([getattr(lap, name)[1:]] * n_laps)])[nodes]
        for name in _LAP_NODE_NAMES
    }
    segment = {
        name: np.tile(getattr(lap, name), n_laps)[i_first:i_last] for name in _LAP_SEGMENT_NAMES
    }
    # By lap, so that laps repeat each other to the last bit.
    lap_steps, lap_rises = np.diff(lap.runs_m), np.diff(lap.heights_m)
    lengths = np.tile(np.hypot(lap_steps, lap_rises), n_laps)[i_first:i_last]
    grades = np.tile(lap_rises / lap_steps, n_laps)[i_first:i_last]
    places = cumulative(lengths)

    if n_laps > 1:
        laps_run = np.array([k * lap_m - first_m for k in range(n_laps)])
        laps_run = np.append(np.maximum(laps_run[laps_run < runs[-1] - 1.0], 0.0), runs[-1])
        laps_run = np.unique(laps_run)
    else:
        laps_run = _laps_in_track(line, lap_m, first_m, float(runs[-1]))
        if len(laps_run) > 2:
            text = Phrase(
                f"the track itself holds {len(laps_run) - 1} laps of about {{lap}}",
                lap=amount(Measures.distance, float(np.median(np.diff(laps_run))), 2),
            )
            findings = [*findings, Finding(level="note", text=text)]
    i_laps = np.searchsorted(runs, laps_run - 0.5 * lap_steps.min())
    i_laps[-1] = len(runs) - 1
    lap_starts = places[i_laps]

    easts, norths = plane_positions_m(
        node["lats_deg"],
        node["lons_deg"],
        lat0_deg=float(node["lats_deg"][0]),
        lon0_deg=float(node["lons_deg"][0]),
    )
    features: list[Feature] = []
    for number, (a, b) in enumerate(pairwise(i_laps), start=1):
        part = slice(int(a), int(b) + 1)
        features += find_features(places[part], runs[part], node["heights_m"][part], lap=number)
    findings = [*findings, *profile_findings(places, runs, node["heights_m"])]
    return Course(
        name=settings.name,
        node_distances_m=places,
        node_heights_m=node["heights_m"],
        node_easts_m=easts,
        node_norths_m=norths,
        node_lats_deg=node["lats_deg"],
        node_lons_deg=(node["lons_deg"] + 180.0) % 360.0 - 180.0,
        lengths_m=lengths,
        grades=grades,
        lap_starts_m=lap_starts,
        is_closed=is_closed,
        start=settings.start,
        corners=_corners(bends, runs, places, lap_m, first_m, n_laps, lap_starts),
        features=_labelled(features, settings, file, float(lap_starts[1])),
        findings=tuple(findings),
        height_source=height_source,
        source=source,
        restarts_m=_restarts_m(settings, runs, places, lap_m, first_m, file),
        gates=_gates(settings, float(places[-1]), file),
        height_noise_m=noise.sd_m,
        height_reach_m=noise.reach_m,
        position_noise_m=line.sd_m,
        **segment,
    )


def _laps_in_track(line: Line, lap_m: float, first_m: float, end_m: float) -> FloatArray:
    """Starts of the laps that a long recording holds, and its end."""
    inside = (line.places_m >= first_m) & (line.places_m <= lap_m)
    if inside.sum() < 3 or first_m > 0.0:
        return np.array([0.0, end_m])
    starts = lap_starts_in_track(
        line.easts_m[inside],
        line.norths_m[inside],
        line.headings_rad[inside],
        line.places_m[inside] - line.places_m[inside][0],
    )
    starts[-1] = end_m
    return starts


def _corners(
    bends: list[Bend],
    runs: FloatArray,
    places: FloatArray,
    lap_m: float,
    first_m: float,
    n_laps: int,
    lap_starts: FloatArray,
) -> tuple[Corner, ...]:
    corners = []
    for k in range(n_laps):
        for number, bend in enumerate(bends, start=1):
            spots = np.array([bend.line_start_m, bend.apex_m, bend.line_end_m])
            spots += k * lap_m - first_m
            if not 0.0 <= spots[1] <= runs[-1]:
                continue
            start, apex, end = np.interp(spots, runs, places)
            corners.append(
                Corner(
                    number=number,
                    name=bend.name or bend_name(bend),
                    start_m=float(start),
                    apex_m=float(apex),
                    end_m=float(end),
                    radius_m=bend.line_radius_m,
                    turn_rad=bend.turn_rad,
                    lap=max(1, int(np.searchsorted(lap_starts[:-1], apex, side="right"))),
                )
            )
    return tuple(corners)


def _labelled(
    features: list[Feature], settings: CourseFile, file: str, lap_m: float
) -> tuple[Feature, ...]:
    """Features with the user's names; a label names the same stretch in every lap."""
    named = list(features)
    for number, label in enumerate(settings.label, start=1):
        place = 1000.0 * label.at_km
        if place > lap_m:
            raise InputError(
                file=file,
                place=f"[[label]] number {number}",
                found=f"at_km = {label.at_km:g}",
                expected=f"a place within the lap of {lap_m / 1000:.3f} km",
            )
        hit = next(f for f in features if f.lap == 1 and f.start_m <= place <= f.end_m)
        for i_feature, feature in enumerate(features):
            if feature.name == hit.name:
                named[i_feature] = replace(feature, name=label.name)
    return tuple(named)


def _restarts_m(
    settings: CourseFile,
    runs: FloatArray,
    places: FloatArray,
    lap_m: float,
    first_m: float,
    file: str,
) -> tuple[float, ...]:
    """Where the rider must stop, in every lap, along the whole ride."""
    found = []
    for number, restart in enumerate(settings.restart, start=1):
        in_lap_m = 1000.0 * restart.at_km + first_m
        if in_lap_m >= lap_m:
            raise InputError(
                file=file,
                place=f"[[restart]] number {number}",
                found=f"at_km = {restart.at_km:g}",
                expected=f"a place within the lap of {lap_m / 1000:.3f} km",
            )
        spots = in_lap_m + lap_m * np.arange(settings.laps) - first_m
        spots = spots[(spots > 0.0) & (spots < runs[-1])]
        found += np.interp(spots, runs, places).tolist()
    return tuple(sorted(found))


def _gates(settings: CourseFile, distance_m: float, file: str) -> tuple[Gate, ...]:
    gates = sorted(settings.gate, key=lambda gate: gate.at_km)
    for gate in gates:
        if 1000.0 * gate.at_km > distance_m:
            raise InputError(
                file=file,
                place=f"[[gate]] {gate.name}",
                found=f"at_km = {gate.at_km:g}",
                expected=f"a place within {distance_m / 1000:.3f} km",
            )
    return tuple(Gate(name=gate.name, distance_m=1000.0 * gate.at_km) for gate in gates)
