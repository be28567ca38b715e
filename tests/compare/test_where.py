"""Where the gap arises."""

import numpy as np
import pytest

from simulator.compare import explain, measure_gap
from simulator.compare.where import corner_gaps, stretch_gaps
from simulator.ride import ENERGY_CAUSES, simulate

ROUNDING = 1e-9


@pytest.fixture(scope="module")
def gap(hill_course, setups):
    first, other = (simulate(course=hill_course, setup=setup) for setup in setups)
    return measure_gap(first, other)


def test_gap_is_time_of_the_build_minus_time_of_the_first(gap):
    assert gap.total_s == gap.other.time_s - gap.first.time_s
    # Plover is worse in everything that matters: it loses, and a loss is positive.
    assert gap.total_s > 1.0


def test_turning_the_comparison_round_turns_the_sign(gap):
    turned = measure_gap(gap.other, gap.first)
    assert turned.total_s == -gap.total_s
    for one, two in zip(stretch_gaps(gap), stretch_gaps(turned), strict=True):
        assert two.gap_s == pytest.approx(-one.gap_s, abs=ROUNDING)
        assert two.share == pytest.approx(one.share, abs=ROUNDING)


def test_stretches_sum_to_the_total_and_shares_to_one(gap):
    stretches = stretch_gaps(gap)
    assert sum(s.gap_s for s in stretches) == pytest.approx(gap.total_s, abs=ROUNDING)
    assert sum(s.share for s in stretches) == pytest.approx(1.0, abs=ROUNDING)
    assert sum(s.first_s for s in stretches) == pytest.approx(gap.first.time_s, abs=ROUNDING)
    for s in stretches:
        assert s.gap_s == pytest.approx(s.other_s - s.first_s, abs=ROUNDING)


def test_corner_reaches_from_braking_to_the_end_of_the_surge(gap):
    course = gap.first.course
    # Corner 1 is on the climb, where nobody is fast enough for it: it is left out.
    (zone,) = corner_gaps(gap)
    corner = course.corners[1]
    assert zone.name == corner.name == "Corner 2"
    assert zone.start_m < corner.start_m
    assert corner.end_m < zone.end_m <= corner.end_m + 250.0
    middle_m = 0.5 * (course.node_distances_m[:-1] + course.node_distances_m[1:])
    near = (middle_m > zone.start_m) & (middle_m < zone.end_m)
    for ride in (gap.first, gap.other):
        is_braking = ride.energies_j[ENERGY_CAUSES.index("braking")] > 0.0
        assert is_braking[near].any()
        assert not is_braking[~near].any()
        # The surge: at the end the speed from before the braking is back, or 250 m are over.
        before_mps, at_end_mps = np.interp(
            [zone.start_m, zone.end_m], course.node_distances_m, ride.node_speeds_mps
        )
        assert at_end_mps > 0.97 * before_mps or zone.end_m == corner.end_m + 250.0


def test_equal_builds_have_no_gap_and_no_causes(hill_course, setups):
    explained = explain(course=hill_course, first=setups[0], other=setups[0], n_draws=0)
    assert explained.gap.total_s == 0.0
    assert explained.causes == ()
    assert explained.matrix_s.shape == (3, 0)
    assert all(s.gap_s == 0.0 and s.share == 0.0 for s in explained.stretches)
    assert explained.tie_power_w is None


def test_other_rider_or_weather_is_refused(hill_course, setups):
    from simulator.setup import RideSetup, default_rider

    stranger = RideSetup(rider=default_rider(), build=setups[1].build, weather=setups[1].weather)
    with pytest.raises(ValueError, match="share their rider"):
        explain(course=hill_course, first=setups[0], other=stranger)


def test_rides_over_two_courses_are_refused(hill_course, setups):
    from simulator.course import course_from_arrays

    elsewhere = course_from_arrays(lengths_m=np.full(10, 5.0), grades=np.zeros(10))
    with pytest.raises(ValueError, match="same course"):
        measure_gap(
            simulate(course=hill_course, setup=setups[0]),
            simulate(course=elsewhere, setup=setups[1]),
        )
