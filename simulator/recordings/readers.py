"""Files -> samples: which kind it is, told by the content, and the readers of XML and CSV."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from simulator.errors import InputError
from simulator.files import read_bytes, stream_xml
from simulator.recordings.fit_reader import fit_samples
from simulator.recordings.mending import mended
from simulator.recordings.recording import Recording, Repair
from simulator.recordings.samples import (
    Samples,
    refuse_too_many,
    samples_of_rows,
    unix_of_text,
)
from simulator.units import mps_from_kmh

MAX_FILE_BYTES = 100_000_000
MAX_LINE_CHARS = 10_000
"""Of a CSV recording, whose rows hold a dozen numbers."""

CSV_COLUMNS = {
    "time": ("time_s", 1.0),
    "time_s": ("time_s", 1.0),
    "lat_deg": ("lats_deg", 1.0),
    "lon_deg": ("lons_deg", 1.0),
    "height_m": ("heights_m", 1.0),
    "distance_m": ("distances_m", 1.0),
    "distance_km": ("distances_m", 1000.0),
    "speed_mps": ("speeds_mps", 1.0),
    "speed_kmh": ("speeds_mps", mps_from_kmh(1.0)),
    "power_w": ("powers_w", 1.0),
    "cadence_rpm": ("cadences_rpm", 1.0),
    "temperature_degc": ("temperatures_degc", 1.0),
}
"""Columns of a CSV recording -> channel and size of the unit."""

DAY_S = 86_400.0
_HOURS = re.compile(r"(\d{1,4}):([0-5]\d):([0-5]\d(?:[.,]\d+)?)")
_TIMES = "seconds, hours as in 1:02:03, or a date and time as in 2026-05-17T09:00:00"

_LIKELY = {
    "power": "power_w",
    "watt": "power_w",
    "speed": "speed_kmh",
    "dist": "distance_m",
    "lat": "lat_deg",
    "lon": "lon_deg",
    "lng": "lon_deg",
    "height": "height_m",
    "alt": "height_m",
    "ele": "height_m",
    "cad": "cadence_rpm",
    "temp": "temperature_degc",
}
"""How a column of another name may begin -> the column that it may be, in one of its units."""

_XML_NAMES = {
    "ele": "heights_m",
    "altitudemeters": "heights_m",
    "distancemeters": "distances_m",
    "distance": "distances_m",
    "speed": "speeds_mps",
    "power": "powers_w",
    "watts": "powers_w",
    "powerinwatts": "powers_w",
    "cad": "cadences_rpm",
    "cadence": "cadences_rpm",
    "atemp": "temperatures_degc",
    "temp": "temperatures_degc",
    "temperature": "temperatures_degc",
    "latitudedegrees": "lats_deg",
    "longitudedegrees": "lons_deg",
}
"""Elements of a GPX point (with extensions) or a TCX trackpoint -> channel."""

_KINDS = "a recording as FIT, GPX, TCX or CSV"


def read_recording(path: Path) -> Recording:
    """Read a recording of a ride.

    Parameters
    ----------
    path : Path
        FIT, GPX (with extensions for power and the like), TCX, or CSV with the columns of
        `CSV_COLUMNS`.

    Returns
    -------
    Recording
        Mended; ``repairs`` lists what was done.

    Raises
    ------
    InputError
        If the file cannot be read, has no times, fewer than two samples, or was not ridden on a
        road (a program worked out its speed).
    """
    data = read_bytes(path, max_bytes=MAX_FILE_BYTES, expected=_KINDS)
    samples = _samples(data, path)
    if len(samples.unix_s) < 2:
        raise InputError(
            file=str(path),
            found=f"{len(samples.unix_s)} samples",
            expected="a recording of two samples or more",
        )
    return mended(samples, path)


def _samples(data: bytes, path: Path) -> Samples:
    if data[8:12] == b".FIT":
        return fit_samples(data, path)
    if data[:2] in (b"PK", b"\x1f\x8b"):
        raise InputError(
            file=str(path),
            found="this is a packed file",
            expected=_KINDS,
            mend="unpack it first",
        )
    start = data.removeprefix(b"\xef\xbb\xbf").lstrip()
    if start[:1] == b"<" or data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return _xml_samples(data, path)
    if b"\x00" in data[:4096]:
        raise InputError(file=str(path), found="a file that is not text", expected=_KINDS)
    return _csv_samples(data, path)


def _xml_samples(data: bytes, path: Path) -> Samples:
    rows = _XmlRows(str(path))
    root = stream_xml(
        data,
        rows,
        file=str(path),
        roots=("gpx", "trainingcenterdatabase"),
        expected=_KINDS,
        mend="export the ride again",
    )
    return samples_of_rows("gpx" if root == "gpx" else "tcx", rows.rows)


class _XmlRows:
    """One row a point of a GPX track or a TCX trackpoint; see ``files.stream_xml``."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.rows: list[dict[str, float]] = []
        self._row: dict[str, float] = {}
        self._point_depth = 0

    def start(self, name: str, attributes: Mapping[str, str], depth: int) -> None:
        """An element opens."""
        if name in ("trkpt", "trackpoint") and not self._point_depth:
            refuse_too_many(len(self.rows) + 1, self.file)
            self._row, self._point_depth = {}, depth
            self.rows.append(self._row)
            if "lat" in attributes:
                self._row["lats_deg"] = _number(attributes["lat"])
                self._row["lons_deg"] = _number(attributes.get("lon"))

    def end(self, name: str, text: str, depth: int) -> None:
        """An element closes."""
        if depth == self._point_depth:
            self._point_depth = 0
        elif self._point_depth and name == "time":
            self._row["time_s"] = unix_of_text(text)
        elif self._point_depth and name in _XML_NAMES and text.strip():
            # The first value of a name is the sample's own; extensions may repeat it.
            self._row.setdefault(_XML_NAMES[name], _number(text))


