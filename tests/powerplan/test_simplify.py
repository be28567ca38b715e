"""A few steady levels: within the budget, as few changes as asked, dearer only by what is said."""

from itertools import pairwise

import numpy as np
import pytest

from simulator.pacing import demand_of, load_pacing
from simulator.powerplan import make_card, make_problem, pacing_text, simplify, solve
from simulator.powerplan.levels import (
    Levels,
    edges_of,
    fitted_levels,
    powers_on,
    slopes_by_level,
)
from simulator.ride import answers_of, rehearse, simulate, slopes_of

RESERVE = {"cp_w": 260.0, "wprime_j": 15_000.0, "max_power_w": 850.0}
A_HUNDREDTH_OF_A_SECOND = 0.01


@pytest.fixture
def racer(hilly_setup, varied):
    return varied(hilly_setup, rider=RESERVE)


@pytest.fixture
def solution(racer, rolling_course):
    return solve(make_problem(course=rolling_course(1600), setup=racer))


@pytest.mark.parametrize("most_changes", [0, 3, 8])
def test_at_most_so_many_changes_and_the_loss_is_told(most_changes, solution):
    plan = simplify(solution, most_changes=most_changes)
    assert plan.n_changes <= most_changes
    pedalled_w = [s.power_w for s in plan.stretches if s.power_w > 0.0]
    assert sum(a != b for a, b in pairwise(pedalled_w)) == plan.n_changes
    assert plan.loss_s == pytest.approx(plan.time_s - solution.time_s)
    assert plan.loss_s > -0.05
    assert plan.cut_w <= 0.5
    for stretch in plan.stretches:
        assert stretch.power_w % 1.0 == 0.0 or plan.n_changes == 0
        assert stretch.start_m % 100.0 == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("mean_w", [None, 230.0])
@pytest.mark.parametrize("kind", ["rolling", "flat", "laps"])
def test_few_changes_are_never_slower_than_the_best_constant_power(
    kind, mean_w, racer, rolling_course, even_course
):
    course = even_course(2000.0, 0.0) if kind == "flat" else rolling_course(600)
    course = laps(course, 2) if kind == "laps" else course
    solution = solve(make_problem(course=course, setup=racer, mean_w=mean_w))
    for most_changes in (0, 1, 2):
        plan = simplify(solution, most_changes=most_changes)
        assert plan.time_s <= solution.constant.time_s + A_HUNDREDTH_OF_A_SECOND
        if most_changes == 0:
            # What is offered is the best constant power itself, not one rounded down.
            assert {s.power_w for s in plan.stretches} == {solution.constant_w}
            assert plan.saved_s == pytest.approx(0.0, abs=A_HUNDREDTH_OF_A_SECOND)


def test_changes_are_worth_it(solution):
    plans = [simplify(solution, most_changes=n) for n in (0, 8)]
    # Eight changes keep more than half of what the quickest power gains.
    assert plans[1].saved_s > 0.5 * solution.saved_s > 0.0
    assert plans[1].time_s < plans[0].time_s


def test_stretches_cover_the_ride_and_add_up(solution):
    plan = simplify(solution, most_changes=5)
    course = solution.problem.course
    assert plan.stretches[0].start_m == 0.0
    assert plan.stretches[-1].end_m == course.distance_m
    for before, after in zip(plan.stretches[:-1], plan.stretches[1:], strict=True):
        assert before.end_m == after.start_m
    assert sum(s.time_s for s in plan.stretches) == pytest.approx(plan.time_s)
    assert sum(s.ascent_m for s in plan.stretches) == pytest.approx(course.ascent_m, rel=0.02)


def test_the_pacing_file_rides_the_plan(solution, tmp_path):
    plan = simplify(solution, most_changes=6, name='Hills "hard"')
    path = tmp_path / "plan.toml"
    path.write_text(pacing_text(plan), encoding="utf-8")
    pacing = load_pacing(path)
    setup, course = solution.problem.setup, solution.problem.course
    demand = demand_of(pacing, course=course, rider=setup.rider, weather=setup.weather)
    ride = simulate(course=course, setup=setup, demand=demand)
    assert pacing.name == 'Hills "hard"'
    assert ride.time_s == pytest.approx(plan.time_s, abs=0.02)


def test_a_plan_for_a_mean_keeps_to_it(racer, rolling_course):
    solution = solve(make_problem(course=rolling_course(1200), setup=racer, mean_w=230.0))
    plan = simplify(solution, most_changes=4)
    assert 226.0 < plan.ride.mean_power_w <= 230.05
    assert plan.loss_s > 0.0


def laps(course_once, n_laps):
    from dataclasses import replace

    distances_m = np.linspace(0.0, course_once.distance_m, n_laps + 1)
    return replace(course_once, lap_starts_m=distances_m, is_closed=True)


def test_on_laps_the_same_levels_come_back(racer, even_course):
    course = laps(even_course(6000.0, 0.0), 3)
    solution = solve(make_problem(course=course, setup=racer))
    plan = simplify(solution, most_changes=3)
    assert len(plan.levels.powers_w) <= 3
    per_lap = [[s.power_w for s in plan.stretches if s.lap == lap] for lap in (1, 2, 3)]
    assert per_lap[0] == per_lap[1] == per_lap[2]
    card = make_card(plan)
    assert len(card.rows) == len(per_lap[0])
    assert card.n_laps == 3


def test_levels_on_segments_keep_the_mean(rolling_course):
    course = rolling_course(400)
    levels = Levels(powers_w=np.array([200.0, 300.0, 250.0]), breaks_m=np.array([512.0, 1303.0]))
    powers_w = powers_on(course, levels)
    assert powers_w @ course.lengths_m == pytest.approx(512 * 200 + 791 * 300 + 697 * 250)
    edges_m, between_w = edges_of(course, levels)
    assert list(edges_m) == [0.0, 512.0, 1303.0, 2000.0]
    assert list(between_w) == [200.0, 300.0, 250.0]


def test_slopes_by_level_and_place_are_those_of_differences(racer, rolling_course):
    course = rolling_course(400)
    problem = make_problem(course=course, setup=racer)
    start = np.array([230.0, 300.0, 250.0, 512.0, 1303.0])

    def trial_of(x):
        levels = Levels(powers_w=x[:3], breaks_m=x[3:])
        return levels, rehearse(problem.rehearsal, powers_on(course, levels))

    levels, trial = trial_of(start)
    below, above = slopes_of(answers_of(trial), time=1.0)
    by_level, by_break = slopes_by_level(course, levels, 0.5 * (below + above))
    for i, slope in enumerate([*by_level, *by_break]):
        step = np.zeros(5)
        step[i] = 1e-2
        difference = (trial_of(start + step)[1].time_s - trial_of(start - step)[1].time_s) / 2e-2
        assert slope == pytest.approx(difference, rel=1e-3, abs=1e-6)


def test_levels_are_found_again(rolling_course):
    course = rolling_course(600)
    made = Levels(powers_w=np.array([200.0, 320.0, 260.0]), breaks_m=np.array([800.0, 2000.0]))
    found = fitted_levels(
        course, powers_on(course, made), np.ones(600), n_levels=5, grid_m=100.0, least_m=200.0
    )
    assert powers_on(course, found) == pytest.approx(powers_on(course, made))
