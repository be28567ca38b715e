"""Files -> samples: which kind it is, told by the content, and the readers of XML and CSV."""

from __future__ import annotations

import csv
import io
import math
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import ParseError

from simulator.errors import InputError
from simulator.files import read_bytes
from simulator.recordings.fit_reader import fit_samples
from simulator.recordings.mending import mended
from simulator.recordings.recording import Recording
from simulator.recordings.samples import MAX_SAMPLES, Samples, samples_of_rows, unix_of_text
from simulator.units import mps_from_kmh

MAX_FILE_BYTES = 100_000_000

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
    if len(samples.unix_s) > MAX_SAMPLES:
        raise InputError(
            file=str(path),
            found=f"{len(samples.unix_s)} samples",
            expected=f"at most {MAX_SAMPLES}",
            mend="split the file",
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
        return _xml_samples(data.lstrip(), path)
    if b"\x00" in data[:4096]:
        raise InputError(file=str(path), found="a file that is not text", expected=_KINDS)
    return _csv_samples(data, path)


def _xml_samples(data: bytes, path: Path) -> Samples:
    from defusedxml import ElementTree
    from defusedxml.common import DefusedXmlException

    rows: list[dict[str, float]] = []
    root = ""
    try:
        for event, element in ElementTree.iterparse(
            io.BytesIO(data), events=("start", "end"), forbid_dtd=True
        ):
            tag = _local(element.tag)
            if event == "start":
                root = root or tag
                if root not in ("gpx", "trainingcenterdatabase"):
                    break
            elif tag in ("trkpt", "trackpoint"):
                rows.append(_xml_row(element))
                element.clear()
    except DefusedXmlException:
        raise InputError(
            file=str(path),
            found="the file declares a document type or entities, which can be used to attack",
            expected="plain GPX or TCX",
        ) from None
    except (ParseError, ValueError, LookupError) as error:
        line = getattr(error, "position", (None,))[0]
        raise InputError(
            file=str(path),
            place=f"line {line}" if line else "",
            found="not well-formed XML",
            expected="GPX or TCX",
            mend="export the ride again",
        ) from None
    kind = {"gpx": "gpx", "trainingcenterdatabase": "tcx"}.get(root)
    if kind is None:
        raise InputError(
            file=str(path), found=f"an XML file of another kind (<{root[:40]}>)", expected=_KINDS
        )
    return samples_of_rows(kind, rows)


def _xml_row(point: Any) -> dict[str, float]:
    row = {}
    if "lat" in point.attrib:
        row["lats_deg"], row["lons_deg"] = _number(point.get("lat")), _number(point.get("lon"))
    for element in point.iter():
        name = _local(element.tag)
        if name == "time":
            row["time_s"] = unix_of_text(element.text or "")
        elif name in _XML_NAMES and (element.text or "").strip():
            # The first value of a name is the sample's own; extensions may repeat it.
            row.setdefault(_XML_NAMES[name], _number(element.text))
    return row


def _local(tag: object) -> str:
    return str(tag).rpartition("}")[2].rpartition(":")[2].casefold()


def _number(text: str | None) -> float:
    try:
        return float(text or "nan")
    except ValueError:
        return math.nan


def _csv_samples(data: bytes, path: Path) -> Samples:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(file=str(path), found="not readable as UTF-8 text", expected=_KINDS) from (
            None
        )
    lines = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    semicolons = lines[0].count(";") > lines[0].count(",") if lines else False
    table = list(csv.reader(lines, delimiter=";" if semicolons else ","))
    names = [name.strip().casefold() for name in table[0]] if table else []
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
    for number, cells in enumerate(table[1:], start=2):
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
            if name == "time" and not _is_number(cell):
                row[channel] = unix_of_text(cell)
                has_date = True
                continue
            value = _number(cell.replace(",", ".") if semicolons else cell)
            if math.isnan(value) and cell.strip().casefold() not in ("nan", "na", "null", "-"):
                raise InputError(
                    file=str(path),
                    place=f"row {number}, column `{name}`",
                    found=f'the text "{cell.strip()[:40]}"',
                    expected="a number, or an empty cell",
                )
            row[channel] = value * unit
        rows.append(row)
    return samples_of_rows("csv", rows, has_date=has_date)


def _is_number(cell: str) -> bool:
    return not math.isnan(_number(cell))
