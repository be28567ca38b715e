"""Rows of the table of speed: each measures ours and a general-purpose way, and how cost grows."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of the table; times in s, ``grows`` rows of (what, size, s) for the second one."""

    what: str
    budget: str = ""
    measured_s: float | None = None
    alternative: str = ""
    alternative_s: float | None = None
    apart: str = ""
    grows: tuple[tuple[str, str, float], ...] = ()


def best_s(work, *, least_s=0.3, most=7):
    """Shortest of several timings of a call."""
    times, begun = [], time.perf_counter()
    while len(times) < most and (len(times) < 2 or time.perf_counter() - begun < least_s):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def one_ride(quick):
    """One ride of 40 km, kernel alone and with every array."""
    import bench_work as w

    from simulator.ride import simulate

    km = 4 if quick else 40
    setup, grows = w.plain_setup(), []
    for each_km in (km // 4, km, 4 * km):
        laid = w.Laid(w.rolling_road(each_km), setup)
        laid.ride()
        grows.append(("one ride, kernel", f"{each_km} km", best_s(laid.ride)))
    course = w.rolling_road(km)
    laid, equation = w.Laid(course, setup), w.Equation(course)
    ours_s = laid.ride()
    by_loop_s, by_scipy_s = equation.by_plain_loop(), equation.by_scipy()
    with_arrays_s = best_s(lambda: simulate(course=course, setup=setup))
    shipped = w.shipped_ride()
    shipped.ride()
    kernel_s = best_s(laid.ride)
    return [
        Row(
            what=f"One ride of {km} km, kernel",
            budget="0.001",
            measured_s=kernel_s,
            alternative="`scipy.integrate.solve_ivp`, RK45, a segment a step",
            alternative_s=best_s(equation.by_scipy, most=2),
            apart=f"{abs(ours_s - by_scipy_s):.1e} s",
            grows=tuple(grows),
        ),
        Row(
            what="the same",
            measured_s=kernel_s,
            alternative="the same method in a plain Python loop: no wind, corners, W′, energies",
            alternative_s=best_s(equation.by_plain_loop, most=3),
            apart=f"{abs(ours_s - by_loop_s):.1e} s",
        ),
        Row(what=f"One ride of {km} km with every array", budget="0.001", measured_s=with_arrays_s),
        Row(what=_shipped_name(shipped), measured_s=best_s(shipped.ride)),
    ]


def _shipped_name(laid):
    return f"One ride of three-hills (54 km in {len(laid.rows):,} steps, corners, wind), kernel"


def many_rides(quick):
    """20,000 rides at once, and how they grow with their number and with cores."""
    import bench_work as w
    import numba
    import numpy as np

    from simulator.ride import simulate_many

    km, n = (4, 640) if quick else (40, 20_000)
    course, setup = w.rolling_road(km), w.plain_setup()

    def ride(n_rides):
        masses, areas, crrs = w.many_draws(n_rides)
        values = {"rider.mass_kg": masses, "build.cda_m2": areas, "build.crr": crrs}
        return simulate_many(
            course=course, setups=[setup], draws=[values], start_speed_mps=w.START_MPS
        ).ravel()

    ours_s = ride(n)
    measured_s = best_s(lambda: ride(n), most=3)
    grows = [("rides at once", f"{m:,}", best_s(lambda m=m: ride(m), most=3)) for m in (n // 4, n)]
    cores = numba.config.NUMBA_NUM_THREADS
    for threads in sorted({1, max(cores // 2, 1), cores}):
        numba.set_num_threads(threads)
        label = f"{threads} core{'' if threads == 1 else 's'}"
        grows.append((f"{n:,} rides", label, best_s(lambda: ride(n), most=3)))
    numba.set_num_threads(cores)
    equation = w.Equation(course)
    masses, areas, crrs = w.many_draws(n)
    theirs_s = equation.many_by_numpy(masses + 8.0, areas, crrs)
    return [
        Row(
            what=f"{n:,} rides of {km} km",
            budget="2.5",
            measured_s=measured_s,
            alternative="numpy over all rides, a Python loop over segments",
            alternative_s=best_s(
                lambda: equation.many_by_numpy(masses + 8.0, areas, crrs), least_s=0.0, most=2
            ),
            apart=f"{np.abs(ours_s - theirs_s).max():.1e} s",
            grows=tuple(grows),
        )
    ]


def track_to_course(quick):
    """GPX of 200 km and 20,000 points to a course."""
    import bench_work as w

    from simulator import load_course

    km = 20 if quick else 200
    with tempfile.TemporaryDirectory() as folder:
        grows = []
        for each_km in (km // 4, km, 5 * km):
            path = w.write_gpx(Path(folder) / f"{each_km}.gpx", each_km)
            load_course(path)
            grows.append(
                ("GPX to course", f"{each_km} km", best_s(lambda p=path: load_course(p), most=3))
            )
        path = Path(folder) / f"{km}.gpx"
        length_m = load_course(path).distance_m
        theirs_m = w.course_by_packages(path)
        return [
            Row(
                what=f"GPX of {km} km and {100 * km:,} points to a course",
                budget="1",
                measured_s=grows[1][2],
                alternative="gpxpy, geographiclib, `make_smoothing_spline` of the heights only",
                alternative_s=best_s(lambda: w.course_by_packages(path), least_s=0.0, most=2),
                apart=f"{abs(length_m / theirs_m - 1.0):.1e} of the length",
                grows=tuple(grows),
            )
        ]


def spending(quick):
    """A budget plan over 100,000 sets of parts."""
    import bench_work as w

    from simulator.pacing import constant_demand
    from simulator.spend import Race, plan_spending

    km, budget = (2, 1500.0) if quick else (40, 1500.0)
    course, setup = w.rolling_road(km), w.plain_setup()
    race = Race(
        name="rolling",
        course=course,
        rider=setup.rider,
        weather=setup.weather,
        demand=constant_demand(course, setup.rider),
        weight=1.0,
    )

    def ask(n_slots, n_options, sum_to_spend=1e6):
        return plan_spending(
            build=setup.build,
            catalogue=w.made_catalogue(n_slots, n_options),
            races=[race],
            budgets=[sum_to_spend],
            n_draws=0,
        )

    sizes = ((2, 5), (3, 5)) if quick else ((3, 10), (4, 10), (5, 10))
    ask(*sizes[0])
    grows, answer = [], None
    for n_slots, n_options in sizes:
        start = time.perf_counter()
        answer = ask(n_slots, n_options)
        seconds = time.perf_counter() - start
        grows.append(("sets of parts", f"{answer.n_sets:,}", seconds))
    n_slots, n_options = sizes[-1]
    catalogue, ride_s = w.made_catalogue(n_slots, n_options), w.one_by_one_s(course, setup)
    exact = ask(n_slots, n_options, budget)
    # How many rides the alternative needs is known; a few of them are timed.
    one_s = best_s(lambda: ride_s(setup.build), most=20)
    start = time.perf_counter()
    milp_s, _ = w.set_by_milp(catalogue, setup.build, ride_s, budget)
    by_milp_s = time.perf_counter() - start
    best_set_s = ride_s(setup.build) - exact.budgets[-1].best.gain_s
    return [
        Row(
            what=f"Exact budget plan over {answer.n_sets:,} sets on a race of {km} km",
            budget="60",
            measured_s=grows[-1][2],
            alternative="the same sets ridden one by one (worked out from one ride)",
            alternative_s=one_s * answer.n_sets,
            apart="0",
            grows=tuple(grows),
        ),
        Row(
            what=f"the same for {budget:,.0f} crowns",
            measured_s=best_s(lambda: ask(n_slots, n_options, budget), least_s=0.0, most=2),
            alternative="`scipy.optimize.milp` on the gain of each part alone (not exact)",
            alternative_s=by_milp_s,
            apart=f"its set is {max(milp_s - best_set_s, 0.0):.2g} s slower",
        ),
    ]


def comparing(quick):
    """How `compare` grows with its draws."""
    import bench_work as w

    from simulator import compare_builds

    km = 4 if quick else 40
    course, setup = w.rolling_road(km), w.plain_setup(doubt=0.1)
    other = w.plain_setup(doubt=0.1).build
    grows = []
    for n_draws in (200, 400) if quick else (500, 2_000, 8_000):

        def compare(n_draws=n_draws):
            return compare_builds(
                course, setup.build, other, rider=setup.rider, weather=setup.weather,
                n_draws=n_draws,
            )  # fmt: skip

        compare()
        grows.append((f"compare on {km} km", f"{n_draws:,} draws", best_s(compare, most=3)))
    return [Row(what="", grows=tuple(grows))]


def starting(quick):
    """The command line from a cold start of Python, as a user feels it."""
    run = [sys.executable, "-m", "simulator"]

    def called(arguments, most):
        return best_s(
            lambda: subprocess.run(arguments, check=True, capture_output=True, cwd=ROOT), most=most
        )

    rows = [
        Row(
            what="`buildgap --help`",
            budget="0.3",
            measured_s=called([*run, "--help"], 5),
            alternative="`python -c pass`, the bare interpreter",
            alternative_s=called([sys.executable, "-c", "pass"], 5),
        )
    ]
    with tempfile.TemporaryDirectory() as folder:
        demo = [*run, "demo", "--out", folder]
        subprocess.run(demo, check=True, capture_output=True, cwd=ROOT)
        files_s = called(demo, 1 if quick else 3)
        bare = [*run, "compare", "--course", "courses/three-hills", "--rider", "configs/rider.toml"]
        bare += ["--weather", "configs/weather.toml", "--build", "configs/gannet.toml"]
        bare += ["--build", "configs/plover.toml"]
        rows.append(
            Row(
                what="`compare` on the demo, second start, no files",
                budget="2",
                measured_s=called(bare, 1 if quick else 3),
                alternative="importing numba, scipy and matplotlib alone",
                alternative_s=called(
                    [sys.executable, "-c", "import numba, scipy.special, matplotlib.figure"], 2
                ),
            )
        )
        rows.append(Row(what="`demo` with all its files, second start", measured_s=files_s))
    return rows


PARTS = {
    "one_ride": one_ride,
    "many_rides": many_rides,
    "track_to_course": track_to_course,
    "spending": spending,
    "comparing": comparing,
    "starting": starting,
}
