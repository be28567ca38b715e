"""Several courses or weathers at once: cells are comparisons, sums are sums."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.compare import Race, explain, race_table
from simulator.course import course_from_arrays
from simulator.pacing import constant_demand
from simulator.setup import RideSetup, Uncertain

ROUNDING = 1e-9


@pytest.fixture(scope="module")
def flat_course():
    return course_from_arrays(lengths_m=np.full(800, 5.0), grades=np.zeros(800), name="Flat")


def race_of(course, setup, *, weather=None, number=0):
    weather = weather or setup.weather
    return Race(
        name=course.name,
        course=course,
        weather=weather,
        weather_number=number,
        demand=constant_demand(course, setup.rider),
    )


@pytest.fixture(scope="module")
def table(hill_course, flat_course, setups):
    calm = replace(setups[0].weather, name="Calm", wind_mps=Uncertain(0.0))
    races = [
        race_of(hill_course, setups[0]),
        race_of(flat_course, setups[0]),
        race_of(flat_course, setups[0], weather=calm, number=1),
    ]
    builds = [setup.build for setup in setups]
    return race_table(races, rider=setups[0].rider, builds=builds, n_draws=800, seed=5)


def test_a_cell_is_the_comparison_of_its_race(table, hill_course, setups):
    alone = explain(course=hill_course, first=setups[0], other=setups[1], n_draws=800, seed=5)
    cell = table.gaps[0][0]
    assert cell.gap_s == alone.gap.total_s
    assert table.first_times_s[0] == alone.gap.first.time_s
    # Other draws of the same doubts: the interval agrees to its Monte-Carlo error.
    allowed_s = 4.0 * np.hypot(cell.spread.interval_error_s, alone.doubt.interval_error_s)
    assert cell.spread.low_s == pytest.approx(alone.doubt.low_s, abs=allowed_s)
    assert cell.spread.high_s == pytest.approx(alone.doubt.high_s, abs=allowed_s)


def test_all_is_the_sum_draw_by_draw(table):
    (total,) = table.totals
    cells = [row[0] for row in table.gaps]
    assert total.gap_s == pytest.approx(sum(c.gap_s for c in cells), abs=ROUNDING)
    assert total.time_s == pytest.approx(sum(c.time_s for c in cells), abs=ROUNDING)
    assert total.spread.gaps_s == pytest.approx(
        np.sum([c.spread.gaps_s for c in cells], axis=0), abs=1e-6
    )
    # Rider and builds are the same in all races of a draw: the doubts do not average out.
    sds = [c.spread.sd_s for c in cells]
    assert np.hypot.reduce(sds) < total.spread.sd_s <= sum(sds) + ROUNDING


def test_the_order_of_the_races_changes_no_cell(table, hill_course, flat_course, setups):
    builds = [setup.build for setup in setups]
    races = [race_of(flat_course, setups[0]), race_of(hill_course, setups[0])]
    turned = race_table(races, rider=setups[0].rider, builds=builds, n_draws=800, seed=5)
    assert turned.gaps[1][0].spread.gaps_s.tolist() == table.gaps[0][0].spread.gaps_s.tolist()
    assert turned.gaps[0][0].gap_s == table.gaps[1][0].gap_s


def test_exact_inputs_have_no_spread_and_no_draws_none_either(flat_course, setups):
    def exact(thing):
        changes = {
            name: Uncertain(getattr(thing, name).value)
            for name in type(thing).__dataclass_fields__
            if isinstance(getattr(thing, name), Uncertain)
        }
        return replace(thing, **changes)

    rider, weather = exact(setups[0].rider), exact(setups[0].weather)
    bare = RideSetup(rider=rider, build=exact(setups[0].build), weather=weather)
    races = [race_of(flat_course, bare)]
    same = race_table(races, rider=rider, builds=[bare.build, exact(setups[1].build)])
    assert same.gaps[0][0].spread is None
    assert same.totals[0].spread is None
    builds = [setup.build for setup in setups]
    undrawn = race_table([race_of(flat_course, setups[0])], rider=rider, builds=builds, n_draws=0)
    assert undrawn.totals[0].spread is None


def test_every_race_is_reported_as_it_is_done(flat_course, setups):
    done = []
    race_table(
        [race_of(flat_course, setups[0])] * 3,
        rider=setups[0].rider,
        builds=[setup.build for setup in setups],
        n_draws=0,
        when_done=lambda: done.append(1),
    )
    assert len(done) == 3
