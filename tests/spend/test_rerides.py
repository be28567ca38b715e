"""A set's time in the sweep is the time of the build with those parts on it, ridden alone."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.errors import InputError
from simulator.ride import simulate
from simulator.setup import RideSetup, Uncertain, apply_parts
from simulator.spend.optimum import DECIMALS, no_leaders, with_sets
from simulator.spend.partsets import SetBlock, make_menu, set_blocks
from simulator.spend.rerides import ThisMachine, make_tables, mean_s, race_times_s
from simulator.spend.sweep import find_leaders

NANOSECOND = 1e-9


@pytest.fixture(scope="module")
def swept(lively_catalogue, short_races, doubtful_build):
    menu = make_menu(lively_catalogue)
    tables = make_tables(doubtful_build, menu)
    choices = np.concatenate([sets.choices for sets in set_blocks(menu, 10**6)])
    times_s = race_times_s(tables, ThisMachine(short_races), choices, len(short_races))
    return menu, tables, choices, times_s


def test_each_set_rides_like_its_build(swept, lively_catalogue, short_races, doubtful_build):
    menu, _, choices, times_s = swept
    assert len(choices) > 80
    for i in range(0, len(choices), 3):
        parts = menu.parts_of(tuple(choices[i].tolist()))
        build = apply_parts(doubtful_build, lively_catalogue, parts)
        for i_race, race in enumerate(short_races):
            setup = RideSetup(rider=race.rider, build=build, weather=race.weather)
            alone_s = simulate(course=race.course, setup=setup, demand=race.demand).time_s
            assert abs(times_s[i_race, i] - alone_s) < NANOSECOND


def test_parts_interact(swept):
    """The gain of two parts together is not the sum of their gains, or nothing need be ridden."""
    menu, _, choices, times_s = swept
    catalogue = menu.catalogue
    at = {tuple(row): i for i, row in enumerate(choices.tolist())}

    def gain_s(*names):
        parts = [catalogue.part(name) for name in names]
        return times_s[0, at[(0,) * menu.n_slots]] - times_s[0, at[menu.choices_of(parts)]]

    together_s = gain_s("narrow bar", "latex")
    assert abs(together_s - gain_s("narrow bar") - gain_s("latex")) > 1e-4


@pytest.mark.parametrize("chunk", [1, 17, 8192])
def test_chunks_do_not_change_a_bit(swept, short_races, chunk):
    _, tables, choices, times_s = swept
    runner = ThisMachine(short_races)
    seen = []
    leaders = find_leaders(
        tables, short_races, runner, [0, 60_000], chunk=chunk, progress=seen.append
    )
    scores_s = mean_s(short_races, times_s)
    cents = np.array(
        [sum(tables.menu.cents[s][o] for s, o in enumerate(row)) for row in choices.tolist()]
    )
    order = np.lexsort((cents, np.round(scores_s, DECIMALS)))
    for budget, ranked in zip((0, 60_000), leaders.by_budget, strict=True):
        first = next(i for i in order if cents[i] <= budget)
        assert ranked.choices[0].tolist() == choices[first].tolist()
        assert ranked.scores_s[0] == np.round(scores_s[first], DECIMALS)
    whole = SetBlock(choices=choices, cents=cents)
    at_once = with_sets(no_leaders(tables.menu.n_slots, [60_000]), whole, scores_s)
    cheap = at_once.frontier.cents <= 60_000
    assert np.array_equal(leaders.frontier.scores_s, at_once.frontier.scores_s[cheap])
    assert np.array_equal(leaders.frontier.choices, at_once.frontier.choices[cheap])
    assert sum(seen) == (cents <= 60_000).sum()


def test_weights_mean_what_they_say(short_races):
    times_s = np.array([[300.0, 310.0], [100.0, 70.0]])
    assert mean_s(short_races, times_s) == pytest.approx([700.0 / 3.0, 230.0])


def test_set_that_makes_no_sense_is_refused_by_name(
    slot, part, catalogue_of, doubtful_build, short_races
):
    catalogue = catalogue_of(
        [slot("a"), slot("b")],
        [
            part("magic", "a", crr=Uncertain(-0.0030)),
            part("more magic", "b", crr=Uncertain(-0.0013)),
        ],
    )
    tables = make_tables(doubtful_build, make_menu(catalogue))
    with pytest.raises(InputError, match=r"magic, more magic.*`crr` of .* 0\.0002"):
        find_leaders(tables, short_races, ThisMachine(short_races), [100])


def test_drag_that_vanishes_in_cross_wind_is_refused(
    slot, part, catalogue_of, doubtful_build, short_races
):
    """Straight on all is well; at 20 degrees two sails would pull the bike along."""
    sail = ((0.0, 20.0), (0.0, -0.16))
    catalogue = catalogue_of(
        [slot("a"), slot("b")], [part("one sail", "a", yaw=sail), part("two sails", "b", yaw=sail)]
    )
    tables = make_tables(doubtful_build, make_menu(catalogue))
    with pytest.raises(InputError, match=r"one sail, two sails.*`cda_m2`"):
        find_leaders(tables, short_races, ThisMachine(short_races), [100])


def test_wet_road_rides_on_wet_grip(slot, part, catalogue_of, doubtful_build, cornered_course):
    """Sorting rides by grip must not mix them up."""
    from simulator.pacing import constant_demand
    from simulator.setup import default_rider, default_weather
    from simulator.spend import Race

    catalogue = catalogue_of(
        [slot("a"), slot("b")],
        [part(f"grip {g}", "a", owns={"grip_wet": Uncertain(g)}) for g in (0.55, 0.35, 0.45)]
        + [part("light", "b", mass_kg=Uncertain(-1.0))],
    )
    course, rider = cornered_course(2000.0), default_rider()
    race = Race(
        name="wet",
        course=course,
        rider=rider,
        weather=replace(default_weather(), is_wet=True),
        demand=constant_demand(course, rider),
        weight=1.0,
    )
    tables = make_tables(doubtful_build, make_menu(catalogue))
    choices = np.array([[i, j] for i in range(4) for j in range(2)], dtype=np.int16)
    times_s = race_times_s(tables, ThisMachine((race,)), choices, 1)[0]
    for (i, j), time_s in zip(choices.tolist(), times_s, strict=True):
        parts = tables.menu.parts_of((i, j))
        build = apply_parts(doubtful_build, catalogue, parts)
        setup = RideSetup(rider=rider, build=build, weather=race.weather)
        alone_s = simulate(course=course, setup=setup, demand=race.demand).time_s
        assert abs(time_s - alone_s) < NANOSECOND
    assert times_s[2] < times_s[6] < times_s[4]
