"""A recorded race as the bunch's pace: the ride that was recorded comes back, and is told."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from simulator.bunch import follow_bunch, load_bunch, pace_of_recording, pace_of_ride
from simulator.course import Corner, build_course, course_from_arrays
from simulator.errors import InputError
from simulator.files import csv_text
from simulator.recordings import read_recording
from simulator.ride import simulate

# No shelter at all: what is needed is what the one who set the pace gave.
RULES = replace(load_bunch(None), place=1.0, places=(1.0, 2.0), factors=(1.0, 1.0))
A_HUNDREDTH = 0.01
TWO_PERCENT = 0.02
FOUR_PERCENT = 0.04


@pytest.fixture
def race_course():
    """6 km of waves with a bend of 12 m radius at 3 km."""
    n = 1200
    s_m = (np.arange(n) + 0.5) * 5.0
    corner = Corner(
        number=1, name="bend", start_m=2987.5, apex_m=3000.0, end_m=3012.5, radius_m=12.0,
        turn_rad=1.5, lap=1,
    )  # fmt: skip
    return course_from_arrays(
        lengths_m=np.full(n, 5.0),
        grades=0.02 * np.sin(s_m / 300.0),
        headings_rad=0.3 * np.sin(s_m / 900.0),
        radii_m=np.where(np.abs(s_m - 3000.0) < 12.5, 12.0, np.inf),
        corners=(corner,),
    )


@pytest.fixture
def ride(race_course, hilly_setup, varied):
    setup = varied(hilly_setup, rider={"power_w": 260.0, "lean_deg": 30.0})
    return simulate(course=race_course, setup=setup)


def written(ride, path, *, kind, speed_noise_mps=0.0, place_noise_m=0.0, stop=None, hole=None):
    """Write a ride as a device would, every second; positions err slowly, as a receiver's do."""
    course = ride.course
    times_s = np.arange(0.0, ride.time_s, 1.0)
    nodes_s = ride.node_times_s.copy()
    clock_s = times_s
    if stop is not None:
        at_m, lasts_s = stop
        nodes_s = nodes_s + np.where(course.node_distances_m > at_m, lasts_s, 0.0)
        clock_s = np.arange(0.0, nodes_s[-1], 1.0)
    at_m = np.interp(clock_s, nodes_s, course.node_distances_m)
    random = np.random.default_rng(3)
    err_m = np.zeros((2, len(clock_s)))
    for i in range(1, len(clock_s)):
        err_m[:, i] = 0.98 * err_m[:, i - 1] + 0.2 * place_noise_m * random.standard_normal(2)
    speeds_mps = np.interp(at_m, course.node_distances_m, ride.node_speeds_mps)
    if stop is not None:
        speeds_mps[np.append(np.diff(at_m) < 0.5, False)] = 0.0
    table = {
        "time_s": clock_s,
        "lat_deg": np.interp(at_m, course.node_distances_m, course.node_lats_deg)
        + err_m[0] / 111_000.0,
        "lon_deg": np.interp(at_m, course.node_distances_m, course.node_lons_deg)
        + err_m[1] / 111_000.0,
        "speed_mps": np.maximum(
            speeds_mps + speed_noise_mps * random.standard_normal(len(clock_s)), 0.0
        ),
    }
    names = ["time_s", "lat_deg", "lon_deg", *(["speed_mps"] if kind == "speed" else [])]
    keep = np.ones(len(clock_s), dtype=bool)
    if hole is not None:
        keep = (clock_s < hole[0]) | (clock_s > hole[1])
    rows = zip(*(table[name][keep].tolist() for name in names), strict=True)
    path.write_text(csv_text(names, rows), encoding="utf-8")
    return read_recording(path)


def needs(pace, setup):
    return follow_bunch(bunch=pace, setups=[setup], rules=RULES, n_draws=0).builds[0]


