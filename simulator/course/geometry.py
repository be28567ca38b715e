"""The earth's shape at the scale of a road: lengths, headings, a local plane.

WGS84 throughout. A leg's length comes from the two radii of curvature at its middle latitude:
``M`` along the meridian and ``N`` across it. For legs of road length (metres to a few hundred
metres) that differs from the geodesic by a few parts in 10⁹ (checked against an independent
solution of the geodesic in ``tests/published/test_geodesy.py``).
"""

from __future__ import annotations

import numpy as np

from simulator.course.course import FloatArray

# WGS84 defining constants: NGA.STND.0036 (semi-major axis, flattening).
SEMI_MAJOR_AXIS_M = 6_378_137.0
FLATTENING = 1.0 / 298.257223563
_E2 = FLATTENING * (2.0 - FLATTENING)


def radii_of_curvature_m(lats_deg: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Radii of curvature of the ellipsoid along (M) and across (N) the meridian.

    Parameters
    ----------
    lats_deg : array
        Geodetic latitudes.

    Returns
    -------
    meridian_m, across_m : arrays
        M and N in metres.
    """
    sin_lat = np.sin(np.radians(lats_deg))
    w2 = 1.0 - _E2 * sin_lat**2
    across_m = SEMI_MAJOR_AXIS_M / np.sqrt(w2)
    return across_m * (1.0 - _E2) / w2, across_m


def leg_components_m(lats_deg: FloatArray, lons_deg: FloatArray) -> tuple[FloatArray, FloatArray]:
    """East and north part of each leg between consecutive points.

    Parameters
    ----------
    lats_deg, lons_deg : (n,) arrays
        Positions. Legs over the 180th meridian are taken the short way.

    Returns
    -------
    easts_m, norths_m : (n - 1,) arrays
    """
    d_lat = np.diff(lats_deg)
    d_lon = (np.diff(lons_deg) + 180.0) % 360.0 - 180.0
    mid_deg = lats_deg[:-1] + 0.5 * d_lat
    meridian_m, across_m = radii_of_curvature_m(mid_deg)
    return (
        across_m * np.cos(np.radians(mid_deg)) * np.radians(d_lon),
        meridian_m * np.radians(d_lat),
    )


def leg_lengths_m(lats_deg: FloatArray, lons_deg: FloatArray) -> FloatArray:
    """Horizontal length of each leg between consecutive points, in metres."""
    easts_m, norths_m = leg_components_m(lats_deg, lons_deg)
    return np.hypot(easts_m, norths_m)


def leg_headings_rad(lats_deg: FloatArray, lons_deg: FloatArray) -> FloatArray:
    """Direction of each leg, clockwise from true north, in [0, 2π)."""
    easts_m, norths_m = leg_components_m(lats_deg, lons_deg)
    return np.arctan2(easts_m, norths_m) % (2.0 * np.pi)


def cumulative(steps: FloatArray) -> FloatArray:
    """Running sum that starts at 0: one entry longer than `steps`."""
    return np.concatenate(([0.0], np.cumsum(steps)))


def plane_positions_m(
    lats_deg: FloatArray, lons_deg: FloatArray, *, lat0_deg: float, lon0_deg: float
) -> tuple[FloatArray, FloatArray]:
    """Positions in the plane that touches the ellipsoid at an origin (orthographic).

    Parameters
    ----------
    lats_deg, lons_deg : (n,) arrays
    lat0_deg, lon0_deg : float
        Origin.

    Returns
    -------
    easts_m, norths_m : (n,) arrays
        True to scale at the origin; short by d²/2R² at distance d (1.2e-4 at 100 km). Used for
        plans and pictures; lengths and headings come from the legs themselves.
    """
    lat, lat0 = np.radians(lats_deg), np.radians(lat0_deg)
    d_lon = np.radians((lons_deg - lon0_deg + 180.0) % 360.0 - 180.0)
    _, across_m = radii_of_curvature_m(np.asarray(lats_deg, dtype=np.float64))
    _, across0_m = radii_of_curvature_m(np.asarray(lat0_deg, dtype=np.float64))
    easts_m = across_m * np.cos(lat) * np.sin(d_lon)
    norths_m = across_m * (
        np.sin(lat) * np.cos(lat0) * (1.0 - _E2) - np.cos(lat) * np.sin(lat0) * np.cos(d_lon)
    ) + _E2 * across0_m * np.sin(lat0) * np.cos(lat0)
    return easts_m, norths_m


def shifted_positions_deg(
    lats_deg: FloatArray, lons_deg: FloatArray, easts_m: FloatArray, norths_m: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Positions moved by a few metres east and north."""
    meridian_m, across_m = radii_of_curvature_m(lats_deg)
    cos_lat = np.cos(np.radians(lats_deg))
    return (
        lats_deg + np.degrees(norths_m / meridian_m),
        lons_deg + np.degrees(easts_m / (across_m * cos_lat)),
    )
