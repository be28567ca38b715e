"""Small facts of the ride room that mutants of its code got past before."""

import numpy as np
import pytest

from simulator.course import Corner, course_from_arrays
from simulator.pacing import constant_demand
from simulator.ride import is_holdable, open_rehearsal, rehearse, simulate, trial_cut_w


def test_an_empty_rider_asked_for_three_times_critical_power_lacks_the_rest(
    hilly_setup, varied, cornered_course
):
    """With W' gone there is critical power and no more: the rest is what was cut."""
    setup = varied(hilly_setup, rider={"cp_w": 200.0, "wprime_j": 6_000.0, "max_power_w": 900.0})
    course = cornered_course(4000.0)
    asked_w = np.full(course.n_segments, 640.0)
    trial = rehearse(open_rehearsal(course=course, setup=setup), asked_w)
    assert trial.is_finished
    assert trial.node_reserves_j.min() < 60.0
    assert not is_holdable(trial)
    # To within the last hundredth of W', which eases power down to critical power.
    assert trial_cut_w(trial) == pytest.approx(640.0 - 200.0, abs=10.0)


def test_behind_a_tight_bend_the_feet_rest_for_as_long_as_stated(plain_setup, varied):
    """Two seconds at the speed of the lean: v = sqrt(r g tan lean), the closed form of a corner."""
    course = course_from_arrays(
        lengths_m=np.full(120, 5.0),
        grades=0.0,
        corners=(
            Corner(
                number=1, name="bend", start_m=190.0, apex_m=201.0, end_m=212.0, radius_m=15.0,
                turn_rad=1.5, lap=1,
            ),
        ),
    )  # fmt: skip
    asked_w = 200.0
    rested_m = []
    for delay_s in (0.0, 2.0):
        setup = varied(plain_setup, rider={"pedal_delay_s": delay_s, "lean_deg": 30.0})
        ride = simulate(
            course=course, setup=setup,
            demand=constant_demand(course, setup.rider, power_w=asked_w),
        )  # fmt: skip
        rested_m.append(np.sum((1.0 - ride.powers_w / asked_w) * course.lengths_m))
        assert ride.powers_w[:42] == pytest.approx(asked_w)  # as far as the end of the bend
        assert ride.powers_w[60:] == pytest.approx(asked_w)
    assert rested_m[0] == pytest.approx(0.0, abs=1e-6)
    assert rested_m[1] == pytest.approx(2.0 * np.sqrt(15.0 * 9.80665 * np.tan(np.pi / 6)), rel=1e-3)
