"""Points of a GPX document as they come, in columns; nothing is chosen or mended here."""

from __future__ import annotations

import math
import re
from array import array
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime

from simulator.errors import InputError

MAX_POINTS = 2_000_000
_POINTS = ("trkpt", "rtept")
_DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+")


@dataclass(kw_only=True)
class Entry:
    """A track or a route: its name, and the runs of points of its segments."""

    name: str = ""
    pieces: list[range] = field(default_factory=list)

    @property
    def n_points(self) -> int:
        """Number of points."""
        return sum(len(piece) for piece in self.pieces)


class GpxPoints:
    """Takes the elements of a GPX document; see ``files.stream_xml``.

    Attributes
    ----------
    lats_deg, lons_deg, heights_m, times_s : arrays
        One value a point, NaN where it has none; times are seconds since 1970.
    tracks, routes : list of Entry
        In file order.
    """

    def __init__(self, file: str) -> None:
        self.file = file
        self.lats_deg = array("d")
        self.lons_deg = array("d")
        self.heights_m = array("d")
        self.times_s = array("d")
        self.tracks: list[Entry] = []
        self.routes: list[Entry] = []
        self._entry: Entry | None = None
        self._entry_depth = self._point_depth = 0
        self._first = 0

    def start(self, name: str, attributes: Mapping[str, str], depth: int) -> None:
        """An element opens."""
        if self._point_depth:
            return
        if self._entry is None:
            if name in ("trk", "rte"):
                self._entry, self._entry_depth = Entry(), depth
                (self.tracks if name == "trk" else self.routes).append(self._entry)
        elif name == "trkseg":
            self._end_piece()
        elif name in ("trkpt", "rtept"):
            self._point_depth = depth
            self._add(attributes)

    def end(self, name: str, text: str, depth: int) -> None:
        """An element closes."""
        if depth == self._point_depth:
            self._point_depth = 0
        elif self._point_depth:
            if depth == self._point_depth + 1 and name == "ele":
                self.heights_m[-1] = self._height_m(text)
            elif depth == self._point_depth + 1 and name == "time":
                self.times_s[-1] = _unix_s(text)
        elif self._entry is not None:
            if name == "name" and depth == self._entry_depth + 1:
                self._entry.name = self._entry.name or text.strip()
            elif name == "trkseg" or depth == self._entry_depth:
                self._end_piece()
            if depth == self._entry_depth:
                self._entry, self._entry_depth = None, 0

    def _end_piece(self) -> None:
        if self._entry is not None and len(self.lats_deg) > self._first:
            self._entry.pieces.append(range(self._first, len(self.lats_deg)))
        self._first = len(self.lats_deg)

    def _add(self, attributes: Mapping[str, str]) -> None:
        if len(self.lats_deg) >= MAX_POINTS:
            raise InputError(
                file=self.file,
                found=f"more than {MAX_POINTS} points",
                expected="a track of one ride",
                mend="split the file",
            )
        self.heights_m.append(math.nan)  # first: its length is the number of the point
        self.lats_deg.append(self._number(attributes.get("lat", ""), "latitude"))
        self.lons_deg.append(self._number(attributes.get("lon", ""), "longitude"))
        self.times_s.append(math.nan)

    def _height_m(self, text: str) -> float:
        if not text.strip():
            return math.nan
        value = self._number(text, "height", "a number of metres or no <ele> at all")
        if not math.isfinite(value):
            raise self._wrong(text, "height", "a number of metres or no <ele> at all")
        return value

    def _number(self, text: str, what: str, expected: str = "a number of degrees") -> float:
        try:
            return float(text)
        except ValueError:
            raise self._wrong(text, what, expected) from None

    def _wrong(self, text: str, what: str, expected: str) -> InputError:
        shown = f'"{text.strip()[:40]}"' if text.strip() else "missing"
        return InputError(
            file=self.file,
            place=f"point {len(self.heights_m)}",
            found=f"the {what} is {shown}",
            expected=expected,
            mend="write a decimal point" if _DECIMAL_COMMA.fullmatch(text.strip()) else "",
        )


def _unix_s(text: str) -> float:
    """Seconds since 1970, UTC where no zone is named; NaN where the text is no time."""
    try:
        when = datetime.fromisoformat(text.strip())
        return (when if when.tzinfo else when.replace(tzinfo=UTC)).timestamp()
    except (ValueError, OverflowError):
        return math.nan
