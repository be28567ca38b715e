"""A plan says what is ridden: coasting stands for itself, no level is above what is pedalled."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from simulator.errors import InputError
from simulator.pacing import demand_of, load_pacing
from simulator.powerplan import (
    MOST_ROWS,
    make_card,
    make_problem,
    pacing_text,
    plan_days,
    simplify,
    solve,
)
from simulator.powerplan.levels import Levels, pedalled_on, powers_on, rows_of, slopes_by_level
from simulator.ride import answers_of, rehearse, simulate, slopes_of

RESERVE = {
    "cp_w": 260.0,
    "wprime_j": 15_000.0,
    "max_power_w": 850.0,
    "coast_grade": -0.05,
    "coast_speed_mps": 14.0,
}
NEARLY_NOTHING_W = 30.0
HALF = 0.5


@pytest.fixture
def hill(even_course):
    """Up 1.5 km, down 1.2 km that ends steeply enough to coast, 0.3 km flat."""
    at_m = np.arange(5.0, 3000.0, 10.0)
    grades = np.interp(at_m, [0, 1450, 1550, 1900, 2300, 2600, 2700, 3000],
                       [0.035, 0.035, -0.02, -0.03, -0.065, -0.06, 0.0, 0.0])  # fmt: skip
    return even_course(3000.0, grades, step_m=10.0)


@pytest.fixture
def racer(hilly_setup, varied):
    return varied(hilly_setup, rider=RESERVE)


@pytest.fixture(params=[{}, {"mean_w": 220.0}, {"fourth_power_mean_w": 240.0}])
def plan(request, hill, racer):
    return simplify(solve(make_problem(course=hill, setup=racer, **request.param)), most_changes=6)


def test_every_power_on_the_card_is_ridden(plan):
    ride = plan.ride
    taken_s = np.diff(ride.node_times_s)
    middles_m = 0.5 * (ride.course.node_distances_m[:-1] + ride.course.node_distances_m[1:])
    assert any(stretch.power_w == 0.0 for stretch in plan.stretches)
    for stretch in plan.stretches:
        inside = (middles_m > stretch.start_m) & (middles_m < stretch.end_m)
        ridden_w, times_s = ride.powers_w[inside], taken_s[inside]
        mean_w = ridden_w @ times_s / times_s.sum()
        # The step from one level to the next takes a metre.
        assert stretch.mean_w == pytest.approx(mean_w, abs=6.0)
        if stretch.power_w == 0.0:
            assert mean_w < NEARLY_NOTHING_W
        else:
            pedals = ridden_w > 0.1 * stretch.power_w
            near = np.abs(ridden_w - stretch.power_w) < 0.15 * stretch.power_w
            assert times_s[near].sum() > HALF * times_s[pedals].sum()
            assert mean_w > 0.4 * stretch.power_w


def test_the_saving_is_that_of_the_plan_as_printed(plan, racer, hill, tmp_path):
    path = tmp_path / "plan.toml"
    path.write_text(pacing_text(plan), encoding="utf-8")
    demand = demand_of(load_pacing(path), course=hill, rider=racer.rider, weather=racer.weather)
    ride = simulate(course=hill, setup=racer, demand=demand)
    assert plan.constant_s - ride.time_s == pytest.approx(plan.saved_s, abs=0.02)
    assert plan.saved_s > 0.0
    # Nothing hangs on watts that the card does not tell: its rows, ridden, take as long.
    middles_m = 0.5 * (hill.node_distances_m[:-1] + hill.node_distances_m[1:])
    row = np.searchsorted([s.end_m for s in plan.stretches], middles_m)
    rows_w = np.array([r.power_w for r in make_card(plan).rows])[row]
    alone = rehearse(plan.solution.problem.rehearsal, rows_w)
    assert alone.time_s == pytest.approx(ride.time_s, abs=0.3)


def test_coasting_is_no_change_of_power(plan):
    pedalled_w = [s.power_w for s in plan.stretches if s.power_w > 0.0]
    assert plan.n_changes == sum(a != b for a, b in pairwise(pedalled_w)) <= 6
    assert len(make_card(plan).rows) <= MOST_ROWS


def test_a_constant_plan_says_where_nothing_is_pedalled(hill, racer):
    solution = solve(make_problem(course=hill, setup=racer))
    plan = simplify(solution, most_changes=0)
    assert {s.power_w for s in plan.stretches} == {solution.constant_w, 0.0}
    assert plan.time_s == pytest.approx(solution.constant.time_s, abs=0.02)


def test_slopes_know_where_a_level_is_not_pedalled(hill, racer):
    problem = make_problem(course=hill, setup=racer)
    start_w = np.array([280.0, 240.0])
    levels = Levels(
        powers_w=start_w, breaks_m=np.array([1400.0]), coasts_m=np.array([[1800.0, 2500.0]])
    )
    edges_m, rows_w = rows_of(hill, levels)
    assert list(edges_m) == [0.0, 1400.0, 1800.0, 2500.0, 3000.0]
    assert list(rows_w) == [280.0, 240.0, 0.0, 240.0]
    assert pedalled_on(hill, levels) @ hill.lengths_m == pytest.approx(2300.0, abs=15.0)
    trial = rehearse(problem.rehearsal, powers_on(hill, levels))
    below, above = slopes_of(answers_of(trial), time=1.0)
    by_level, _ = slopes_by_level(hill, levels, 0.5 * (below + above))
    for k in range(2):
        times_s = []
        for step_w in (-1e-2, 1e-2):
            moved = replace(levels, powers_w=start_w + step_w * (np.arange(2) == k))
            times_s.append(rehearse(problem.rehearsal, powers_on(hill, moved)).time_s)
        assert by_level[k] == pytest.approx((times_s[1] - times_s[0]) / 2e-2, rel=1e-2, abs=1e-6)


def test_who_has_no_critical_power_is_sent_to_the_fourth_power_mean(hill, hilly_setup):
    with pytest.raises(InputError, match="--fourth-power-mean"):
        make_problem(course=hill, setup=hilly_setup)


def test_a_plan_of_an_earlier_weather_does_not_bring_its_coasting(hill, racer):
    against = replace(racer.weather, name="Against")
    days = plan_days(course=hill, setup=racer, weathers=[racer.weather, against], most_changes=4)
    assert days[1].plan.time_s == pytest.approx(days[0].plan.time_s, abs=0.3)
