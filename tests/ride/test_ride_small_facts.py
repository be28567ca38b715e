"""Small facts of the ride room that mutants of its code got past before."""

import numpy as np
import pytest

from simulator.ride import is_holdable, open_rehearsal, rehearse, trial_cut_w


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
