"""Distances between nearby points on a sphere.

A sphere is enough here: what counts are ratios of a few metres around a gate, and lengths from
positions whose noise is far larger than the 0.3 % between sphere and ellipsoid. Courses, whose
lengths matter, are measured on the ellipsoid in the course room.
"""

from __future__ import annotations

import numpy as np

from simulator.recordings.recording import FloatArray

MEAN_RADIUS_M = 6_371_008.8
"""Mean radius of the earth (IUGG), (2 a + b) / 3 of WGS84."""


def plane_m(
    lats_deg: FloatArray, lons_deg: FloatArray, *, lat0_deg: float, lon0_deg: float
) -> tuple[FloatArray, FloatArray]:
    """East and north of an origin, in m, for points within a few kilometres."""
    turn_deg = (np.asarray(lons_deg) - lon0_deg + 180.0) % 360.0 - 180.0
    easts_m = MEAN_RADIUS_M * np.radians(turn_deg) * np.cos(np.radians(lat0_deg))
    norths_m = MEAN_RADIUS_M * np.radians(np.asarray(lats_deg) - lat0_deg)
    return easts_m, norths_m


def steps_m(lats_deg: FloatArray, lons_deg: FloatArray) -> FloatArray:
    """Length between each point and the next, in m: (n - 1,) array; NaN beside a missing one."""
    middle_rad = np.radians(0.5 * (lats_deg[1:] + lats_deg[:-1]))
    turns_deg = (np.diff(lons_deg) + 180.0) % 360.0 - 180.0
    easts_m = np.radians(turns_deg) * np.cos(middle_rad)
    return np.asarray(MEAN_RADIUS_M * np.hypot(easts_m, np.radians(np.diff(lats_deg))))
