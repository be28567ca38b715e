"""Roads of known shape, sampled as a recorder would, for the tests of this room."""

from dataclasses import dataclass

import numpy as np
import pytest

from simulator.course.geometry import cumulative, radii_of_curvature_m

LAT0_DEG, LON0_DEG = 44.5, -35.5
STEP_M = 0.1


@dataclass(frozen=True)
class MadeRoad:
    """Straights and arcs, known every decimetre."""

    along_m: np.ndarray
    east_m: np.ndarray
    north_m: np.ndarray


def road_of(pieces):
    """Pieces are (length in m, radius in m; inf for a straight, positive to the right)."""
    bends = [
        np.full(max(1, round(length / STEP_M)), 0.0 if np.isinf(radius) else 1.0 / radius)
        for length, radius in pieces
    ]
    heading = cumulative(np.concatenate(bends) * STEP_M)
    middle = 0.5 * (heading[1:] + heading[:-1])
    return MadeRoad(
        along_m=cumulative(np.full(len(middle), STEP_M)),
        east_m=cumulative(np.sin(middle) * STEP_M),
        north_m=cumulative(np.cos(middle) * STEP_M),
    )


def drifting(rng, along_m, sd_m, reach_m):
    """Errors with exponential correlation."""
    fresh = rng.normal(0.0, sd_m, len(along_m))
    keep = np.exp(-np.diff(along_m) / reach_m)
    error = fresh.copy()
    for k in range(1, len(error)):
        error[k] = keep[k - 1] * error[k - 1] + np.sqrt(1.0 - keep[k - 1] ** 2) * fresh[k]
    return error


def positions_of(east_m, north_m):
    """Latitudes and longitudes of places near the made-up island, to 1e-7 degrees."""
    meridian_m, _ = radii_of_curvature_m(np.array(LAT0_DEG))
    lats = LAT0_DEG + np.degrees(north_m / meridian_m)
    _, across_m = radii_of_curvature_m(lats)
    lons = LON0_DEG + np.degrees(east_m / (across_m * np.cos(np.radians(lats))))
    return np.round(lats, 7), np.round(lons, 7)


def sampled(road, step_m, *, rng=None, white_m=0.0, drift_m=0.0, reach_m=100.0):
    """Positions every few metres, with noise."""
    at = np.arange(0.0, road.along_m[-1], step_m)
    east = np.interp(at, road.along_m, road.east_m)
    north = np.interp(at, road.along_m, road.north_m)
    if rng is not None:
        east = east + rng.normal(0.0, white_m, len(at)) + drifting(rng, at, drift_m, reach_m)
        north = north + rng.normal(0.0, white_m, len(at)) + drifting(rng, at, drift_m, reach_m)
    return positions_of(east, north)


def gpx_text(lats, lons, heights=None, times=None, *, kind="trk"):
    """A GPX 1.1 text; heights and times may hold None."""
    tag = "trkpt" if kind == "trk" else "rtept"
    rows = []
    for k, (lat, lon) in enumerate(zip(lats, lons, strict=True)):
        inner = ""
        if heights is not None and heights[k] is not None:
            inner += f"<ele>{heights[k]}</ele>"
        if times is not None and times[k] is not None:
            inner += f"<time>{times[k]}</time>"
        rows.append(f'<{tag} lat="{lat}" lon="{lon}">{inner}</{tag}>')
    body = "\n".join(rows)
    if kind == "trk":
        body = f"<trk><name>made</name><trkseg>{body}</trkseg></trk>"
    else:
        body = f"<rte><name>made</name>{body}</rte>"
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">{body}</gpx>\n'
    )


@pytest.fixture(scope="session")
def made_road():
    return road_of


@pytest.fixture(scope="session")
def sample_road():
    return sampled


@pytest.fixture(scope="session")
def drift():
    return drifting


@pytest.fixture(scope="session")
def make_gpx():
    return gpx_text


@pytest.fixture(scope="session")
def place():
    return positions_of


@pytest.fixture
def write_gpx(tmp_path):
    """``write_gpx(lats, lons, heights, times, name=..., kind=...)`` -> path."""

    def write(lats, lons, heights=None, times=None, *, name="ride.gpx", kind="trk"):
        path = tmp_path / name
        path.write_text(gpx_text(lats, lons, heights, times, kind=kind), encoding="utf-8")
        return path

    return write
