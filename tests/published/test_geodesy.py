"""Lengths and headings against geodesics solved independently (Karney's algorithm) and published.

Sources: geographiclib (Karney 2013); Geoscience Australia's test line as quoted in CHECKS of the
project: Flinders Peak to Buninyong 54972.271 m on GRS80, azimuth 306° 52' 05.37"; Land's End to
John o'Groats 969954.166 m on WGS84 (public library test).
"""

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from simulator.course.geometry import (
    leg_components_m,
    leg_headings_rad,
    leg_lengths_m,
    plane_positions_m,
    radii_of_curvature_m,
)

ONE_MILLIMETRE = 1e-3
FIVE_PARTS_IN_1E9 = 5e-9


def along_geodesic(lat1, lon1, lat2, lon2, n_legs):
    """Points on the geodesic between two places, n_legs + 1 of them."""
    line = Geodesic.WGS84.InverseLine(lat1, lon1, lat2, lon2)
    points = [line.Position(line.s13 * k / n_legs) for k in range(n_legs + 1)]
    return np.array([p["lat2"] for p in points]), np.array([p["lon2"] for p in points])


def test_flinders_peak_to_buninyong():
    lat1 = -(37 + 57 / 60 + 3.72030 / 3600)
    lon1 = 144 + 25 / 60 + 29.52440 / 3600
    lat2 = -(37 + 39 / 60 + 10.15610 / 3600)
    lon2 = 143 + 55 / 60 + 35.38390 / 3600
    lats, lons = along_geodesic(lat1, lon1, lat2, lon2, 550)
    # GRS80 and WGS84 differ by 1e-10 in flattening: nothing at this length.
    assert leg_lengths_m(lats, lons).sum() == pytest.approx(54972.271, abs=ONE_MILLIMETRE)
    first_heading = np.degrees(leg_headings_rad(lats, lons)[0])
    assert first_heading == pytest.approx(306 + 52 / 60 + 5.37 / 3600, abs=0.001)


def test_lands_end_to_john_o_groats():
    lats, lons = along_geodesic(50.06632, -5.71475, 58.64402, -3.07009, 9700)
    assert leg_lengths_m(lats, lons).sum() == pytest.approx(969954.166, abs=0.005)


@pytest.mark.parametrize(("lat_from", "expected_m"), [(0.0, 110574.3886), (45.0, 111141.5485)])
def test_degree_of_latitude(lat_from, expected_m):
    lats = np.linspace(lat_from, lat_from + 1.0, 1112)
    assert leg_lengths_m(lats, np.zeros_like(lats)).sum() == pytest.approx(
        expected_m, abs=ONE_MILLIMETRE
    )


@pytest.mark.parametrize(("lat", "expected_m"), [(0.0, 111319.4908), (45.0, 78846.3347)])
def test_degree_of_longitude(lat, expected_m):
    # Along the geodesic; the parallel at 45° is half a metre longer.
    lats, lons = along_geodesic(lat, 10.0, lat, 11.0, 1112)
    assert leg_lengths_m(lats, lons).sum() == pytest.approx(expected_m, abs=ONE_MILLIMETRE)


@pytest.mark.parametrize("leg_m", [1.0, 10.0, 100.0, 300.0])
def test_random_legs_agree_with_the_geodesic(leg_m):
    rng = np.random.default_rng(7)
    for _ in range(60):
        lat, lon = rng.uniform(-75.0, 75.0), rng.uniform(-180.0, 180.0)
        end = Geodesic.WGS84.Direct(lat, lon, rng.uniform(0.0, 360.0), leg_m)
        lats, lons = np.array([lat, end["lat2"]]), np.array([lon, end["lon2"]])
        length = leg_lengths_m(lats, lons)[0]
        # Coordinates in double precision are themselves rounded by a nanometre or so.
        assert length == pytest.approx(leg_m, rel=FIVE_PARTS_IN_1E9, abs=1e-8)


def test_a_leg_over_the_date_line_goes_the_short_way():
    east, _ = leg_components_m(np.array([10.0, 10.0]), np.array([179.9999, -179.9999]))
    expected = Geodesic.WGS84.Inverse(10.0, 179.9999, 10.0, -179.9999)["s12"]
    assert east[0] == pytest.approx(expected, rel=1e-8)


@pytest.mark.parametrize(
    ("azimuth", "name"), [(0.0, "north"), (90.0, "east"), (180.0, "south"), (270.0, "west")]
)
def test_headings_are_clockwise_from_north(azimuth, name):
    end = Geodesic.WGS84.Direct(44.5, -35.5, azimuth, 50.0)
    heading = leg_headings_rad(np.array([44.5, end["lat2"]]), np.array([-35.5, end["lon2"]]))[0]
    assert np.cos(heading - np.radians(azimuth)) == pytest.approx(1.0, abs=1e-10), name


def test_the_plane_is_true_near_its_origin():
    for azimuth in (13.0, 97.0, 201.0, 333.0):
        end = Geodesic.WGS84.Direct(44.5, -35.5, azimuth, 5000.0)
        east, north = plane_positions_m(
            np.array([end["lat2"]]), np.array([end["lon2"]]), lat0_deg=44.5, lon0_deg=-35.5
        )
        # 5 km out an orthographic plane is short by d³/6R² = 0.5 mm.
        assert np.hypot(east, north)[0] == pytest.approx(5000.0, abs=2 * ONE_MILLIMETRE)
        assert np.degrees(np.arctan2(east, north))[0] % 360.0 == pytest.approx(azimuth, abs=1e-3)


def test_radii_at_pole_and_equator():
    # Closed forms: a(1 - e²) and a at the equator, both a²/b at the pole.
    a, f = 6378137.0, 1.0 / 298.257223563
    b = a * (1.0 - f)
    meridian, across = radii_of_curvature_m(np.array([0.0, 90.0]))
    assert meridian[0] == pytest.approx(b**2 / a, rel=1e-12)
    assert across[0] == pytest.approx(a, rel=1e-15)
    assert meridian[1] == pytest.approx(a**2 / b, rel=1e-12)
    assert across[1] == pytest.approx(a**2 / b, rel=1e-12)
