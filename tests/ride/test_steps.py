"""The steps of a course do not depend on who rides it, so times are smooth in the power wanted."""

import numpy as np

from simulator.course import course_from_arrays
from simulator.pacing import constant_demand
from simulator.ride import simulate

A_MICROSECOND = 1e-6


def test_time_is_smooth_in_power_on_a_slow_steep_course(hilly_setup):
    n = 160
    s_m = (np.arange(n) + 0.5) * 5.0
    course = course_from_arrays(lengths_m=np.full(n, 5.0), grades=0.11 + 0.04 * np.sin(s_m / 60.0))
    # Relative steps of 1e-5 around a power, over a range that once changed the number of steps.
    for power_w in np.linspace(190.0, 250.0, 13):
        times_s = [
            simulate(
                course=course,
                setup=hilly_setup,
                demand=constant_demand(course, hilly_setup.rider, power_w=power_w * (1 + k * 1e-5)),
            ).time_s
            for k in range(-2, 3)
        ]
        assert np.abs(np.diff(times_s, n=2)).max() < A_MICROSECOND
        assert (np.diff(times_s) < 0.0).all()
