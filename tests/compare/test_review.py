"""A recorded ride beside the predicted one: made recordings of which everything is known.

What is asked throughout: does the review find what was changed in the ride that was recorded?
"""

from dataclasses import replace

import numpy as np
import pytest

from simulator.compare import review
from simulator.course import course_from_arrays
from simulator.errors import InputError
from simulator.pacing import Demand, constant_demand
from simulator.ride import simulate
from simulator.setup import RideSetup, Uncertain

NOISE_OF_THE_PLACES_S = 1.5
A_SAMPLE_OR_TWO_S = 2.5


@pytest.fixture(scope="module")
def course(hill_course):
    """The hill course with a standing start and no corner that limits anybody."""
    return replace(
        hill_course, start="standing", corners=(), radii_m=np.full(hill_course.n_segments, np.inf)
    )


@pytest.fixture(scope="module")
def setup(setups):
    """Inputs without stated doubts, so that the usual ones hold."""
    rider = replace(setups[1].rider, power_w=Uncertain(240.0))
    weather = replace(setups[1].weather, wind_mps=Uncertain(4.0), wind_from_deg=Uncertain(240.0))
    return RideSetup(rider=rider, build=setups[1].build, weather=weather)


def ridden(course, setup):
    return simulate(course=course, setup=setup, demand=constant_demand(course, setup.rider))


def changed(setup, **builds):
    return replace(setup, build=replace(setup.build, **builds))


def named(told, kind):
    return next(suspect for suspect in told.suspects if suspect.kind == kind)


def test_the_very_ride_that_was_predicted_leaves_nothing_to_doubt(course, setup, record, tmp_path):
    ride = ridden(course, setup)
    told = review(course=course, setup=setup, recording=record(ride, tmp_path / "ride.csv"))
    assert told.gap.first.time_s == pytest.approx(ride.time_s, abs=NOISE_OF_THE_PLACES_S)
    assert told.gap.total_s == pytest.approx(0.0, abs=NOISE_OF_THE_PLACES_S)
    assert told.predicted_w == pytest.approx(told.recorded_w, rel=0.005)
    assert told.stops == ()
    assert told.braking == ()
    assert (told.from_m, told.to_m) == pytest.approx((0.0, course.distance_m), abs=15.0)


def test_more_drag_is_found_by_its_size_and_first(course, setup, record, tmp_path):
    # Four times over: on a short ride the power meter or a wind explain as much.
    course = course_from_arrays(
        lengths_m=np.tile(course.lengths_m, 4),
        grades=np.tile(course.grades, 4),
        headings_rad=np.tile(course.headings_rad, 4),
        features=course.features,
    )
    true_m2 = 1.08 * setup.build.cda_m2.value
    ride = ridden(course, changed(setup, cda_m2=Uncertain(true_m2)))
    told = review(course=course, setup=setup, recording=record(ride, tmp_path / "ride.csv"))
    first = told.suspects[0]
    assert first.kind == "air"
    assert first.needed == pytest.approx(true_m2, rel=0.01)
    assert first.fit > 0.9
    assert first.score == 0.0
    # The difference is the one that the two rides have, stretch by stretch.
    lost_s = [s.gap_s for s in told.stretches]
    same_power = Demand(powers_w=ride.powers_w, text="as ridden", coast_mps=np.inf)
    now = simulate(course=course, setup=setup, demand=same_power)
    for stretch, told_s in zip(told.stretches, lost_s, strict=True):
        true_s = (ride.time_at_s(stretch.end_m) - ride.time_at_s(stretch.start_m)) - (
            now.time_at_s(stretch.end_m) - now.time_at_s(stretch.start_m)
        )
        assert told_s == pytest.approx(true_s, abs=NOISE_OF_THE_PLACES_S)
    # The stretches are those of the first 6 km.
    assert sum(lost_s) == pytest.approx(told.gap.between_s(0.0, 6000.0), abs=0.01)


def test_heavier_by_three_kilos_is_found(course, setup, record, tmp_path):
    heavy = changed(setup, mass_kg=Uncertain(setup.build.mass_kg.value + 3.0))
    told = review(
        course=course, setup=setup, recording=record(ridden(course, heavy), tmp_path / "r.csv")
    )
    mass = named(told, "mass")
    assert mass.needed - mass.nominal == pytest.approx(3.0, abs=0.4)
    rider, build = setup.rider, setup.build
    all_kg = rider.mass_kg.value + rider.kit_kg.value + rider.bottles_kg.value
    assert mass.nominal == pytest.approx(all_kg + build.mass_kg.value)


