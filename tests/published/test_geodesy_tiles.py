"""The HGT format as its makers describe it.

Source: USGS/NASA SRTM "Quickstart" and JPL FAQ (copies): no header, 16-bit big-endian, rows north
to south, columns west to east, void -32768, name after the south-west corner, 1201² posts at 3"
(2,884,802 bytes), 3601² at 1" (25,934,402 bytes), edge rows and columns shared. Worked places:
N45E007 at 45.5° N 7.25° E is row 600, column 300 of the 3" tile (byte 1,441,800).
"""

import struct

import numpy as np
import pytest

from simulator.course.tiles import heights_from_tiles, tile_name

BYTES_3S = 2_884_802


def test_name_is_the_south_west_corner():
    assert tile_name(45.5, 7.25) == "N45E007.hgt"
    assert tile_name(-0.5, -0.5) == "S01W001.hgt"
    assert tile_name(44.5, -35.5) == "N44W036.hgt"
    assert tile_name(-33.9, 18.4) == "S34E018.hgt"
    assert tile_name(0.0, 0.0) == "N00E000.hgt"


def test_the_worked_post_is_read_at_its_byte(tmp_path):
    data = bytearray(BYTES_3S)
    offset = 1_441_800
    assert offset == 2 * (600 * 1201 + 300)
    data[offset : offset + 2] = struct.pack(">h", 1234)
    (tmp_path / "N45E007.hgt").write_bytes(bytes(data))
    heights = heights_from_tiles(np.array([45.5]), np.array([7.25]), tmp_path).heights_m
    assert heights[0] == pytest.approx(1234.0, abs=1e-6)


def test_rows_run_south_and_columns_east(tmp_path):
    rows, columns = np.mgrid[0:1201, 0:1201]
    posts = (2 * rows + columns).astype(">i2")  # higher to the south and to the east
    (tmp_path / "S34E018.hgt").write_bytes(posts.tobytes())
    lats = np.array([-33.0001, -33.9999, -33.5])
    lons = np.array([18.0, 18.0, 18.75])
    heights = heights_from_tiles(lats, lons, tmp_path).heights_m
    expected = 2.0 * (-33.0 - lats) * 1200.0 + (lons - 18.0) * 1200.0
    # A plane is its own bilinear interpolation.
    np.testing.assert_allclose(heights, expected, atol=1e-6)
