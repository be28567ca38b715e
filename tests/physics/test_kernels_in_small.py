"""Laws of the kernels on a few hundred metres: quick enough to be held without the compiler too."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.course import course_from_arrays
from simulator.errors import CannotFinish
from simulator.ride import (
    answers_of,
    open_rehearsal,
    rehearse,
    simulate,
    simulate_many,
    slopes_of,
)
from simulator.setup import Uncertain, WindAt

ROUNDING = 1e-12


@pytest.fixture
def short_bends():
    """300 m with hills and one bend of 11 m radius, from a standing start."""
    middles_m = (np.arange(60) + 0.5) * 5.0
    return course_from_arrays(
        lengths_m=np.full(60, 5.0),
        grades=0.05 * np.sin(middles_m / 40.0),
        headings_rad=middles_m / 80.0,
        radii_m=np.where(np.abs(middles_m - 200.0) < 11.0, 11.0, np.inf),
        start="standing",
    )


@pytest.fixture
def setup(hilly_setup, varied):
    """A rider who runs out of W' on the way, in a wind that turns and grows."""
    winds = tuple(
        WindAt(time_s=t, wind_mps=m, wind_from_deg=d)
        for t, m, d in ((0.0, 2.0, 0.0), (20.0, 6.0, 60.0), (60.0, 4.0, 200.0))
    )
    return varied(
        hilly_setup,
        rider={"cp_w": 200.0, "wprime_j": 2500.0, "max_power_w": 600.0, "power_w": 330.0},
        weather={"winds": winds, "wind_mps": 2.0},
    )


def test_many_rides_at_once_are_the_rides_one_by_one(short_bends, setup):
    masses_kg = np.array([55.0, 71.0, 110.0])
    together_s = simulate_many(
        course=short_bends, setups=[setup], draws=[{"rider.mass_kg": masses_kg}]
    )[0, :, 0]
    for mass_kg, time_s in zip(masses_kg, together_s, strict=True):
        rider = replace(setup.rider, mass_kg=Uncertain(mass_kg))
        alone = simulate(course=short_bends, setup=replace(setup, rider=rider))
        assert time_s == pytest.approx(alone.time_s, rel=ROUNDING)


def test_who_halts_halts_in_company_too(setup):
    """A wall of 60 %: no time in a batch, and a place when alone."""
    wall = course_from_arrays(
        lengths_m=np.full(6, 5.0), grades=np.where(np.arange(6) > 2, 0.6, 0.0)
    )
    assert simulate_many(course=wall, setups=[setup]).ravel().tolist() == [np.inf]
    with pytest.raises(CannotFinish, match="cannot pass km 0.0"):
        simulate(course=wall, setup=setup)


def test_slopes_of_a_short_ride_are_its_differences(short_bends, setup):
    rehearsal = open_rehearsal(course=short_bends, setup=setup)
    powers_w = 180.0 + 90.0 * np.sin(np.arange(60) / 7.0)
    per_reserve_w = np.where(np.arange(60) % 20 < 5, 60.0, 0.0)
    way = np.cos(np.arange(60) / 3.0)

    def results(size):
        trial = rehearse(rehearsal, powers_w + size * way, per_reserve_w)
        return np.array([trial.time_s, trial.works.sum(), trial.node_reserves_j[50]])

    differences = (results(1e-3) - results(-1e-3)) / 2e-3
    answers = answers_of(rehearse(rehearsal, powers_w, per_reserve_w))
    wanted = ({"time": 1.0}, {"work": 1.0}, {"reserve_nodes": np.array([50])})
    for difference, weights in zip(differences, wanted, strict=True):
        below, above = slopes_of(answers, **weights)
        assert 0.5 * (below + above) @ way == pytest.approx(difference, rel=2e-4, abs=1e-6)


def test_finer_steps_change_a_short_ride_by_little(short_bends, setup):
    """The same road in pieces of one metre: a hundredth of a second in a minute."""
    fine = course_from_arrays(
        lengths_m=np.full(300, 1.0),
        grades=np.repeat(short_bends.grades, 5),
        headings_rad=np.repeat(short_bends.headings_rad, 5),
        radii_m=np.repeat(short_bends.radii_m, 5),
        start="standing",
    )
    coarse_s = simulate(course=short_bends, setup=setup).time_s
    assert simulate(course=fine, setup=setup).time_s == pytest.approx(coarse_s, abs=0.01)
