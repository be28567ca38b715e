"""A minute of a real bicycle computer; source and licence stand in data/README.md."""

import csv
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from simulator.recordings import clean_stretches, read_recording
from simulator.recordings.sphere import steps_m

DATA = Path(__file__).parent / "data" / "real_minute.csv"


@pytest.fixture
def recording(tmp_path):
    with DATA.open(encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    lines = ["time,lat_deg,lon_deg,height_m,distance_m,speed_mps,cadence_rpm,temperature_degc"]
    for row in rows:
        when = datetime.strptime(row["timestamp"].replace(" PDT", ""), "%a %b %d %H:%M:%S %Y")
        degrees = [int(row[k]) * 180.0 / 2**31 for k in ("position_lat", "position_long")]
        cells = [when.isoformat() + "-07:00", *map(repr, degrees)]
        cells += [row[k] for k in ("altitude", "distance", "speed", "cadence", "temperature")]
        lines.append(",".join(cells))
    path = tmp_path / "real.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    return read_recording(path)


def test_what_is_in_it(recording):
    assert recording.n_samples == 45
    assert recording.rhythm == "every second"
    assert recording.start_time == "2011-09-25 13:00:46"
    assert [repair.kind for repair in recording.repairs] == ["no power"]


def test_speed_distance_and_positions_agree(recording):
    """Three ways to the length of the minute: wheel, speed over time, positions."""
    wheel_m = recording.distances_m[-1] - recording.distances_m[0]
    speeds, times = recording.speeds_mps, recording.times_s
    by_speed_m = float(np.sum(0.5 * (speeds[1:] + speeds[:-1]) * np.diff(times)))
    by_position_m = float(steps_m(recording.lats_deg, recording.lons_deg).sum())
    one_percent = 0.01 * wheel_m
    assert by_speed_m == pytest.approx(wheel_m, abs=one_percent)
    # Positions of a hand-size receiver wander by metres when slow.
    assert by_position_m == pytest.approx(wheel_m, abs=5.0)


def test_slowing_to_near_standstill_is_left_out(recording):
    reasons = {s.reason for s in clean_stretches(recording, least_s=5.0)}
    assert {"stop", "braking or traffic"} <= reasons
