"""The quickest plan against laws and a closed form; ``test_against_ipopt`` has the other solver."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from simulator.course import course_from_arrays
from simulator.errors import CannotFinish, InputError
from simulator.powerplan import make_problem, solve
from simulator.ride import capacity_w, is_holdable

RESERVE = {"cp_w": 260.0, "wprime_j": 15_000.0, "max_power_w": 850.0}


@pytest.fixture
def racer(hilly_setup, varied):
    return varied(hilly_setup, rider=RESERVE)


def test_never_slower_than_the_best_constant_power(racer, rolling_course, cornered_course):
    for course in (rolling_course(1200), cornered_course(5000.0, start="standing")):
        plan = solve(make_problem(course=course, setup=racer))
        assert plan.is_settled
        assert plan.time_s < plan.constant.time_s
        assert is_holdable(plan.trial)


@pytest.mark.parametrize("seed", range(5))
def test_on_any_road_the_plan_is_quicker_and_can_be_ridden(seed, racer, varied):
    rng = np.random.default_rng(seed)
    n = int(rng.integers(200, 700))
    waves = np.cumsum(rng.standard_normal(n)) * 0.004
    setup = varied(
        racer,
        rider={
            "cp_w": float(rng.uniform(180, 330)),
            "wprime_j": float(rng.uniform(6e3, 25e3)),
            "max_power_w": None if seed % 2 else 800.0,
        },
        weather={"wind_mps": float(rng.uniform(0, 7)), "wind_from_deg": float(rng.uniform(0, 360))},
    )
    course = course_from_arrays(
        lengths_m=np.full(n, 5.0),
        grades=np.clip(waves - waves.mean(), -0.12, 0.10),
        headings_rad=np.cumsum(rng.standard_normal(n)) * 0.05,
        start="standing" if seed % 2 else "rolling",
    )
    plan = solve(make_problem(course=course, setup=setup))
    assert plan.time_s <= plan.constant.time_s
    assert is_holdable(plan.trial)
    assert plan.is_settled
    assert plan.gained_share < 1e-5


@pytest.mark.parametrize("max_power_w", [500.0, 900.0])
def test_no_reserve_is_left_unless_the_limits_say_so(max_power_w, racer, rolling_course, varied):
    setup = varied(racer, rider={"max_power_w": max_power_w})
    course = rolling_course(1500)
    plan = solve(make_problem(course=course, setup=setup))
    left_j = plan.trial.node_reserves_j[-1]
    last_w = plan.trial.powers_w[-20:].mean()
    most_w = capacity_w(plan.trial.rehearsal, plan.trial.node_reserves_j[-21:-1]).mean()
    # Either W' is gone, or the last hundred metres were ridden with all that it still allowed.
    assert left_j < 0.01 * RESERVE["wprime_j"] or last_w > 0.97 * most_w
    assert plan.trial.node_reserves_j.min() >= 0.0


def test_more_to_spend_is_never_slower(racer, rolling_course, varied):
    course = rolling_course(1000)
    times_s = [
        solve(make_problem(course=course, setup=varied(racer, rider=change))).time_s
        for change in ({}, {"wprime_j": 18_000.0}, {"wprime_j": 18_000.0, "cp_w": 265.0})
    ]
    assert times_s[0] > times_s[1] > times_s[2]


def test_highest_power_of_the_plan_is_kept(racer, rolling_course):
    course = rolling_course(800)
    plan = solve(make_problem(course=course, setup=racer, most_w=400.0))
    assert plan.powers_w.max() <= 400.0 + 1e-9
    assert plan.trial.powers_w.max() <= 400.0 + 1e-6


# CHECKS.md, closed form 9 ([D]): time-mean 250 W, two halves of 5 km, each at its steady speed:
# (grade, head wind), constant power, best, speeds of the best.
HALVES = {
    "hills": (0.01, 0.0, 953.4406, 940.1343, (10.63678, 10.63678)),
    "wind": (0.0, 3.0, 962.5030, 956.1741, (9.54820, 11.56028)),
}
K, MASS_KG, CRR, G = 0.18, 80.0, 0.004, 9.80665


def best_halves(mean_w, grade, wind_mps):
    """Time over 2 x 5 km and both speeds: k (v + w) v² equal, time-mean power as given."""
    hold_n = [
        MASS_KG * G * (s * np.sin(np.arctan(grade)) + CRR * np.cos(np.arctan(grade)))
        for s in (1, -1)
    ]

    def speeds(pull):
        return [
            brentq(lambda v, w=w: K * (v + w) * v * v - pull, 0.1, 60.0)
            for w in (wind_mps, -wind_mps)
        ]

    def mean(pull):
        pair = speeds(pull)
        work = sum(
            5000.0 * (h + K * (v + w) ** 2)
            for h, v, w in zip(hold_n, pair, (wind_mps, -wind_mps), strict=True)
        )
        return work / sum(5000.0 / v for v in pair)

    pair = speeds(brentq(lambda pull: mean(pull) - mean_w, 10.0, 2000.0))
    return sum(5000.0 / v for v in pair), pair


@pytest.mark.parametrize("case", HALVES.values(), ids=HALVES.keys())
def test_closed_form_of_two_halves_repeated(case, plain_setup, varied):
    grade, wind_mps, constant_s, best_s, printed_mps = case
    assert best_halves(250.0, grade, wind_mps)[0] == pytest.approx(best_s, abs=2e-4)
    n = 250
    signs = np.tile(np.r_[np.ones(n), -np.ones(n)], 3)
    course = course_from_arrays(
        lengths_m=np.full(len(signs), 20.0),
        grades=grade * signs,
        headings_rad=np.where(signs > 0, 0.0, np.pi),
    )
    course = replace(course, node_heights_m=np.zeros(len(signs) + 1))
    setup = varied(plain_setup, weather={"wind_mps": wind_mps, "wind_from_deg": 0.0})
    plan = solve(
        make_problem(course=course, setup=setup, mean_w=250.0, start_speed_mps=printed_mps[0])
    )
    assert plan.trial.mean_power_w == pytest.approx(250.0, abs=1e-3)
    # The plan lets the bike run out at the finish, which pays for a little more before: the
    # middle third is compared with the closed form at its own mean power.
    mean_w = plan.trial.works[2 * n : 4 * n].sum() / (
        plan.trial.times[4 * n] - plan.trial.times[2 * n]
    )
    assert 250.0 < mean_w < 254.0
    middle_s = plan.trial.node_times_s[4 * n] - plan.trial.node_times_s[2 * n]
    wanted_s, wanted_mps = best_halves(mean_w, grade, wind_mps)
    # Between the columns, the better one nearly reached.
    assert wanted_s * (1.0 - 2e-4) < middle_s < 0.1 * constant_s + 0.9 * wanted_s
    speeds_mps = plan.trial.node_speeds_mps[[2 * n + n // 2, 3 * n + n // 2]]
    assert speeds_mps == pytest.approx(wanted_mps, rel=2e-3)


def test_fourth_power_mean_is_kept_and_costs_less_than_a_mean(racer, rolling_course):
    course = rolling_course(1000)
    strict = solve(make_problem(course=course, setup=racer, fourth_power_mean_w=250.0))
    assert strict.trial.fourth_power_mean_w == pytest.approx(250.0, abs=1e-3)
    assert strict.time_s <= strict.constant.time_s
    # The fourth power punishes what a mean lets pass: plans differ less from constant power.
    loose = solve(make_problem(course=course, setup=racer, mean_w=strict.trial.mean_power_w))
    assert loose.time_s < strict.time_s
    assert np.std(loose.trial.powers_w) > np.std(strict.trial.powers_w)


def test_without_critical_power_a_mean_is_asked_for(hilly_setup, rolling_course):
    with pytest.raises(InputError, match="has no critical power"):
        make_problem(course=rolling_course(50), setup=hilly_setup)


def test_a_highest_power_below_the_base_is_refused(racer, rolling_course):
    with pytest.raises(InputError, match="more than 260 W"):
        make_problem(course=rolling_course(50), setup=racer, most_w=200.0)


def test_a_wall_that_stops_the_rider_is_an_answer(racer, even_course, varied):
    setup = varied(racer, rider={"cadence_low_rpm": 80.0, "cp_w": 60.0})
    with pytest.raises(CannotFinish, match="does not reach the finish"):
        solve(make_problem(course=even_course(500.0, 0.28), setup=setup))
