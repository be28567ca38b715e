"""Small facts of the compare room that mutants of its code got past before."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.compare import explain, review
from simulator.course import Feature, course_from_arrays
from simulator.pacing import constant_demand
from simulator.ride import simulate
from simulator.setup import RideSetup, Uncertain


def flat_road(headings_rad):
    """A flat of 5 m segments in these directions."""
    length_m = 5.0 * len(headings_rad)
    flat = Feature(
        kind="flat",
        name="flat",
        start_m=0.0,
        end_m=length_m,
        mean_grade=0.0,
        max_grade=0.0,
        ascent_m=0.0,
        descent_m=0.0,
        lap=1,
    )
    return course_from_arrays(
        lengths_m=np.full(len(headings_rad), 5.0),
        grades=np.zeros(len(headings_rad)),
        headings_rad=headings_rad,
        features=(flat,),
        start="rolling",
    )


def test_the_road_back_is_cut_where_the_road_out_was(setups):
    """Ridden the other way round, in the same wind, what was into it is with it, place by place."""
    weather = replace(setups[0].weather, wind_mps=Uncertain(5.0), wind_from_deg=Uncertain(0.0))
    windy = [RideSetup(rider=s.rider, build=s.build, weather=weather) for s in setups]
    headings_rad = np.repeat([0.0, np.pi / 2.0, np.pi], [500, 200, 800])
    other_way = {"headwind": "tailwind", "tailwind": "headwind", "crosswind": "crosswind"}

    def pieces(headings_rad):
        told = explain(course=flat_road(headings_rad), first=windy[0], other=windy[1], n_draws=0)
        return [(w.kind, w.start_m, w.end_m) for w in told.winds]

    out = pieces(headings_rad)
    back = pieces(headings_rad[::-1] + np.pi)
    assert [kind for kind, _, _ in out] == ["headwind", "crosswind", "tailwind"]
    assert [other_way[kind] for kind, _, _ in back[::-1]] == [kind for kind, _, _ in out]
    all_m = 5.0 * len(headings_rad)
    for (_, start_m, end_m), (_, from_m, to_m) in zip(out, back[::-1], strict=True):
        # To within a segment at each end.
        assert (start_m, end_m) == pytest.approx((all_m - to_m, all_m - from_m), abs=6.0)


def test_waiting_at_the_line_is_no_stop_for_a_device_without_speeds(
    hill_course, setups, record, tmp_path
):
    course = replace(
        hill_course, start="standing", corners=(), radii_m=np.full(hill_course.n_segments, np.inf)
    )
    setup = RideSetup(rider=setups[1].rider, build=setups[1].build, weather=setups[1].weather)
    ride = simulate(course=course, setup=setup, demand=constant_demand(course, setup.rider))
    recording = record(ride, tmp_path / "r.csv", wait_s=90, after_s=200, speeds=False)
    told = review(course=course, setup=setup, recording=recording)
    assert told.stops == ()
    # Places alone tell the first metres from standing worse than a speed does.
    assert told.gap.other.time_s == pytest.approx(ride.time_s, abs=6.0)


@pytest.mark.parametrize("speeds", [True, False])
def test_the_bunch_that_waits_just_behind_the_line_is_no_stop_either(
    hill_course, setups, record, tmp_path, speeds
):
    """Rolled over the line, stood for a minute at 15 m, then rode: the clock starts there."""
    course = replace(
        hill_course,
        start="standing",
        corners=(),
        radii_m=np.full(hill_course.n_segments, np.inf),
        restarts_m=(15.0,),
    )
    setup = RideSetup(rider=setups[1].rider, build=setups[1].build, weather=setups[1].weather)
    ride = simulate(course=course, setup=setup, demand=constant_demand(course, setup.rider))
    recording = record(ride, tmp_path / "r.csv", stops=[(15.0, 60)], speeds=speeds)
    once = replace(course, restarts_m=())
    told = review(course=once, setup=setup, recording=recording)
    assert told.stops == ()
    # Fifteen metres more or less from a standstill are five seconds.
    assert told.gap.other.time_s == pytest.approx(ride.time_s, abs=8.0)


def test_a_meter_that_drops_out_on_a_climb_stops_no_prediction(
    hill_course, setups, record, tmp_path
):
    """Zeros for twelve seconds at 5 % would stop a rider; the mean over some way rides on."""
    course = replace(hill_course, corners=(), radii_m=np.full(hill_course.n_segments, np.inf))
    setup = RideSetup(rider=setups[1].rider, build=setups[1].build, weather=setups[1].weather)
    ride = simulate(course=course, setup=setup, demand=constant_demand(course, setup.rider))
    recording = record(ride, tmp_path / "r.csv")
    powers_w = recording.powers_w.copy()
    powers_w[100:112] = 0.0
    told = review(course=course, setup=setup, recording=replace(recording, powers_w=powers_w))
    assert np.isfinite(told.gap.first.time_s)
    # What was recorded is ridden: no work is made or lost by spreading it.
    assert told.predicted_w == pytest.approx(told.recorded_w, rel=0.02)
