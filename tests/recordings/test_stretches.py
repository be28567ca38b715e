"""Stops, braking and traffic are left out of a real ride; what is left is told."""

from itertools import pairwise

import numpy as np
import pytest

from simulator.recordings import clean_stretches, read_recording


def test_steady_ride_is_one_stretch(straight_ride, write_csv):
    recording = read_recording(write_csv(straight_ride(np.full(120, 8.0))))
    (stretch,) = clean_stretches(recording)
    assert (stretch.start_s, stretch.end_s, stretch.reason) == (0.0, 119.0, "")


def test_braking_to_a_stop_is_left_out_with_its_reason(straight_ride, write_csv):
    slow_down = np.linspace(8.0, 0.0, 7)
    speeds = np.concatenate((np.full(60, 8.0), slow_down, np.zeros(20), np.linspace(0, 8, 8),
                             np.full(60, 8.0)))  # fmt: skip
    recording = read_recording(write_csv(straight_ride(speeds)))
    stretches = clean_stretches(recording)
    used = [s for s in stretches if not s.reason]
    left = [s for s in stretches if s.reason]
    assert len(used) == 2
    assert {s.reason for s in left} >= {"stop", "braking or traffic"}
    # Braking starts at 60 s; nothing within the margin of it is used.
    assert used[0].end_s == pytest.approx(56.0, abs=1.5)
    assert used[1].start_s > 60 + 7 + 20
    # All of the ride is told, without holes.
    assert stretches[0].start_s == 0.0
    for before, after in pairwise(stretches):
        assert before.end_s == after.start_s


def test_slowing_on_a_climb_is_no_braking(straight_ride, write_csv):
    speeds = np.concatenate((np.full(40, 10.0), np.linspace(10.0, 4.0, 8), np.full(60, 4.0)))
    ride = straight_ride(speeds)
    recording = read_recording(write_csv(ride))
    grades = np.where(np.arange(len(speeds)) >= 38, 0.10, 0.0)
    assert [s.reason for s in clean_stretches(recording, grades=grades)] == [""]
    assert "braking or traffic" in {s.reason for s in clean_stretches(recording)}


def test_short_stretch_between_stops_is_left_out(straight_ride, write_csv):
    speeds = np.concatenate((np.full(60, 6.0), np.zeros(10), np.full(15, 6.0), np.zeros(10),
                             np.full(60, 6.0)))  # fmt: skip
    recording = read_recording(write_csv(straight_ride(speeds)))
    used = [s for s in clean_stretches(recording) if not s.reason]
    assert len(used) == 2
