"""Track files -> `Track`: the points as recorded, checked but not yet repaired."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from simulator.course.course import Finding, FloatArray
from simulator.course.geometry import leg_lengths_m
from simulator.course.gpx_points import GpxPoints
from simulator.errors import InputError
from simulator.files import read_bytes, stream_xml

# A day at one point a second with all extensions is about 40 MB.
MAX_FILE_BYTES = 100_000_000
_JOIN_TRACKS_M = 500.0
# A barometer may be off by a kilometre; roads end below 6 km.
_LOWEST_M, _HIGHEST_M = -1_500.0, 10_000.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Track:
    """Points in the order ridden.

    Attributes
    ----------
    name : str
        Name in the file, or the file's stem.
    kind : str
        ``"track"`` (recorded or drawn densely) or ``"route"``.
    lats_deg, lons_deg : (n,) arrays
        WGS84 positions, checked to be on the globe.
    heights_m : (n,) array
        As recorded; NaN where the file has none.
    times_s : (n,) array
        Seconds from the first time in the file; NaN where the file has none.
    is_break : (n,) bool array
        True at points that start a new segment of the file.
    findings : tuple of Finding
    """

    name: str
    kind: str
    lats_deg: FloatArray
    lons_deg: FloatArray
    heights_m: FloatArray
    times_s: FloatArray
    is_break: NDArray[np.bool_]
    findings: tuple[Finding, ...] = ()

    @property
    def n_points(self) -> int:
        """Number of points."""
        return len(self.lats_deg)


def read_track(path: Path) -> Track:
    """Read a GPX track or route.

    Parameters
    ----------
    path : Path
        GPX 1.0 or 1.1. Several segments are joined in file order.

    Returns
    -------
    Track
        At least two points.

    Raises
    ------
    InputError
        If the file is missing, empty, too large, not XML, not GPX, declares entities or a
        document type, has fewer than two points, or has a point that is not on the globe.
    """
    if path.is_dir():
        raise InputError(
            file=str(path),
            found="a folder without course.toml",
            expected="a GPX file or a course folder",
        )
    data = read_bytes(path, max_bytes=MAX_FILE_BYTES, expected="a GPX track or route")
    points = GpxPoints(str(path))
    stream_xml(
        data,
        points,
        file=str(path),
        roots=("gpx",),
        expected="a GPX file",
        mend="export the track as GPX again",
    )
    del data
    kind, name, pieces, findings = _pieces(points)
    n_points = sum(piece.stop - piece.start for piece in pieces)
    if n_points < 2:
        what = "no track or route point" if not n_points else "one point only"
        raise InputError(
            file=str(path), found=what, expected="a track or route of two points or more"
        )
    used = np.concatenate([np.arange(piece.start, piece.stop) for piece in pieces])
    is_break = np.zeros(n_points, dtype=bool)
    is_break[np.cumsum([0, *(piece.stop - piece.start for piece in pieces[:-1])])] = True
    track = Track(
        name=name or path.stem,
        kind=kind,
        lats_deg=np.array(points.lats_deg)[used],
        lons_deg=np.array(points.lons_deg)[used],
        heights_m=np.array(points.heights_m)[used],
        times_s=_from_first(np.array(points.times_s)[used]),
        is_break=is_break,
        findings=findings,
    )
    _check_on_globe(track, path)
    _check_heights(track, path)
    return track


def _pieces(points: GpxPoints) -> tuple[str, str, list[range], tuple[Finding, ...]]:
    """Segments to join, the track's name and what to say about the choice."""
    tracks = [entry for entry in points.tracks if entry.pieces]
    kind = "track"
    if not tracks:
        kind = "route"
        tracks = [entry for entry in points.routes if entry.pieces]
    if not tracks:
        return kind, "", [], ()
    name, joined = tracks[0].name, list(tracks[0].pieces)
    rest = tracks[1:]
    while rest and _gap_m(points, joined[-1].stop - 1, rest[0].pieces[0].start) <= _JOIN_TRACKS_M:
        joined += rest.pop(0).pieces
    if not rest:
        return kind, name, joined, ()
    longest = max(tracks, key=lambda entry: entry.n_points)
    text = f"the file holds {len(tracks)} {kind}s that do not join; the longest is used" + (
        f" ({longest.name})" if longest.name else ""
    )
    return kind, longest.name, longest.pieces, (Finding(level="doubt", text=text),)


def _gap_m(points: GpxPoints, i_end: int, i_start: int) -> float:
    lats = np.array([points.lats_deg[i_end], points.lats_deg[i_start]])
    lons = np.array([points.lons_deg[i_end], points.lons_deg[i_start]])
    if not (np.abs(lats) <= 90.0).all() or not (np.abs(lons) <= 180.0).all():
        return math.inf  # told later, with the number of the point
    return float(leg_lengths_m(lats, lons)[0])


def _check_heights(track: Track, path: Path) -> None:
    """Refuse heights that no road has: a course of them would be longer than the earth is round."""
    is_bad = (track.heights_m < _LOWEST_M) | (track.heights_m > _HIGHEST_M)
    if is_bad.any():
        i_point = int(np.flatnonzero(is_bad)[0])
        raise InputError(
            file=str(path),
            place=f"point {i_point + 1}",
            found=f"a height of {track.heights_m[i_point]:g} m",
            expected=f"metres between {_LOWEST_M:g} and {_HIGHEST_M:g}",
            mend="delete it: a point without <ele> is filled from its neighbours",
        )


def _from_first(times_s: FloatArray) -> FloatArray:
    known = np.flatnonzero(np.isfinite(times_s))
    return times_s - times_s[known[0]] if len(known) else times_s


def _check_on_globe(track: Track, path: Path) -> None:
    for name, values, limit in (
        ("latitude", track.lats_deg, 90.0),
        ("longitude", track.lons_deg, 180.0),
    ):
        is_bad = ~(np.abs(values) <= limit)  # also true for NaN
        if is_bad.any():
            i_point = int(np.flatnonzero(is_bad)[0])
            raise InputError(
                file=str(path),
                place=f"point {i_point + 1}",
                found=f"{name} {values[i_point]:g}",
                expected=f"a number of degrees between -{limit:g} and {limit:g}",
            )