def _number(text: str | None) -> float:
    try:
        return float(text or "nan")
    except ValueError:
        return math.nan


def _csv_lines(data: bytes, path: Path) -> Iterator[str]:
    """Lines that hold something, decoded one by one: a large file is not held twice."""
    number = 0
    try:
        for number, line in enumerate(io.TextIOWrapper(io.BytesIO(data), "utf-8-sig"), start=1):
            if len(line) > MAX_LINE_CHARS:
                raise InputError(
                    file=str(path),
                    place=f"line {number}",
                    found="a line without end",
                    expected=_KINDS,
                )
            if line.strip() and not line.startswith("#"):
                yield line
    except UnicodeDecodeError:
        raise InputError(
            file=str(path),
            place=f"behind line {number}",
            found="not readable as UTF-8 text",
            expected=_KINDS,
        ) from None


def _cells(lines: Iterator[str], delimiter: str, path: Path) -> Iterator[list[str]]:
    try:
        yield from csv.reader(lines, delimiter=delimiter)
    except csv.Error:
        raise InputError(
            file=str(path),
            found="a quotation mark that is never closed",
            expected="cells without quotation marks",
        ) from None


def _csv_samples(data: bytes, path: Path) -> Samples:
    lines = _csv_lines(data, path)
    first = next(lines, "")
    delimiter = max(",;\t", key=first.count)  # a comma where there is none of them
    names = [name.strip().casefold() for name in next(csv.reader([first], delimiter=delimiter), [])]
    known = [name for name in names if name in CSV_COLUMNS]
    if "time_s" not in known and "time" not in known:
        raise InputError(
            file=str(path),
            place="line 1",
            found="no column `time_s` or `time`",
            expected="a first line that names columns",
            mend="known columns: " + ", ".join(f"`{name}`" for name in CSV_COLUMNS),
        )
    rows = []
    has_date = False
    clock = _Clock()
    for number, cells in enumerate(_cells(lines, delimiter, path), start=2):
        refuse_too_many(number - 1, str(path))
        if len(cells) != len(names):
            raise InputError(
                file=str(path),
                place=f"row {number}",
                found=f"{len(cells)} cells",
                expected=f"{len(names)}, as in the first line",
            )
        row: dict[str, float] = {}
        for name, cell in zip(names, cells, strict=True):
            if name not in CSV_COLUMNS or not cell.strip():
                continue
            channel, unit = CSV_COLUMNS[name]
            value = _number(cell if delimiter == "," else cell.replace(",", "."))
            if math.isnan(value) and cell.strip().casefold() not in ("nan", "na", "null", "-"):
                place = f"row {number}, column `{name}`"
                if channel == "time_s":
                    value, is_date = clock.read(cell.strip(), place, path)
                    has_date = has_date or is_date
                else:
                    raise _not_read(cell, place, "a number, or an empty cell", path)
            row[channel] = value * unit
        rows.append(row)
    return samples_of_rows("csv", rows, has_date=has_date, notes=_left_out(names))


def _left_out(names: Sequence[str]) -> list[Repair]:
    """What to know about columns that look like a channel which no known column fills."""
    filled = {CSV_COLUMNS[name][0] for name in names if name in CSV_COLUMNS}
    repairs = []
    for name in names:
        likely = next((column for stem, column in _LIKELY.items() if name.startswith(stem)), "")
        if name in CSV_COLUMNS or not likely or CSV_COLUMNS[likely][0] in filled:
            continue
        shown = "".join(char if char.isprintable() else "?" for char in name[:40])
        text = f"the column `{shown}` is not known and was left out; is it `{likely}`?"
        repairs.append(Repair(kind="column", text=text))
    return repairs


def _not_read(cell: str, place: str, expected: str, path: Path) -> InputError:
    found = f'the text "{cell.strip()[:40]}"'
    return InputError(file=str(path), place=place, found=found, expected=expected)


class _Clock:
    """Times with colons: dates, or hours, minutes and seconds, which start anew at midnight."""

    def __init__(self) -> None:
        self._last_s = 0.0

    def read(self, cell: str, place: str, path: Path) -> tuple[float, bool]:
        """Seconds, and whether the date is known."""
        since = _HOURS.fullmatch(cell)
        if since is None:
            unix_s = unix_of_text(cell)
            if math.isnan(unix_s):
                raise _not_read(cell, place, _TIMES, path)
            return unix_s, True
        hours, minutes, seconds = (float(part.replace(",", ".")) for part in since.groups())
        time_s = 3600.0 * hours + 60.0 * minutes + seconds
        time_s += DAY_S * max(0, round((self._last_s - time_s) / DAY_S))
        self._last_s = time_s
        return time_s, False
