"""Speed of the quickest plan for 40 km, beside a general-purpose optimiser on the same slopes.

Not a gate: ``make bench`` prints it. The reference is scipy's L-BFGS-B for as many steps; it knows
nothing of the kink at critical power.
"""

import subprocess
import sys

import numpy as np
import pytest
from scipy.optimize import minimize

from simulator.powerplan import make_problem, simplify, solve
from simulator.ride import answers_of, rehearse, slopes_of
from simulator.starters import starter_path

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


def test_all_that_a_user_waits_for(benchmark, tmp_path):
    """The command in a process of its own: reading 40 km, solving, levels, page, cards."""
    s_m = np.arange(4000) * 10.0
    lats = 44.0 + np.cumsum(10.0 * np.cos(s_m / 9000.0)) / 111_200.0
    lons = -36.0 + np.cumsum(10.0 * np.sin(s_m / 9000.0)) / 80_000.0
    heights_m = 60.0 + 50.0 * np.sin(s_m / 2500.0) + 25.0 * np.sin(s_m / 700.0)
    points = "".join(
        f'<trkpt lat="{a:.7f}" lon="{b:.7f}"><ele>{h:.2f}</ele></trkpt>'
        for a, b, h in zip(lats, lons, heights_m, strict=True)
    )
    track = tmp_path / "forty.gpx"
    track.write_text(
        '<gpx version="1.1" creator="made" xmlns="http://www.topografix.com/GPX/1/1">'
        f"<trk><name>Forty</name><trkseg>{points}</trkseg></trk></gpx>",
        encoding="utf-8",
    )
    files = [
        *("--course", track, "--build", starter_path("configs/plover.toml")),
        *("--rider", starter_path("configs/rider.toml"), "--out", tmp_path / "out"),
    ]
    program = "from simulator.cli.main import run; run()"
    command = [sys.executable, "-c", program, "powerplan", "solve", *map(str, files), "--overwrite"]
    benchmark.pedantic(subprocess.run, args=(command,), kwargs={"check": True}, rounds=3)
    assert (tmp_path / "out" / "card-stem.pdf").exists()


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
