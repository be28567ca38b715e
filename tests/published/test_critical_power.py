"""Critical power and W': the hyperbola, Morton's third parameter, the differential balance."""

import math

import numpy as np
import pytest

from simulator.pacing import Demand
from simulator.ride import simulate

CP_W, WPRIME_J = 300.0, 20_000.0
A_MILLISECOND = 1.0e-3


@pytest.fixture
def limited(plain_setup, varied):
    def make(power_w, max_power_w=None):
        return varied(
            plain_setup,
            rider={
                "power_w": power_w,
                "cp_w": CP_W,
                "wprime_j": WPRIME_J,
                "max_power_w": max_power_w,
            },
        )

    return make


def time_at_full_power_s(ride, power_w):
    """When the power first falls below the wanted one, located by the W' that is left."""
    held = ride.powers_w > power_w * (1.0 - 1e-9)
    i_end = int(np.argmin(held))
    assert not held[i_end:].any()
    return ride.node_times_s[i_end], ride.node_times_s[i_end + 1]


@pytest.mark.parametrize(("power_w", "printed_s"), [(400.0, 171.4286), (500.0, 71.4286)])
def test_morton_s_three_parameters(power_w, printed_s, limited, even_course):
    # t = W'/(P-CP) - W'/(Pmax-CP), Pmax 1000 W (Morton 1996, from memory [M-hi]; [D]).
    ride = simulate(
        course=even_course(3500.0, step_m=1.0), setup=limited(power_w, 1000.0), start_speed_mps=12.0
    )
    before_s, after_s = time_at_full_power_s(ride, power_w)
    assert before_s <= printed_s + A_MILLISECOND
    assert after_s >= printed_s - A_MILLISECOND
    assert after_s - before_s < 0.1
    # Before it, W' has fallen in a straight line.
    full = ride.node_times_s < before_s
    spent_j = WPRIME_J - ride.node_reserves_j[full]
    assert spent_j == pytest.approx((power_w - CP_W) * ride.node_times_s[full], abs=0.01)


def test_w_prime_never_falls_below_zero_and_power_settles_at_cp(limited, even_course):
    ride = simulate(
        course=even_course(20_000.0), setup=limited(400.0, 1000.0), start_speed_mps=12.0
    )
    assert ride.node_reserves_j.min() >= 0.0
    assert ride.powers_w[-1] == pytest.approx(CP_W, abs=1e-6)
    above_j = (ride.powers_w - CP_W) @ np.diff(ride.node_times_s)
    assert above_j == pytest.approx(WPRIME_J, rel=1e-6)


def test_the_hyperbola_without_a_third_parameter(limited, even_course):
    # t = W'/(P-CP): 200 s at 400 W ([F] formula, [D]). Near the empty tank power is eased off,
    # so that full power ends a little early; all of W' is spent all the same.
    ride = simulate(course=even_course(4000.0), setup=limited(400.0), start_speed_mps=12.0)
    before_s, _ = time_at_full_power_s(ride, 400.0)
    five_seconds = 5.0
    assert 200.0 - five_seconds < before_s <= 200.0
    late = ride.node_times_s[1:] > 200.0 + 4 * five_seconds
    assert ride.powers_w[late] == pytest.approx(CP_W, abs=1.0)
    assert ride.node_reserves_j.min() >= 0.0


def test_recovery_of_the_differential_balance(limited, even_course):
    # W = W' - (W' - W0) e^(-(CP-P) t / W') below CP (Skiba 2015, [M-hi]); from empty, 200 s at
    # 200 W give 12642.411 J ([D]).
    assert WPRIME_J * (1 - math.exp(-1.0)) == pytest.approx(12642.411, abs=1e-3)
    course = even_course(12_000.0)
    hard = np.arange(course.n_segments) < 600
    demand = Demand(powers_w=np.where(hard, 420.0, 200.0), text="hard, then easy")
    ride = simulate(
        course=course, setup=limited(420.0, 2000.0), demand=demand, start_speed_mps=12.0
    )
    empty_j, empty_s = ride.node_reserves_j[600], ride.node_times_s[600]
    assert empty_j < 0.1 * WPRIME_J
    later_s = ride.node_times_s[600:] - empty_s
    expected_j = WPRIME_J - (WPRIME_J - empty_j) * np.exp(-(CP_W - 200.0) * later_s / WPRIME_J)
    assert ride.node_reserves_j[600:] == pytest.approx(expected_j, abs=0.05)
    assert later_s[-1] > 500.0
