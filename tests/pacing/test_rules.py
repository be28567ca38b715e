"""Rules laid over a course, and demands that only riding can close."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from simulator.course import Feature, course_from_arrays
from simulator.errors import CannotFinish, InputError
from simulator.pacing import (
    ByGrade,
    ByWind,
    Coast,
    Constant,
    EvenReserve,
    Limits,
    OnFeature,
    Pacing,
    Replay,
    Surge,
    Target,
    demand_of,
    load_pacing,
)
from simulator.ride import settle, simulate
from simulator.setup import RideSetup, Uncertain, default_rider, default_weather, load_build

CONFIGS = Path(__file__).parents[2] / "configs"
THOUSANDTH_OF_A_WATT = 0.002


def feature(kind, name, start_m, end_m):
    return Feature(
        kind=kind,
        name=name,
        start_m=start_m,
        end_m=end_m,
        mean_grade=0.0,
        max_grade=0.0,
        ascent_m=0.0,
        descent_m=0.0,
        lap=1,
    )


@pytest.fixture
def course():
    n = 800
    s_m = (np.arange(n) + 0.5) * 5.0
    grades = np.where(s_m < 1000.0, 0.05, np.where(s_m < 2000.0, -0.04, 0.0))
    return course_from_arrays(
        lengths_m=np.full(n, 5.0),
        grades=grades,
        headings_rad=np.where(s_m < 2000.0, 0.0, np.pi),
        features=(
            feature("climb", "First climb", 0.0, 1000.0),
            feature("descent", "Descent 1", 1000.0, 2000.0),
            feature("flat", "Flat 1", 2000.0, 4000.0),
        ),
    )


@pytest.fixture
def rider():
    return replace(default_rider(), cp_w=250.0, wprime_j=18_000.0, max_power_w=900.0)


@pytest.fixture
def weather():
    # A wind of 5 m/s from the north: head wind on the first half, tail wind on the second.
    return replace(default_weather(), wind_mps=Uncertain(5.0), wind_from_deg=Uncertain(0.0))


@pytest.fixture
def setup(rider, weather):
    return RideSetup(rider=rider, build=load_build(CONFIGS / "plover.toml"), weather=weather)


def powers(course, rider, weather, *rules):
    pacing = Pacing(name="test", rules=rules)
    return demand_of(pacing, course=course, rider=rider, weather=weather).powers_w


def test_rules_add_up_in_their_order(course, rider, weather):
    got = powers(
        course,
        rider,
        weather,
        Constant(power_w=200.0),
        ByGrade(
            above_grade=0.01,
            per_grade_above_w=1000.0,
            below_grade=-0.01,
            per_grade_below_w=2000.0,
        ),
        ByWind(per_mps_w=4.0),
        OnFeature(feature="flat", factor=1.5),
    )
    assert got[0] == pytest.approx(200.0 + 0.04 * 1000.0 + 4.0 * 5.0)
    assert got[300] == pytest.approx(200.0 - 0.03 * 2000.0 + 4.0 * 5.0)
    assert got[700] == pytest.approx((200.0 - 4.0 * 5.0) * 1.5)


def test_limits_hold_what_came_before_them(course, rider, weather):
    rules = [OnFeature(feature="First climb", power_w=900.0), OnFeature(feature="flat", add_w=-400)]
    got = powers(course, rider, weather, *rules, Limits(floor_w=100.0, cap_w=350.0))
    assert got[0] == 350.0
    assert got[700] == 100.0


def test_names_of_features_are_found_in_any_case_and_unknown_ones_told(course, rider, weather):
    assert powers(course, rider, weather, OnFeature(feature="FIRST CLIMB", power_w=1.0))[0] == 1.0
    with pytest.raises(InputError, match=r"`Wall` is not on the course.*`First climb`"):
        powers(course, rider, weather, OnFeature(feature="Wall", power_w=300.0))


def test_a_kind_that_the_course_lacks_changes_nothing(rider, weather):
    flat = course_from_arrays(lengths_m=np.full(10, 5.0), grades=0.0)
    got = powers(flat, rider, weather, OnFeature(feature="Descent", power_w=1.0))
    assert (got == rider.power_w.value).all()


def test_coasting_rule_replaces_the_riders_habit(course, rider, weather):
    assert powers(course, rider, weather)[300] == rider.power_w.value
    assert powers(course, rider, weather, Coast(below_grade=-0.03))[300] == 0.0


def test_coasting_speed_rule_is_obeyed_by_the_ride(course, setup):
    pacing = Pacing(name="test", rules=(Coast(above_mps=9.0),))
    demand = demand_of(pacing, course=course, rider=setup.rider, weather=setup.weather)
    ride = simulate(course=course, setup=setup, demand=demand)
    fast = (ride.node_speeds_mps[:-1] > 9.0) & (ride.node_speeds_mps[1:] > 9.0)
    assert fast.any()
    assert (ride.powers_w[fast] == 0.0).all()
    assert ride.powers_w[~fast].max() > 0.9 * setup.rider.power_w.value


def test_replay_follows_the_recorded_power(course, rider, weather):
    recorded = Replay(
        distances_m=np.array([0.0, 4000.0]), powers_w=np.array([100.0, 300.0]), label="ride"
    )
    got = powers(course, rider, weather, recorded)
    assert got[0] == pytest.approx(100.0, abs=0.2)
    assert got[-1] == pytest.approx(300.0, abs=0.2)


@pytest.mark.parametrize("target", [Target(mean_w=215.0), Target(fourth_power_mean_w=240.0)])
def test_targets_are_met_exactly(course, setup, target):
    rules = (
        ByGrade(above_grade=0.0, per_grade_above_w=800.0, below_grade=0.0, per_grade_below_w=800.0),
        target,
    )
    pacing = Pacing(name="test", rules=rules)
    demand = demand_of(pacing, course=course, rider=setup.rider, weather=setup.weather)
    with pytest.raises(ValueError, match="settled"):
        simulate(course=course, setup=setup, demand=demand)
    ride = simulate(
        course=course, setup=setup, demand=settle(course=course, setup=setup, demand=demand)
    )
    got_w = ride.mean_power_w if target.mean_w else ride.fourth_power_mean_w
    wanted_w = target.mean_w or target.fourth_power_mean_w
    assert got_w == pytest.approx(wanted_w, abs=THOUSANDTH_OF_A_WATT)
    assert ride.fourth_power_mean_w >= ride.mean_power_w


def test_target_out_of_reach_is_told(course, setup):
    # Without a stated peak the reserve of a rider is open-ended, so take the speed limit: nobody
    # can spend 2 kW on average where coasting begins at 10 m/s.
    pacing = Pacing(name="test", rules=(Coast(above_mps=5.0), Target(mean_w=2000.0)))
    demand = demand_of(pacing, course=course, rider=setup.rider, weather=setup.weather)
    with pytest.raises(CannotFinish, match="no power by these rules"):
        settle(course=course, setup=setup, demand=demand)


def test_reserve_is_spread_over_the_climbs(course, setup):
    pacing = Pacing(name="test", rules=(Constant(power_w=200.0), EvenReserve(share=0.8)))
    demand = demand_of(pacing, course=course, rider=setup.rider, weather=setup.weather)
    ride = simulate(
        course=course, setup=setup, demand=settle(course=course, setup=setup, demand=demand)
    )
    rider = setup.rider
    i_top = int(np.searchsorted(course.node_distances_m, 1000.0))
    # Above critical power the reserve falls by just what is spent: 80 % of it is gone at the top.
    assert ride.node_reserves_j[i_top] == pytest.approx(0.2 * rider.wprime_j, rel=1e-3)
    assert ride.node_reserves_j[-1] > ride.node_reserves_j[i_top]


def test_reserve_rule_needs_a_critical_power(course, weather):
    with pytest.raises(InputError, match="cp_w"):
        powers(course, default_rider(), weather, EvenReserve(share=0.5))


def test_surge_adds_its_work_behind_each_corner(setup):
    from simulator.course import Corner

    n = 400
    radii_m = np.full(n, np.inf)
    radii_m[100:104] = 12.0
    corner = Corner(
        number=1, name="Corner 1", start_m=500.0, apex_m=510.0, end_m=520.0, radius_m=12.0,
        turn_rad=1.57, lap=1,
    )  # fmt: skip
    course = course_from_arrays(
        lengths_m=np.full(n, 5.0), grades=np.zeros(n), radii_m=radii_m, corners=(corner,)
    )
    strong = replace(setup, rider=replace(setup.rider, cp_w=None, wprime_j=None, max_power_w=None))
    pacing = Pacing(name="test", rules=(Constant(power_w=200.0), Surge(add_w=150.0, for_s=8.0)))
    demand = demand_of(pacing, course=course, rider=strong.rider, weather=strong.weather)
    ride = simulate(course=course, setup=strong, demand=demand)
    plain = simulate(course=course, setup=strong, demand=replace(demand, surge_w=0.0))
    since_s = ride.node_times_s - np.interp(520.0, course.node_distances_m, ride.node_times_s)
    in_surge = (since_s[:-1] >= 0.0) & (since_s[1:] <= 8.0)
    behind = since_s[:-1] >= 8.0
    assert ride.powers_w[in_surge] == pytest.approx(350.0, abs=1e-6)
    assert ride.powers_w[behind] == pytest.approx(200.0, abs=1e-6)
    # It ends inside a segment: all in all it is eight seconds of it, to a few hundredths.
    extra_j = float(
        (ride.powers_w - 200.0)[since_s[:-1] >= 0.0]
        @ np.diff(ride.node_times_s)[since_s[:-1] >= 0.0]
    )
    assert extra_j == pytest.approx(150.0 * 8.0, rel=2e-3)
    assert ride.time_s < plain.time_s


def test_example_files_load_and_ride(course, setup):
    for path in [CONFIGS / "pacing.toml", *sorted((CONFIGS / "pacing").glob("*.toml"))]:
        pacing = load_pacing(path)
        demand = demand_of(pacing, course=course, rider=setup.rider, weather=setup.weather)
        demand = settle(course=course, setup=setup, demand=demand)
        assert simulate(course=course, setup=setup, demand=demand).time_s > 100.0


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('kind = "wnd"\nadd_w_per_mps = 3', "kind"),
        ('kind = "wind"\nadd_w_per_mpss = 3', "add_w_per_mps"),
        ('kind = "wind"\npower_w = 3', "does not take it"),
        ('kind = "surge"\nadd_w = 100', "for_s"),
        ('kind = "constant"', "power_w"),
        ('kind = "feature"\nadd_w = 10', "without `feature`"),
        ('kind = "feature"\nfeature = "flat"\nadd_w = 1\nfactor = 2', "stands there too"),
        ('kind = "limits"\ncap_w = 100\nfloor_w = 200', "cap_w"),
        ('kind = "replay"\ndistance_km = [0, 1]\nrecorded_w = [200]', "as many"),
        ('kind = "replay"\ndistance_km = [1, 0]\nrecorded_w = [200, 210]', "ascending"),
        ('kind = "constant"\npower_w = -5', "power_w"),
    ],
)
def test_wrong_rules_are_told_in_one_sentence(tmp_path, text, told):
    path = tmp_path / "pacing.toml"
    path.write_text(f'name = "test"\n\n[[rule]]\n{text}\n', encoding="utf-8")
    with pytest.raises(InputError) as caught:
        load_pacing(path)
    assert told in str(caught.value)
    assert "pacing.toml, line" in str(caught.value)
