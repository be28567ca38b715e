"""Pacings side by side: figures of the ride, what W' allows, what a weak day does."""

import numpy as np
import pytest

from simulator.pacing import Constant, Limits, OnFeature, Pacing, Target
from simulator.powerplan import WEAK_DAY, try_pacings
from simulator.report import make_tryout_view
from simulator.report.powerplan_words import tryout_sentence

RESERVE = {"cp_w": 260.0, "wprime_j": 15_000.0, "max_power_w": 850.0}


@pytest.fixture
def racer(hilly_setup, varied):
    return varied(hilly_setup, rider=RESERVE)


def constant(power_w):
    return Pacing(name=f"{power_w:g} W", rules=(Constant(power_w=power_w),))


def test_side_by_side(racer, rolling_course):
    course = rolling_course(1500)
    tried = try_pacings(course=course, setup=racer, pacings=[constant(240.0), constant(380.0)])
    easy, hard, best = tried.attempts
    assert easy.can_be_done
    assert hard.can_be_done is False
    assert hard.cut_w > 50.0
    assert best.can_be_done
    assert best.name.startswith("Constant ")
    assert easy.ride.time_s > best.ride.time_s
    assert hard.low_j < 100.0
    for attempt in tried.attempts:
        assert sum(attempt.feature_times_s) == pytest.approx(attempt.ride.time_s)
        assert attempt.ride.fourth_power_mean_w >= attempt.ride.mean_power_w
        assert attempt.low_j == pytest.approx(attempt.ride.node_reserves_j.min())


def test_a_weak_day_costs_the_one_who_spends_all(racer, rolling_course):
    course = rolling_course(1500)
    tried = try_pacings(course=course, setup=racer, pacings=[constant(200.0)])
    easy, best = tried.attempts
    # Well below a weak day's critical power nothing is lost; at the limit something is.
    assert WEAK_DAY * RESERVE["cp_w"] > 200.0
    assert easy.weak_loss_s == pytest.approx(0.0, abs=1e-7)
    assert easy.weak_cut_w == 0.0
    assert best.weak_loss_s > 1.0
    assert best.weak_cut_w > 0.5


def test_without_critical_power_what_can_be_done_is_not_known(hilly_setup, rolling_course):
    tried = try_pacings(course=rolling_course(300), setup=hilly_setup, pacings=[constant(240.0)])
    (only,) = tried.attempts
    assert only.can_be_done is None
    assert only.weak_loss_s is None
    assert only.low_j is None


def test_one_who_stops_is_told_beside_the_others(racer, even_course, varied):
    course = even_course(400.0, 0.20)
    setup = varied(racer, rider={"cadence_low_rpm": 70.0})
    tried = try_pacings(
        course=course, setup=setup, pacings=[constant(60.0)], with_best_constant=False
    )
    (stopped,) = tried.attempts
    assert stopped.ride is None
    assert "cannot pass km" in stopped.trouble
    assert stopped.can_be_done is False


def test_open_targets_are_settled(racer, rolling_course):
    pacing = Pacing(
        name="to a mean",
        rules=(Limits(floor_w=100.0, cap_w=400.0), Target(mean_w=235.0)),
    )
    more = Pacing(name="flat", rules=(OnFeature(feature="flat", factor=1.05),))
    tried = try_pacings(course=rolling_course(800), setup=racer, pacings=[pacing, more])
    assert tried.attempts[0].ride.mean_power_w == pytest.approx(235.0, abs=0.01)
    assert np.isfinite(tried.attempts[1].ride.time_s)


def test_where_no_constant_power_gets_through_the_others_are_told_all_the_same(
    racer, even_course, varied
):
    setup = varied(racer, rider={"cadence_low_rpm": 80.0, "cp_w": 60.0})
    tried = try_pacings(course=even_course(500.0, 0.28), setup=setup, pacings=[constant(60.0)])
    asked, best = tried.attempts
    assert asked.ride is None
    assert best.ride is None
    assert "does not reach the finish at critical power" in best.trouble


def test_a_lead_that_is_bought_with_more_power_is_told_as_such(racer, rolling_course):
    course = rolling_course(1500)
    # Beside it stands the best constant power, far above 200 W.
    tried = try_pacings(course=course, setup=racer, pacings=[constant(200.0)])
    means = [round(attempt.ride.mean_power_w) for attempt in tried.attempts]
    told = f"takes {means[1]} W on average, 200 W {means[0]} W: that alone makes a difference."
    assert told in make_tryout_view(tried).sentence
    same = tryout_sentence("Moor", "A", "B", 4.0, 2, means_w=(200.0, 203.0))
    assert same.endswith("ahead of A.")
