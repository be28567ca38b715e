"""Small facts of the course room that mutants of its code got past before."""

import re
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from simulator.course import build_course

START = datetime(2026, 5, 3, 9, 0, 0, tzinfo=UTC)
SPEED_MPS = 7.0


def test_a_traffic_light_does_not_hide_the_cafe_stop_after_it(write_gpx, place, drift):
    """A stop too short to count comes first; three minutes with the recorder running later."""
    rng = np.random.default_rng(11)
    along, aside = [], []

    def ride_to(metre, to_metre):
        steps = np.arange(metre, to_metre, SPEED_MPS)
        along.append(steps)
        aside.append(np.zeros(len(steps)))

    def stand(metre, seconds):
        wander = [drift(rng, np.arange(float(seconds)), 1.0, 15.0) for _ in range(2)]
        along.append(metre + wander[0])
        aside.append(wander[1])

    ride_to(0.0, 700.0)
    stand(700.0, 15)
    ride_to(700.0, 1400.0)
    stand(1400.0, 180)
    ride_to(1400.0, 2100.0)
    lats, lons = place(np.concatenate(aside), np.concatenate(along))
    times = [(START + timedelta(seconds=k)).isoformat() for k in range(len(lats))]
    course = build_course(write_gpx(lats, lons, [50.0] * len(lats), times))
    told = " | ".join(finding.text for finding in course.findings)
    # Told as 2:48: the speed is taken over 12 s, which eats its ends.
    assert re.search(r"1 pause in the recording \((2:[45]\d|3:0\d)\)", told), told
    # Half a percent of two kilometres: the drift of the first, short stop stays in.
    assert course.distance_m == pytest.approx(2093.0, rel=5e-3)


def two_tracks(tmp_path, make_gpx, place, apart_m):
    """A straight way of 2 km in two tracks of one file, the second begun some way further on."""
    metres = SPEED_MPS * np.arange(150)
    first = make_gpx(*place(0.0 * metres, metres), [50.0 + 0.01 * m for m in metres])
    metres = metres[-1] + apart_m + metres
    second = make_gpx(*place(0.0 * metres, metres), [50.0 + 0.01 * m for m in metres])
    path = tmp_path / "two.gpx"
    body = second[second.index("<trk>") : second.index("</gpx>")]
    path.write_text(first.replace("</gpx>", body + "</gpx>"), encoding="utf-8")
    return path


@pytest.mark.parametrize("apart_m", [7.0, 400.0])
def test_two_tracks_end_to_end_are_one_way(tmp_path, make_gpx, place, apart_m):
    """Recorder stopped and started again: it goes on from the last point, not from the first."""
    course = build_course(two_tracks(tmp_path, make_gpx, place, apart_m))
    # Each of the two is 1043 m; the grade of one percent adds 5 cm a kilometre.
    assert course.distance_m == pytest.approx(2 * 149 * SPEED_MPS + apart_m, rel=2e-4)
    assert "do not join" not in " ".join(finding.text for finding in course.findings)


def test_two_tracks_far_apart_do_not_join(tmp_path, make_gpx, place):
    course = build_course(two_tracks(tmp_path, make_gpx, place, 600.0))
    assert course.distance_m == pytest.approx(149 * SPEED_MPS, rel=2e-4)
    assert "2 tracks that do not join" in " ".join(finding.text for finding in course.findings)


def test_a_turn_in_the_yard_is_no_loop(write_gpx, place):
    """A ring of 150 m, however finely recorded, is not taken for a lap; one of 400 m is."""

    def closed(round_m):
        angle = np.linspace(0.0, 2.0 * np.pi, 60)
        radius_m = round_m / (2.0 * np.pi)
        lats, lons = place(radius_m * np.sin(angle), radius_m * np.cos(angle))
        return build_course(write_gpx(lats, lons, 50.0 + np.sin(angle))).is_closed

    assert closed(400.0)
    assert not closed(150.0)
