"""Finish time has no jumps: a hair more of any input moves it by a hair.

A range of each input is scanned in which regimes switch (where brakes come on, where power fades,
which corner limits). Intervals that stand out are searched down to a width of 1e-9 of the range:
what is left of the change there is a jump, and the noise of any finite difference.
"""

import numpy as np
import pytest

from simulator.course import course_from_arrays
from simulator.pacing import constant_demand
from simulator.ride import simulate, simulate_many

FINITE_DIFFERENCE_NOISE_S = 1.0e-6


def largest_jump_s(times_s_of, low, high, *, n=240, searched=5, rounds=4, parts=30):
    """Largest change of time that does not shrink with the interval.

    `times_s_of` takes an array of values and returns their times.
    """
    values = np.linspace(low, high, n + 1)
    rises = np.diff(times_s_of(values))
    around = np.convolve(np.pad(rises, 2, mode="edge"), [0.25, 0.25, 0, 0.25, 0.25], "valid")
    jumps = []
    for i in np.argsort(-np.abs(rises - around))[:searched]:
        a, b = values[i], values[i + 1]
        for _ in range(rounds):
            grid = np.linspace(a, b, parts + 1)
            changes = np.diff(times_s_of(grid))
            j = int(np.argmax(np.abs(changes - np.median(changes))))
            a, b = grid[j], grid[j + 1]
        jumps.append(abs(changes[j] - np.median(changes)))
    return max(jumps)


def test_the_search_itself_finds_a_hidden_jump_and_forgives_a_kink():
    def kinked(x):
        return 500.0 - 3.0 * x + 0.2 * x**2 + 0.5 * np.abs(x - 1.02)

    assert largest_jump_s(kinked, 0.95, 1.05) < 1.0e-7
    assert largest_jump_s(lambda x: kinked(x) + 5e-6 * (x > 0.9787), 0.95, 1.05) > 4.0e-6


DRAWN = {
    "rider.mass_kg": 72.0,
    "rider.power_w": 240.0,
    "build.cda_m2": 0.31,
    "build.crr": 0.0042,
    "build.wheel_inertia_kgm2": 0.14,
    "build.wheel_drag_area_m2": 0.0044,
    "build.bearing_factor": 1.0,
    "build.drivetrain_efficiency": 0.95,
    "build.grip_dry": 0.6,
    "weather.wind_mps": 6.0,
    "weather.wind_from_deg": 230.0,
    "weather.temperature_degc": 18.0,
    "weather.pressure_hpa": 1008.0,
}

RESERVES = {
    "no W'": {},
    "W'": {"cp_w": 215.0, "wprime_j": 5000.0, "max_power_w": 700.0},
    "W' without a maximum": {"cp_w": 215.0, "wprime_j": 3000.0},
}


@pytest.mark.parametrize("reserve", RESERVES.values(), ids=RESERVES.keys())
@pytest.mark.parametrize("name", DRAWN)
def test_no_jump_in_what_is_drawn(name, reserve, hilly_setup, varied, cornered_course):
    # 3 km, ten bends, hills of 6 %, from a standstill, in wind.
    course = cornered_course(3000.0, start="standing", hills=1.2)
    rider = {"lean_deg": 30.0, "pedal_lean_deg": 22.0, **reserve}
    setup = varied(hilly_setup, rider=rider)

    def times_s_of(values):
        draws = [{name: np.asarray(values)}]
        return simulate_many(course=course, setups=[setup], draws=draws)[0, :, 0]

    nominal = DRAWN[name]
    jump_s = largest_jump_s(times_s_of, 0.95 * nominal, 1.05 * nominal)
    assert jump_s < FINITE_DIFFERENCE_NOISE_S


@pytest.mark.parametrize(
    ("field", "nominal"),
    [
        ("lean_deg", 30.0),
        ("pedal_lean_deg", 22.0),
        ("braking_g", 0.4),
        ("coast_speed_mps", 11.0),
        ("start_force_n", 220.0),
        ("cadence_low_rpm", 40.0),
        ("cadence_top_rpm", 80.0),
    ],
)
def test_no_jump_in_the_rider_s_limits(field, nominal, hilly_setup, varied, cornered_course):
    course = cornered_course(2000.0, start="standing", hills=1.2)
    base = varied(hilly_setup, rider={"lean_deg": 30.0, "pedal_lean_deg": 22.0})

    def times_s_of(values):
        return np.array(
            [
                simulate(course=course, setup=varied(base, rider={field: float(x)})).time_s
                for x in values
            ]
        )

    jump_s = largest_jump_s(times_s_of, 0.97 * nominal, 1.03 * nominal, n=100, searched=3)
    assert jump_s < FINITE_DIFFERENCE_NOISE_S


@pytest.mark.parametrize("name", ["rider.mass_kg", "rider.power_w", "build.crr", "build.cda_m2"])
def test_no_jump_where_the_ride_is_slow_and_stiff(name, hilly_setup):
    # 8 to 17 %, near the lowest gear: the steps are taken apart, and how finely depends on
    # the input; the count itself must not show.
    n = 200
    s_m = (np.arange(n) + 0.5) * 5.0
    course = course_from_arrays(
        lengths_m=np.full(n, 5.0), grades=0.125 + 0.045 * np.sin(s_m / 110.0), start="standing"
    )

    def times_s_of(values):
        draws = [{name: np.asarray(values)}]
        return simulate_many(course=course, setups=[hilly_setup], draws=draws)[0, :, 0]

    nominal = DRAWN[name]
    jump_s = largest_jump_s(times_s_of, 0.97 * nominal, 1.03 * nominal, n=120, searched=3)
    assert jump_s < FINITE_DIFFERENCE_NOISE_S


@pytest.mark.parametrize("name", ["rider.mass_kg", "build.cda_m2", "rider.power_w"])
def test_derivatives_do_not_depend_on_the_step(name, hilly_setup, varied, cornered_course):
    # What optimisation and inference need: central differences with relative steps of 1e-5 and
    # 1e-4 agree to one in a thousand.
    course = cornered_course(3000.0, hills=1.2)
    nominal = DRAWN[name]

    def slope(step):
        values = nominal * np.array([1.0 - step, 1.0 + step])
        draws = [{name: values}]
        low, high = simulate_many(course=course, setups=[hilly_setup], draws=draws)[0, :, 0]
        return (high - low) / (2.0 * step)

    assert slope(1e-5) == pytest.approx(slope(1e-4), rel=1e-3)


def test_changing_the_demand_is_smooth_too(hilly_setup, rolling_course):
    # `simulate` cuts slow segments by the demand. On ordinary roads the cut never shows.
    course = rolling_course(600)

    def times_s_of(values):
        rides = (constant_demand(course, hilly_setup.rider, power_w=float(x)) for x in values)
        return np.array(
            [simulate(course=course, setup=hilly_setup, demand=d).time_s for d in rides]
        )

    jump_s = largest_jump_s(times_s_of, 200.0, 280.0, n=160, searched=3, rounds=3)
    assert jump_s < FINITE_DIFFERENCE_NOISE_S
