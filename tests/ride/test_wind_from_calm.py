"""A wind that may come up on a calm day counts, whatever else changes during the ride."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.pacing import constant_demand
from simulator.ride import simulate_many

WINDS_MPS = np.array([0.0, 2.0, 5.0, 9.0])


@pytest.mark.parametrize("wind_mps", [0.0, 4.0])
def test_draws_of_wind_count_beside_surges(hilly_setup, varied, rolling_course, wind_mps):
    # No corner, no surge: the rule changes nothing but the way the ride is computed.
    course = rolling_course(400)
    setup = varied(hilly_setup, weather={"wind_mps": wind_mps, "wind_from_deg": 60.0})
    plain = constant_demand(course, setup.rider)
    surging = replace(plain, surge_w=100.0, surge_s=5.0)
    draws = [{"weather.wind_mps": WINDS_MPS}]
    expected_s, times_s = (
        simulate_many(course=course, setups=[setup], demand=demand, draws=draws)[0, :, 0]
        for demand in (plain, surging)
    )
    assert times_s == pytest.approx(expected_s, abs=1e-9)
    assert np.ptp(times_s) > 1.0
