"""Crossings between samples, passes in a long file, what is odd about a run."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.recordings import GateLine, find_crossings, find_passes, read_recording
from simulator.recordings.gates import crossing_of_distance, time_share

HUNDREDTH_OF_A_SECOND_S = 0.01
METRES_PER_DEG = np.pi / 180.0 * 6_371_008.8


def gate_at(north_m, *, heading_deg=0.0, name="gate", east_m=0.0, width_m=30.0):
    return GateLine(
        name=name,
        lat_deg=44.5 + north_m / METRES_PER_DEG,
        lon_deg=-35.5 + east_m / METRES_PER_DEG / np.cos(np.radians(44.5)),
        heading_deg=heading_deg,
        width_m=width_m,
    )


@given(
    part=st.floats(0.0, 1.0),
    before=st.floats(0.1, 30.0),
    after=st.floats(0.1, 30.0),
)
def test_share_of_time_is_that_of_even_acceleration(part, before, after):
    share = time_share(part, before, after)
    way = before * share + 0.5 * (after - before) * share**2
    assert way == pytest.approx(part * 0.5 * (before + after), abs=1e-9)


def test_share_of_time_without_speeds_is_that_of_the_way():
    assert time_share(0.3, np.nan, 4.0) == 0.3
    assert time_share(0.3, 0.0, 0.0) == 0.3


def test_crossing_is_found_between_samples(straight_ride, write_csv):
    """Even acceleration a from v0: s = v0 t + a t²/2 (textbook)."""
    v0, a = 4.0, 0.25
    ride = straight_ride(v0 + a * np.arange(40))
    recording = read_recording(write_csv(ride))
    for place_m in (33.3, 100.1, 217.77):
        (crossing,) = find_crossings(recording, gate_at(place_m))
        expected_s = (-v0 + np.sqrt(v0**2 + 2 * a * place_m)) / a
        assert crossing.time_s == pytest.approx(expected_s, abs=HUNDREDTH_OF_A_SECOND_S)
        assert crossing.speed_mps == pytest.approx(v0 + a * expected_s, abs=0.01)
        by_distance_s = crossing_of_distance(recording, place_m)
        assert by_distance_s == pytest.approx(expected_s, abs=HUNDREDTH_OF_A_SECOND_S)


def test_distance_that_is_never_reached(straight_ride, write_csv):
    recording = read_recording(write_csv(straight_ride(np.full(30, 5.0))))
    assert np.isnan(crossing_of_distance(recording, 1e5))


def test_gate_counts_in_its_direction_and_width_only(straight_ride, write_csv):
    recording = read_recording(write_csv(straight_ride(np.full(60, 5.0))))
    assert len(find_crossings(recording, gate_at(100.0))) == 1
    assert len(find_crossings(recording, gate_at(100.0, heading_deg=50.0))) == 1
    assert find_crossings(recording, gate_at(100.0, heading_deg=180.0)) == ()
    assert find_crossings(recording, gate_at(100.0, heading_deg=75.0)) == ()
    assert find_crossings(recording, gate_at(100.0, east_m=16.0)) == ()
    (crossing,) = find_crossings(recording, gate_at(100.0, east_m=14.0))
    assert crossing.right_m == pytest.approx(-14.0, abs=0.05)


@pytest.fixture
def laps(straight_ride, write_csv):
    """Three times up the same road; between them back down it; the second one stops on the way."""

    def make():
        up = np.full(80, 5.0)
        stopping = up.copy()
        stopping[35:45] = 0.2
        speeds, places, here = [], [], 0.0
        for profile, sign in ((up, 1), (up, -1), (stopping, 1), (stopping, -1), (up, 1)):
            for v in profile:
                here += sign * v
                speeds.append(v)
                places.append(here)
        ride = {
            "times": np.arange(len(speeds), dtype=float),
            "places": np.array(places),
            "speeds": np.array(speeds),
            "powers": np.full(len(speeds), 250.0),
        }
        travelled = np.concatenate(([0.0], np.cumsum(np.array(speeds)[1:])))
        return read_recording(write_csv(ride, distance_m=travelled))

    return make


def test_every_pass_of_a_long_file_is_found(laps):
    passes = find_passes(laps(), [gate_at(50.0), gate_at(300.0)])
    assert [run.number for run in passes] == [1, 2, 3]
    assert [run.time_s for run in passes] == pytest.approx([50.0, 59.6, 50.0], abs=0.05)
    assert [run.doubts for run in passes[::2]] == [(), ()]
    assert "the rider stopped" in passes[1].doubts[0]
    assert [run.mean_power_w for run in passes] == pytest.approx([250.0] * 3)


def test_start_again_counts_once(laps):
    """Who crosses the first gate, turns back and crosses it again has started again."""
    passes = find_passes(laps(), [gate_at(50.0), gate_at(390.0)])
    assert len(passes) == 3 - 1  # the stopped one does not get so far
    assert all(run.time_s < 100.0 for run in passes)


def test_stray_run_is_flagged_not_dropped(straight_ride, write_csv):
    ride = straight_ride(np.full(100, 5.0))
    lon = np.full(100, -35.5)
    lon[40:50] += 70.0 / METRES_PER_DEG / np.cos(np.radians(44.5))
    recording = read_recording(write_csv(ride, lon_deg=lon))
    road = 44.5 + np.arange(0.0, 500.0, 10.0) / METRES_PER_DEG
    (run,) = find_passes(
        recording,
        [gate_at(50.0), gate_at(400.0)],
        road_lats_deg=road,
        road_lons_deg=np.full(len(road), -35.5),
    )
    assert any("strays 70 m" in doubt for doubt in run.doubts)


def test_missing_power_is_flagged(straight_ride, write_csv):
    ride = straight_ride(np.full(100, 5.0))
    ride["powers"][30:50] = np.nan
    (run,) = find_passes(read_recording(write_csv(ride)), [gate_at(50.0), gate_at(400.0)])
    assert any("power is missing for 28 %" in doubt for doubt in run.doubts)
    assert run.mean_power_w == pytest.approx(250.0)


@settings(max_examples=20, deadline=None)
@given(shift_m=st.floats(-2.0, 2.0))
def test_crossing_moves_smoothly_with_the_gate(shift_m):
    """No jump where a sample lies on the line: dt = ds / v."""
    from simulator.recordings import Recording

    places = np.arange(0.0, 300.0, 5.0)
    blank = np.full(60, np.nan)
    recording = Recording(
        name="made", kind="csv", start_time="", times_s=np.arange(60.0),
        lats_deg=44.5 + places / METRES_PER_DEG, lons_deg=np.full(60, -35.5), heights_m=blank,
        distances_m=places, speeds_mps=np.full(60, 5.0), powers_w=blank, cadences_rpm=blank,
        temperatures_degc=blank, speed_source="device", rhythm="every second", repairs=(),
    )  # fmt: skip
    (crossing,) = find_crossings(recording, gate_at(100.0 + shift_m))
    assert crossing.time_s == pytest.approx(20.0 + shift_m / 5.0, abs=1e-6)
