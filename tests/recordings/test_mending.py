"""What is mended in a recording, and that the list says so."""

import numpy as np
import pytest

from simulator.recordings import read_recording


def lats(ride):
    return 44.5 + np.degrees(ride["places"] / 6_371_008.8)


def kinds(recording):
    return [repair.kind for repair in recording.repairs]


@pytest.fixture
def ride(straight_ride):
    return straight_ride(np.full(60, 5.0))


def test_power_spike_and_hole_are_filled(ride, write_csv):
    powers = ride["powers"].copy()
    powers[10], powers[20] = 65535.0, np.nan
    recording = read_recording(write_csv(ride, power_w=powers))
    np.testing.assert_allclose(recording.powers_w, 250.0)
    assert kinds(recording) == ["spike", "filled"]
    assert recording.repairs[0].start_s == 10.0


def test_lost_power_zeros_are_filled_but_coasting_stays(ride, write_csv):
    powers, cadences = ride["powers"].copy(), np.full(60, 90.0)
    powers[10:12] = 0.0
    powers[30:40] = 0.0
    cadences[30:40] = 0.0
    recording = read_recording(write_csv(ride, power_w=powers, cadence_rpm=cadences))
    np.testing.assert_allclose(recording.powers_w[10:12], 250.0)
    np.testing.assert_allclose(recording.powers_w[30:40], 0.0)
    assert kinds(recording) == ["power zeros", "coasting"]
    assert "2 zeros of power" in recording.repairs[0].text
    assert "17 %" in recording.repairs[1].text


def test_long_hole_of_power_stays_missing(ride, write_csv):
    powers = ride["powers"].copy()
    powers[20:35] = np.nan
    recording = read_recording(write_csv(ride, power_w=powers))
    assert np.isnan(recording.powers_w[20:35]).all()
    assert kinds(recording) == ["dropout"]
    assert "15 values of power" in recording.repairs[0].text


def test_position_jump_and_no_fix(ride, write_csv):
    at = lats(ride)
    at[15] += 0.01
    at[30], lon = 0.0, np.full(60, -35.5)
    lon[30] = 0.0
    recording = read_recording(write_csv(ride, lat_deg=at, lon_deg=lon))
    np.testing.assert_allclose(recording.lats_deg, lats(ride), atol=1e-9)
    assert kinds(recording) == ["no fix", "spike", "filled"]


def test_speed_spike(ride, write_csv):
    speeds = ride["speeds"].copy()
    speeds[25] = 22.0
    recording = read_recording(write_csv(ride, speed_mps=speeds))
    np.testing.assert_allclose(recording.speeds_mps, 5.0)
    assert kinds(recording) == ["spike", "filled"]


def test_pause_is_told_from_dropout(straight_ride, write_csv):
    ride = straight_ride(np.full(60, 5.0))
    times = ride["times"].copy()
    times[20:] += 40.0  # stood still: the distance does not grow
    times[40:] += 20.0
    places = ride["places"].copy()
    places[40:] += 100.0  # went on unrecorded
    ride |= {"times": times, "places": places}
    recording = read_recording(write_csv(ride))
    holes = [r for r in recording.repairs if r.kind in ("pause", "dropout")]
    assert [r.kind for r in holes] == ["pause", "dropout"]
    assert "paused for 41 s" in holes[0].text
    assert (holes[0].start_s, holes[0].end_s) == (19.0, 60.0)
    assert "nothing recorded over 105 m for 21 s" in holes[1].text


def test_smart_recording_is_recognised(straight_ride, write_csv):
    ride = straight_ride(np.full(30, 5.0))
    rng = np.random.default_rng(5)
    ride["times"] = np.cumsum(rng.integers(1, 6, 30)).astype(float)
    ride["places"] = 5.0 * (ride["times"] - ride["times"][0])
    assert read_recording(write_csv(ride)).rhythm == "smart"


def test_order_and_repeats(ride, write_csv):
    times = ride["times"].copy()
    times[[7, 8]] = times[[8, 7]]
    times[20] = times[19]
    recording = read_recording(write_csv(ride | {"times": times}))
    assert recording.n_samples == 59
    assert (np.diff(recording.times_s) > 0.0).all()
    assert {"order", "twice"} <= set(kinds(recording))


def test_distance_never_falls(ride, write_csv):
    places = ride["places"].copy()
    places[30:33] -= 40.0
    recording = read_recording(write_csv(ride, distance_m=places))
    assert (np.diff(recording.distances_m) >= 0.0).all()
    assert "distance" in kinds(recording)
