"""Constant power against the best split of the same mean power, for two equal halves.

Closed form ([D]; the law behind it: with fixed time-mean power and no limits, k (v + w) v² is
the same on all stretches, so in calm air the speed is, as Maronski (J. Biomech. 27, 1994, 205)
found). 80 kg, CdA 0.30, Crr 0.004, rho 1.2, mean 250 W, 2 x 5 km, each half at its own steady
speed.
"""

import pytest

from simulator.ride import simulate

A_TENTH_OF_A_MILLISECOND = 1.0e-4


def ride_halves(setup, varied, even_course, halves):
    """Time, mean power over time and speeds of halves (grade, headwind, power, speed)."""
    time_s, work_j, speeds_mps = 0.0, 0.0, []
    for grade, headwind_mps, power_w, v in halves:
        ride = simulate(
            course=even_course(5000.0, grade),
            setup=varied(
                setup,
                rider={"power_w": power_w},
                weather={
                    "wind_mps": abs(headwind_mps),
                    "wind_from_deg": 0.0 if headwind_mps >= 0.0 else 180.0,
                },
            ),
            start_speed_mps=v,
        )
        time_s += ride.time_s
        work_j += ride.work_j
        speeds_mps.append(ride.node_speeds_mps[-1])
    return time_s, work_j / time_s, speeds_mps


CASES = {
    "one percent up, one percent down": (
        (0.01, 0.0),
        (-0.01, 0.0),
        (953.4406, (9.35306, 11.93728)),
        (940.1343, (10.63678, 10.63678), (333.445, 166.555)),
    ),
    "three metres a second against, then behind": (
        (0.0, 3.0),
        (0.0, -3.0),
        (962.5030, (8.827809, 12.622723)),
        (956.1741, (9.54820, 11.56028), (300.582, 188.759)),
    ),
}


@pytest.mark.parametrize("case", CASES.values(), ids=CASES.keys())
def test_both_columns_come_back(case, plain_setup, varied, even_course, steady_speed):
    first, second, constant, best = case
    for printed_s, printed_mps, powers_w in (
        (*constant, (250.0, 250.0)),
        best,
    ):
        halves = [
            (g, w, p, steady_speed(power_w=p, grade=g, headwind_mps=w))
            for (g, w), p in zip((first, second), powers_w, strict=True)
        ]
        time_s, mean_w, speeds_mps = ride_halves(plain_setup, varied, even_course, halves)
        assert time_s == pytest.approx(printed_s, abs=2 * A_TENTH_OF_A_MILLISECOND)
        assert speeds_mps == pytest.approx(list(printed_mps), abs=1e-5)
        assert mean_w == pytest.approx(250.0, abs=1e-3)


@pytest.mark.parametrize("case", CASES.values(), ids=CASES.keys())
def test_no_split_of_the_same_mean_power_beats_the_best_one(
    case, plain_setup, varied, even_course, steady_speed
):
    # Move power from one half to the other at the same mean over time: both ways lose.
    (g0, w0), (g1, w1), constant, (best_s, _, (best0_w, _)) = case
    for power0_w in (0.5 * (250.0 + best0_w), best0_w - 5.0, best0_w + 5.0):
        v0 = steady_speed(power_w=power0_w, grade=g0, headwind_mps=w0)
        low_w, high_w = 20.0, 400.0
        for _ in range(60):
            power1_w = 0.5 * (low_w + high_w)
            v1 = steady_speed(power_w=power1_w, grade=g1, headwind_mps=w1)
            mean_w = (power0_w / v0 + power1_w / v1) / (1 / v0 + 1 / v1)
            low_w, high_w = (power1_w, high_w) if mean_w < 250.0 else (low_w, power1_w)
        halves = [(g0, w0, power0_w, v0), (g1, w1, power1_w, v1)]
        time_s, mean_w, _ = ride_halves(plain_setup, varied, even_course, halves)
        assert mean_w == pytest.approx(250.0, abs=1e-6)
        assert best_s + A_TENTH_OF_A_MILLISECOND < time_s < constant[0]
