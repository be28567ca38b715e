"""The integrator against an independent solution of the same equation.

The twin (see ``conftest.py``) is written from the published force balance (Martin et al. 1998
with a drag on the square of the apparent wind) in plain Python, shares no code with the kernels,
and is solved by scipy's DOP853 at tight tolerance, restarted at every segment border.
"""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from simulator.course import course_from_arrays
from simulator.ride import simulate

MILLISECOND = 0.001


def tight_times(twin, powers_w, u_start):
    """Times at the nodes and final u, ceilings left out (the course has none)."""
    times, u = [0.0], u_start
    for i, length in enumerate(twin.course.lengths_m):
        place, power = twin.place(i), powers_w[i]

        def rate(_, y, i=i, place=place, power=power):
            v = math.sqrt(y[0])
            return [2.0 * twin.net(v, i, power, place) / twin.m_eff, 1.0 / v]

        solved = solve_ivp(rate, (0.0, length), [u, 0.0], method="DOP853", rtol=1e-11, atol=1e-11)
        u = solved.y[0, -1]
        times.append(times[-1] + solved.y[1, -1])
    return np.array(times), u


def test_an_hour_agrees_with_the_tight_solution(hilly_setup, rolling_course, twin_of):
    # 33 km of hills, wind and changing shelter: about an hour.
    course = rolling_course(6600)
    ride = simulate(course=course, setup=hilly_setup)
    rider = hilly_setup.rider
    share = np.clip((course.grades - rider.coast_grade) / 0.01, 0.0, 1.0)
    times, u = tight_times(
        twin_of(course, hilly_setup), rider.power_w.value * share, ride.node_speeds_mps[0] ** 2
    )
    assert times[-1] > 3300.0
    assert np.abs(ride.node_times_s - times).max() < MILLISECOND
    assert ride.node_speeds_mps[-1] == pytest.approx(math.sqrt(u), abs=1e-4)


def test_slow_steep_ride_agrees_with_the_tight_solution(hilly_setup, twin_of):
    # 9 to 16 % all the way: stiff, near the lowest gear, where steps must be taken apart.
    n = 240
    s_m = (np.arange(n) + 0.5) * 5.0
    course = course_from_arrays(
        lengths_m=np.full(n, 5.0), grades=0.125 + 0.035 * np.sin(s_m / 110.0)
    )
    ride = simulate(course=course, setup=hilly_setup, start_speed_mps=3.0)
    times, _ = tight_times(
        twin_of(course, hilly_setup), np.full(n, hilly_setup.rider.power_w.value), 9.0
    )
    assert np.abs(ride.node_times_s - times).max() < MILLISECOND
