"""Recordings made for tests: a straight road north, ridden at a known speed, as any file kind."""

import math
import struct

import numpy as np
import pytest

LAT0, LON0 = 44.5, -35.5
RADIUS_M = 6_371_008.8
START_UNIX = 1_780_000_000
FIT_EPOCH = 631_065_600  # 1989-12-31, the FIT profile's start of time


def lat_at(north_m):
    return LAT0 + math.degrees(north_m / RADIUS_M)


@pytest.fixture
def straight_ride():
    """``straight_ride(speeds_mps, power_w=250)``: one sample a second, north from the origin."""

    def make(speeds, power_w=250.0, dt_s=1.0):
        speeds = np.asarray(speeds, dtype=float)
        places = np.concatenate(([0.0], np.cumsum(0.5 * (speeds[1:] + speeds[:-1]) * dt_s)))
        return {
            "times": np.arange(len(speeds)) * dt_s,
            "places": places,
            "speeds": speeds,
            "powers": np.full(len(speeds), power_w),
        }

    return make


@pytest.fixture
def write_csv(tmp_path):
    """``write_csv(ride, **columns)`` -> path of a CSV recording with positions."""

    def write(ride, name="ride.csv", **more):
        columns = {
            "time_s": ride["times"],
            "lat_deg": [lat_at(p) for p in ride["places"]],
            "lon_deg": np.full(len(ride["times"]), LON0),
            "distance_m": ride["places"],
            "speed_mps": ride["speeds"],
            "power_w": ride["powers"],
            "cadence_rpm": np.full(len(ride["times"]), 90.0),
        } | more
        columns = {key: values for key, values in columns.items() if values is not None}
        lines = [",".join(columns)]
        for row in zip(*columns.values(), strict=True):
            lines.append(",".join("" if v is None or v != v else repr(float(v)) for v in row))
        path = tmp_path / name
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
        return path

    return write


def _crc(data):
    table = [
        0x0000, 0xCC01, 0xD801, 0x1400, 0xF001, 0x3C00, 0x2800, 0xE401,
        0xA001, 0x6C00, 0x7800, 0xB401, 0x5000, 0x9C01, 0x8801, 0x4400,
    ]  # fmt: skip
    crc = 0
    for byte in data:
        for nibble in (byte & 0xF, byte >> 4):
            crc = (crc >> 4) ^ table[crc & 0xF] ^ table[nibble]
    return crc


@pytest.fixture
def fit_bytes():
    """``fit_bytes(ride, sub_sport=None, power_twice=False)``: a small FIT file.

    Written by hand after the public protocol: header, definitions, records, check sum.
    """

    def make(ride, *, sub_sport=None, power_twice=False, calibration_at=None):
        body = b""
        # Definition 0: message 20 (record) with time, position, distance, speed, power.
        fields = [(253, 4, 0x86), (0, 4, 0x85), (1, 4, 0x85), (5, 4, 0x86), (6, 2, 0x84),
                  (7, 2, 0x84), (4, 1, 0x02), (2, 2, 0x84)]  # fmt: skip
        if power_twice:
            fields.append((7, 2, 0x84))
        body += b"\x40\x00\x00" + struct.pack("<HB", 20, len(fields))
        body += b"".join(bytes(f) for f in fields)
        for i, t in enumerate(ride["times"]):
            semicircles = 2.0**31 / 180.0
            record = struct.pack(
                "<BIiiIHHBH",
                0,
                int(START_UNIX - FIT_EPOCH + t),
                round(lat_at(ride["places"][i]) * semicircles),
                round(LON0 * semicircles),
                round(ride["places"][i] * 100.0),
                round(ride["speeds"][i] * 1000.0),
                int(ride["powers"][i]) if math.isfinite(ride["powers"][i]) else 0xFFFF,
                90,
                round((100.0 + 500.0) * 5.0),
            )
            body += record + (struct.pack("<H", 9999) if power_twice else b"")
        if calibration_at is not None:
            # Definition 1: message 21 (event) with time, event and type.
            body += b"\x41\x00\x00" + struct.pack("<HB", 21, 3)
            body += bytes((253, 4, 0x86, 0, 1, 0x00, 1, 1, 0x00))
            body += struct.pack("<BIBB", 1, int(START_UNIX - FIT_EPOCH + calibration_at), 36, 3)
        if sub_sport is not None:
            # Definition 2: message 12 (sport) with sport 2 (cycling) and its kind.
            body += b"\x42\x00\x00" + struct.pack("<HB", 12, 2) + bytes((0, 1, 0x00, 1, 1, 0x00))
            body += struct.pack("<BBB", 2, 2, sub_sport)
        head = struct.pack("<BBHI4s", 14, 0x20, 2134, len(body), b".FIT")
        head += struct.pack("<H", _crc(head))
        return head + body + struct.pack("<H", _crc(head + body))

    return make
