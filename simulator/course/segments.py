"""One lap cut into segments: long on straights, short where speed may change with the corners."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simulator.course.corners import Bend, is_near, radii_of_segments_m
from simulator.course.course import FloatArray
from simulator.course.line import Line, positions_at
from simulator.course.profile import Profile
from simulator.course.zones import Exposure, Zone, exposure_arrays, stretches_of_zones

COARSE_STEP_M = 5.0
FINE_STEP_M = 1.0
# Nodes closer than this are one.
_SAME_NODE_M = 0.05
# How long the approach to a corner is cut finely. Not a speed limit: only a guess, on the safe
# side, of where one may have to brake (fast descents reach 90 km/h, braking 3 m/s², 0.5 g
# sideways).
_APPROACH_LIMITS_MPS = (7.0, 25.0)
_APPROACH_FLAT_MPS = 15.0
_APPROACH_PER_GRADE_MPS = 125.0
_APPROACH_BRAKING_MPS2 = 3.0
_CORNER_SIDEWAYS_MPS2 = 5.0
_BEHIND_M = 10.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lap:
    """Nodes and segments of one lap; ``runs_m`` are horizontal distances from the start line."""

    runs_m: FloatArray
    heights_m: FloatArray
    lats_deg: FloatArray
    lons_deg: FloatArray
    headings_rad: FloatArray
    radii_m: FloatArray
    shelters: FloatArray
    roughnesses_m: FloatArray
    crr_factors: FloatArray
    grip_factors: FloatArray


def cut_lap(
    *,
    line: Line,
    raw_points_m: FloatArray,
    lats_deg: FloatArray,
    lons_deg: FloatArray,
    profile: Profile,
    bends: list[Bend],
    zones: tuple[Zone, ...],
    exposure: Exposure,
    lap_m: float,
    is_closed: bool,
    finish_m: float,
    neutral_m: float,
) -> Lap:
    """Cut one lap into segments.

    Parameters
    ----------
    line : Line
        Places count from the start line.
    raw_points_m, lats_deg, lons_deg : (n,) arrays
        The points that the line was smoothed from.
    profile : Profile
    bends : list of Bend
    zones : tuple of Zone
    exposure : Exposure
        What holds outside all zones.
    lap_m : float
    is_closed : bool
    finish_m, neutral_m : float
        Places that need a node: the finish in the last lap and the end of the roll-out.

    Returns
    -------
    Lap
    """
    inside = (line.places_m > 0.0) & (line.places_m < lap_m)
    fine_places = np.concatenate(([0.0], line.places_m[inside], [lap_m]))
    stretches = stretches_of_zones(
        zones, *positions_at(line, raw_points_m, lats_deg, lons_deg, fine_places), fine_places
    )
    firm = [finish_m, neutral_m % lap_m]
    firm += [place for stretch in stretches for place in (stretch.start_m, stretch.end_m)]
    firm += [place for start, end, _, _ in profile.fixes for place in (start, end)]
    starts, ends = _fine_stretches(bends, profile, lap_m)
    for bend in bends:
        firm += [bend.line_start_m, bend.apex_m, bend.line_end_m]
    firm += [*starts, *ends]
    if is_closed:
        firm = [place % lap_m for place in firm]
        starts = np.concatenate([starts - lap_m, starts, starts + lap_m])
        ends = np.concatenate([ends - lap_m, ends, ends + lap_m])
    runs = _nodes(np.array(firm), starts, ends, lap_m)
    middles = 0.5 * (runs[:-1] + runs[1:])
    heights = profile.at(runs)
    if is_closed:
        heights[-1] = heights[0]
    lats, lons = positions_at(line, raw_points_m, lats_deg, lons_deg, runs)
    shelters, roughnesses, crr, grip = exposure_arrays(middles, stretches, exposure)
    return Lap(
        runs_m=runs,
        heights_m=heights,
        lats_deg=lats,
        lons_deg=lons,
        headings_rad=np.interp(middles, line.places_m, line.headings_rad) % (2.0 * np.pi),
        radii_m=radii_of_segments_m(middles, bends, lap_m=lap_m, is_closed=is_closed),
        shelters=shelters,
        roughnesses_m=roughnesses,
        crr_factors=crr,
        grip_factors=grip,
    )


def _fine_stretches(
    bends: list[Bend], profile: Profile, lap_m: float
) -> tuple[FloatArray, FloatArray]:
    """Where segments are short: each corner with its braking zone."""
    if not bends:
        return np.empty(0), np.empty(0)
    line_starts = np.array([bend.line_start_m for bend in bends])
    line_ends = np.array([bend.line_end_m for bend in bends])
    radii = np.array([bend.line_radius_m for bend in bends])
    before = np.clip(line_starts - 100.0, 0.0, lap_m)
    here = np.clip(line_starts, 0.0, lap_m)
    grades = (profile.at(here) - profile.at(before)) / np.maximum(here - before, 1.0)
    approach = np.clip(_APPROACH_FLAT_MPS - _APPROACH_PER_GRADE_MPS * grades, *_APPROACH_LIMITS_MPS)
    excess = np.maximum(approach**2 - _CORNER_SIDEWAYS_MPS2 * radii, 0.0)
    zone = _BEHIND_M + excess / (2.0 * _APPROACH_BRAKING_MPS2)
    return line_starts - zone, line_ends + _BEHIND_M


def _nodes(firm: FloatArray, starts: FloatArray, ends: FloatArray, lap_m: float) -> FloatArray:
    """Places of the nodes: all firm ones, and even steps between them."""
    firm = np.unique(firm[(firm > _SAME_NODE_M) & (firm < lap_m - _SAME_NODE_M)])
    if len(firm):
        firm = firm[np.concatenate(([True], np.diff(firm) > _SAME_NODE_M))]
    bounds = np.concatenate(([0.0], firm, [lap_m]))
    widths = np.diff(bounds)
    is_fine = is_near(0.5 * (bounds[:-1] + bounds[1:]), starts, ends)
    counts = np.ceil(widths / np.where(is_fine, FINE_STEP_M, COARSE_STEP_M) - 1e-9).astype(int)
    counts = np.maximum(counts, 1)
    which = np.repeat(np.arange(len(widths)), counts)
    within = np.arange(len(which)) - np.repeat(np.cumsum(counts) - counts, counts)
    nodes = bounds[which] + widths[which] * within / counts[which]
    return np.append(nodes, lap_m)
