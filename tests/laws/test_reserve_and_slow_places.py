"""Where a ride is slow or W' is nearly gone: laws that hold however coarse the steps are."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.course import course_from_arrays
from simulator.physics.forces import forces_at
from simulator.physics.step import stiffness_per_m
from simulator.ride import simulate, simulate_many

CLOSE_S = 1.0e-9


def test_reserve_is_never_more_than_full_at_a_long_stop(hilly_setup, varied):
    # Half a kilojoule refills while the rider rolls to a stop over a long step: by the
    # differential balance what is missing only shrinks, and never turns into too much.
    course = course_from_arrays(lengths_m=np.full(40, 20.0), grades=0.0, start="standing")
    course = replace(course, restarts_m=(400.0,))
    setup = varied(
        hilly_setup, rider={"cp_w": 300.0, "wprime_j": 500.0, "power_w": 320.0, "braking_g": 0.1}
    )
    ride = simulate(course=course, setup=setup)
    assert ride.node_reserves_j.max() <= 500.0 * (1.0 + 1.0e-12)
    assert ride.node_speeds_mps[20] == 0.0


def test_a_step_that_takes_more_than_the_whole_reserve_is_taken_apart(
    hilly_setup, varied, kernel_parts
):
    # 60 m at 3 m/s and 150 W above critical power take 3,000 J; W' has 2,000 J. Its last part goes
    # by a third a second, which a step must count from its start and a large W' never adds.
    course = course_from_arrays(lengths_m=[60.0], grades=0.0)
    v_mps = 3.0

    def stiffness_per_m_with(wprime_j):
        rider = {"cp_w": 200.0, "wprime_j": wprime_j, "power_w": 350.0}
        step, rules = kernel_parts(course, varied(hilly_setup, rider=rider))
        forces = forces_at(v_mps, 1.0 / v_mps, wprime_j, step, rules)
        return stiffness_per_m(forces, v_mps**2, v_mps, 1.0 / v_mps, wprime_j, step, rules)

    assert stiffness_per_m_with(2000.0) - stiffness_per_m_with(80000.0) > 0.9 / 3.0 / v_mps


def test_a_decline_that_a_slow_step_looks_ahead_to_is_given_back(hilly_setup, varied):
    # The first step is expected to take 12 s at 0.6 m/s and reaches into the decline, the next
    # ones do not: a batch must ride them with full power, as a ride alone does.
    course = course_from_arrays(lengths_m=np.full(60, 7.2), grades=0.0)
    setup = varied(hilly_setup, rider={"decline_after_s": 5.0, "decline_per_log": 0.2})
    ride = simulate(course=course, setup=setup, start_speed_mps=0.6)
    assert ride.node_times_s[1] < 5.0
    many_s = simulate_many(
        course=course, setups=[setup], start_speed_mps=0.6, marks=np.arange(61)
    )[0, 0]  # fmt: skip
    assert many_s == pytest.approx(ride.node_times_s, rel=0.0, abs=CLOSE_S)
