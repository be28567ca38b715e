"""Inputs to start from, made from the files that are shipped: short, and of every kind."""

from __future__ import annotations

import io
import json
import math
import re
import struct
import zipfile
from pathlib import Path

from reader_targets import TILE_BYTES, TOML_KINDS

ROOT = Path(__file__).parents[2]
CONFIGS = ROOT / "configs"
COURSES = ROOT / "courses"
YEARS = ROOT / "tests" / "setup" / "data"
N_POINTS = 60
START_UNIX = 1_780_000_000
FIT_EPOCH = 631_065_600

_TOML_FILES = {
    "build": ("plover.toml", "gannet.toml"),
    "rider": ("rider.toml", "rider-long-day.toml"),
    "weather": ("weather.toml", "weather-turning.toml"),
    "pacing": ("pacing.toml", "pacing/even-reserve.toml", "pacing/replay.toml"),
    "parts": ("parts.toml",),
    "course": ("course.toml",),
    "testday": ("fieldtest/testday.toml",),
    "verdict": ("fieldtest/two-climbs.toml",),
    "runplan": ("fieldtest/runs.toml",),
    "spend": ("spend.toml",),
    "bunch": ("bunch.toml",),
}


def seeds(name: str) -> list[bytes]:
    """Starting inputs of a target."""
    return {
        "gpx": _gpx, "tcx": _tcx, "fit": _fit, "csv": _csv, "toml": _toml, "geojson": _geojson,
        "hgt": _hgt, "year": _year,
    }[name]()  # fmt: skip


def words(name: str) -> list[str]:
    """Words that matter in files of a kind: the fuzzer puts them in."""
    found: set[str] = set()
    for seed in seeds(name):
        if name not in ("fit", "hgt"):
            found |= set(re.findall(r"[A-Za-z_][\w.-]{2,30}", seed.decode("utf-8", "replace")))
    more = {"nan", "inf", "-1", "1e999", "0", "", "null", "true", "[[", "]]", "<![CDATA[", "&#0;"}
    return sorted(word for word in found | more if word.isascii() and word)


def _points() -> list[str]:
    text = (COURSES / "town-criterium" / "track.gpx").read_text(encoding="utf-8")
    return re.findall(r"<trkpt.*?</trkpt>", text, re.DOTALL)[:N_POINTS]


def _gpx() -> list[bytes]:
    points = _points()
    head = '<?xml version="1.0"?><gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">'
    track = f"{head}<trk><name>Lap</name><trkseg>{''.join(points)}</trkseg></trk></gpx>"
    timed = re.sub(r"</ele>", "</ele><time>2026-06-01T10:00:00Z</time>", track)
    route = re.sub("trkpt", "rtept", "".join(points[:9]))
    halves = "</trkseg></trk><trk><trkseg>".join(("".join(points[:9]), "".join(points[9:18])))
    return [
        track.encode(),
        timed.encode(),
        f"{head}<rte><name>Way</name>{route}</rte></gpx>".encode(),
        f"{head}<trk><trkseg>{halves}</trkseg></trk></gpx>".encode(),
        ("\ufeff" + track.replace("trkpt", "gx:trkpt")).encode("utf-16"),
    ]


def _tcx() -> list[bytes]:
    rows, row_gpx = [], []
    for i in range(N_POINTS):
        when = f"2026-06-01T10:00:{i:02d}Z"
        lat, lon = 44.5 + 8e-5 * i, -35.5
        rows.append(
            f"<Trackpoint><Time>{when}</Time><Position><LatitudeDegrees>{lat:.6f}"
            f"</LatitudeDegrees><LongitudeDegrees>{lon}</LongitudeDegrees></Position>"
            f"<AltitudeMeters>{100 + i}</AltitudeMeters><DistanceMeters>{9 * i}</DistanceMeters>"
            f"<Cadence>90</Cadence><Extensions><ns3:TPX><ns3:Speed>9</ns3:Speed><ns3:Watts>250"
            "</ns3:Watts></ns3:TPX></Extensions></Trackpoint>"
        )
        row_gpx.append(
            f'<trkpt lat="{lat:.6f}" lon="{lon}"><ele>{100 + i}</ele><time>{when}</time>'
            "<extensions><power>250</power><cad>90</cad></extensions></trkpt>"
        )
    tcx = (
        '<TrainingCenterDatabase xmlns:ns3="x"><Activities><Activity Sport="Biking"><Lap><Track>'
        f"{''.join(rows)}</Track></Lap></Activity></Activities></TrainingCenterDatabase>"
    )
    return [tcx.encode(), f"<gpx><trk><trkseg>{''.join(row_gpx)}</trkseg></trk></gpx>".encode()]


