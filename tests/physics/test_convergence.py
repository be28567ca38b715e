"""Finish time nears its limit as segments get shorter, also where regimes switch."""

import math

import numpy as np
import pytest

from simulator.ride import simulate

A_MILLISECOND = 1.0e-3


def test_first_order_or_better_where_ceilings_switch(hilly_setup, varied, cornered_course):
    # 3 km with ten bends: brakes come on and go off inside segments, curvature is sampled at their
    # middles. Halving the segments must at least halve what is left.
    setup = varied(hilly_setup, rider={"lean_deg": 30.0, "pedal_lean_deg": 22.0})
    times_s = np.array(
        [
            simulate(course=cornered_course(3000.0, step_m=h), setup=setup).time_s
            for h in (8.0, 4.0, 2.0, 1.0, 0.5, 0.25)
        ]
    )
    left_s = np.abs(times_s[:-2] - times_s[-1])
    order = np.polyfit(np.log([8.0, 4.0, 2.0, 1.0]), np.log(left_s), 1)[0]
    assert order > 0.95
    # 5 m segments, as courses have: a twentieth of a second a bend at most.
    at_5_m = simulate(course=cornered_course(3000.0, step_m=5.0), setup=setup).time_s
    assert abs(at_5_m - times_s[-1]) < 0.05 * 10


@pytest.mark.parametrize("limit", ["top cadence", "lean", "W' runs out"])
def test_fading_power_is_followed_at_any_segment_length(limit, plain_setup, varied, even_course):
    # Where power fades within a few centimetres a second, a plain step of 5 m would overshoot.
    rider, radii_m, start_mps = {
        "top cadence": ({"coast_speed_mps": 5.0, "power_w": 400.0}, math.inf, 4.0),
        "lean": ({"pedal_lean_deg": 22.0, "lean_deg": 30.0, "power_w": 450.0}, 5.0, 3.0),
        "W' runs out": (
            {"cp_w": 200.0, "wprime_j": 2000.0, "power_w": 400.0},
            math.inf,
            8.0,
        ),
    }[limit]
    setup = varied(plain_setup, rider=rider)
    times_s = [
        simulate(
            course=even_course(300.0, step_m=h, radii_m=radii_m),
            setup=setup,
            start_speed_mps=start_mps,
        ).time_s
        for h in (10.0, 5.0, 0.1)
    ]
    assert times_s[:2] == pytest.approx([times_s[2]] * 2, abs=A_MILLISECOND)


def test_standing_start_is_followed_at_any_segment_length(plain_setup, even_course):
    times_s = [
        simulate(course=even_course(200.0, step_m=h), setup=plain_setup, start_speed_mps=0.0).time_s
        for h in (20.0, 5.0, 0.5)
    ]
    assert times_s[:2] == pytest.approx([times_s[2]] * 2, abs=A_MILLISECOND)
