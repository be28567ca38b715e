"""A real ride with power, fitted: one half predicts the other; figures are those of a rider.

Nobody knows the figures of this rider and bicycle, nor the wind; the course is made from the
recording's own positions and barometric heights.
"""

import shutil
from pathlib import Path

import pytest

from simulator.fieldtest import infer_day, load_testday
from simulator.fieldtest.outcome import PUBLISHED_CDA_M2, PUBLISHED_CRR
from simulator.recordings import read_recording

RIDE = Path(__file__).parents[1] / "recordings" / "data" / "real_ride_power.fit"
POINT = '<trkpt lat="{:.7f}" lon="{:.7f}"><ele>{:.1f}</ele></trkpt>'
DAY = """name = "lanes"
rider = "rider.toml"
position_factor = 1.0
mass_sd_kg = 5.0
[wind]
sd_kmh = 8
[[build]]
file = "bike.toml"
[[road]]
name = "lanes"
course = "track.gpx"
from_km = 0.5
to_km = {to_km}
[[run]]
build = "Heron"
kind = "free"
road = "lanes"
recording = "ride.fit"
"""


@pytest.fixture
def infer_ride(tmp_path):
    """``infer_ride(to_km)``: the outcome of the ride's first kilometres."""
    ride = read_recording(RIDE)
    shutil.copy(RIDE, tmp_path / "ride.fit")
    points = map(POINT.format, ride.lats_deg, ride.lons_deg, ride.heights_m)
    (tmp_path / "track.gpx").write_text(
        '<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
        + "".join(points)
        + "</trkseg></trk></gpx>",
        encoding="utf-8",
    )
    (tmp_path / "rider.toml").write_text('name = "unknown"\nmass_kg = 70.0\nkit_kg = 2.0\n')
    (tmp_path / "bike.toml").write_text(
        'name = "Heron"\nmass_kg = 8.5\ncda_m2 = 0.33\ncrr = 0.005\n'
    )

    def infer(to_km):
        path = tmp_path / "day.toml"
        path.write_text(DAY.format(to_km=to_km), encoding="utf-8")
        return infer_day(load_testday(path))

    return infer


def test_part_of_a_real_ride_is_read_and_fitted(infer_ride):
    outcome = infer_ride(6.0)
    (reading,) = outcome.readings
    used_m = sum(leg.length_m for leg in reading.legs)
    assert used_m > 0.9 * 5500.0
    assert {s.reason for s in reading.stretches} >= {"", "braking or traffic"}
    (part,) = outcome.held_out
    assert abs(part.measured_s - part.predicted_s) < 2.0 * part.sd_s
    assert all(abs(p.measured_s - p.predicted_s) < 4.0 * p.sd_s for p in part.pieces)


@pytest.mark.slow
def test_first_half_of_a_real_ride_predicts_the_second(infer_ride):
    outcome = infer_ride(17.9)
    (part,) = outcome.held_out
    assert part.measured_s > 1000.0
    # Well within its doubt, and to a fiftieth of the time.
    assert abs(part.measured_s - part.predicted_s) < min(1.645 * part.sd_s, part.measured_s / 50.0)
    inside = [abs(p.measured_s - p.predicted_s) <= 1.645 * p.sd_s for p in part.pieces]
    assert sum(inside) >= 0.8 * len(inside)
    (figures,) = outcome.builds
    for value, (low, high) in ((figures.cda_m2, PUBLISHED_CDA_M2), (figures.crr, PUBLISHED_CRR)):
        assert low <= value.value <= high
    assert outcome.fit.chance > 0.001
