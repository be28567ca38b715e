"""Laws of the kernels on a few hundred metres: quick enough to be held without the compiler too."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.course import course_from_arrays
from simulator.errors import CannotFinish
from simulator.pacing import constant_demand
from simulator.physics.clock import wind_at
from simulator.physics.constants import YAW_NODES_DEG
from simulator.physics.follow import gap_share
from simulator.physics.forces import drag_area_m2, forces_at
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
        for t, m, d in ((0.0, 2.0, 0.0), (20.0, 2.0, 60.0), (23.0, 9.0, 60.0), (40.0, 4.0, 200.0))
    )
    return varied(
        hilly_setup,
        rider={"cp_w": 200.0, "wprime_j": 2500.0, "max_power_w": 600.0, "power_w": 330.0},
        weather={"winds": winds, "wind_mps": 2.0},
    )


def test_many_rides_at_once_are_the_rides_one_by_one(short_bends, setup):
    masses_kg = np.array([55.0, 71.0, 110.0])
    demand = replace(constant_demand(short_bends, setup.rider), surge_w=120.0, surge_s=4.0)
    together_s = simulate_many(
        course=short_bends, setups=[setup], demand=demand, draws=[{"rider.mass_kg": masses_kg}]
    )[0, :, 0]
    for mass_kg, time_s in zip(masses_kg, together_s, strict=True):
        rider = replace(setup.rider, mass_kg=Uncertain(mass_kg))
        alone = simulate(course=short_bends, setup=replace(setup, rider=rider), demand=demand)
        assert time_s == pytest.approx(alone.time_s, rel=ROUNDING)


def test_who_halts_halts_in_company_too(setup):
    """A wall of 60 %: no time in a batch, and a place when alone."""
    wall = course_from_arrays(
        lengths_m=np.full(6, 5.0), grades=np.where(np.arange(6) > 2, 0.6, 0.0)
    )
    assert simulate_many(course=wall, setups=[setup]).ravel().tolist() == [np.inf]
    with pytest.raises(CannotFinish, match=r"cannot pass km 0\.0"):
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


def test_drag_area_is_the_table_s_at_its_angles(plain_setup, kernel_parts, even_course):
    """A wheel that is best at 15 degrees of yaw: straight in sin² between the angles named."""
    factors = (1.0, 0.98, 0.95, 0.93, 0.96, 1.05, 1.4)
    build = replace(plain_setup.build, yaw_degs=YAW_NODES_DEG, cda_factors=factors)
    _, rules = kernel_parts(even_course(100.0), replace(plain_setup, build=build))
    sin2 = np.sin(np.radians(YAW_NODES_DEG)) ** 2
    for i, factor in enumerate(factors):
        assert drag_area_m2(sin2[i], rules) == pytest.approx(0.30 * factor, rel=1e-9)
    for i in range(len(factors) - 1):
        between = drag_area_m2(0.5 * (sin2[i] + sin2[i + 1]), rules)
        assert between == pytest.approx(0.15 * (factors[i] + factors[i + 1]), rel=1e-9)


@pytest.mark.parametrize(("share", "power"), [(0.79, 1.0), (0.9, 0.5), (1.01, 0.0)])
def test_pedalling_ends_over_the_last_fifth_of_the_lean(
    plain_setup, varied, kernel_parts, share, power
):
    """No pedal on the road: full power to four fifths of the lateral force, none at all of it."""
    setup = varied(plain_setup, rider={"pedal_lean_deg": 25.0, "power_w": 250.0})
    bend = course_from_arrays(lengths_m=np.full(4, 5.0), grades=0.0, radii_m=np.full(4, 40.0))
    step, rules = kernel_parts(bend, setup)
    speed_mps = np.sqrt(share * 9.80665 * np.tan(np.radians(25.0)) * 40.0)
    force = forces_at(speed_mps, 1.0 / speed_mps, 1.0e9, step, rules)
    assert force.pedal_n * speed_mps == pytest.approx(250.0 * power, abs=1e-6)


def test_wind_between_two_times_is_on_the_straight_line(setup):
    times_s = np.array([0.0, 20.0, 50.0, 90.0])
    winds_mps = np.array([[1.0, 4.0, -2.0, 3.0], [0.0, -5.0, 2.0, 6.0]])
    for time_s in (0.0, 5.0, 20.0, 34.0, 49.9, 77.0, 90.0, 200.0):
        east, north = wind_at(time_s, times_s, winds_mps)
        assert east == pytest.approx(np.interp(time_s, times_s, winds_mps[0]))
        assert north == pytest.approx(np.interp(time_s, times_s, winds_mps[1]))


@pytest.mark.parametrize("gap_m", [0.5, 1.0, 2.0])
def test_shelter_is_lost_with_the_gap_as_published(gap_m):
    """[Olds1998] (from memory): drag at d metres is 0.62 - 0.0104 d + 0.0452 d² of that alone."""
    published = 0.62 - 0.0104 * gap_m + 0.0452 * gap_m**2
    assert 0.62 + 0.38 * gap_share(gap_m) == pytest.approx(published, abs=1e-12)
    assert gap_share(0.0) == 0.0
    # From three metres on there is none; nearer than the wheel does not help.
    assert gap_share(3.1) == gap_share(30.0) == 1.0
    assert gap_share(0.1) == 0.0
