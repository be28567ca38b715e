"""Braking before a corner against the limits of pitching and of grip."""

import math

import numpy as np
import pytest

from simulator.course import course_from_arrays
from simulator.ride import simulate
from simulator.ride.prepare import LIFT_RATIO

G = 9.80665


def braking_in_g(setup, grade):
    """Deceleration that the ceilings before a sharp bend rest on, in g."""
    radii_m = np.where(np.arange(20) == 19, 4.0, np.inf)
    course = course_from_arrays(lengths_m=np.full(20, 2.0), grades=grade, radii_m=radii_m)
    ride = simulate(course=course, setup=setup, start_speed_mps=5.0)
    u = ride.ceilings_mps[16:20] ** 2
    slowing = -np.diff(u) / (2.0 * 2.0 * G)
    assert slowing == pytest.approx(slowing[0], rel=1e-9)
    return slowing[0]


@pytest.mark.parametrize(("grade", "printed_g"), [(0.0, 0.5217), (-0.10, 0.4196)])
def test_rear_wheel_lift(grade, printed_g, plain_setup, varied):
    # a = g (l/h cos - sin) falling at an angle, l 0.60 and h 1.15 m ([D] from the lever rule).
    assert pytest.approx(0.60 / 1.15) == LIFT_RATIO
    setup = varied(plain_setup, rider={"lean_deg": 40.0, "braking_g": 5.0}, build={"grip_dry": 5.0})
    assert braking_in_g(setup, grade) == pytest.approx(printed_g, abs=6e-5)


@pytest.mark.parametrize("grade", [-0.10, 0.0, 0.06])
def test_grip_limits_braking(grade, plain_setup, varied):
    # Sliding limit on a slope: a = g (mu cos + sin), uphill positive. AASHTO 1999 p. 40 takes
    # 0.25 for wet surfaces ([F]).
    setup = varied(
        plain_setup, rider={"lean_deg": 12.0, "braking_g": 5.0}, build={"grip_dry": 0.25}
    )
    angle = math.atan(grade)
    expected_g = 0.25 * math.cos(angle) + math.sin(angle)
    assert braking_in_g(setup, grade) == pytest.approx(expected_g, rel=1e-9)


def test_stopping_distance_of_the_aashto_guide(plain_setup, varied):
    # S = V²/(30 (f + G)) ft of braking (the guide adds 3.67 V for reaction): 20 mph, f 0.25,
    # level: 126.73 - 73.4 = 53.33 ft. Our ceiling falls by 20 mph within that.
    setup = varied(
        plain_setup, rider={"lean_deg": 12.0, "braking_g": 5.0}, build={"grip_dry": 0.25}
    )
    slowing_mps2 = braking_in_g(setup, 0.0) * G
    distance_ft = (20.0 * 0.44704) ** 2 / (2.0 * slowing_mps2) / 0.3048
    one_percent = 0.01
    assert distance_ft == pytest.approx(126.73 - 3.67 * 20.0, rel=one_percent)


def test_what_the_rider_is_willing_to_use_is_the_third_limit(plain_setup, varied):
    # 0.40 g is the low end of SAE 2020-01-0876 for both brakes on dry asphalt ([F]). Downhill the
    # brakes also carry the slope, so that the deceleration stays the same.
    setup = varied(
        plain_setup, rider={"lean_deg": 40.0, "braking_g": 0.40}, build={"grip_dry": 5.0}
    )
    assert braking_in_g(setup, 0.0) == pytest.approx(0.40, rel=1e-9)
    assert braking_in_g(setup, -0.05) == pytest.approx(0.40, rel=1e-9)
    # Uphill the slope helps on top.
    uphill_g = 0.40 + math.sin(math.atan(0.05))
    assert braking_in_g(setup, 0.05) == pytest.approx(uphill_g, rel=1e-9)
