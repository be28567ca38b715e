"""Runs from recordings: a ride of the simulator, written down as a device would, is read again."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.course import course_from_arrays
from simulator.errors import InputError
from simulator.fieldtest import infer_day
from simulator.fieldtest.recorded import read_runs, segment_powers_w
from simulator.fieldtest.roads import Road, cut_road, even_road
from simulator.pacing import Demand
from simulator.recordings import read_recording
from simulator.ride import simulate
from simulator.setup import RideSetup

TENTH_OF_A_SECOND_S = 0.1


@pytest.fixture
def record(folder):
    """``record(day, road, powers_w, name, ...)``: ride a road and write each second to a CSV."""

    def make(day, course, powers_w, name, *, start_mps=6.0, halt_at_m=None, noise=None):
        setup = RideSetup(rider=day.rider, build=day.builds[0].build, weather=day.runs[0].weather)
        demand = Demand(powers_w=np.broadcast_to(powers_w, course.n_segments), text="made")
        ride = simulate(course=course, setup=setup, demand=demand, start_speed_mps=start_mps)
        times = np.arange(0.0, ride.time_s, 1.0)
        nodes = ride.node_times_s
        places = np.interp(times, nodes, course.node_distances_m)
        speeds = np.interp(times, nodes, ride.node_speeds_mps)
        i = np.clip(np.searchsorted(nodes, times, side="right") - 1, 0, course.n_segments - 1)
        powers = ride.powers_w[i]
        lats = np.interp(places, course.node_distances_m, course.node_lats_deg)
        lons = np.interp(places, course.node_distances_m, course.node_lons_deg)
        if halt_at_m is not None:
            k = int(np.searchsorted(places, halt_at_m))
            pause = 15
            times = np.concatenate((times[:k], times[k - 1] + 1.0 + np.arange(pause),
                                    times[k:] + pause))  # fmt: skip
            hold = [np.concatenate((v[:k], np.full(pause, v[k - 1]), v[k:]))
                    for v in (places, lats, lons)]  # fmt: skip
            places, lats, lons = hold
            speeds = np.concatenate((speeds[:k], np.zeros(pause), speeds[k:]))
            powers = np.concatenate((powers[:k], np.zeros(pause), powers[k:]))
        rows = ["time_s,lat_deg,lon_deg,distance_m,speed_mps,power_w"]
        rows += [f"{t},{a:.9f},{o:.9f},{p:.4f},{v:.5f},{w:.3f}" for t, a, o, p, v, w in
                 zip(times, lats, lons, places, speeds, powers, strict=True)]  # fmt: skip
        (folder / name).write_text("\n".join(rows) + "\n", encoding="utf-8")
        return ride

    return make


@pytest.fixture
def hill_course():
    """1.6 km north-east, climbing on two grades."""
    n = 320
    return course_from_arrays(
        name="hill", lengths_m=np.full(n, 5.0), headings_rad=0.6, start_height_m=50.0,
        grades=0.05 + 0.02 * np.sin(np.arange(n) / 30.0),
    )  # fmt: skip


@pytest.fixture
def hill_day(make_day, hill_course):
    """``hill_day(runs)``: a day whose road is km 0.3 to 1.3 of the hill."""

    def make(runs, from_m=300.0, to_m=1300.0, course=None):
        course = course or hill_course
        day = make_day('[[road]]\nname = "hill"\nlength_m = 1000\n' + runs)
        road = Road(name="hill", course=course, start_m=from_m, end_m=to_m)
        return replace(day, runs=tuple(replace(run, road=road) for run in day.runs))

    return make


def test_recorded_climb_has_the_times_and_power_of_the_ride(hill_day, hill_course, record):
    day = hill_day(
        '[[run]]\nbuild = "Plover"\nkind = "climb"\nroad = "hill"\nrecording = "a.csv"\n'
    )
    ride = record(day, hill_course, 250.0, "a.csv")
    (reading,) = read_runs(day)
    (leg,) = reading.legs
    expected_s = ride.time_at_s(1300.0) - ride.time_at_s(300.0)
    assert leg.times_s[0] == pytest.approx(expected_s, abs=TENTH_OF_A_SECOND_S)
    assert leg.powers_w == pytest.approx(250.0, abs=0.5)
    assert leg.start.value == pytest.approx(
        np.interp(300.0, hill_course.node_distances_m, ride.node_speeds_mps), abs=0.05
    )
    assert reading.doubts == ()


def test_figures_of_recorded_runs_are_found_again(hill_day, hill_course, record):
    """Climbs at two powers, exact positions: the figures of the build come back."""
    runs = "".join(
        f'[[run]]\nbuild = "Plover"\nkind = "climb"\nroad = "hill"\nrecording = "{n}.csv"\n'
        for n in range(4)
    )
    day = hill_day(runs)
    day = replace(
        day, scatter=0.0005, mass_sd_kg=0.0, wind_sd_mps=0.0,
        meter=replace(day.meter, scale_sd=0.0, fitting_sd=0.0, zero_sd_w=0.0),
    )  # fmt: skip
    for n, power in enumerate((180.0, 420.0, 180.0, 420.0)):
        record(day, hill_course, power, f"{n}.csv")
    outcome = infer_day(day)
    (figures,) = outcome.builds
    assert figures.cda_m2.value == pytest.approx(0.30, abs=2.0 * figures.cda_m2.sd)
    assert figures.crr.value == pytest.approx(0.004, abs=2.0 * figures.crr.sd)
    assert figures.cda_m2.sd < 0.05


def test_run_that_stops_is_flagged_not_dropped(hill_day, hill_course, record):
    day = hill_day(
        '[[run]]\nbuild = "Plover"\nkind = "climb"\nroad = "hill"\nrecording = "a.csv"\n'
    )
    record(day, hill_course, 250.0, "a.csv", halt_at_m=800.0)
    (reading,) = read_runs(day)
    assert len(reading.legs) == 1
    assert any("the rider stopped" in doubt for doubt in reading.doubts)


def test_speed_trace_of_a_coast_has_many_marks(hill_day, record):
    flat = course_from_arrays(name="flat", lengths_m=np.full(80, 5.0), grades=0.0)
    runs = '[[run]]\nbuild = "Plover"\nkind = "coast"\nroad = "hill"\nrecording = "a.csv"\n'
    day = hill_day(runs, from_m=50.0, to_m=350.0, course=flat)
    ride = record(day, flat, 0.0, "a.csv", start_mps=11.0)
    (reading,) = read_runs(day)
    (leg,) = reading.legs
    assert len(leg.times_s) == 6
    expected = [ride.time_at_s(50.0 + x) - ride.time_at_s(50.0) for x in range(50, 301, 50)]
    assert leg.times_s == pytest.approx(expected, abs=TENTH_OF_A_SECOND_S)
    assert (leg.powers_w == 0.0).all()


def test_free_ride_leaves_out_the_stop_and_predicts_its_second_half(hill_day, record):
    n = 1200
    course = course_from_arrays(
        name="loop", lengths_m=np.full(n, 5.0), headings_rad=0.3,
        grades=0.02 * np.sin(np.arange(n) / 60.0),
    )  # fmt: skip
    runs = '[[run]]\nbuild = "Plover"\nkind = "free"\nroad = "hill"\nrecording = "a.csv"\n'
    day = hill_day(runs, from_m=200.0, to_m=5800.0, course=course)
    powers = np.where(np.arange(n) % 200 < 120, 260.0, 170.0)
    record(day, course, powers, "a.csv", start_mps=8.0, halt_at_m=3000.0)
    outcome = infer_day(day)
    (reading,) = outcome.readings
    reasons = {stretch.reason for stretch in reading.stretches}
    assert "stop" in reasons
    assert len(reading.legs) >= 8
    (part,) = outcome.held_out
    assert len(part.pieces) == len(reading.legs) - len(reading.legs) // 2
    for held in part.pieces:
        assert abs(held.measured_s - held.predicted_s) < 2.0 * held.sd_s
    assert part.measured_s == pytest.approx(sum(held.measured_s for held in part.pieces))
    assert abs(part.measured_s - part.predicted_s) < 2.0 * part.sd_s
    # The wind and the figures err in all pieces alike: their errors do not average out.
    assert part.sd_s > np.sqrt(sum(held.sd_s**2 for held in part.pieces))
    (figures,) = outcome.builds
    assert figures.cda_m2.value == pytest.approx(0.30, abs=2.0 * figures.cda_m2.sd)


def test_pass_that_is_not_there_is_told(hill_day, hill_course, record):
    runs = (
        '[[run]]\nbuild = "Plover"\nkind = "climb"\nroad = "hill"\nrecording = "a.csv"\n'
        "pass_number = 2\n"
    )
    day = hill_day(runs)
    record(day, hill_course, 250.0, "a.csv")
    with pytest.raises(InputError, match="1 passes through the gates of hill"):
        read_runs(day)


def test_recording_without_power_needs_it_from_the_day(hill_day, hill_course, record, folder):
    day = hill_day(
        '[[run]]\nbuild = "Plover"\nkind = "climb"\nroad = "hill"\nrecording = "a.csv"\n'
    )
    record(day, hill_course, 250.0, "a.csv")
    lines = (folder / "a.csv").read_text().splitlines()
    (folder / "a.csv").write_text("\n".join(line.rpartition(",")[0] for line in lines))
    with pytest.raises(InputError, match="the recording has no power"):
        read_runs(day)


def test_segment_powers_keep_the_work(hill_day, hill_course, record, folder):
    day = hill_day(
        '[[run]]\nbuild = "Plover"\nkind = "climb"\nroad = "hill"\nrecording = "a.csv"\n'
    )
    powers = np.where(np.arange(320) % 40 < 20, 300.0, 150.0)
    record(day, hill_course, powers, "a.csv")
    recording = read_recording(folder / "a.csv")
    nodes = np.linspace(10.0, 200.0, 77)
    work_j = float((segment_powers_w(recording, nodes) * np.diff(nodes)).sum())
    samples = (recording.times_s >= 10.0) & (recording.times_s < 200.0)
    assert work_j == pytest.approx(float(recording.powers_w[samples].sum()), rel=1e-6)


def test_road_ridden_back_is_its_mirror():
    road = even_road("r", length_m=1000.0, grade=0.03, heading_rad=0.5)
    out, back = cut_road(road, np.array([1000.0])), cut_road(road, np.array([1000.0]), back=True)
    np.testing.assert_allclose(back.course.grades, -out.course.grades[::-1])
    np.testing.assert_allclose(back.course.headings_rad, out.course.headings_rad + np.pi)
    assert back.course.distance_m == pytest.approx(out.course.distance_m)


def test_run_up_of_a_course_that_starts_at_the_gate_keeps_its_grade():
    road = even_road("r", length_m=1000.0, grade=0.06)
    cut = cut_road(road, np.array([1000.0]), run_up_m=400.0)
    assert cut.course.distance_m == pytest.approx(1400.0)
    np.testing.assert_allclose(cut.course.grades, 0.06)
    gate = cut.course.node_distances_m[cut.first]
    assert gate == pytest.approx(400.0)
    # The gate stays at the height of the road's start.
    assert cut.course.node_heights_m[cut.first] == pytest.approx(0.0, abs=1e-6)


def test_cut_road_keeps_climb_and_length(hill_course):
    road = Road(name="hill", course=hill_course, start_m=312.3, end_m=1288.8)
    cut = cut_road(road, np.array([400.0, road.length_m]))
    rise = np.interp([312.3, 1288.8], hill_course.node_distances_m, hill_course.node_heights_m)
    heights = cut.course.node_heights_m
    assert heights[-1] - heights[0] == pytest.approx(rise[1] - rise[0], abs=0.02)
    assert cut.course.node_distances_m[cut.marks] == pytest.approx([400.0, 976.5])
