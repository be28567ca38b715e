"""Laws that every ride keeps, on roads, riders, bikes, weathers and pacings thrown together."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.course import course_from_arrays
from simulator.errors import CannotFinish
from simulator.pacing import constant_demand
from simulator.ride import simulate, simulate_many
from simulator.setup import WindAt

NOISE_S = 1.0e-6
STEP = 1.0e-5
SCANNED = (
    "rider.mass_kg",
    "rider.power_w",
    "build.cda_m2",
    "build.drivetrain_efficiency",
    "weather.wind_mps",
)


def random_course(rng):
    n = int(rng.integers(30, 500))
    i = np.arange(n)
    grades = rng.choice([0.0, 0.03, 0.06]) * np.sin(i / rng.uniform(5, 60))
    grades += rng.choice([0.0, 0.03]) * np.sin(i / rng.uniform(2, 10))
    if rng.random() < 0.3:
        for _ in range(rng.integers(1, 4)):
            at = rng.integers(0, n - 5)
            steep = at + rng.integers(1, 12)
            grades[at:steep] = rng.choice([0.1, 0.12, 0.15, 0.18, 0.22, -0.15, -0.2])
    radii_m = np.full(n, np.inf)
    for _ in range(rng.integers(0, 10)):
        at = rng.integers(0, n - 4)
        end = at + rng.integers(1, 7)
        radii_m[at:end] = rng.uniform(5, 50)
    lengths_m = rng.uniform(3, 6, n)
    restarts_m = ()
    if rng.random() < 0.4:
        restarts_m = tuple(np.sort(rng.uniform(0, lengths_m.sum(), rng.integers(0, 4))).tolist())
    grip_factors = np.where(rng.random(n) < 0.05, rng.choice([0.05, 0.3, 0.6, 1.0]), 1.0)
    course = course_from_arrays(
        lengths_m=lengths_m,
        grades=grades,
        headings_rad=np.cumsum(rng.normal(0, 0.2, n)),
        shelters=rng.uniform(0.2, 1, n),
        roughnesses_m=np.full(n, 0.03),
        crr_factors=rng.uniform(0.9, 1.6, n),
        radii_m=radii_m,
        grip_factors=grip_factors,
        start=str(rng.choice(["standing", "rolling"])),
    )
    return replace(course, restarts_m=restarts_m)


def random_rider(rng):
    rider = {
        "power_w": rng.uniform(120, 450),
        "mass_kg": rng.uniform(40, 130),
        "lean_deg": rng.uniform(20, 40),
        "pedal_lean_deg": rng.uniform(15, 28),
        "braking_g": rng.choice([0.25, 0.4, 0.6]),
        "coast_speed_mps": rng.choice([10.0, 12.0, 15.0, 20.0]),
        "start_force_n": rng.choice([150.0, 200.0, 400.0]),
        "cadence_low_rpm": rng.choice([20.0, 40.0, 50.0]),
        "cadence_top_rpm": rng.choice([70, 110.0, 130]),
        "coast_grade": rng.choice([-0.02, -0.07, -1]),
    }
    kind = rng.random()
    if kind < 0.3:
        rider |= {"cp_w": rng.uniform(100, 300), "wprime_j": rng.choice([4e3, 8e3, 15e3])}
    elif kind < 0.6:
        rider |= {"cp_w": 200.0, "wprime_j": rng.choice([4e3, 8e3])}
        rider |= {"max_power_w": rng.uniform(400, 1000)}
    if rng.random() < 0.3:
        rider |= {"decline_after_s": rng.choice([200.0, 300.0])}
        rider |= {"decline_per_log": rng.choice([0.05, 0.2, 0.6])}
    if rng.random() < 0.3:
        rider |= {"pedal_delay_s": 1.0}
    positions = {"climbing_factor": rng.uniform(1, 1.3), "tuck_factor": rng.uniform(0.7, 1.0)}
    if rng.random() < 0.3:
        positions |= {"standing_factor": 1.2, "standing_power_w": rng.uniform(150, 400)}
    return rider, positions


def random_weather(rng):
    weather = {
        "wind_mps": rng.choice([0, rng.uniform(0, 8), rng.uniform(5, 25)]),
        "wind_from_deg": rng.uniform(0, 360),
        "is_wet": bool(rng.random() < 0.3),
    }
    if rng.random() < 0.3:
        winds = tuple(
            WindAt(
                time_s=float(time_s),
                wind_mps=float(rng.uniform(0, 15)),
                wind_from_deg=float(rng.uniform(0, 360)),
            )
            for time_s in np.sort(rng.choice(np.arange(0, 400), 4, replace=False))
        )
        weather |= {"winds": winds, "wind_mps": winds[0].wind_mps}
        weather |= {"wind_from_deg": winds[0].wind_from_deg}
    return weather


@pytest.fixture(scope="module")
def thrown(hilly_setup, varied):
    """``thrown(seed)`` -> the arguments of a ride."""

    def throw(seed):
        rng = np.random.default_rng(seed)
        course = random_course(rng)
        rider, positions = random_rider(rng)
        weather = random_weather(rng)
        build = {
            "grip_dry": rng.choice([0.1, 0.3, 0.6, 1.0]),
            "grip_wet": rng.choice([0.1, 0.4]),
            "cda_m2": rng.uniform(0.18, 0.45),
            "crr": rng.uniform(0.002, 0.015),
            "wheel_inertia_kgm2": rng.uniform(0, 0.3),
        }
        setup = varied(hilly_setup, rider=rider, positions=positions, weather=weather, build=build)
        demand = constant_demand(course, setup.rider)
        if rng.random() < 0.3:
            shares = rng.uniform(0, 2, course.n_segments)
            demand = replace(demand, powers_w=demand.powers_w * shares)
        if rng.random() < 0.3:
            surge_w, surge_s = float(rng.uniform(20, 300)), float(rng.uniform(1, 20))
            demand = replace(demand, surge_w=surge_w, surge_s=surge_s)
        if rng.random() < 0.2:
            demand = replace(demand, coast_mps=float(rng.uniform(8, 15)))
        start_mps = float(rng.choice([0, 5, 10])) if rng.random() < 0.3 else None
        return course, setup, demand, start_mps

    return throw


@pytest.mark.parametrize("seed", range(40))
def test_alone_and_in_lock_step_a_ride_is_the_same_and_its_books_close(thrown, seed):
    course, setup, demand, start_mps = thrown(seed)
    nodes = np.arange(course.n_segments + 1)
    many_s = simulate_many(
        course=course, setups=[setup], demand=demand, marks=nodes, start_speed_mps=start_mps
    )[0, 0]
    try:
        ride = simulate(course=course, setup=setup, demand=demand, start_speed_mps=start_mps)
    except CannotFinish:
        assert np.isinf(many_s[-1])
        return
    assert many_s == pytest.approx(ride.node_times_s, rel=0.0, abs=1e-9)
    spent_s = np.diff(ride.node_times_s)
    assert (spent_s > 0.0).all()
    assert (ride.powers_w > -1e-9).all()
    total_j = np.abs(ride.energies_j).sum()
    assert ride.powers_w * spent_s == pytest.approx(ride.energies_j.sum(axis=0), abs=1e-6 * total_j)
    assert (ride.energies_j[5] > -1e-6 * total_j).all()
    assert (ride.node_speeds_mps <= ride.ceilings_mps * (1.0 + 1e-12)).all()
    if ride.node_reserves_j is not None:
        assert ride.node_reserves_j.min() >= 0.0
        assert ride.node_reserves_j.max() <= setup.rider.wprime_j * (1.0 + 1e-12)


# 52: a stiff climb; 62: a wind that turns; 265: a stop within a bend; the others as they come.
@pytest.mark.parametrize("seed", [2, 52, 62, 145, 265, 299])
@pytest.mark.parametrize("name", SCANNED)
def test_finish_time_has_no_noise(thrown, seed, name):
    """What a finite difference would see between neighbours that lie 1e-5 of the input apart.

    A bend of the curve shows in its second difference with one sign; a jump with two, one behind
    the other.
    """
    course, setup, demand, start_mps = thrown(seed)
    room, field = name.split(".")
    nominal = getattr(getattr(setup, room), field).value
    if nominal == 0.0:
        pytest.skip("a part of nothing is nothing")
    times_s = simulate_many(
        course=course,
        setups=[setup],
        demand=demand,
        draws=[{name: nominal * (1.0 + STEP * np.arange(-24, 25))}],
        start_speed_mps=start_mps,
    )[0, :, 0]
    bends_s = np.diff(times_s, 2)
    both_s = np.minimum(np.abs(bends_s[1:]), np.abs(bends_s[:-1]))
    assert np.isfinite(times_s).all()
    assert both_s[bends_s[1:] * bends_s[:-1] < 0.0].max(initial=0.0) < NOISE_S
