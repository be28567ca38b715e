"""Full stops on the way, near bends and elsewhere; laps and kinds of start."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.course import course_from_arrays
from simulator.ride import simulate, simulate_many

HUNDREDTH_OF_A_SECOND = 0.01


def bend_and_stop(stop_m, *, start="standing", n=400):
    """Two flat kilometres with one bend of 10 m radius at 450 m and a full stop."""
    starts_m = np.arange(n) * 5.0
    radii_m = np.where((starts_m >= 450.0) & (starts_m < 465.0), 10.0, np.inf)
    course = course_from_arrays(lengths_m=np.full(n, 5.0), grades=0.0, radii_m=radii_m, start=start)
    return replace(course, restarts_m=() if stop_m is None else (stop_m,))


# Stops before, in and behind the bend: braking for the stop runs through it. At 470 m the ceiling
# came out a rounding below standstill.
@pytest.mark.parametrize("stop_m", [430.0, 445.0, 450.0, 455.0, 465.0, 470.0, 475.0, 480.0, 500.0])
def test_a_stop_near_a_bend_is_ridden(hilly_setup, stop_m):
    course = bend_and_stop(stop_m)
    ride = simulate(course=course, setup=hilly_setup)
    i_stop = round(stop_m / 5.0)
    assert ride.node_speeds_mps[i_stop] == pytest.approx(0.0, abs=1e-6)
    assert (ride.node_speeds_mps[1:i_stop] > 0.0).all()
    assert np.isfinite(ride.energies_j).all()
    drawn = simulate_many(course=course, setups=[hilly_setup])
    assert drawn[0, 0, 0] == pytest.approx(ride.time_s, abs=1e-9)


@pytest.mark.parametrize("seed", range(6))
def test_stops_at_any_place_among_bends(hilly_setup, cornered_course, seed):
    random = np.random.default_rng(seed)
    course = cornered_course(1500.0)
    # One in each 240 m.
    stops_m = tuple((30.0 + 240.0 * np.arange(6) + random.uniform(0.0, 200.0, 6)).tolist())
    ride = simulate(course=replace(course, restarts_m=stops_m), setup=hilly_setup)
    assert (ride.node_speeds_mps < 1e-6).sum() == 6
    plain = simulate(course=course, setup=hilly_setup)
    assert 6 * 2.0 < ride.time_s - plain.time_s < 6 * 20.0


def test_two_stops_within_one_step_are_one(hilly_setup, even_course):
    course = even_course(1000.0)
    one, two, apart = (
        simulate(course=replace(course, restarts_m=stops_m), setup=hilly_setup)
        for stops_m in ((500.0,), (500.0, 503.0), (500.0, 510.0))
    )
    assert two.time_s == one.time_s
    assert np.isfinite(apart.time_s)
    assert apart.time_s > one.time_s + 2.0


def test_a_stop_costs_the_same_wherever_it_is_on_an_even_road(plain_setup, even_course):
    course = even_course(8000.0)
    steady = simulate(course=course, setup=plain_setup).time_s
    lost_s = [
        simulate(course=replace(course, restarts_m=(at_m,)), setup=plain_setup).time_s - steady
        for at_m in (3000.0, 3500.0, 4000.0)
    ]
    assert max(lost_s) - min(lost_s) < HUNDREDTH_OF_A_SECOND
    # Rolling in at 0.4 g costs v/(2a); the rest is getting back up to speed.
    speed_mps = 8000.0 / steady
    assert min(lost_s) > speed_mps / (2.0 * 0.4 * 9.80665)


def test_rolling_start_is_ahead_by_the_run_up(plain_setup, even_course):
    standing = simulate(course=even_course(5000.0, start="standing"), setup=plain_setup)
    rolling = simulate(course=even_course(5000.0, start="rolling"), setup=plain_setup)
    assert standing.node_speeds_mps[0] == 0.0
    assert rolling.node_speeds_mps[0] == pytest.approx(25.0 / 3.6)
    assert 0.5 < standing.time_s - rolling.time_s < 10.0
    # Both come to the same speed in the end.
    assert standing.node_speeds_mps[-1] == pytest.approx(rolling.node_speeds_mps[-1], abs=1e-3)
