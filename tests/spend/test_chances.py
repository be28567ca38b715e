"""Paired draws of sets: same part, same draw; spread as stated; against closed forms."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.setup import Uncertain
from simulator.spend.chances import DrawnRides, GainDoubt
from simulator.spend.partsets import make_menu
from simulator.spend.rerides import ThisMachine, make_tables

N = 400


@pytest.fixture
def drawn_of(short_races, doubtful_build):
    def make(catalogue, *, n_draws=N, seed=3, build=doubtful_build, races=short_races):
        tables = make_tables(build, make_menu(catalogue))
        return DrawnRides(tables, races, ThisMachine(races), n_draws=n_draws, seed=seed)

    return make


def figures(drawn, *names):
    catalogue = drawn.tables.menu.catalogue
    choices = drawn.tables.menu.choices_of([catalogue.part(name) for name in names])
    return [job.values for job in drawn._jobs(choices)]


def test_a_part_has_the_same_draw_in_every_set_and_race(drawn_of, lively_catalogue):
    drawn = drawn_of(lively_catalogue)
    alone, with_more = figures(drawn, "latex")[0], figures(drawn, "latex", "narrow bar")[1]
    none = figures(drawn)[0]
    assert np.array_equal(alone["build.crr"], with_more["build.crr"])
    assert np.array_equal(alone["build.cda_m2"], with_more["build.cda_m2"])
    assert np.array_equal(alone["rider.mass_kg"], with_more["rider.mass_kg"])
    assert not np.array_equal(alone["build.crr"], none["build.crr"])


def test_draws_have_the_spread_that_the_catalogue_states(drawn_of, lively_catalogue):
    drawn = drawn_of(lively_catalogue, n_draws=40_000)
    none, some = figures(drawn)[0], figures(drawn, "latex", "narrow bar", "supple", "light")[0]
    latex = figures(drawn, "latex")[0]["build.crr"] - none["build.crr"]
    assert latex.mean() == pytest.approx(-0.0003, abs=3e-6)
    assert latex.std() == pytest.approx(0.0001, rel=0.02)
    # A tyre brings its own rolling resistance: the doubt of the old one goes with it.
    assert some["build.crr"].std() == pytest.approx(np.hypot(0.0002, 0.0001), rel=0.02)
    assert np.corrcoef(some["build.crr"], none["build.crr"])[0, 1] == pytest.approx(0.0, abs=0.02)
    shift = some["build.area_changes_m2"][:, 0]
    assert (shift.mean(), shift.std()) == pytest.approx((-0.003, 0.002), rel=0.02)
    assert np.ptp(some["build.area_changes_m2"], axis=1).max() == pytest.approx(0.0, abs=1e-15)


def test_races_have_weathers_of_their_own(drawn_of, lively_catalogue, short_races):
    windy = replace(short_races[1], weather=short_races[0].weather)
    first, second = figures(drawn_of(lively_catalogue, races=(short_races[0], windy)))
    assert np.array_equal(first["rider.mass_kg"], second["rider.mass_kg"])
    assert not np.array_equal(first["weather.wind_mps"], second["weather.wind_mps"])


def test_a_part_at_the_end_leaves_the_other_draws_alone(
    drawn_of, lively_catalogue, part, catalogue_of
):
    longer = replace(
        lively_catalogue, parts=(*lively_catalogue.parts, part("new", "bar", cda=-0.001))
    )
    before, after = figures(drawn_of(lively_catalogue), "deep"), figures(drawn_of(longer), "deep")
    for name, values in before[0].items():
        assert np.array_equal(values, after[0][name])


def test_same_parts_gain_nothing_for_sure(drawn_of, lively_catalogue):
    drawn = drawn_of(lively_catalogue)
    nothing = (0,) * drawn.tables.menu.n_slots
    doubt = drawn.gain(nothing, nothing)
    assert (doubt.mean_s, doubt.low_s, doubt.high_s, doubt.chance) == (0.0, 0.0, 0.0, 0.0)
    assert not doubt.is_told_apart


def test_told_apart_needs_more_than_its_own_give_or_take():
    told = GainDoubt(mean_s=3.0, low_s=0.5, high_s=5.4, chance=0.97, n_draws=9, n_stopped=0)
    assert told.is_told_apart
    # Skew draws: the interval leaves out zero, but a reader sees 2.7 s ± 3.1 s.
    skew = GainDoubt(mean_s=2.7, low_s=0.1, high_s=6.3, chance=0.95, n_draws=9, n_stopped=0)
    assert not skew.is_told_apart
    hair = GainDoubt(mean_s=0.02, low_s=0.01, high_s=0.03, chance=1.0, n_draws=9, n_stopped=0)
    assert not hair.is_told_apart


def test_even_chance_between_twins(drawn_of, slot, part, catalogue_of):
    """Two parts with equal figures and independent doubts: a coin decides."""
    twins = [part(n, "a", cda=-0.004, cda_sd=0.002) for n in ("one", "two")]
    drawn = drawn_of(catalogue_of([slot("a")], twins), n_draws=2000)
    doubt = drawn.gain((1,), (2,))
    assert doubt.chance == pytest.approx(0.5, abs=0.04)
    assert not doubt.is_told_apart
    # Normal with mean 1 and standard deviation 1 of the difference to nothing: 97.7 % above zero.
    sure = drawn.gain((0,), (1,))
    assert sure.chance == pytest.approx(0.9772, abs=0.012)


def test_seed_decides(drawn_of, lively_catalogue):
    choices = (1, 1, 1, 1, 1)
    nothing = (0,) * 5
    one, same, other = (
        drawn_of(lively_catalogue, seed=seed).gain(nothing, choices) for seed in (1, 1, 2)
    )
    assert one == same
    assert one != other


def test_exact_inputs_give_the_nominal_gain(drawn_of, slot, part, catalogue_of, short_races,
                                            hilly_setup):  # fmt: skip
    catalogue = catalogue_of([slot("a")], [part("bar", "a", cda=-0.004)])
    races = tuple(
        replace(race, rider=hilly_setup.rider,
                weather=replace(race.weather, wind_mps=Uncertain(race.weather.wind_mps.value)))
        for race in short_races
    )  # fmt: skip
    drawn = drawn_of(catalogue, n_draws=3, build=hilly_setup.build, races=races)
    doubt = drawn.gain((0,), (1,))
    assert doubt.low_s == doubt.high_s == pytest.approx(doubt.mean_s, abs=1e-12)
    assert doubt.mean_s > 0.1
    assert doubt.chance == 1.0


def test_no_draws_no_doubt(drawn_of, lively_catalogue):
    assert drawn_of(lively_catalogue, n_draws=0).gain((0,) * 5, (1, 1, 1, 1, 1)) is None