def test_a_meter_that_shows_too_much_is_found(course, setup, record, tmp_path):
    recording = record(ridden(course, setup), tmp_path / "ride.csv", meter=1.05)
    told = review(course=course, setup=setup, recording=recording)
    power = named(told, "power")
    assert power.needed == pytest.approx(1.0 / 1.05, abs=0.003)
    assert told.gap.total_s > 5.0


def test_another_wind_is_found_by_speed_and_direction(setup, record, tmp_path):
    n = 1600
    square = course_from_arrays(
        lengths_m=np.full(n, 5.0),
        grades=np.zeros(n),
        headings_rad=np.repeat(np.radians([20.0, 110.0, 200.0, 290.0]), n // 4),
        start="rolling",
    )
    blown = replace(
        setup,
        weather=replace(setup.weather, wind_mps=Uncertain(6.0), wind_from_deg=Uncertain(280.0)),
    )
    recording = record(ridden(square, blown), tmp_path / "ride.csv")
    told = review(course=square, setup=setup, recording=recording)
    wind = told.suspects[0]
    assert wind.kind == "wind"
    east, north = (wind.needed * f(np.radians(wind.needed_from_deg)) for f in (np.sin, np.cos))
    true = 6.0 * np.sin(np.radians(280.0)), 6.0 * np.cos(np.radians(280.0))
    # One of sixteen directions is tried: the added wind is met to within half a step of them.
    assert np.hypot(east - true[0], north - true[1]) < 1.0


@pytest.mark.parametrize("speeds", [True, False])
def test_a_stop_is_told_and_counts_in_neither_ride(course, setup, record, tmp_path, speeds):
    stopping = replace(course, restarts_m=(5000.0,))
    ride = ridden(stopping, setup)
    recording = record(ride, tmp_path / "r.csv", stops=[(5000.0, 75)], speeds=speeds)
    told = review(course=course, setup=setup, recording=recording)
    (stop,) = told.stops
    assert stop.place_m == pytest.approx(5000.0, abs=15.0)
    assert stop.standing_s == pytest.approx(75.0, abs=A_SAMPLE_OR_TWO_S if speeds else 6.0)
    assert told.standing_s == stop.standing_s
    assert told.gap.other.time_s + stop.standing_s == pytest.approx(
        ride.time_s + 75.0, abs=A_SAMPLE_OR_TWO_S
    )
    # The predicted ride brakes and starts again at the same place: nothing is left to explain.
    assert told.gap.total_s == pytest.approx(0.0, abs=A_SAMPLE_OR_TWO_S if speeds else 6.0)


def test_waiting_at_the_line_and_behind_it_is_no_stop(course, setup, record, tmp_path):
    ride = ridden(course, setup)
    recording = record(ride, tmp_path / "ride.csv", wait_s=90, after_s=200)
    told = review(course=course, setup=setup, recording=recording)
    assert told.stops == ()
    assert told.gap.other.time_s == pytest.approx(ride.time_s, abs=A_SAMPLE_OR_TWO_S)


def test_braking_for_traffic_is_told_where_it_was(course, setup, record, tmp_path):
    radii_m = np.full(course.n_segments, np.inf)
    radii_m[1000:1003] = 4.0  # a bend that the course of the review does not have
    ride = ridden(replace(course, radii_m=radii_m), setup)
    told = review(course=course, setup=setup, recording=record(ride, tmp_path / "ride.csv"))
    (place,) = told.braking
    assert place.start_m < 5000.0 < place.end_m + 60.0
    first = told.suspects[0]
    assert (first.kind, first.n_places) == ("braking", 1)
    assert first.here_s == pytest.approx(ride.time_s - ridden(course, setup).time_s, abs=2.0)


def test_a_recording_that_ends_early_is_told_as_far_as_it_goes(course, setup, record, tmp_path):
    slow = ridden(course, changed(setup, cda_m2=Uncertain(1.1 * setup.build.cda_m2.value)))
    recording = record(slow, tmp_path / "ride.csv", until_m=5200.0)
    told = review(course=course, setup=setup, recording=recording)
    assert told.to_m == pytest.approx(5200.0, abs=15.0)
    at_m = course.node_distances_m
    at_end_s = np.interp(told.to_m, at_m, told.gap.node_gaps_s)
    assert at_end_s == pytest.approx(told.gap.total_s, abs=0.1)
    assert told.stretches[-1].end_m == pytest.approx(told.to_m)
    assert named(told, "air").needed == pytest.approx(1.1 * setup.build.cda_m2.value, rel=0.02)
    # Both times are those up to where it ends: a watch that was stopped there knows no more.
    assert told.is_partial
    assert told.covered_s(told.gap.other) == pytest.approx(
        slow.time_at_s(told.to_m), abs=A_SAMPLE_OR_TWO_S
    )
    whole = review(course=course, setup=setup, recording=record(slow, tmp_path / "whole.csv"))
    assert not whole.is_partial
    assert whole.told_gap_s == pytest.approx(whole.gap.total_s, abs=1e-6)


def test_power_and_the_right_road_are_asked_for(course, setup, record, tmp_path):
    ride = ridden(course, setup)
    recording = record(ride, tmp_path / "ride.csv")
    bare = replace(recording, powers_w=np.full(recording.n_samples, np.nan))
    away = replace(recording, lats_deg=recording.lats_deg + 1.0)
    short = record(ride, tmp_path / "short.csv", until_m=2000.0)
    for wrong, found in (
        (bare, "no power"),
        (away, "lies on the course"),
        (short, "at least half"),
    ):
        with pytest.raises(InputError, match=found):
            review(course=course, setup=setup, recording=wrong)


def test_a_meter_that_lags_does_not_hold_the_rider_on_the_line(course, setup, record, tmp_path):
    ride = ridden(course, setup)
    recording = record(ride, tmp_path / "ride.csv")
    late_w = np.concatenate([np.zeros(3), recording.powers_w[:-3]])
    told = review(course=course, setup=setup, recording=replace(recording, powers_w=late_w))
    # Three samples of no power at a standstill on 5 % cost what they cost, not half a minute.
    assert told.gap.first.time_s == pytest.approx(ride.time_s, abs=4.0)


def test_no_value_within_reason_is_told_as_none(course, setup, record, tmp_path):
    # A quarter more power than the meter shows: no drag, rolling or mass can be so low.
    strong = replace(setup, rider=replace(setup.rider, power_w=Uncertain(330.0)))
    recording = record(ridden(course, strong), tmp_path / "ride.csv", meter=0.7)
    told = review(course=course, setup=setup, recording=recording)
    assert named(told, "power").needed == pytest.approx(1.0 / 0.7, abs=0.02)
    assert named(told, "rolling").needed is None
    assert told.suspects[0].kind == "power"


def square_laps(n_laps):
    """A square of 2 km, so that each lap ends where it starts."""
    return course_from_arrays(
        lengths_m=np.full(400 * n_laps, 5.0),
        grades=np.zeros(400 * n_laps),
        headings_rad=np.tile(np.repeat(np.radians([20.0, 110.0, 200.0, 290.0]), 100), n_laps),
        start="rolling",
        lap_starts_m=np.linspace(0.0, 2000.0 * n_laps, n_laps + 1),
    )


@pytest.mark.parametrize(("asked", "laps"), [(1, 2), (2, 1), (3, 0)])
def test_laps_ridden_behind_the_finish_are_counted(setup, record, tmp_path, asked, laps):
    """Three laps of 2 km were recorded; the course has fewer."""
    recording = record(ridden(square_laps(3), setup), tmp_path / "ride.csv")
    told = review(course=square_laps(asked), setup=setup, recording=recording)
    assert told.onward_laps == laps
    assert told.onward_m == pytest.approx(2000.0 * laps, rel=0.05, abs=30.0)


def test_way_home_is_no_lap(course, setup, record, tmp_path):
    """800 m on behind the finish of a road from one place to another; a ride cut short: nothing."""
    longer = course_from_arrays(
        lengths_m=np.append(course.lengths_m, np.full(160, 5.0)),
        grades=np.append(course.grades, np.zeros(160)),
        headings_rad=np.append(course.headings_rad, np.full(160, course.headings_rad[-1])),
        start="standing",
    )
    recording = record(ridden(longer, setup), tmp_path / "ride.csv")
    told = review(course=course, setup=setup, recording=recording)
    assert told.onward_laps == 0
    assert told.onward_m == pytest.approx(800.0, abs=40.0)
    short = record(ridden(course, setup), tmp_path / "r.csv", until_m=0.8 * course.distance_m)
    assert review(course=course, setup=setup, recording=short).onward_m == 0.0
