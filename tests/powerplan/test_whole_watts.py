"""Levels in whole watts: within the budget, and no worse than the plain ways of rounding."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.powerplan import make_problem
from simulator.powerplan.levels import Levels
from simulator.powerplan.ridden_levels import SCALE_W, look_at
from simulator.powerplan.whole_watts import in_whole_watts

RESERVE = {"cp_w": 260.0, "wprime_j": 15_000.0, "max_power_w": 850.0}
LEVELS = Levels(powers_w=np.array([283.4, 301.7, 268.6]), breaks_m=np.array([900.0, 1900.0]))


@pytest.fixture
def problem(hilly_setup, varied, rolling_course):
    return make_problem(course=rolling_course(600), setup=varied(hilly_setup, rider=RESERVE))


def test_slopes_of_time_and_room_are_those_of_differences(problem):
    levels = replace(LEVELS, powers_w=np.array([290.4, 312.7, 301.6]))
    seen = look_at(problem, levels)
    n = len(levels.powers_w)
    for k in range(n):
        step = np.zeros(n)
        step[k] = 1e-2
        up = look_at(problem, replace(levels, powers_w=levels.powers_w + step))
        down = look_at(problem, replace(levels, powers_w=levels.powers_w - step))
        by_time = (up.trial.time_s - down.trial.time_s) / 2e-2
        assert seen.slope[k] == pytest.approx(by_time, rel=1e-2)
        near = seen.room < 1.0
        by_room = (up.room - down.room)[near] / 2e-2
        assert seen.room_slope[near, k] == pytest.approx(by_room, rel=2e-2, abs=2e-4 / SCALE_W)


@pytest.mark.parametrize("mean_w", [None, 271.3])
def test_whole_watts_keep_the_budget_and_beat_rounding_down(
    mean_w, hilly_setup, varied, rolling_course
):
    problem = make_problem(
        course=rolling_course(600), setup=varied(hilly_setup, rider=RESERVE), mean_w=mean_w
    )
    # As high as the budget allows: all levels raised together until it is met.
    low, high = 0.7, 1.4
    for _ in range(40):
        middle = 0.5 * (low + high)
        look = look_at(problem, replace(LEVELS, powers_w=LEVELS.powers_w * middle))
        low, high = (middle, high) if look is not None and look.is_within else (low, middle)
    seen = look_at(problem, replace(LEVELS, powers_w=LEVELS.powers_w * low))
    found = in_whole_watts(seen)
    assert np.array_equal(found.powers_w, np.round(found.powers_w))
    ridden = look_at(problem, found)
    assert ridden.is_within
    rounded_down = look_at(problem, replace(LEVELS, powers_w=np.floor(seen.levels.powers_w)))
    assert rounded_down.is_within
    assert ridden.trial.time_s <= rounded_down.trial.time_s
    # A watt on every level for the whole ride would cost more than whole watts do.
    all_lower = look_at(problem, replace(LEVELS, powers_w=seen.levels.powers_w - 1.0))
    assert ridden.trial.time_s < all_lower.trial.time_s
