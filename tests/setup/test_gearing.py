"""Speeds in gears: closed form and one hand calculation."""

import math
from pathlib import Path

import pytest

from simulator.setup import load_build, low_speed_mps, road_speed_mps, top_speed_mps

CONFIGS = Path(__file__).parents[2] / "configs"


def test_hand_calculation():
    # 90 turns a minute in 50 x 20 on a wheel that rolls 2.1 m: 1.5 / s x 2.5 x 2.1 m = 7.875 m/s.
    speed_mps = road_speed_mps(
        cadence_rpm=90.0, chainring=50, sprocket=20, wheel_radius_m=2.1 / (2 * math.pi)
    )
    assert speed_mps == pytest.approx(7.875, rel=1e-14)


def test_highest_and_lowest_gear_of_a_build():
    build = load_build(CONFIGS / "plover.toml")
    # 2.11 m x 115/60 x 50/11 and 2.11 m x 40/60 x 34/30.
    assert top_speed_mps(build, 115.0) == pytest.approx(18.3825757576, rel=1e-9)
    assert low_speed_mps(build, 40.0) == pytest.approx(1.5942222222, rel=1e-9)
