"""docs/limits.md: its table is what is ridden, its files are there, its claims stand in tests."""

import re
import sys
from pathlib import Path

import numpy as np
import pytest

from simulator import make_build, make_course, make_rider, make_weather, ride_build
from simulator.ride import simulate
from simulator.setup import RideSetup

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "docs"))

import make_limits  # noqa: E402

PAGE = (ROOT / "docs" / "limits.md").read_text(encoding="utf-8")


@pytest.mark.slow
def test_the_table_is_what_the_script_rides():
    assert make_limits.page_text() == PAGE, "run `python docs/make_limits.py`"


def test_every_file_and_page_named_is_there():
    for name in re.findall(r"`((?:simulator|tests)/[\w/.]+)`", PAGE):
        assert (ROOT / name).exists(), name
    for target in re.findall(r"\]\(([^)#]+)\)", PAGE):
        assert (ROOT / "docs" / target).exists(), target


def test_sizes_told_are_those_that_tests_hold():
    """Figures that stand in a test as its tolerance; who changes one finds the other here."""
    heights = (ROOT / "tests" / "course" / "test_time_error.py").read_text(encoding="utf-8")
    assert "TARGET_SHARE = 0.003" in heights
    for source, share in re.findall(r'\("(\w+)", (0\.\d+)\)', heights):
        assert f"{100.0 * float(share):.1f} % with" in PAGE, source
    oracle = (ROOT / "tests" / "oracle" / "test_tight_solution.py").read_text(encoding="utf-8")
    assert "MILLISECOND = 0.001" in oracle
    assert "0.001 s in an hour" in PAGE
    coverage = (ROOT / "docs" / "fieldtest-coverage.md").read_text(encoding="utf-8")
    biases = [abs(float(b)) for b in re.findall(r"([+-]0\.\d+) ± ", coverage)]
    assert max(biases) <= float(re.search(r"at most (0\.\d+) of an uncertainty", PAGE)[1])


def test_the_caution_is_there():
    assert "A predicted speed is never advice to ride it." in PAGE


SLIPPERY = {"name": "x", "mass_kg": 8.0, "cda_m2": 0.1, "crr": 0.002, "wheel_drag_area_m2": 0.0}
KMH = 3.6


def test_nobody_rides_faster_than_180():
    course = make_course(lengths_m=np.full(1000, 5.0), grades=-0.35)
    heavy = make_rider(mass_kg=150.0)
    ride = ride_build(course, make_build(**SLIPPERY), rider=heavy)
    assert ride.speeds_mps.max() * KMH == pytest.approx(180.0)


def test_a_start_too_fast_for_the_first_corner_is_cut():
    radii_m = np.full(200, np.inf)
    radii_m[3:10] = 10.0
    course = make_course(lengths_m=np.full(200, 5.0), grades=0.0, radii_m=radii_m)
    setup = RideSetup(rider=make_rider(), build=make_build(**SLIPPERY), weather=make_weather())
    ride = simulate(course=course, setup=setup, start_speed_mps=25.0)
    assert ride.node_speeds_mps[0] == ride.ceilings_mps[0] < 25.0


def test_wind_that_overtakes_the_rider_meets_the_drag_area_of_air_from_ahead():
    """A table over yaw changes nothing there, though the air comes from 180 degrees."""
    course = make_course(lengths_m=np.full(400, 5.0), grades=0.0)
    storm = make_weather(wind_kmh=90.0, wind_from_deg=180.0)
    yaw = {"angles_deg": [0.0, 10.0, 60.0], "factors": [1.0, 0.5, 0.2]}
    plain, bent = (
        ride_build(course, make_build(**SLIPPERY, **more), weather=storm, power_w=20.0)
        for more in ({}, {"yaw": yaw})
    )
    at_rider_mps = 25.0 * np.log(1.2 / 0.03) / np.log(10.0 / 0.03)
    assert plain.speeds_mps[5:].max() < at_rider_mps
    assert bent.time_s == pytest.approx(plain.time_s, rel=1e-9)
