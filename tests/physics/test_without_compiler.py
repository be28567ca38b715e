"""The kernels are plain Python too: without the compiler they give the same rides."""

import json
import os
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from simulator.course import course_from_arrays
from simulator.errors import CannotFinish
from simulator.ride import simulate, simulate_many
from simulator.setup import Build, RideSetup, Uncertain, default_rider, default_weather

A_NANOSECOND = 1.0e-9


def rides():
    """Times of small rides that reach every branch: start, bend, braking, W', a stop."""
    n = 40
    i = np.arange(n)
    course = course_from_arrays(
        lengths_m=np.full(n, 5.0),
        grades=0.05 * np.sin(i / 5.0),
        headings_rad=i / 10.0,
        radii_m=np.where((i > 24) & (i < 28), 9.0, np.inf),
        start="standing",
    )
    rider = replace(
        default_rider(), cp_w=180.0, wprime_j=1500.0, max_power_w=500.0, power_w=Uncertain(260.0)
    )
    weather = replace(default_weather(), wind_mps=Uncertain(4.0), wind_from_deg=Uncertain(200.0))
    build = Build(
        name="small",
        mass_kg=Uncertain(8.0),
        cda_m2=Uncertain(0.3),
        yaw_degs=(0.0, 15.0, 30.0),
        cda_factors=(1.0, 0.97, 1.1),
        wheel_drag_area_m2=Uncertain(0.004),
        crr=Uncertain(0.004),
        wheel_inertia_kgm2=Uncertain(0.14),
        wheel_radius_m=0.334,
        bearing_factor=Uncertain(1.0),
        drivetrain_efficiency=Uncertain(0.976),
        chainrings=(34, 50),
        sprockets=(11, 30),
        grip_dry=Uncertain(0.8),
        grip_wet=Uncertain(0.5),
        price=None,
        source="test",
    )
    setup = RideSetup(rider=rider, build=build, weather=weather)
    ride = simulate(course=course, setup=setup)
    wall = course_from_arrays(lengths_m=np.full(10, 5.0), grades=0.4)
    try:
        simulate(course=wall, setup=setup)
        stop = "none"
    except CannotFinish as error:
        stop = str(error)
    return {
        "times_s": ride.node_times_s.tolist(),
        "braked_j": float(ride.energies_j[5].sum()),
        "reserve_j": float(ride.node_reserves_j[-1]),
        "stop": stop,
        "batch_s": simulate_many(course=course, setups=[setup]).ravel().tolist(),
        "wall_s": repr(simulate_many(course=wall, setups=[setup]).ravel().tolist()),
    }


def test_same_rides_without_the_compiler():
    compiled = rides()
    assert compiled["braked_j"] > 50.0
    assert compiled["reserve_j"] < 1400.0
    assert compiled["wall_s"] == "[inf]"
    # Division by zero is left to the compiler's rule (infinite), as numpy does without it.
    done = subprocess.run(
        [sys.executable, "-W", "ignore::RuntimeWarning", __file__],
        env={**os.environ, "NUMBA_DISABLE_JIT": "1"},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    plain = json.loads(done.stdout)
    assert plain["times_s"] == pytest.approx(compiled["times_s"], abs=A_NANOSECOND)
    assert plain["braked_j"] == pytest.approx(compiled["braked_j"], abs=1e-6)
    assert plain["reserve_j"] == pytest.approx(compiled["reserve_j"], abs=1e-6)
    assert plain["batch_s"] == pytest.approx(compiled["batch_s"], abs=A_NANOSECOND)
    assert (plain["stop"], plain["wall_s"]) == (compiled["stop"], compiled["wall_s"])
    assert "cannot pass km" in plain["stop"]


if __name__ == "__main__":
    sys.stdout.write(json.dumps(rides()))
