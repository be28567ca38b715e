"""Targets that the rider's own power would not reach, and targets that nobody gets home on."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.course import course_from_arrays
from simulator.errors import CannotFinish
from simulator.pacing import Target, constant_demand
from simulator.ride import settle, simulate


@pytest.fixture
def wall():
    """100 m flat, 300 m at 12 %, 100 m flat."""
    i = np.arange(100)
    grades = np.where((i >= 20) & (i < 80), 0.12, 0.0)
    return course_from_arrays(lengths_m=np.full(100, 5.0), grades=grades)


def settled(course, setup, target):
    demand = replace(constant_demand(course, setup.rider), target=target)
    return settle(course=course, setup=setup, demand=demand)


@pytest.mark.parametrize("own_w", [20.0, 90.0, 240.0, 500.0])
def test_the_target_is_met_from_any_power(plain_setup, varied, wall, own_w):
    # A rider on 20 W stops on the wall; the target asks for 250 W all the same.
    setup = varied(plain_setup, rider={"power_w": own_w})
    if own_w == 20.0:
        with pytest.raises(CannotFinish):
            simulate(course=wall, setup=setup)
    demand = settled(wall, setup, Target(mean_w=250.0))
    ride = simulate(course=wall, setup=setup, demand=demand)
    assert ride.mean_power_w == pytest.approx(250.0, abs=1e-3)


@pytest.mark.parametrize("target", [Target(mean_w=8.0), Target(fourth_power_mean_w=8.0)])
def test_a_target_below_what_gets_home_says_where_the_ride_ends(plain_setup, wall, target):
    with pytest.raises(CannotFinish, match=r"km 0\.1"):
        settled(wall, plain_setup, target)
