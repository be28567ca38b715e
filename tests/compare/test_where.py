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


def test_braking_turning_and_surge_add_up_to_a_corner(gap):
    (zone,) = corner_gaps(gap)
    assert sum(zone.parts_s) == pytest.approx(zone.gap_s, abs=ROUNDING)
    corner = gap.first.course.corners[1]
    assert zone.parts_s[1] == pytest.approx(
        gap.between_s(corner.start_m, corner.end_m), abs=ROUNDING
    )
    # The weaker bike loses most where both pedal again.
    assert zone.parts_s[2] > max(zone.parts_s[:2]) > -0.1


def out_and_back(headings_rad):
    """Eight flat kilometres, the second half ridden back, cut into two flats by no feature."""
    from simulator.course import Feature, course_from_arrays

    n = len(headings_rad)
    flat = Feature(
        kind="flat",
        name="flat 1",
        start_m=0.0,
        end_m=5.0 * n,
        mean_grade=0.0,
        max_grade=0.0,
        ascent_m=0.0,
        descent_m=0.0,
        lap=1,
    )
    return course_from_arrays(
        lengths_m=np.full(n, 5.0),
        grades=np.zeros(n),
        headings_rad=headings_rad,
        features=(flat,),
        start="rolling",
    )


def in_wind(setups, *, mps, from_deg=0.0, winds=()):
    from dataclasses import replace

    from simulator.setup import RideSetup, Uncertain

    weather = replace(
        setups[0].weather, wind_mps=Uncertain(mps), wind_from_deg=Uncertain(from_deg), winds=winds
    )
    return [RideSetup(rider=s.rider, build=s.build, weather=weather) for s in setups]


def compared(course, setups):
    return explain(course=course, first=setups[0], other=setups[1], n_draws=0)


def test_flats_are_cut_into_the_wind_and_with_it(setups):
    north_then_south = np.repeat([0.0, np.pi], 800)
    told = compared(out_and_back(north_then_south), in_wind(setups, mps=5.0))
    assert [w.kind for w in told.winds] == ["headwind", "tailwind"]
    assert told.winds[0].end_m == told.winds[1].start_m == pytest.approx(4000.0, abs=160.0)
    assert sum(w.gap_s for w in told.winds) == pytest.approx(told.gap.total_s, abs=ROUNDING)
    assert told.winds[0].first_s > 1.3 * told.winds[1].first_s
    # Aerodynamic and mechanical losses alike cost more time where one rides longer.
    assert told.winds[0].gap_s > told.winds[1].gap_s > 0.0
    east = compared(out_and_back(np.full(1600, np.pi / 2.0)), in_wind(setups, mps=5.0))
    assert [w.kind for w in east.winds] == ["crosswind"]


def test_a_wind_that_turns_round_is_in_the_face_both_ways(setups):
    from simulator.setup import WindAt

    north_then_south = np.repeat([0.0, np.pi], 800)
    winds = tuple(
        WindAt(time_s=t, wind_mps=5.0, wind_from_deg=deg)
        for t, deg in ((0.0, 0.0), (480.0, 0.0), (490.0, 180.0))
    )
    turning = in_wind(setups, mps=5.0, winds=winds)
    course = out_and_back(north_then_south)
    told = compared(course, turning)
    assert told.gap.first.time_at_s(4000.0) == pytest.approx(485.0, abs=60.0)
    faced_m = sum(w.end_m - w.start_m for w in told.winds if w.kind == "headwind")
    assert faced_m > 0.9 * course.distance_m


def test_a_calm_day_has_no_pieces_by_the_wind(setups):
    course = out_and_back(np.repeat([0.0, np.pi], 800))
    assert compared(course, in_wind(setups, mps=0.5)).winds == ()


def test_a_bend_or_a_short_side_road_cuts_no_piece(setups):
    headings_rad = np.repeat([0.0, np.pi, 0.0], [700, 20, 880])  # 100 m the other way
    (piece,) = compared(out_and_back(headings_rad), in_wind(setups, mps=5.0)).winds
    assert piece.kind == "headwind"
