"""Elevation tiles (.hgt, .hgt.zip) as heights for whole arrays of places.

srtm.py locates, unzips and keeps the files; the interpolation is ours: bilinear between the four
posts around a place. The format ([HGT]): no header, big-endian 16-bit integers, rows from north
to south, columns from west to east, void -32768, named after the south-west corner; edge rows
and columns are shared with the neighbouring tiles. Nothing is fetched from a network unless the
caller says so.
"""

from __future__ import annotations

import contextlib
import io
import warnings
import zipfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.course.course import FloatArray
from simulator.errors import InputError

VOID = -32768
# No dry land lies outside; values beyond are fill values of other kinds.
_LOWEST_M, _HIGHEST_M = -500.0, 9000.0
FETCH_COMMAND = "`buildgap course check TRACK --tiles FOLDER --download`"
"""The one command that fetches tiles; named where they are missing, whatever was asked for."""

SIDES = {1201: "3 arc-seconds (about 90 m)", 3601: "1 arc-second (about 30 m)"}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TileHeights:
    """Heights of places, NaN at voids, and what they were read from."""

    heights_m: FloatArray
    tiles: tuple[str, ...]
    side: int  # posts along an edge of the coarsest tile used

    @property
    def post_spacing_m(self) -> float:
        """Distance between posts from north to south."""
        return 111_195.0 / (self.side - 1)


def tile_name(lat_deg: float, lon_deg: float) -> str:
    """File name of the tile that holds a place, after its south-west corner."""
    south, west = int(np.floor(lat_deg)), int(np.floor(lon_deg))
    north_south, east_west = "N" if south >= 0 else "S", "E" if west >= 0 else "W"
    return f"{north_south}{abs(south):02d}{east_west}{abs(west):03d}.hgt"


def heights_from_tiles(
    lats_deg: FloatArray, lons_deg: FloatArray, folder: Path, *, allow_download: bool = False
) -> TileHeights:
    """Heights of many places from the tiles in a folder.

    Parameters
    ----------
    lats_deg, lons_deg : (n,) arrays
    folder : Path
        Where ``N44W036.hgt`` or ``N44W036.hgt.zip`` and the like lie.
    allow_download : bool
        Fetch missing tiles into `folder`. Off unless the user asked for it.

    Returns
    -------
    TileHeights
        Where some of the four posts are void, from the others; NaN where all are.

    Raises
    ------
    InputError
        If the folder or a tile is missing, or a tile is not one.
    """
    if not folder.is_dir():
        if not allow_download:
            raise InputError(
                file=str(folder),
                found="no such folder",
                expected="a folder with elevation tiles (.hgt or .hgt.zip)",
                mend=f"make it and fetch them: {FETCH_COMMAND}",
            )
        folder.mkdir(parents=True, exist_ok=True)
    lons = (np.asarray(lons_deg, dtype=np.float64) + 180.0) % 360.0 - 180.0
    lats = np.asarray(lats_deg, dtype=np.float64)
    present = _present(folder)
    south, west = _corners(lats, lons, present)
    shelf = _Shelf(folder, present, allow_download)
    heights = np.empty(len(lats))
    names, coarsest = [], 3601
    keys = (south + 90) * 360 + (west + 180)
    for key in np.unique(keys):
        inside = keys == key
        lat0, lon0 = int(key) // 360 - 90, int(key) % 360 - 180
        posts = shelf.posts(lat0, lon0)
        heights[inside] = _bilinear(posts, lats[inside] - lat0, lons[inside] - lon0)
        names.append(tile_name(lat0, lon0))
        coarsest = min(coarsest, len(posts))
    return TileHeights(heights_m=heights, tiles=tuple(names), side=coarsest)


def _present(folder: Path) -> set[str]:
    return {
        path.name.removesuffix(".zip")
        for path in folder.iterdir()
        if path.name.endswith((".hgt", ".hgt.zip"))
    }


