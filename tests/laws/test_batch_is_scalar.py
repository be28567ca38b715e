"""A ride in a batch is the ride alone, to a billionth of a second.

In any company, order and number of threads it has the same bits. Alone and in a batch it is
computed by two kernels, which may round a last bit differently.
"""

from dataclasses import replace

import numba
import numpy as np
import pytest

from simulator.errors import CannotFinish
from simulator.pacing import constant_demand
from simulator.ride import simulate, simulate_many
from simulator.setup import WindAt

N_RIDES = 75
CLOSE_S = 1.0e-9


@pytest.fixture(scope="module")
def company(hilly_setup, varied, cornered_course):
    """Course, setup and draws: hills, bends, wind, a standing start, W', rides that stop."""
    rng = np.random.default_rng(11)
    setup = varied(
        hilly_setup,
        rider={"cp_w": 200.0, "wprime_j": 5000.0, "max_power_w": 700.0},
    )
    draws = {
        "rider.mass_kg": rng.uniform(50.0, 130.0, N_RIDES),
        "rider.power_w": rng.uniform(60.0, 420.0, N_RIDES),
        "build.cda_m2": rng.uniform(0.2, 0.5, N_RIDES),
        "build.crr": rng.uniform(0.002, 0.012, N_RIDES),
        "build.grip_dry": rng.uniform(0.35, 1.0, N_RIDES),
        "weather.wind_mps": rng.uniform(0.0, 18.0, N_RIDES),
        "weather.wind_from_deg": rng.uniform(0.0, 360.0, N_RIDES),
    }
    return cornered_course(2500.0, start="standing", hills=1.3), setup, draws


def ride_all(company, order=slice(None)):
    course, setup, draws = company
    marks = np.arange(course.n_segments + 1)
    chosen = {name: values[order] for name, values in draws.items()}
    return simulate_many(course=course, setups=[setup], draws=[chosen], marks=marks)[0]


def test_same_bits_in_any_company_and_order(company):
    together = ride_all(company)
    stops = np.isinf(together[:, -1])
    assert 2 < stops.sum() < N_RIDES // 2
    rng = np.random.default_rng(3)
    shuffled = rng.permutation(N_RIDES)
    assert np.array_equal(ride_all(company, shuffled), together[shuffled])
    for i in (0, 31, 32, 74, int(np.argmax(stops))):
        assert np.array_equal(ride_all(company, slice(i, i + 1))[0], together[i])
    assert np.array_equal(ride_all(company, slice(5, 40)), together[5:40])


def test_same_bits_at_any_number_of_threads(company):
    before = numba.get_num_threads()
    try:
        numba.set_num_threads(1)
        one = ride_all(company)
        numba.set_num_threads(min(2, numba.config.NUMBA_NUM_THREADS))
        two = ride_all(company)
    finally:
        numba.set_num_threads(before)
    assert np.array_equal(one, two)


def test_a_ride_alone_takes_the_same_time(company, varied):
    course, setup, draws = company
    together = ride_all(company)
    n_rode = 0
    for i in range(0, N_RIDES, 4):
        changes = {room: {} for room in ("rider", "build", "weather")}
        for name, values in draws.items():
            room, field = name.split(".")
            changes[room][field] = float(values[i])
        # Power comes as a scale on the same demand, as draws do.
        factor = changes["rider"].pop("power_w") / setup.rider.power_w.value
        alone = varied(setup, **changes)
        by_draw = {"rider.power_w": np.array([setup.rider.power_w.value * factor])}
        batch_s = simulate_many(course=course, setups=[alone], draws=[by_draw])[0, 0, 0]
        assert batch_s == together[i, -1]
        plain_s = simulate_many(course=course, setups=[alone])[0, 0, 0]
        try:
            ride = simulate(course=course, setup=alone)
        except CannotFinish:
            assert np.isinf(plain_s)
            continue
        n_rode += 1
        assert ride.time_s == pytest.approx(plain_s, rel=0.0, abs=CLOSE_S)
        nodes_s = simulate_many(
            course=course, setups=[alone], marks=np.arange(course.n_segments + 1)
        )[0, 0]
        assert nodes_s == pytest.approx(ride.node_times_s, rel=0.0, abs=CLOSE_S)
    assert n_rode > 5


def test_two_builds_side_by_side(company, varied):
    course, setup, _ = company
    other = varied(setup, build={"cda_m2": 0.28, "chainrings": (30, 46), "grip_dry": 0.6})
    # One rider and one weather, as a comparison has them.
    other = replace(setup, build=other.build)
    both = simulate_many(course=course, setups=[setup, other]).ravel()
    alone = [simulate(course=course, setup=s).time_s for s in (setup, other)]
    assert both == pytest.approx(alone, rel=0.0, abs=CLOSE_S)


def test_what_changes_with_time_does_so_in_both(hilly_setup, varied, cornered_course):
    # Wind in five entries, one before the start's end and two behind the finish's beginning, power
    # that declines, surges out of corners: fast and slow rides of a block lie entries apart.
    course = cornered_course(6000.0)
    setup = varied(hilly_setup, rider={"decline_after_s": 300.0, "decline_per_log": 0.1})
    winds = tuple(
        WindAt(time_s=at_s, wind_mps=mps, wind_from_deg=deg)
        for at_s, mps, deg in (
            (20, 3, 200),
            (150, 7, 240),
            (300, 2, 300),
            (500, 6, 350),
            (700, 5, 20),
        )
    )
    setup = replace(setup, weather=replace(setup.weather, winds=winds))
    demand = replace(constant_demand(course, setup.rider), surge_w=120.0, surge_s=6.0)
    powers_w = np.linspace(130.0, 400.0, 40)
    together_s = simulate_many(
        course=course, setups=[setup], demand=demand, draws=[{"rider.power_w": powers_w}],
    )[0, :, 0]  # fmt: skip
    assert together_s.max() - together_s.min() > 200.0
    nominal_w = setup.rider.power_w.value
    for power_w, batch_s in zip(powers_w[::3], together_s[::3], strict=True):
        # The factor on the demand is what a draw of the power gives; it is the same number here.
        alone = varied(setup, rider={"power_w": nominal_w})
        scaled = replace(demand, powers_w=demand.powers_w * (power_w / nominal_w))
        ride = simulate(course=course, setup=alone, demand=scaled)
        # Surges are not scaled by the factor.
        by_factor_s = simulate_many(
            course=course, setups=[alone], demand=demand, draws=[{"rider.power_w": [power_w]}]
        ).item()
        assert by_factor_s == batch_s
        many_s = simulate_many(course=course, setups=[alone], demand=scaled).item()
        assert ride.time_s == pytest.approx(many_s, rel=0.0, abs=CLOSE_S)
