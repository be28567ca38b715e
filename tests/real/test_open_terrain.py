"""Real terrain: interpolation on a real grid, and how far elevation products disagree.

Sources and licences in data/README.md.
"""

from pathlib import Path

import matplotlib.cbook
import numpy as np
import pytest
from scipy.interpolate import RegularGridInterpolator
from scipy.ndimage import map_coordinates

import simulator.course.heights as heights_module
from simulator.course import CourseFile
from simulator.course.build import course_of_track
from simulator.course.geometry import cumulative, leg_lengths_m
from simulator.course.noise import LEVELS, at_least, estimate_noise
from simulator.course.tiles import heights_from_tiles
from simulator.course.track import Track

DATA = Path(__file__).parent / "data"
PRODUCTS = ("srtm", "aw3d30", "glo30")
PLACES = ("sydney", "santiago")


@pytest.fixture(scope="module")
def jacksboro():
    """Heights of the fault scarp at Jacksboro, north row first, as a part of tile N36W085."""
    with np.load(matplotlib.cbook.get_sample_data("jacksboro_fault_dem.npz", asfileobj=False)) as d:
        return d["elevation"].astype(float), float(d["ymax"]), float(d["ymin"]), float(d["xmin"])


def test_the_metadata_of_the_grid_is_upside_down(jacksboro):
    _, y_max, y_min, _ = jacksboro
    assert y_max < y_min


def test_tile_heights_on_real_terrain(jacksboro, tmp_path):
    grid, _, _, _ = jacksboro
    n_rows, n_columns = grid.shape
    posts = np.full((1201, 1201), -32768, dtype=">i2")
    row0, column0 = 320, 704
    posts[row0 : row0 + n_rows, column0 : column0 + n_columns] = grid
    (tmp_path / "N36W085.hgt").write_bytes(posts.tobytes())
    rng = np.random.default_rng(1)
    rows = row0 + rng.uniform(0.0, n_rows - 1.0, 2000)
    columns = column0 + rng.uniform(0.0, n_columns - 1.0, 2000)
    tiles = heights_from_tiles(37.0 - rows / 1200.0, -85.0 + columns / 1200.0, tmp_path)
    expected = map_coordinates(grid, [rows - row0, columns - column0], order=1)
    np.testing.assert_allclose(tiles.heights_m, expected, atol=1e-6)
    # What taking the north-west post instead would cost here.
    nearest = grid[np.floor(rows - row0).astype(int), np.floor(columns - column0).astype(int)]
    assert 10.0 < np.std(nearest - expected) < 20.0


def winding_road(patches, place):
    """6 km that wind through the patch, a point every 8 m."""
    north, west = patches[f"srtm_{place}_northwest"]
    post = 1.0 / 3600.0
    share = np.linspace(0.0, 1.0, 900)
    lats = north - post * (8.0 + 84.0 * share)
    lons = west + post * (50.0 + 35.0 * np.sin(3.0 * np.pi * share))
    along = cumulative(leg_lengths_m(lats, lons))
    at = np.arange(0.0, along[-1], 8.0)
    return np.interp(at, along, lats), np.interp(at, along, lons), at


def heights_of(patches, product, place, lats, lons):
    grid = patches[f"{product}_{place}"].astype(float)
    north, west = patches[f"{product}_{place}_northwest"]
    post = 1.0 / 3600.0
    rows = np.arange(grid.shape[0])
    columns = np.arange(grid.shape[1])
    points = np.stack([(north - lats) / post, (lons - west) / post], axis=1)
    return RegularGridInterpolator((rows, columns), grid)(points)


def course_on(lats, lons, heights):
    is_break = np.zeros(len(lats), dtype=bool)
    is_break[0] = True
    track = Track(
        name="patch",
        kind="track",
        lats_deg=lats,
        lons_deg=lons,
        heights_m=heights,
        times_s=np.full(len(lats), np.nan),
        is_break=is_break,
    )
    return course_of_track(track, CourseFile(name="patch"), source="patch")


@pytest.mark.parametrize("place", PLACES)
def test_products_disagree_and_smoothing_brings_their_grades_together(place, monkeypatch):
    level = LEVELS["tiles_30m"]
    monkeypatch.setattr(  # as heights from tiles are treated
        heights_module,
        "estimate_noise",
        lambda along, raw: at_least(estimate_noise(along, raw, reach_m=level.reach_m), level),
    )
    with np.load(DATA / "patches.npz") as patches:
        lats, lons, at = winding_road(patches, place)
        raw = {name: heights_of(patches, name, place, lats, lons) for name in PRODUCTS}
    courses = {name: course_on(lats, lons, heights) for name, heights in raw.items()}
    places = np.arange(50.0, at[-1] - 50.0, 10.0)
    for one, other in (("srtm", "aw3d30"), ("srtm", "glo30"), ("aw3d30", "glo30")):
        apart = raw[one] - raw[other]
        # Town and trees: surface models that saw different years and roofs.
        assert 1.0 < np.std(apart) < 7.0
        raw_grades = np.std(np.diff(apart) / np.diff(at))
        grades = [
            np.interp(places, c.node_distances_m[1:], c.grades)
            for c in (courses[one], courses[other])
        ]
        assert np.std(grades[0] - grades[1]) < 0.3 * raw_grades
    for name, course in courses.items():
        raw_ascent = np.maximum(np.diff(raw[name]), 0.0).sum()
        assert course.ascent_m < raw_ascent
        assert np.abs(course.grades).max() < np.abs(np.diff(raw[name]) / np.diff(at)).max()
