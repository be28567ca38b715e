"""Speed of rides beside a general-purpose solver on the same arrays, in the same run.

`make bench`. The ratio to scipy is in the extra column of the pair. Figures never gate.
"""

import math
import sys
import time
from pathlib import Path

import numba
import numpy as np
import pytest
from scipy.integrate import solve_ivp

from simulator.course import course_from_arrays
from simulator.physics.jit import kernel
from simulator.ride import simulate, simulate_many

sys.path.insert(0, str(Path(__file__).parent))

from laid import Laid

N_40_KM = 8000
N_PAIR = 400
"""Segments of the course that both solvers ride (2 km): the solver starts anew at every border, so
that its time grows in proportion to their number, as the kernel's does."""
N_BATCH = 20_000
N_FEW = 640
N_DIVISIONS, N_ROOTS = 8, 8
"""Divisions and roots of one plain step; see `test_roofline_of_a_step`."""


def test_one_ride_of_40_km_kernel_alone(benchmark, hilly_setup, cornered_course):
    laid = Laid(cornered_course(5.0 * N_40_KM), hilly_setup)
    time_s = benchmark(laid.ride)
    benchmark.extra_info["ride_s"] = round(time_s, 3)
    benchmark.extra_info["ns_per_step"] = round(benchmark.stats["min"] * 1e9 / len(laid.rows), 1)


def test_one_ride_of_40_km_with_every_array(benchmark, hilly_setup, cornered_course):
    course = cornered_course(5.0 * N_40_KM)
    ride = benchmark(lambda: simulate(course=course, setup=hilly_setup))
    assert ride.time_s > 3000.0


def test_twenty_thousand_rides(benchmark, hilly_setup, cornered_course):
    course = cornered_course(5.0 * N_40_KM)
    rng = np.random.default_rng(1)
    draws = [
        {
            "rider.mass_kg": rng.normal(72.0, 1.0, N_BATCH),
            "build.cda_m2": rng.normal(0.31, 0.005, N_BATCH),
            "build.crr": rng.normal(0.0042, 0.0002, N_BATCH),
            "weather.wind_mps": rng.uniform(4.0, 8.0, N_BATCH),
        }
    ]

    def ride_all():
        return simulate_many(course=course, setups=[hilly_setup], draws=draws)

    times_s = benchmark.pedantic(ride_all, rounds=3, iterations=1, warmup_rounds=1)
    assert np.isfinite(times_s).all()
    benchmark.extra_info["ms_per_ride"] = round(benchmark.stats["min"] * 1000.0 / N_BATCH, 4)


@pytest.mark.parametrize("method", ["RK45", "DOP853"])
def test_beside_scipy_on_the_same_arrays(benchmark, method, plain_setup, varied):
    """Ratio of times, and how far apart the two rides are."""
    s_m = (np.arange(N_PAIR) + 0.5) * 5.0
    course = course_from_arrays(
        lengths_m=np.full(N_PAIR, 5.0), grades=0.03 * np.sin(s_m / 150.0) + 0.01
    )
    setup = varied(plain_setup, build={"drivetrain_efficiency": 0.975})
    laid = Laid(course, setup)
    sines, cosines = np.sin(np.arctan(course.grades)), np.cos(np.arctan(course.grades))
    halves = 0.5 * (course.node_heights_m[1:] + course.node_heights_m[:-1])
    warm = 1.0 - 0.0065 * halves / 288.15
    ks = 0.5 * 0.30 * 1.2 * warm ** (9.80665 / (287.05287 * 0.0065) - 1.0)
    holds_n = 80.0 * 9.80665 * (sines + 0.004 * cosines)

    def by_scipy():
        y = np.array([49.0, 0.0])
        for k, hold_n in zip(ks, holds_n, strict=True):

            def rate(_, y, k=k, hold_n=hold_n):
                v = math.sqrt(y[0])
                return [(243.75 / v - hold_n - k * y[0]) / 40.0, 1.0 / v]

            y = solve_ivp(rate, (0.0, 5.0), y, method=method, rtol=1e-6, atol=1e-9).y[:, -1]
        return y[1]

    begun_s = time.perf_counter()
    theirs_s = by_scipy()
    scipy_s = time.perf_counter() - begun_s
    ours_s = benchmark(laid.ride)
    assert ours_s == pytest.approx(theirs_s, abs=0.001)
    ratio = scipy_s / benchmark.stats["min"]
    benchmark.extra_info["scipy_over_kernel"] = round(ratio)
    benchmark.extra_info["apart_s"] = float(f"{abs(ours_s - theirs_s):.1e}")


@kernel
def divide_and_root(columns, results):
    """The divisions and roots of one step for every lane, independent of each other."""
    for j in range(columns.shape[1]):
        total = 0.0
        for k in range(N_DIVISIONS):
            total += columns[0, j] / columns[k + 1, j]
        for k in range(N_ROOTS):
            total += np.sqrt(columns[k + 1, j])
        results[j] = total


def test_roofline_of_a_step(benchmark):
    """What the divisions and roots of one step of the batch take when nothing else is done.

    One Runge-Kutta step: four stages with two roots (speed, apparent wind) and two divisions
    (1 / v, yaw) each.
    """
    n_lanes = 512
    columns = np.random.default_rng(1).uniform(1.0, 2.0, (N_DIVISIONS + 1, n_lanes))
    results = np.empty(n_lanes)
    benchmark(divide_and_root, columns, results)
    assert (results > N_ROOTS).all()
    benchmark.extra_info["ns_per_step"] = round(benchmark.stats["min"] * 1e9 / n_lanes, 2)


def test_a_step_of_the_batch(benchmark, hilly_setup, cornered_course):
    """The batch on one thread, to be held against the roofline above."""
    course = cornered_course(5.0 * N_40_KM)
    laid = Laid(course, hilly_setup)
    rng = np.random.default_rng(1)
    draws = [{"rider.mass_kg": rng.normal(72.0, 1.0, N_FEW)}]
    before = numba.get_num_threads()
    numba.set_num_threads(1)
    try:
        benchmark(lambda: simulate_many(course=course, setups=[hilly_setup], draws=draws))
    finally:
        numba.set_num_threads(before)
    n_steps = N_FEW * len(laid.rows)
    benchmark.extra_info["ns_per_step"] = round(benchmark.stats["min"] * 1e9 / n_steps, 2)
    benchmark.extra_info["ms_per_ride"] = round(benchmark.stats["min"] * 1e3 / N_FEW, 4)
