"""Speed of the budget search: sets walked a second, and whole sweeps over two 40 km races.

`make bench`. The reference for walking is a plain product of the options in Python; for riding it
is one ride after the other on the same builds. Figures never gate.
"""

import itertools
import resource
import time

import numpy as np
import pytest

from simulator.course import course_from_arrays
from simulator.pacing import constant_demand
from simulator.ride import simulate
from simulator.setup import Catalogue, Part, RideSetup, Slot, Uncertain, apply_parts
from simulator.spend import Race
from simulator.spend.partsets import even_blocks, make_menu, set_blocks, survey_sets
from simulator.spend.rerides import ThisMachine, make_tables
from simulator.spend.sweep import find_leaders

N_40_KM = 8000
NONE = frozenset()
ANY_PRICE = 10**9
MOST_MB = 500.0  # of memory, however many the sets


def made_catalogue(n_slots, n_options):
    """Slots of parts that change mass, rolling and drag area over yaw; one changes the gears."""
    rng = np.random.default_rng(4)
    slots = tuple(
        Slot(name=f"s{i}", now="old", resale=0.0, provides=NONE, needs=NONE, excludes=NONE)
        for i in range(n_slots)
    )
    parts = tuple(
        Part(
            name=f"p{i}-{j}",
            slots=(f"s{i}",),
            price=float(rng.integers(20, 900)),
            labour=0.0,
            changes=(
                ("mass_kg", Uncertain(float(rng.uniform(-0.3, 0.05)))),
                ("crr", Uncertain(float(rng.uniform(-0.0002, 0.00002)))),
                ("wheel_inertia_kgm2", Uncertain(float(rng.uniform(-0.01, 0.003)))),
            ),
            owns=(),
            yaw_degs=(0.0, 10.0, 20.0),
            cda_changes_m2=tuple(rng.uniform(-0.002, 0.0003, 3)),
            cda_change_sd_m2=0.0,
            chainrings=None,
            sprockets=(11, 13, 15, 17, 19, 21, 23, 25, 28) if i == j == 0 else None,
            wheel_radius_m=None,
            provides=NONE,
            needs=NONE,
            excludes=NONE,
            note="",
        )
        for i in range(n_slots)
        for j in range(n_options - 1)
    )
    return Catalogue(currency="c", slots=slots, parts=parts, provides=NONE, source="")


@pytest.fixture(scope="module")
def races(hilly_setup):
    made = []
    for k in range(2):
        s_m = (np.arange(N_40_KM) + 0.5) * 5.0
        course = course_from_arrays(
            lengths_m=np.full(N_40_KM, 5.0),
            grades=0.03 * np.sin(s_m / 900.0 + k) + 0.015 * np.sin(s_m / 170.0) - 0.001,
            headings_rad=0.8 * np.sin(s_m / 400.0) + s_m / 3000.0,
            radii_m=np.where(s_m % 1000.0 < 20.0, 18.0 + 8.0 * k, np.inf),
        )
        made.append(
            Race(
                name=f"r{k}",
                course=course,
                rider=hilly_setup.rider,
                weather=hilly_setup.weather,
                demand=constant_demand(course, hilly_setup.rider),
                weight=1.0,
            )
        )
    return tuple(made)


def test_walk_a_million_sets(benchmark):
    menu = make_menu(made_catalogue(6, 10))
    n_sets = benchmark.pedantic(
        survey_sets, args=(menu, ANY_PRICE), kwargs={"most": 10**7}, rounds=3
    ).n_sets
    start_s = time.perf_counter()
    ranges = [range(len(options)) for options in menu.parts]
    n_slowly = sum(1 for _ in itertools.product(*ranges))
    reference_s = time.perf_counter() - start_s
    assert n_sets == n_slowly == 10**6
    benchmark.extra_info["product_without_prices_and_tags_s"] = round(reference_s, 3)


def test_ride_sets_over_two_40_km_races(benchmark, races, hilly_setup):
    catalogue = made_catalogue(4, 8)
    menu = make_menu(catalogue)
    tables = make_tables(hilly_setup.build, menu)
    runner = ThisMachine(races)
    find_leaders(tables, races, runner, [0])
    leaders = benchmark.pedantic(find_leaders, args=(tables, races, runner, [ANY_PRICE]), rounds=2)
    n_rides = 2 * 8**4
    sets = next(even_blocks(set_blocks(menu, ANY_PRICE), 100))
    start_s = time.perf_counter()
    for choices in sets.choices[::5]:
        build = apply_parts(hilly_setup.build, catalogue, menu.parts_of(tuple(choices.tolist())))
        for race in races:
            setup = RideSetup(rider=race.rider, build=build, weather=race.weather)
            simulate(course=race.course, setup=setup, demand=race.demand)
    alone_ms = (time.perf_counter() - start_s) / 40 * 1e3
    swept_ms = benchmark.stats.stats.min / n_rides * 1e3
    assert len(leaders.by_budget[0]) > 0
    benchmark.extra_info["ms_a_ride"] = round(swept_ms, 4)
    benchmark.extra_info["times_faster_than_one_by_one"] = round(alone_ms / swept_ms, 1)


@pytest.mark.slow
@pytest.mark.parametrize("n_slots", [5, 6])
def test_a_hundred_thousand_and_a_million_sets(benchmark, races, hilly_setup, n_slots):
    """``pytest tests/benchmarks/test_spend_bench.py --benchmark-only -m slow``: minutes."""
    menu = make_menu(made_catalogue(n_slots, 10))
    tables = make_tables(hilly_setup.build, menu)
    runner = ThisMachine(races)
    find_leaders(tables, races, runner, [0])
    seen: list[int] = []
    cpu_s = time.process_time()
    leaders = benchmark.pedantic(
        find_leaders,
        args=(tables, races, runner, [ANY_PRICE]),
        kwargs={"progress": seen.append},
        rounds=1,
    )
    benchmark.extra_info["processor_s"] = round(time.process_time() - cpu_s, 1)
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    benchmark.extra_info["peak_mb"] = round(peak_mb)
    assert sum(seen) == 10**n_slots
    assert len(leaders.frontier) > 10
    assert peak_mb < MOST_MB
