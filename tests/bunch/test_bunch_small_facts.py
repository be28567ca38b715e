"""Small facts of the bunch room that mutants of its code got past before."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.bunch import bunch_from_keys, load_bunch, pace_of_ride, ride_bunch
from simulator.bunch.wheel import bands_of
from simulator.course import Corner, course_from_arrays
from simulator.pacing import constant_demand
from simulator.ride import simulate

G = 9.80665


def test_a_form_of_three_percent_is_three_hundredths():
    assert bunch_from_keys({"form_sd_pct": 3.0}).form_sd == pytest.approx(0.03)


@pytest.fixture
def bent_ride(plain_setup, varied):
    """``bent_ride([(start, end, radius), ...])``: a flat road of 3 km at 300 W, leant 30°."""

    def make(bends):
        middles_m = (np.arange(600) + 0.5) * 5.0
        radii_m = np.full(600, np.inf)
        corners = []
        for i, (start_m, end_m, radius_m) in enumerate(bends):
            radii_m[(middles_m > start_m) & (middles_m < end_m)] = radius_m
            corners.append(
                Corner(
                    number=i + 1, name=f"bend of {radius_m:.0f} m", start_m=start_m,
                    apex_m=0.5 * (start_m + end_m), end_m=end_m, radius_m=radius_m, turn_rad=1.2,
                    lap=1,
                )
            )  # fmt: skip
        course = course_from_arrays(
            lengths_m=np.full(600, 5.0), grades=0.0, radii_m=radii_m, corners=tuple(corners)
        )
        setup = varied(plain_setup, rider={"power_w": 300.0, "lean_deg": 30.0})
        return pace_of_ride(simulate(course=course, setup=setup))

    return make


def test_one_braking_into_two_bends_makes_one_gap_at_the_slower(bent_ride):
    """Two bends within the way of one braking: the field stretches once, by the tighter one."""
    ride = bent_ride([(1500.0, 1515.0, 14.0), (1520.0, 1535.0, 8.0)])
    (band,) = bands_of(ride, replace(load_bunch(None), place=4.0))
    assert band.corner_mps == pytest.approx(np.sqrt(G * 8.0 * np.tan(np.pi / 6.0)), rel=1e-3)
    # Braking begins before the first of the two.
    assert band.start_m < 1500.0
    assert 1535.0 <= band.exit_m < 1560.0


def test_the_gap_is_made_to_the_speed_at_which_it_closes(bent_ride):
    """Four seconds out of a hairpin nobody is back at full speed: what is ridden then counts."""
    ride = bent_ride([(1487.5, 1512.5, 10.0)])
    (band,) = bands_of(ride, replace(load_bunch(None), place=4.0, close_s=4.0))
    at_close_mps = np.interp(band.closed_s, ride.node_times_s, ride.node_speeds_mps)
    assert at_close_mps < 0.9 * np.interp(band.start_m, ride.course.node_distances_m,
                                          ride.node_speeds_mps)  # fmt: skip
    # Up to one segment of five metres later, never earlier.
    later_mps = np.interp(band.closed_m + 5.0, ride.course.node_distances_m, ride.node_speeds_mps)
    assert at_close_mps - 1e-9 <= band.in_mps <= later_mps + 1e-9


@pytest.fixture
def flat_race(hilly_setup, varied):
    """``flat_race(**rider)``: four kilometres of flat at 230 W in the bunch, one build."""

    def make(**rider):
        course = course_from_arrays(lengths_m=np.full(800, 5.0), grades=0.0)
        setup = varied(hilly_setup, rider=rider)
        bare = {"cp_w": None, "wprime_j": None, "max_power_w": None}
        reference = varied(hilly_setup, rider=bare)
        return ride_bunch(
            course=course, setups=[setup], reference=reference, n_draws=0,
            demand=constant_demand(course, reference.rider, power_w=230.0),
            rules=replace(load_bunch(None), place=5.0),
        ).builds[0]  # fmt: skip

    return make


def test_a_sprint_ends_faster_than_its_mean(flat_race):
    """All out from the speed of the bunch, on the flat, with much left: it only gets faster."""
    sprint = flat_race(cp_w=250.0, wprime_j=20_000.0, max_power_w=1000.0).sprint
    assert sprint.end_mps > sprint.length_m / sprint.time_s + 0.3


def test_no_surges_over_what_is_not_stated(flat_race):
    surges = flat_race(cp_w=None, wprime_j=None, max_power_w=None).surges
    assert (surges.count, surges.longest_s, surges.work_over_j) == (0, 0.0, 0.0)


def test_who_has_neither_power_nor_reserve_is_dropped_on_the_flat(flat_race):
    """A critical power of 90 W against the wheel of 230 W riders: contact goes, and stays gone."""
    strong = flat_race(cp_w=250.0, wprime_j=20_000.0, max_power_w=1000.0).following
    weak = flat_race(cp_w=90.0, wprime_j=1_000.0, max_power_w=300.0).following
    assert strong.lost_at_m is None
    assert weak.lost_at_m is not None
    assert 0.0 < weak.lost_at_m < 4000.0