def _corners(
    lats: FloatArray, lons: FloatArray, present: set[str]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """South-west corners of the tiles to use; a place on a border may use either side's tile."""
    south = np.floor(lats).astype(np.int64)
    west = np.floor(lons).astype(np.int64)
    south[lats == 90.0] = 89
    for i_place in np.flatnonzero((lats == south) | (lons == west)):
        choices = [(int(south[i_place]), int(west[i_place]))]
        if lats[i_place] == south[i_place]:
            choices += [(lat - 1, lon) for lat, lon in choices]
        if lons[i_place] == west[i_place]:
            choices += [(lat, lon - 1) for lat, lon in choices if lon > -180]
        for lat, lon in choices:
            if tile_name(lat, lon) in present:
                south[i_place], west[i_place] = lat, lon
                break
    return south, west


class _Shelf:
    """The tiles of one folder, read through srtm.py."""

    def __init__(self, folder: Path, present: set[str], allow_download: bool) -> None:
        self.folder = folder
        self.present = present
        self.allow_download = allow_download
        with warnings.catch_warnings(), contextlib.redirect_stdout(io.StringIO()):
            warnings.simplefilter("ignore")  # its source has escapes that newer Pythons warn of
            import srtm

            self.data: Any = srtm.get_data(local_cache_dir=str(folder))
        if not allow_download:
            # Its own tables name web addresses, which it would try for a tile that is missing.
            self.data.srtm1_files = {}
            self.data.srtm3_files = dict.fromkeys(present, "")
        else:
            for name in present:
                self.data.srtm3_files.setdefault(name, "")

    def posts(self, lat0: int, lon0: int) -> NDArray[np.int16]:
        """The (side, side) posts of one tile, north row first."""
        name = tile_name(lat0, lon0)
        file = self.folder / name
        if name in self.present:
            self._refuse_wrong_size(file)
        elif not self.allow_download:
            raise InputError(
                file=str(self.folder),
                found=f"the elevation tile {name} (or {name}.zip) is missing",
                mend=f"put it there, or fetch it: {FETCH_COMMAND}",
            )
        try:
            with contextlib.redirect_stdout(io.StringIO()):
                tile = self.data.get_file(lat0 + 0.5, lon0 + 0.5)
        except Exception as error:  # damaged zips raise many kinds, network trouble bare ones
            if name in self.present:
                raise InputError(
                    file=str(file),
                    found="the tile cannot be read (damaged, locked or of wrong size)",
                    expected="a .hgt file or a zip with one in it",
                ) from None
            raise self._not_fetched(name, error) from None
        if tile is None:
            raise InputError(
                file=str(self.folder),
                found=f"the elevation tile {name} is missing and not offered for download",
                mend="put it there by hand",
            )
        side = int(tile.square_side)
        if side not in SIDES:
            raise InputError(
                file=str(file),
                found=f"{side} by {side} posts",
                expected="1201 or 3601 posts along each edge",
            )
        return np.frombuffer(tile.data, dtype=">i2").reshape(side, side)

    def _refuse_wrong_size(self, file: Path) -> None:
        zipped = file.with_name(file.name + ".zip")
        sizes = {2 * side * side for side in SIDES}
        if file.exists():
            size = file.stat().st_size
        else:
            try:
                if zipped.stat().st_size > 2 * max(sizes):
                    raise InputError(
                        file=str(zipped),
                        found=f"a zip file of {zipped.stat().st_size / 1e6:.0f} MB",
                        expected="a zip with one .hgt in it",
                    )
                with zipfile.ZipFile(zipped) as archive:
                    entries = archive.infolist()
            except (zipfile.BadZipFile, OSError, NotImplementedError, ValueError):
                raise InputError(
                    file=str(zipped),
                    found="not a zip file that can be read",
                    expected="a zip with one .hgt in it",
                ) from None
            # Checked before unzipping: a small archive can hold gigabytes.
            size = entries[0].file_size if len(entries) == 1 else -1
            file = zipped
        if size not in sizes:
            raise InputError(
                file=str(file),
                found="more or less than one tile in it" if size < 0 else f"a tile of {size} bytes",
                expected="2884802 bytes (3 arc-seconds) or 25934402 bytes (1 arc-second)",
            )

    def _not_fetched(self, name: str, error: Exception) -> InputError:
        return InputError(
            file=str(self.folder),
            found=f"the elevation tile {name} could not be fetched ({type(error).__name__})",
            mend="put it there by hand",
        )


def _bilinear(posts: NDArray[np.int16], north: FloatArray, east: FloatArray) -> FloatArray:
    """Interpolate between posts; `north` and `east` are degrees from the south-west corner."""
    side = len(posts)
    rows = (1.0 - north) * (side - 1)
    columns = east * (side - 1)
    row = np.clip(np.floor(rows).astype(np.intp), 0, side - 2)
    column = np.clip(np.floor(columns).astype(np.intp), 0, side - 2)
    down, right = rows - row, columns - column
    total = np.zeros(len(rows))
    weight = np.zeros(len(rows))
    for i, by_row in ((0, 1.0 - down), (1, down)):
        for j, by_column in ((0, 1.0 - right), (1, right)):
            height = posts[row + i, column + j].astype(np.float64)
            is_known = (height > _LOWEST_M) & (height < _HIGHEST_M)
            share = by_row * by_column * is_known
            total += share * np.where(is_known, height, 0.0)
            weight += share
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(weight > 1e-9, total / weight, np.nan)
