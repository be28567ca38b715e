"""Shelter by place, the rubber band out of corners, turns at the front."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.bunch import LINE, PACK, drag_factor, load_bunch, pace_of_ride, place_of_factor
from simulator.bunch.wheel import bands_of, make_wheel
from simulator.course import Corner, course_from_arrays
from simulator.ride import simulate

RULES = load_bunch(None)


@pytest.fixture
def bent_ride(plain_setup, varied):
    """One hairpin at 1.5 km of a flat road, ridden at 300 W."""
    n = 600
    s_m = (np.arange(n) + 0.5) * 5.0
    radii_m = np.where(np.abs(s_m - 1500.0) < 12.5, 10.0, np.inf)
    corner = Corner(
        number=1, name="hairpin", start_m=1487.5, apex_m=1500.0, end_m=1512.5, radius_m=10.0,
        turn_rad=2.5, lap=1,
    )  # fmt: skip
    course = course_from_arrays(
        lengths_m=np.full(n, 5.0), grades=0.0, radii_m=radii_m, corners=(corner,)
    )
    setup = varied(plain_setup, rider={"power_w": 300.0, "lean_deg": 30.0})
    return pace_of_ride(simulate(course=course, setup=setup))


@pytest.mark.parametrize("table", [LINE, PACK])
def test_shelter_grows_towards_the_back_and_names_its_source(table):
    factors = [s.factor for s in table]
    assert factors == sorted(factors, reverse=True)
    assert table[0].place == 1.0
    assert all(s.source for s in table)


def test_places_and_factors_are_each_other_s_inverse():
    for place in (1.0, 1.5, 3.0, 6.0):
        factor = drag_factor(RULES, place)
        assert place_of_factor(RULES, factor) == pytest.approx(place)
    assert drag_factor(RULES, 50.0) == LINE[-1].factor
    assert place_of_factor(RULES, 0.05) is None
    assert place_of_factor(RULES, 1.1) is None


def test_own_table_goes_first():
    own = replace(RULES, places=(1.0, 5.0), factors=(1.0, 0.5))
    assert drag_factor(own, 3.0) == pytest.approx(0.75)
    assert drag_factor(replace(own, shelter="pack"), 3.0) == pytest.approx(0.75)


def test_gap_out_of_a_corner_is_that_of_equal_spacing(bent_ride):
    # Two riders who keep the distance d at any speed and pass the corner at v_c are d/v_c apart in
    # time; at speed v behind it that is d v/v_c in distance: d (v/v_c - 1) to close, k times over.
    rules = replace(RULES, place=4.0, spacing_m=2.5)
    (band,) = bands_of(bent_ride, rules)
    wanted_m = 3 * 2.5 * (band.in_mps / band.corner_mps - 1.0)
    assert band.gap_m == pytest.approx(min(wanted_m, 0.75 * (band.closed_s - band.exit_s)))
    assert band.corner_mps == pytest.approx(np.sqrt(9.80665 * 10.0 * np.tan(np.pi / 6)), rel=1e-3)
    assert bands_of(bent_ride, replace(rules, place=7.0))[0].gap_m > band.gap_m


def test_the_gap_is_closed_and_lost_by_the_same_way(bent_ride):
    rules = replace(RULES, place=3.0)
    wheel, (band,) = make_wheel(bent_ride, rules)
    times_s = bent_ride.node_times_s
    more_m = (wheel.node_speeds_mps - bent_ride.node_speeds_mps) * np.gradient(times_s)
    closing = times_s >= band.exit_s
    assert more_m[closing].sum() == pytest.approx(band.gap_m, rel=0.03)
    assert more_m[~closing].sum() == pytest.approx(-band.gap_m, rel=0.06)
    assert wheel.node_speeds_mps.min() > 0.0
    # The gap to the wheel ahead is one rider's part of it, and closes.
    assert wheel.gaps_m.max() <= band.gap_m / 2.0 + 1e-9
    assert wheel.gaps_m[-1] == 0.0


def test_a_recording_of_one_s_own_place_holds_its_surges_already(bent_ride):
    rules = replace(RULES, place=6.0)
    recorded = replace(bent_ride, place=None)
    wheel, (band,) = make_wheel(recorded, rules)
    assert band.gap_m == 0.0
    assert wheel.node_speeds_mps == pytest.approx(bent_ride.node_speeds_mps)
    # The wheel ahead is off all the same while the gap closes.
    assert 0.0 < wheel.gaps_m.max() <= band.wheel_gap_m
    # Recorded further back than one rides: the surge is smaller than the recorded one.
    (ahead,) = bands_of(replace(bent_ride, place=9.0), rules)
    (behind,) = bands_of(replace(bent_ride, place=3.0), rules)
    assert ahead.gap_m == pytest.approx(-behind.gap_m)
    assert behind.gap_m > 0.0


def test_the_front_has_no_rubber_band(bent_ride):
    wheel, bands = make_wheel(bent_ride, replace(RULES, place=1.0))
    assert bands == ()
    assert wheel.node_speeds_mps == pytest.approx(bent_ride.node_speeds_mps)
    assert wheel.factors == pytest.approx(LINE[0].factor)


def test_turns_at_the_front_take_their_share_of_the_time(bent_ride):
    rules = replace(RULES, turn_s=15.0, turn_every_s=60.0)
    wheel, _ = make_wheel(bent_ride, rules)
    taken_s = np.diff(bent_ride.node_times_s)
    in_front = wheel.factors == LINE[0].factor
    assert taken_s[in_front].sum() / taken_s.sum() == pytest.approx(0.25, abs=0.03)