def _csv() -> list[bytes]:
    head = "time_s,lat_deg,lon_deg,distance_m,speed_mps,power_w,cadence_rpm,temperature_degc"
    rows = [f"{i},{44.5 + 8e-5 * i:.6f},-35.5,{9 * i},9.0,250,90,15" for i in range(N_POINTS)]
    comma = "\n".join([head, *rows])
    days = [f"2026-06-01T10:00:{i:02d}Z;{9 * i / 1000};32,4;" for i in range(N_POINTS)]
    return [
        comma.encode(),
        "\n".join(["time;distance_km;speed_kmh;height_m", *days]).encode(),
        (comma + "\n# end\n").replace(".0,250", ".0,").encode(),
    ]


def _fit() -> list[bytes]:
    """Header, definitions and records after the public protocol, the check sums left at zero."""
    fields = [(253, 4, 0x86), (0, 4, 0x85), (1, 4, 0x85), (5, 4, 0x86), (6, 2, 0x84),
              (7, 2, 0x84), (4, 1, 0x02), (2, 2, 0x84)]  # fmt: skip
    body = b"\x40\x00\x00" + struct.pack("<HB", 20, len(fields))
    body += b"".join(bytes(f) for f in fields)
    for i in range(N_POINTS):
        semicircles = 2.0**31 / 180.0
        body += struct.pack(
            "<BIiiIHHBH",
            0,
            START_UNIX - FIT_EPOCH + i,
            round((44.5 + math.degrees(9.0 * i / 6.371e6)) * semicircles),
            round(-35.5 * semicircles),
            900 * i,
            9000,
            250,
            90,
            3000,
        )
    event = b"\x41\x00\x00" + struct.pack("<HB", 21, 3)
    event += bytes((253, 4, 0x86, 0, 1, 0x00, 1, 1, 0x00))
    event += struct.pack("<BIBB", 1, START_UNIX - FIT_EPOCH + 5, 36, 3)
    return [_fit_file(body), _fit_file(body + event), _fit_file(body[:400])]


def _fit_file(body: bytes) -> bytes:
    head = struct.pack("<BBHI4sH", 14, 0x20, 2134, len(body), b".FIT", 0)
    return head + body + b"\x00\x00"


def _toml() -> list[bytes]:
    made = []
    for i_kind, kind in enumerate(TOML_KINDS):
        for file in _TOML_FILES[kind]:
            text = (CONFIGS / file).read_text(encoding="utf-8")
            text = re.sub(r"(?m)^#(?! ?[a-z_]+ ?=|\s?\[).*\n|\s+# .*$", "", text)
            if kind in ("testday", "runplan"):  # even roads: building a course takes long
                text = re.sub(r"(?ms)^\[\[road\]\]\nname = \"Gull climb\".*?\n\n", "", text)
                text = text.replace('"Gull climb"', '"Moor flat"')
            if kind == "course":
                text = re.sub(r"(?m)^(tiles|zones) = .*\n", "", text)
            made.append(bytes([i_kind]) + text.encode())
            opened = re.sub(r"(?m)^# ", "", text)
            made.append(bytes([i_kind]) + opened.encode())
    return made


def _geojson() -> list[bytes]:
    made = [path.read_bytes() for path in sorted(COURSES.glob("*/zones.geojson"))]
    ring = [[-36.0, 44.0], [-35.0, 44.0], [-35.0, 45.0], [-36.0, 45.0], [-36.0, 44.0]]
    hole = [[-35.6, 44.4], [-35.4, 44.4], [-35.4, 44.6], [-35.6, 44.6], [-35.6, 44.4]]
    features = [
        {
            "type": "Feature",
            "properties": {"shelter": 0.5, "surface": "worn", "name": "all", "roughness_m": 0.05},
            "geometry": {"type": "MultiPolygon", "coordinates": [[ring, hole]]},
        },
        {
            "type": "Feature",
            "properties": {"crr_factor": 1.1, "grip_factor": 0.9},
            "geometry": {"type": "Polygon", "coordinates": [ring[:2] + ring[3:1:-1] + ring[:1]]},
        },
    ]
    made.append(json.dumps({"type": "FeatureCollection", "features": features}).encode())
    return made


def _hgt() -> list[bytes]:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("N44W036.hgt", struct.pack(">h", 120) * (TILE_BYTES // 2))
    shipped = (COURSES / "tiles" / "N44W036.hgt.zip").read_bytes()
    return [
        b"\x00" + b"\x00\x10" * 40,
        b"\x01" + struct.pack(">6h", 100, 101, -32768, 9999, -600, 0),
        b"\x02" + packed.getvalue(),
        b"\x02" + shipped,
    ]


def _year() -> list[bytes]:
    return [
        (YEARS / "june_afternoons.epw").read_bytes(),
        (YEARS / "june_afternoons_tmy3.csv").read_bytes(),
    ]