@pytest.mark.parametrize(
    ("kind", "noise", "tolerance"),
    [
        ("speed", {}, A_HUNDREDTH),
        ("speed", {"speed_noise_mps": 0.12, "place_noise_m": 2.0}, TWO_PERCENT),
        ("positions", {}, TWO_PERCENT),
        ("positions", {"place_noise_m": 0.5}, FOUR_PERCENT),
    ],
)
def test_the_ride_that_was_recorded_comes_back(kind, noise, tolerance, ride, tmp_path):
    # The rider alone in the wind gave 260 W: holding the recorded speed must need that again.
    pace = pace_of_recording(
        written(ride, tmp_path / "race.csv", kind=kind, **noise), ride.course, place=1.0
    )
    assert pace.time_s == pytest.approx(ride.time_s, rel=0.004)
    wanted = needs(pace_of_ride(ride), ride.setup)
    found = needs(pace, ride.setup)
    assert wanted.mean_w == pytest.approx(ride.mean_power_w, rel=0.01)
    assert found.mean_w == pytest.approx(wanted.mean_w, rel=tolerance)
    far = np.abs(ride.course.node_distances_m - 3000.0) > 200.0
    error_mps = (pace.node_speeds_mps - ride.node_speeds_mps)[far]
    assert np.sqrt(np.mean(error_mps**2)) < 0.35
    (dip,) = pace.dips
    assert dip.corner.name == "bend"
    assert pace.node_speeds_mps[dip.i_low] < 0.9 * pace.node_speeds_mps[dip.i_in]


def test_noise_is_smoothed_more_and_the_doubt_of_it_is_told(ride, tmp_path):
    clean = pace_of_recording(written(ride, tmp_path / "a.csv", kind="speed"), ride.course)
    noisy = pace_of_recording(
        written(ride, tmp_path / "b.csv", kind="speed", speed_noise_mps=0.3), ride.course
    )
    assert noisy.smoothed_s > 1.5 * clean.smoothed_s
    race = follow_bunch(bunch=noisy, setups=[ride.setup], rules=RULES, n_draws=0)
    rough_w, smooth_w = race.smoothing_w
    assert rough_w > race.builds[0].mean_w > smooth_w - 1.0
    assert "smoothed" in noisy.remarks[0]


def test_a_stop_is_bridged_and_told(ride, tmp_path):
    recording = written(ride, tmp_path / "race.csv", kind="speed", stop=(1500.0, 90.0))
    pace = pace_of_recording(recording, ride.course)
    assert pace.time_s == pytest.approx(ride.time_s, rel=0.01)
    assert pace.node_speeds_mps.min() > 4.0
    (told,) = [text for text in pace.remarks if "stop" in text]
    assert "1 stop, about 1:2" in told
    assert "straight line" in told


def test_a_gap_is_ridden_at_its_mean_and_told(ride, tmp_path):
    recording = written(ride, tmp_path / "race.csv", kind="speed", hole=(100.5, 130.5))
    pace = pace_of_recording(recording, ride.course)
    assert pace.time_s == pytest.approx(ride.time_s, rel=0.01)
    assert any("1 gap without samples, 31 s" in text for text in pace.remarks)


def test_half_a_race_is_refused(ride, tmp_path):
    recording = written(ride, tmp_path / "race.csv", kind="speed", hole=(0.7 * ride.time_s, 1e9))
    with pytest.raises(InputError, match="nine tenths"):
        pace_of_recording(recording, ride.course)


def test_a_real_ride_with_power_needs_what_it_took(tmp_path, hilly_setup):
    # 37 min on lanes, alone, 177 W mean on the device's own meter (source and licence: the README
    # beside it). Rider, bike and wind of that day are not known; ours are a usual rider's.
    real = Path(__file__).parents[1] / "recordings" / "data" / "real_ride_power.fit"
    recording = read_recording(real)
    track = tmp_path / "track.gpx"
    points = "".join(
        f'<trkpt lat="{a:.7f}" lon="{b:.7f}"><ele>{h:.1f}</ele></trkpt>'
        for a, b, h in zip(recording.lats_deg, recording.lons_deg, recording.heights_m, strict=True)
        if np.isfinite(a) and np.isfinite(h)
    )
    track.write_text(
        '<gpx version="1.1" creator="made" xmlns="http://www.topografix.com/GPX/1/1">'
        f"<trk><trkseg>{points}</trkseg></trk></gpx>",
        encoding="utf-8",
    )
    course = build_course(track, n_laps=None, tiles_folder=None)
    pace = pace_of_recording(recording, course)
    assert pace.time_s == pytest.approx(2238.0, rel=0.003)  # moving time of the recording
    race = follow_bunch(bunch=pace, setups=[hilly_setup], rules=RULES, n_draws=0)
    needed_w = race.builds[0].mean_w
    assert needed_w == pytest.approx(177.0, rel=0.2)
    # A device's own speed is smooth: half and twice as much smoothing change little.
    assert max(abs(w - needed_w) for w in race.smoothing_w) < 0.03 * needed_w
