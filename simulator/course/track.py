"""Track files -> `Track`: the points as recorded, checked but not yet repaired."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from datetime import UTC
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.course.course import Finding, FloatArray
from simulator.course.geometry import leg_lengths_m
from simulator.errors import InputError
from simulator.files import read_bytes

# A day at one point a second with all extensions is about 40 MB.
MAX_FILE_BYTES = 100_000_000
MAX_POINTS = 2_000_000
_JOIN_TRACKS_M = 500.0
_ENCODING = re.compile(rb"""^<\?xml[^>]*encoding\s*=\s*["']([A-Za-z0-9._-]+)["']""")
_DECLARATION = re.compile(r"""^\s*<\?xml[^>]*\?>""")


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
    text = _text_of(path)
    _refuse_entities(text, path)
    import gpxpy

    try:
        gpx = gpxpy.parse(text)
    except Exception as error:  # gpxpy raises several kinds; all mean a broken file
        raise InputError(
            file=str(path),
            found=f"the GPX cannot be read ({_one_line(error)})",
            mend="export the track again",
        ) from None
    kind, name, pieces, findings = _pieces(gpx, path)
    points = [point for piece in pieces for point in piece]
    if len(points) > MAX_POINTS:
        raise InputError(
            file=str(path),
            found=f"{len(points)} points",
            expected=f"at most {MAX_POINTS}",
            mend="split the file",
        )
    if len(points) < 2:
        what = "no track or route point" if not points else "one point only"
        raise InputError(
            file=str(path), found=what, expected="a track or route of two points or more"
        )
    starts = np.cumsum([0, *(len(piece) for piece in pieces[:-1])])
    is_break = np.zeros(len(points), dtype=bool)
    is_break[starts] = True
    track = Track(
        name=name or path.stem,
        kind=kind,
        lats_deg=np.array([_number(point.latitude) for point in points]),
        lons_deg=np.array([_number(point.longitude) for point in points]),
        heights_m=_heights_m(points, path),
        times_s=_times_s(points),
        is_break=is_break,
        findings=findings,
    )
    _check_on_globe(track, path)
    return track


def _text_of(path: Path) -> str:
    if path.is_dir():
        raise InputError(
            file=str(path),
            found="a folder without course.toml",
            expected="a GPX file or a course folder",
        )
    data = read_bytes(path, max_bytes=MAX_FILE_BYTES, expected="a GPX track or route")
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        encoding = "utf-16"
    else:
        declared = _ENCODING.match(data.lstrip()[:200])
        encoding = declared.group(1).decode("ascii") if declared else "utf-8-sig"
        if encoding.lower() in {"utf-8", "utf8"}:
            encoding = "utf-8-sig"
    try:
        # The text is decoded from here on: what the declaration says of bytes is no longer true.
        return _DECLARATION.sub("", data.decode(encoding), count=1)
    except (UnicodeDecodeError, LookupError):
        raise InputError(
            file=str(path),
            found=f"not readable as text ({encoding.removesuffix('-sig')})",
            expected="a GPX file",
        ) from None


def _refuse_entities(text: str, path: Path) -> None:
    from xml.sax import SAXException
    from xml.sax.handler import ContentHandler

    import defusedxml.sax
    from defusedxml.common import DefusedXmlException

    class RootOnly(ContentHandler):
        root = ""

        def startElement(self, name: str, attrs: Any) -> None:
            self.root = self.root or name

    handler = RootOnly()
    try:
        defusedxml.sax.parseString(text.encode("utf-8"), handler, forbid_dtd=True)
    except DefusedXmlException:
        raise InputError(
            file=str(path),
            found="the file declares a document type or entities, which can be used to attack",
            expected="plain GPX",
            mend="export the track again or delete the <!DOCTYPE ...> part",
        ) from None
    except SAXException as error:
        line = getattr(error, "getLineNumber", lambda: None)()
        raise InputError(
            file=str(path),
            place=f"line {line}" if line else "",
            found="not well-formed XML",
            expected="a GPX file",
            mend="export the track again",
        ) from None
    root = handler.root.rpartition(":")[2]
    if root != "gpx":
        raise InputError(
            file=str(path),
            found=f"an XML file of another kind (<{root[:40]}>)",
            expected="a GPX file",
            mend="export the track as GPX",
        )


def _pieces(gpx: Any, path: Path) -> tuple[str, str, list[list[Any]], tuple[Finding, ...]]:
    """Segments to join, the track's name and what to say about the choice."""
    tracks = [
        (track.name, [segment.points for segment in track.segments if segment.points])
        for track in gpx.tracks
    ]
    tracks = [(name, pieces) for name, pieces in tracks if pieces]
    kind = "track"
    if not tracks:
        kind = "route"
        tracks = [(route.name, [route.points]) for route in gpx.routes if route.points]
    if not tracks:
        return kind, "", [], ()
    name, joined = tracks[0][0] or "", list(tracks[0][1])
    rest = tracks[1:]
    while rest and _gap_m(joined[-1][-1], rest[0][1][0][0]) <= _JOIN_TRACKS_M:
        joined += rest.pop(0)[1]
    if not rest:
        return kind, name, joined, ()
    name, longest = max(tracks, key=lambda item: sum(len(piece) for piece in item[1]))
    text = f"the file holds {len(tracks)} {kind}s that do not join; the longest is used" + (
        f" ({name})" if name else ""
    )
    return kind, name or "", list(longest), (Finding(level="doubt", text=text),)


def _gap_m(end: Any, start: Any) -> float:
    lats = np.array([_number(end.latitude), _number(start.latitude)])
    lons = np.array([_number(end.longitude), _number(start.longitude)])
    length = float(leg_lengths_m(lats, lons)[0])
    return length if math.isfinite(length) else math.inf


def _number(value: float | None) -> float:
    return math.nan if value is None else float(value)


def _heights_m(points: list[Any], path: Path) -> FloatArray:
    heights = np.array([_number(point.elevation) for point in points])
    for i_point in np.flatnonzero(~np.isfinite(heights)):
        if points[i_point].elevation is not None:
            raise InputError(
                file=str(path),
                place=f"point {i_point + 1}",
                found=f"the height is {points[i_point].elevation}",
                expected="a number of metres or no <ele> at all",
            )
    return heights


def _times_s(points: list[Any]) -> FloatArray:
    seconds = np.full(len(points), np.nan)
    for i_point, point in enumerate(points):
        when = point.time
        if when is not None:
            if when.tzinfo is None:
                when = when.replace(tzinfo=UTC)
            seconds[i_point] = when.timestamp()
    known = np.flatnonzero(np.isfinite(seconds))
    return seconds - seconds[known[0]] if len(known) else seconds


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


def _one_line(error: Exception) -> str:
    return " ".join(str(error).split())[:120]
