"""Rides at other powers on one layout: same ride as `simulate`, slopes as differences show them."""

import numpy as np
import pytest

from simulator.pacing import Demand, constant_demand
from simulator.ride import (
    answers_of,
    capacity_w,
    holdable_power_w,
    is_holdable,
    open_rehearsal,
    rehearse,
    simulate,
    slopes_of,
    trial_cut_w,
)

A_MILLISECOND = 1.0e-3


@pytest.fixture
def rider_with_reserve(hilly_setup, varied):
    return varied(hilly_setup, rider={"cp_w": 250.0, "wprime_j": 16_000.0, "max_power_w": 850.0})


def wavy(course):
    return 250.0 + 60.0 * np.sin(np.arange(course.n_segments) / 40.0)


def test_a_rehearsed_ride_is_the_simulated_one(rider_with_reserve, cornered_course):
    course = cornered_course(4000.0, start="standing")
    setup = rider_with_reserve
    powers_w = wavy(course)
    trial = rehearse(open_rehearsal(course=course, setup=setup), powers_w)
    habit = constant_demand(course, setup.rider, power_w=1.0).powers_w
    ride = simulate(course=course, setup=setup, demand=Demand(powers_w=powers_w * habit, text=""))
    # Steps on which the rider pulls away may be cut differently; nothing else differs.
    assert trial.node_times_s == pytest.approx(ride.node_times_s, abs=A_MILLISECOND)
    assert trial.node_reserves_j == pytest.approx(ride.node_reserves_j, abs=0.5)
    assert trial.powers_w == pytest.approx(ride.powers_w, abs=0.05)


@pytest.mark.parametrize("seed", range(4))
def test_slopes_are_those_of_differences(seed, rider_with_reserve, cornered_course, varied):
    course = cornered_course(3000.0)
    setup = varied(rider_with_reserve, weather={"wind_mps": 4.0})
    rehearsal = open_rehearsal(course=course, setup=setup)
    powers_w = wavy(course)
    per_reserve_w = np.where(np.arange(course.n_segments) % 100 < 10, 80.0, 0.0)
    way = np.random.default_rng(seed).standard_normal(course.n_segments)

    def results(size):
        trial = rehearse(rehearsal, powers_w + size * way, per_reserve_w)
        lengths_s = np.diff(trial.times)
        fourth = np.sum((trial.works / lengths_s) ** 4 * lengths_s)
        return np.array([trial.time_s, trial.works.sum(), fourth, trial.node_reserves_j[300]])

    size = 1.0e-3
    differences = (results(size) - results(-size)) / (2.0 * size)
    answers = answers_of(rehearse(rehearsal, powers_w, per_reserve_w))
    wanted = (
        {"time": 1.0},
        {"work": 1.0},
        {"fourth": 1.0},
        {"reserve_nodes": np.array([300])},
    )
    for difference, weights in zip(differences, wanted, strict=True):
        below, above = slopes_of(answers, **weights)
        assert 0.5 * (below + above) @ way == pytest.approx(difference, rel=1e-4, abs=1e-7)


def test_slopes_know_wind_that_turns(rider_with_reserve, rolling_course, varied):
    from simulator.setup import WindAt

    winds = tuple(
        WindAt(time_s=t, wind_mps=m, wind_from_deg=d)
        for t, m, d in ((0.0, 2.0, 0.0), (200.0, 7.0, 60.0), (400.0, 5.0, 200.0))
    )
    course = rolling_course(600)
    setup = varied(rider_with_reserve, weather={"winds": winds, "wind_mps": 2.0})
    rehearsal = open_rehearsal(course=course, setup=setup)
    way = np.cos(np.arange(course.n_segments) / 9.0)

    def time_s(size):
        return rehearse(rehearsal, wavy(course) + size * way).time_s

    below, above = slopes_of(answers_of(rehearse(rehearsal, wavy(course))), time=1.0)
    difference = (time_s(1e-3) - time_s(-1e-3)) / 2e-3
    assert 0.5 * (below + above) @ way == pytest.approx(difference, rel=1e-4)


def test_at_critical_power_the_slope_of_the_reserve_has_two_sides(
    rider_with_reserve, even_course, varied
):
    # Above CP a joule spent is a joule gone; below, only the empty share of W' refills
    # (Skiba 2015): with W' full the slope for less power is 0, for more it is minus the seconds.
    course = even_course(500.0)
    rehearsal = open_rehearsal(course=course, setup=rider_with_reserve, start_speed_mps=10.0)
    trial = rehearse(rehearsal, np.full(course.n_segments, 250.0))
    below, above = slopes_of(answers_of(trial), reserve_nodes=np.array([course.n_segments]))
    assert below == pytest.approx(np.zeros(course.n_segments), abs=1e-6)
    assert -above == pytest.approx(np.diff(trial.node_times_s), rel=1e-3)


def test_the_power_that_can_be_held_empties_the_reserve_and_a_watt_more_cannot_be(
    rider_with_reserve, rolling_course
):
    course = rolling_course(1500)
    rehearsal = open_rehearsal(course=course, setup=rider_with_reserve)
    power_w = holdable_power_w(rehearsal)
    held = rehearse(rehearsal, np.full(course.n_segments, power_w))
    more = rehearse(rehearsal, np.full(course.n_segments, power_w + 1.0))
    assert is_holdable(held)
    assert not is_holdable(more)
    assert trial_cut_w(more) > 0.5
    room_w = capacity_w(rehearsal, held.node_reserves_j) - power_w
    assert -0.5 <= room_w.min() < 1.0


def test_a_rider_who_stops_has_no_time(rider_with_reserve, even_course):
    course = even_course(300.0, 0.25)
    trial = rehearse(open_rehearsal(course=course, setup=rider_with_reserve), np.zeros(60))
    assert not trial.is_finished
    assert trial.time_s == np.inf
