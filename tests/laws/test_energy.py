"""Energy closes, and its parts are what they are called."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.course import course_from_arrays
from simulator.ride import ENERGY_CAUSES, simulate

SOME = settings(derandomize=True, deadline=None, max_examples=30)
A_MILLIONTH = 1.0e-6
G = 9.80665


@st.composite
def rides(draw):
    """Seed of a road, and changes to the setup: hills, bends, wind, start, W' or not."""
    return {
        "seed": draw(st.integers(0, 10_000)),
        "start": draw(st.sampled_from(["standing", "rolling"])),
        "rider": {
            "power_w": draw(st.floats(120.0, 420.0)),
            "mass_kg": draw(st.floats(50.0, 100.0)),
            "lean_deg": draw(st.floats(12.0, 40.0)),
            "pedal_lean_deg": draw(st.floats(8.0, 30.0)),
            "braking_g": draw(st.floats(0.1, 0.6)),
            "coast_speed_mps": draw(st.floats(6.0, 20.0)),
            **draw(
                st.sampled_from(
                    [
                        {},
                        {"cp_w": 180.0, "wprime_j": 3000.0},
                        {"cp_w": 220.0, "wprime_j": 6000.0, "max_power_w": 600.0},
                    ]
                )
            ),
        },
        "weather": {
            "wind_mps": draw(st.floats(0.0, 12.0)),
            "wind_from_deg": draw(st.floats(0.0, 360.0)),
        },
        "build": {"grip_dry": draw(st.floats(0.3, 1.0))},
    }


def road(seed, start):
    rng = np.random.default_rng(seed)
    n = 300
    i = np.arange(n)
    grades = 0.05 * np.sin(i / rng.uniform(8, 60)) + 0.03 * np.sin(i / rng.uniform(3, 15))
    radii_m = np.full(n, np.inf)
    for at in rng.choice(np.arange(10, n - 12), 8, replace=False):
        radii_m[at : at + rng.integers(1, 8)] = rng.uniform(6.0, 60.0)
    return course_from_arrays(
        lengths_m=rng.uniform(2.0, 8.0, n),
        grades=grades,
        headings_rad=np.cumsum(rng.normal(0.0, 0.15, n)),
        shelters=rng.uniform(0.2, 1.0, n),
        crr_factors=rng.uniform(0.9, 1.5, n),
        radii_m=radii_m,
        start=start,
    )


@SOME
@given(case=rides())
def test_energy_closes_and_its_parts_are_true(case, hilly_setup, varied):
    course = road(case["seed"], case["start"])
    setup = varied(hilly_setup, **{k: case[k] for k in ("rider", "weather", "build")})
    ride = simulate(course=course, setup=setup)
    by_cause = dict(zip(ENERGY_CAUSES, ride.energies_j, strict=True))
    total_j = np.abs(ride.energies_j).sum()
    tolerance_j = A_MILLIONTH * total_j

    # On the whole and on every segment.
    in_j = ride.powers_w * np.diff(ride.node_times_s)
    assert abs(in_j.sum() - ride.energies_j.sum()) < tolerance_j
    assert np.abs(in_j - ride.energies_j.sum(axis=0)).max() < tolerance_j

    # Height and speed know nothing of the integrator's sums.
    mass_kg = sum(u.value for u in (setup.rider.mass_kg, setup.rider.kit_kg, setup.build.mass_kg))
    moving_kg = mass_kg + setup.build.wheel_inertia_kgm2.value / setup.build.wheel_radius_m**2
    rises_m = np.diff(course.node_heights_m)
    assert by_cause["climbing"] == pytest.approx(mass_kg * G * rises_m, abs=tolerance_j)
    kinetic_j = 0.5 * moving_kg * np.diff(ride.node_speeds_mps**2)
    assert by_cause["kinetic"] == pytest.approx(kinetic_j, abs=tolerance_j)
    rolling_j = (
        setup.build.crr.value * course.crr_factors * mass_kg * G * course.lengths_m
        / np.sqrt(1.0 + course.grades**2)
    )  # fmt: skip
    assert by_cause["rolling"] == pytest.approx(rolling_j, abs=tolerance_j)
    loss_j = (1.0 - setup.build.drivetrain_efficiency.value) * in_j
    assert by_cause["drivetrain"] == pytest.approx(loss_j, abs=tolerance_j)

    # Signs.
    # Where the ride meets a ceiling, the rounding of that place is booked with the brakes.
    assert by_cause["braking"].min() >= -tolerance_j
    assert (by_cause["bearings"] > 0.0).all()
    assert (ride.powers_w >= -1e-9).all()

    # Speed: never NaN, zero or negative behind the start, never above the ceiling.
    assert np.isfinite(ride.node_speeds_mps).all()
    assert (ride.node_speeds_mps[1:] > 0.0).all()
    assert (ride.node_speeds_mps <= ride.ceilings_mps * (1.0 + 1e-12)).all()
    assert (np.diff(ride.node_times_s) > 0.0).all()
    if ride.node_reserves_j is not None:
        assert ride.node_reserves_j.min() >= -1e-6
        assert ride.node_reserves_j.max() <= setup.rider.wprime_j * (1.0 + 1e-12)


def test_air_energy_is_the_integral_of_its_force(plain_setup, varied, even_course):
    # Coasting to a stop from 12 m/s, flat: all kinetic energy goes into air and rolling; the air
    # share has a closed form, E = m v0²/2 - R s.
    setup = varied(plain_setup, rider={"power_w": 0.0})
    ride = simulate(course=even_course(400.0), setup=setup, start_speed_mps=12.0)
    by_cause = dict(zip(ENERGY_CAUSES, ride.energies_j.sum(axis=1), strict=True))
    rolling_n = 80.0 * G * 0.004
    end_u = ((rolling_n + 0.18 * 144.0) * math.exp(-2 * 0.18 * 400.0 / 80.0) - rolling_n) / 0.18
    air_j = 40.0 * (144.0 - end_u) - rolling_n * 400.0
    assert by_cause["air"] == pytest.approx(air_j, rel=1e-6)


def test_steady_power_splits_as_the_closed_form_says(plain_setup, even_course, steady_speed):
    # f = k v³/P = 0.866482 of 250 W goes into the air on the flat.
    v = steady_speed(power_w=250.0)
    ride = simulate(course=even_course(1000.0), setup=plain_setup, start_speed_mps=v)
    by_cause = dict(zip(ENERGY_CAUSES, ride.energies_j.sum(axis=1), strict=True))
    assert by_cause["air"] / ride.work_j == pytest.approx(0.866482, abs=1e-6)
    assert by_cause["rolling"] / ride.work_j == pytest.approx(1.0 - 0.866482, abs=1e-6)
    assert by_cause["kinetic"] == pytest.approx(0.0, abs=1e-6)
