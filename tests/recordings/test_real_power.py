"""Rides of real devices, one with power; sources and licence stand in data/README.md.

Expected figures are those that the device itself wrote into its session message.
"""

from pathlib import Path

import fitdecode
import numpy as np
import pytest

from simulator.recordings import clean_stretches, read_recording
from simulator.recordings.sphere import steps_m

DATA = Path(__file__).parent / "data"
WITH_POWER, SMART = DATA / "real_ride_power.fit", DATA / "real_ride_smart.fit"


def session_of(path):
    """Figures that the device worked out while it recorded."""
    for frame in fitdecode.FitReader(path):
        if isinstance(frame, fitdecode.FitDataMessage) and frame.name == "session":
            return frame
    raise AssertionError("no session message")


@pytest.fixture(scope="module")
def ride():
    return read_recording(WITH_POWER)


def test_distance_speed_and_time_are_those_of_the_device(ride):
    session = session_of(WITH_POWER)
    centimetre_m, millimetre_per_s = 0.01, 0.001
    assert ride.distances_m[-1] == pytest.approx(session.get_value("total_distance"),
                                                 abs=centimetre_m)  # fmt: skip
    assert ride.speeds_mps.max() == pytest.approx(session.get_value("max_speed"),
                                                  abs=millimetre_per_s)  # fmt: skip
    assert ride.times_s[-1] == pytest.approx(session.get_value("total_elapsed_time"), abs=1.0)
    assert ride.rhythm == "every second"
    assert ride.speed_source == "device"
    assert ride.start_time == session.get_value("start_time").strftime("%Y-%m-%d %H:%M:%S")


def test_work_is_that_of_the_device_but_for_the_zeros_that_were_filled(ride):
    """The device summed 393,283 J with 22 lost messages counted as 0 W."""
    (zeros,) = [r for r in ride.repairs if r.kind == "power zeros"]
    n_filled = int(zeros.text.split()[0])
    work_j = float(ride.powers_w.sum())  # a sample a second
    device_j = session_of(WITH_POWER).get_value("total_work")
    assert n_filled == 22
    # Filled with what stands around them: about the mean of the pedalled samples, 204 W.
    assert work_j - device_j == pytest.approx(n_filled * 204.0, abs=0.3 * n_filled * 204.0)


def test_mean_of_pedalled_power_is_that_of_the_device(ride):
    """This device leaves zeros out of its mean: 204 W, told in whole watts."""
    mean_w = float(ride.powers_w[ride.powers_w > 0.0].mean())
    assert mean_w == pytest.approx(session_of(WITH_POWER).get_value("avg_power"), abs=1.0)


def test_climb_is_that_of_the_device(ride):
    """139 m, from heights in steps of 0.2 m."""
    climbed_m = float(np.clip(np.diff(ride.heights_m), 0.0, None).sum())
    assert climbed_m == pytest.approx(session_of(WITH_POWER).get_value("total_ascent"), abs=2.0)


def test_wheel_speed_and_positions_agree(ride):
    wheel_m = ride.distances_m[-1] - ride.distances_m[0]
    per_mille = 0.001 * wheel_m
    by_position_m = float(np.nansum(steps_m(ride.lats_deg, ride.lons_deg)))
    mean_mps = 0.5 * (ride.speeds_mps[1:] + ride.speeds_mps[:-1])
    by_speed_m = float((mean_mps * np.diff(ride.times_s)).sum())
    assert by_speed_m == pytest.approx(wheel_m, abs=per_mille)
    assert by_position_m == pytest.approx(wheel_m, abs=2.0 * per_mille)


def test_most_of_a_quiet_ride_is_used(ride):
    stretches = clean_stretches(ride)
    used_s = sum(s.end_s - s.start_s for s in stretches if not s.reason)
    assert used_s > 0.95 * 0.98 * ride.times_s[-1]
    assert {s.reason for s in stretches} == {"", "braking or traffic", "pause"}
    (pause,) = [r for r in ride.repairs if r.kind == "pause"]
    session = session_of(WITH_POWER)
    stood_s = session.get_value("total_elapsed_time") - session.get_value("total_timer_time")
    assert pause.end_s - pause.start_s == pytest.approx(stood_s, abs=1.0)


def test_smart_recording_of_a_device_is_recognised():
    recording = read_recording(SMART)
    session = session_of(SMART)
    assert recording.rhythm == "smart"
    assert not recording.has_power
    assert recording.distances_m[-1] == pytest.approx(session.get_value("total_distance"), abs=0.01)
    assert recording.times_s[-1] == pytest.approx(session.get_value("total_elapsed_time"), abs=1.0)
    kinds = [repair.kind for repair in recording.repairs]
    assert "no power" in kinds
    # Long straight steps of such a recording are told, every one of them.
    long_s = np.diff(recording.times_s) > 6.0
    assert kinds.count("dropout") + kinds.count("pause") == int(long_s.sum())
