"""Speed of the quickest plan for 40 km, beside a general-purpose optimiser on the same slopes.

Not a gate: ``make bench`` prints it. The reference is scipy's L-BFGS-B for as many steps; it knows
nothing of the kink at critical power.
"""

import numpy as np
import pytest
from scipy.optimize import minimize

from simulator.powerplan import make_problem, simplify, solve
from simulator.ride import answers_of, rehearse, slopes_of

RESERVE = {"cp_w": 270.0, "wprime_j": 16_000.0, "max_power_w": 900.0}


@pytest.fixture(scope="module")
def problem(hilly_setup, varied, rolling_course):
    course = rolling_course(8000)
    return make_problem(course=course, setup=varied(hilly_setup, rider=RESERVE))


def test_quickest_plan_for_40_km(benchmark, problem):
    plan = benchmark.pedantic(solve, args=(problem,), rounds=3, warmup_rounds=1)
    assert plan.is_settled


def test_twelve_levels_for_40_km(benchmark, problem):
    solution = solve(problem)
    plan = benchmark.pedantic(
        simplify, args=(solution,), kwargs={"most_changes": 12}, rounds=2, warmup_rounds=1
    )
    assert plan.saved_s > 0.0


def test_reference_general_optimiser(benchmark, problem):
    start = solve(problem, most_steps=1)
    low_w, high_w = 0.0, problem.budget.most_w

    def value_and_slope(powers_w):
        trial = rehearse(problem.rehearsal, powers_w)
        below, above = slopes_of(answers_of(trial), time=1.0)
        return trial.time_s, 0.5 * (below + above)

    def run():
        return minimize(
            value_and_slope,
            np.full(problem.course.n_segments, start.constant_w),
            jac=True,
            method="L-BFGS-B",
            bounds=[(low_w, high_w)] * problem.course.n_segments,
            options={"maxiter": 100},
        )

    found = benchmark.pedantic(run, rounds=1)
    assert found.fun > solve(problem).time_s  # free of W' it runs into the limit and stays there
