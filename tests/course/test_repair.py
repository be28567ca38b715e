"""Dirty recordings: what is mended, and that it is told."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from simulator.course import build_course

START = datetime(2026, 5, 3, 9, 0, 0, tzinfo=UTC)
SPEED_MPS = 7.0
N = 300
# Along the road, slope included.
WAY_M = float(np.hypot(SPEED_MPS, np.diff(10.0 * np.sin(SPEED_MPS * np.arange(N) / 300.0))).sum())


def stamps(seconds):
    return [(START + timedelta(seconds=float(s))).isoformat() for s in seconds]


@pytest.fixture
def straight(place):
    """A ride of 2.1 km due north at one point a second, with gentle heights."""

    def make(n=N):
        along = SPEED_MPS * np.arange(n)
        lats, lons = place(np.zeros(n), along)
        heights = [f"{50 + 10 * np.sin(x / 300):.2f}" for x in along]
        return lats, lons, heights, np.arange(n, dtype=float)

    return make


def texts(course):
    return " | ".join(finding.text for finding in course.findings)


def test_a_clean_ride_has_nothing_to_tell(straight, write_gpx):
    lats, lons, heights, seconds = straight()
    course = build_course(write_gpx(lats, lons, heights, stamps(seconds)))
    assert course.findings == ()
    assert course.distance_m == pytest.approx(WAY_M, rel=2e-4)


def test_repeated_points_are_dropped_and_told(straight, write_gpx):
    lats, lons, heights, _ = straight()
    doubled = np.repeat(np.arange(len(lats)), 2)
    clean = build_course(write_gpx(lats, lons, heights, name="a.gpx"))
    dirty = build_course(
        write_gpx(lats[doubled], lons[doubled], [heights[k] for k in doubled], name="b.gpx")
    )
    assert "300 repeated points" in texts(dirty)
    assert dirty.distance_m == pytest.approx(clean.distance_m, abs=0.01)


def test_time_travel_is_told_and_places_are_kept(straight, write_gpx):
    lats, lons, heights, seconds = straight()
    seconds[150:160] -= 600.0
    course = build_course(write_gpx(lats, lons, heights, stamps(seconds)))
    assert "runs backwards at 10 points" in texts(course)
    assert course.findings[0].level == "doubt"
    assert course.findings[0].distance_m == pytest.approx(150 * SPEED_MPS, abs=1.0)
    assert course.distance_m == pytest.approx(WAY_M, rel=2e-4)


def test_an_hour_long_gap_is_told(straight, write_gpx):
    lats, lons, heights, seconds = straight()
    seconds[200:] += 3600.0
    keep = np.r_[0:150, 200:300]
    course = build_course(
        write_gpx(lats[keep], lons[keep], [heights[k] for k in keep], stamps(seconds[keep]))
    )
    assert "a gap of 357 m and 1:00:51" in texts(course)
    assert course.distance_m == pytest.approx(WAY_M, rel=5e-4)


def test_a_long_stop_without_points_is_told(straight, write_gpx):
    lats, lons, heights, seconds = straight()
    seconds[100:] += 3600.0
    course = build_course(write_gpx(lats, lons, heights, stamps(seconds)))
    assert "a stop of 1:00:01" in texts(course)
    assert course.distance_m == pytest.approx(WAY_M, rel=2e-4)


def test_a_pause_with_the_recorder_running_adds_no_way(straight, write_gpx, place, drift):
    lats, lons, heights, _ = straight()
    rng = np.random.default_rng(11)
    stop_m, n_wait = 150 * SPEED_MPS, 180
    wander = [drift(rng, np.arange(n_wait, dtype=float), 1.0, 15.0) for _ in range(2)]
    wait_lats, wait_lons = place(wander[0], stop_m + wander[1])
    lats = np.concatenate([lats[:150], wait_lats, lats[150:]])
    lons = np.concatenate([lons[:150], wait_lons, lons[150:]])
    heights = [*heights[:150], *[heights[150]] * n_wait, *heights[150:]]
    course = build_course(write_gpx(lats, lons, heights, stamps(np.arange(len(lats)))))
    assert "1 pause" in texts(course)
    assert course.distance_m == pytest.approx(WAY_M, rel=4e-3)
    assert course.corners == ()


def test_a_spike_is_dropped(straight, write_gpx):
    lats, lons, heights, seconds = straight()
    lons[77] += 0.01
    course = build_course(write_gpx(lats, lons, heights, stamps(seconds)))
    assert "jumped away and back" in texts(course)
    assert course.distance_m == pytest.approx(WAY_M, rel=3e-4)
    assert course.corners == ()


def test_some_missing_heights_are_filled_and_told(straight, write_gpx):
    lats, lons, heights, _ = straight()
    for k in range(100, 120):
        heights[k] = None
    course = build_course(write_gpx(lats, lons, heights))
    assert "height missing on 20 of 300 points" in texts(course)
    assert course.height_source == "track"


def test_missing_times_at_some_points_do_no_harm(straight, write_gpx):
    lats, lons, heights, seconds = straight()
    times = stamps(seconds)
    for k in range(0, 300, 7):
        times[k] = None
    course = build_course(write_gpx(lats, lons, heights, times))
    assert course.distance_m == pytest.approx(WAY_M, rel=2e-4)


def test_points_too_far_apart_to_show_a_bend_are_told(straight, write_gpx):
    lats, lons, heights, _ = straight()
    for step in (299, 20):  # two points, and one in 140 m
        course = build_course(write_gpx(lats[::step], lons[::step], heights[::step]))
        assert f"half of the points stand {SPEED_MPS * step:,.0f} m or more apart" in texts(course)
        assert course.findings[0].level == "doubt"
    assert "or more apart" not in texts(build_course(write_gpx(lats, lons, heights)))
