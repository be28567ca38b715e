"""A recorded ride replayed: power comes back to the place where it was ridden."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.errors import InputError
from simulator.files import csv_text
from simulator.pacing import Demand, demand_of, load_pacing
from simulator.ride import simulate

THOUSANDTH = 1e-3


@pytest.fixture
def hard_and_easy():
    """240 W and 160 W in turn, every 200 m."""

    def make(course):
        middle_m = 0.5 * (course.node_distances_m[:-1] + course.node_distances_m[1:])
        return Demand(
            powers_w=np.where(np.floor(middle_m / 200.0) % 2 == 0, 240.0, 160.0), text="made"
        )

    return make


def recorded(ride, path, *, noise_m=0.0, every_s=1.0, columns=("time_s", "lat_deg", "lon_deg")):
    """Write a ride as a device would: a sample a second, power as the mean since the last one."""
    course = ride.course
    times_s = np.arange(0.0, ride.time_s, every_s)
    at_m = np.interp(times_s, ride.node_times_s, course.node_distances_m)
    works_j = np.concatenate([[0.0], np.cumsum(ride.powers_w * np.diff(ride.node_times_s))])
    at_j = np.interp(times_s, ride.node_times_s, works_j)
    random = np.random.default_rng(7)
    off_deg = noise_m / 111_000.0 * random.standard_normal((2, len(times_s)))
    table = {
        "time_s": times_s,
        "lat_deg": np.interp(at_m, course.node_distances_m, course.node_lats_deg) + off_deg[0],
        "lon_deg": np.interp(at_m, course.node_distances_m, course.node_lons_deg) + off_deg[1],
        "distance_m": at_m,
        "power_w": np.concatenate([[0.0], np.diff(at_j) / every_s]),
    }
    names = [*columns, "power_w"]
    rows = zip(*(table[name].tolist() for name in names), strict=True)
    path.write_text(csv_text(names, rows), encoding="utf-8")


def replayed(folder, course, setup, extra=""):
    plan = folder / "plan.toml"
    plan.write_text(
        f'name = "again"\n[[rule]]\nkind = "replay"\nrecording = "ride.csv"\n{extra}',
        encoding="utf-8",
    )
    return demand_of(load_pacing(plan), course=course, rider=setup.rider, weather=setup.weather)


@pytest.mark.parametrize(
    ("columns", "noise_m"),
    [
        (("time_s", "lat_deg", "lon_deg"), 0.0),
        (("time_s", "lat_deg", "lon_deg"), 3.0),
        (("time_s", "distance_m"), 0.0),
    ],
)
def test_the_same_ride_comes_out(
    tmp_path, hilly_setup, rolling_course, hard_and_easy, columns, noise_m
):
    course = rolling_course(800)
    ride = simulate(course=course, setup=hilly_setup, demand=hard_and_easy(course))
    recorded(ride, tmp_path / "ride.csv", noise_m=noise_m, columns=columns)
    demand = replayed(tmp_path, course, hilly_setup)
    again = simulate(course=course, setup=hilly_setup, demand=demand)
    assert again.time_s == pytest.approx(ride.time_s, rel=THOUSANDTH)
    assert again.work_j == pytest.approx(ride.work_j, rel=2.0 * THOUSANDTH)
    # Hard and easy stretches lie where they were, but for a second's way at their borders.
    middle_m = 0.5 * (course.node_distances_m[:-1] + course.node_distances_m[1:]) % 400.0
    hard, easy = np.abs(middle_m - 100.0) < 60.0, np.abs(middle_m - 300.0) < 60.0
    tolerance_w = 1.0 if noise_m == 0.0 else 12.0
    unlimited = ride.powers_w > 100.0
    assert np.median(demand.powers_w[hard & unlimited]) == pytest.approx(240.0, abs=tolerance_w)
    assert np.median(demand.powers_w[easy & unlimited]) == pytest.approx(160.0, abs=tolerance_w)


def test_laps_of_a_loop_keep_their_order(tmp_path, hilly_setup, even_course):
    # Two laps of a square that lie on top of each other, the second one harder.
    headings_rad = np.tile(np.repeat(np.arange(4) * np.pi / 2.0, 50), 2)
    course = even_course(
        2000.0, headings_rad=headings_rad, lap_starts_m=[0.0, 1000.0, 2000.0], is_closed=True
    )
    powers_w = np.where(np.arange(400) < 200, 180.0, 260.0)
    ride = simulate(course=course, setup=hilly_setup, demand=Demand(powers_w=powers_w, text=""))
    recorded(ride, tmp_path / "ride.csv")
    demand = replayed(tmp_path, course, hilly_setup)
    assert np.median(demand.powers_w[10:190]) == pytest.approx(180.0, abs=1.0)
    assert np.median(demand.powers_w[210:390]) == pytest.approx(260.0, abs=1.0)


def test_a_stop_adds_neither_time_nor_power(tmp_path, hilly_setup, rolling_course, hard_and_easy):
    course = rolling_course(400)
    ride = simulate(course=course, setup=hilly_setup, demand=hard_and_easy(course))
    stop_s = 300.0
    i_stop = 200
    stopped = replace(
        ride,
        node_times_s=np.where(
            np.arange(401) > i_stop, ride.node_times_s + stop_s, ride.node_times_s
        ),
        powers_w=np.where(np.arange(400) == i_stop, 0.0, ride.powers_w),
    )
    recorded(stopped, tmp_path / "ride.csv")
    demand = replayed(tmp_path, course, hilly_setup)
    again = simulate(course=course, setup=hilly_setup, demand=demand)
    assert again.time_s == pytest.approx(ride.time_s, rel=5.0 * THOUSANDTH)


def test_recorded_coasting_is_not_coasted_twice(tmp_path, hilly_setup, even_course):
    # Pedalled all the way down 9 %, where the rider's habit is to coast below -7 %.
    course = even_course(600.0, -0.09)
    rider = replace(hilly_setup.rider, coast_grade=-1.0, coast_speed_mps=99.0)
    keen = replace(hilly_setup, rider=rider)
    demand = Demand(powers_w=np.full(120, 150.0), text="")
    ride = simulate(course=course, setup=keen, demand=demand)
    recorded(ride, tmp_path / "ride.csv")
    again = replayed(tmp_path, course, hilly_setup)
    assert np.median(again.powers_w[:60]) == pytest.approx(150.0, abs=1.0)
    # A coasting rule behind it holds all the same.
    coasting = '[[rule]]\nkind = "coast"\nbelow_grade_pct = -7\n'
    assert replayed(tmp_path, course, hilly_setup, coasting).powers_w.max() == 0.0


def test_rules_add_to_a_replay(tmp_path, hilly_setup, rolling_course, hard_and_easy):
    course = rolling_course(400)
    ride = simulate(course=course, setup=hilly_setup, demand=hard_and_easy(course))
    recorded(ride, tmp_path / "ride.csv")
    plain = replayed(tmp_path, course, hilly_setup)
    capped = replayed(tmp_path, course, hilly_setup, '[[rule]]\nkind = "limits"\ncap_w = 200\n')
    assert capped.powers_w == pytest.approx(np.minimum(plain.powers_w, 200.0))


def test_what_cannot_be_replayed_is_told(tmp_path, hilly_setup, rolling_course, hard_and_easy):
    course = rolling_course(400)
    ride = simulate(course=course, setup=hilly_setup, demand=hard_and_easy(course))
    recorded(ride, tmp_path / "ride.csv")
    elsewhere = replace(course, node_lats_deg=course.node_lats_deg + 1.0)
    with pytest.raises(InputError, match=r"ride.csv: no part of it lies on the course made"):
        replayed(tmp_path, elsewhere, hilly_setup)
    longer = rolling_course(1200)
    with pytest.raises(InputError, match=r"it covers [12].\d of 6.0 km"):
        replayed(tmp_path, longer, hilly_setup)
    text = (tmp_path / "ride.csv").read_text(encoding="utf-8")
    (tmp_path / "ride.csv").write_text(text.replace("power_w", "cadence_rpm"), encoding="utf-8")
    with pytest.raises(InputError, match=r"no power was recorded.*`buildgap check FILE`"):
        replayed(tmp_path, course, hilly_setup)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('recording = "gone.fit"', "gone.fit"),
        ('recording = "a.fit"\nrecorded_w = [1, 2]', "`recording` stands there too"),
        ('recording = "a.fit"\ndistance_km = [0, 1]', "stands there too"),
        ("distance_km = [0, 1]", "without `recorded_w`"),
    ],
)
def test_wrong_replays_are_told(tmp_path, text, told):
    path = tmp_path / "plan.toml"
    path.write_text(f'name = "x"\n[[rule]]\nkind = "replay"\n{text}\n', encoding="utf-8")
    with pytest.raises(InputError) as caught:
        load_pacing(path)
    assert told in str(caught.value)


@pytest.mark.parametrize("name", ["../ride.csv", "/dev/zero", "//host/ride.fit"])
def test_recording_of_a_pacing_lies_beside_it(tmp_path, name):
    file = tmp_path / "pacing.toml"
    file.write_text(f'name = "x"\n[[rule]]\nkind = "replay"\nrecording = "{name}"\n')
    with pytest.raises(InputError, match="key `recording`"):
        load_pacing(file)


def test_out_and_back_and_a_warm_up_start_at_the_start_line(even_course, tmp_path):
    from simulator.pacing import lay_on_course
    from simulator.recordings import read_recording

    # Two kilometres out, and back on the other side of the road, 6 m away.
    headings_rad = np.repeat([0.4, 0.4 + np.pi / 2.0, 0.4 + np.pi], [400, 1, 399])
    course = even_course(4000.0, headings_rad=headings_rad)
    rng = np.random.default_rng(3)
    # 8 m/s: a warm-up to km 1 and home, two minutes of waiting, then the course, with 4 m of noise.
    warm_m = np.concatenate([np.arange(0.0, 1000.0, 8.0), np.arange(1000.0, 0.0, -8.0)])
    ridden_m = np.arange(0.0, course.distance_m + 8.0, 8.0)
    at_m = np.concatenate([warm_m, np.zeros(120), ridden_m])
    noise_deg = 4.0 / 111_000.0 * rng.standard_normal((2, len(at_m)))
    lats = np.interp(at_m, course.node_distances_m, course.node_lats_deg) + noise_deg[0]
    lons = np.interp(at_m, course.node_distances_m, course.node_lons_deg) + noise_deg[1]
    rows = zip(range(len(at_m)), lats.tolist(), lons.tolist(), [200.0] * len(at_m), strict=True)
    path = tmp_path / "ride.csv"
    text = csv_text(["time_s", "lat_deg", "lon_deg", "power_w"], rows)
    path.write_text(text, encoding="utf-8")
    laid = lay_on_course(read_recording(path), course)
    told_m = np.interp(np.arange(len(at_m) - len(ridden_m), len(at_m)), laid.times_s, laid.places_m)
    assert np.abs(told_m - np.minimum(ridden_m, course.distance_m)).max() < 40.0
    assert laid.places_m[0] < 40.0
