"""The force model turned round: power from speeds, and the rider who cannot give it."""

import numpy as np
import pytest

from simulator.ride import Wheel, follow, follow_draws, simulate
from simulator.setup import WindAt

LOST_M = 10.0


@pytest.fixture
def racer(hilly_setup, varied):
    return varied(hilly_setup, rider={"cp_w": 250.0, "wprime_j": 16_000.0, "max_power_w": 850.0})


def wheel_of(ride, factor=1.0):
    n = ride.course.n_segments
    return Wheel(
        course=ride.course,
        node_speeds_mps=ride.node_speeds_mps,
        factors=np.full(n, factor),
        gaps_m=np.zeros(n),
    )


def test_speeds_of_a_ride_need_the_power_it_was_ridden_with(hilly_setup, rolling_course):
    # Solo (factor 1), the same rider: what comes out is what went in, segment by segment, but
    # where the rider braked or coasted.
    ride = simulate(course=rolling_course(1200), setup=hilly_setup)
    back = follow(wheel_of(ride), hilly_setup, lost_m=LOST_M)
    pedals = ride.powers_w > 20.0
    assert pedals.sum() > 800
    assert back.needed_w[pedals] == pytest.approx(ride.powers_w[pedals], rel=2e-3, abs=0.5)
    assert back.node_times_s[-1] == pytest.approx(ride.time_s, rel=1e-5)
    assert back.lost_at_m is None


def test_shelter_on_the_flat_saves_its_share_of_the_air(plain_setup, even_course, steady_speed):
    course = even_course(3000.0)
    v = steady_speed(power_w=250.0)
    wheel = Wheel(
        course=course,
        node_speeds_mps=np.full(601, v),
        factors=np.full(600, 0.62),
        gaps_m=np.zeros(600),
    )
    needed_w = follow(wheel, plain_setup, lost_m=LOST_M).needed_w
    # Closed form: 250 W = R v + k v³ (CHECKS.md closed form 1: k 0.18, R 3.138128).
    assert needed_w == pytest.approx(3.138128 * v + 0.62 * 0.18 * v**3, rel=1e-6)


@pytest.mark.parametrize(
    ("gap_m", "share"), [(0.0, 0.0), (1.0, 0.0348), (2.0, 0.16), (3.0, 0.3756)]
)
def test_a_gap_costs_shelter_as_olds_says(gap_m, share, plain_setup, even_course, steady_speed):
    # CF = 0.62 - 0.0104 d + 0.0452 d² (Olds 1998, from memory [M-hi]); 3 m: 0.9956.
    course = even_course(500.0)
    v = steady_speed(power_w=250.0)
    wheel = Wheel(
        course=course,
        node_speeds_mps=np.full(101, v),
        factors=np.full(100, 0.62),
        gaps_m=np.full(100, gap_m),
    )
    needed_w = follow(wheel, plain_setup, lost_m=LOST_M).needed_w
    assert needed_w == pytest.approx(3.138128 * v + (0.62 + share) * 0.18 * v**3, rel=1e-3)


def test_a_strong_rider_holds_the_wheel_and_spends_what_is_above_cp(
    racer, even_course, varied, steady_speed
):
    course = even_course(2000.0)
    fast = varied(racer, rider={"power_w": 280.0, "cp_w": None, "wprime_j": None})
    ride = simulate(course=course, setup=fast, start_speed_mps=11.0)
    held = follow(wheel_of(ride), racer, lost_m=LOST_M)
    assert held.lost_at_m is None
    assert held.node_lags_m.max() < 0.5
    spent_j = 16_000.0 - held.node_reserves_j[-1]
    assert spent_j == pytest.approx(30.0 * ride.time_s, rel=0.02)


def test_an_empty_rider_is_dropped_and_a_better_place_keeps_them(racer, even_course, varied):
    course = even_course(15_000.0)
    fast = varied(racer, rider={"power_w": 330.0, "cp_w": None, "wprime_j": None})
    ride = simulate(course=course, setup=fast, start_speed_mps=12.0)
    dropped = follow(wheel_of(ride), racer, lost_m=LOST_M)
    # 16 kJ at 80 W above critical power last 200 s, some 2.4 km.
    assert 2000.0 < dropped.lost_at_m < 4000.0
    i = np.searchsorted(course.node_distances_m, dropped.lost_at_m)
    assert dropped.node_lags_m[i + 1] > LOST_M
    assert dropped.given_w[i + 5 :] == pytest.approx(0.0)
    assert follow(wheel_of(ride, 0.6), racer, lost_m=LOST_M).lost_at_m is None


def test_draws_agree_with_single_rides(racer, even_course, varied):
    course = even_course(6000.0)
    fast = varied(racer, rider={"power_w": 290.0, "cp_w": None, "wprime_j": None})
    wheel = wheel_of(simulate(course=course, setup=fast, start_speed_mps=11.5))
    forms = np.array([1.0, 0.8, 1.2, 0.9])
    reserves = np.array([1.0, 1.3, 1.5, 0.8])
    draws = {"build.cda_m2": np.array([0.31, 0.31, 0.36, 0.28])}
    (lost,) = follow_draws(
        wheel, [racer], [draws], lost_m=LOST_M, cp_factors=forms, wprime_factors=reserves
    )
    for j, form in enumerate(forms):
        one = varied(
            racer,
            rider={"cp_w": 250.0 * form, "wprime_j": 16_000.0 * reserves[j]},
            build={"cda_m2": float(draws["build.cda_m2"][j])},
        )
        single = follow(wheel, one, lost_m=LOST_M).lost_at_m is not None
        assert bool(lost[j]) == single
    assert lost.any()
    assert not lost.all()


def test_the_wind_of_the_moment_is_met(racer, even_course, varied):
    # A ride in a wind that turns from behind to ahead: at its speeds its own power is needed.
    course = even_course(8000.0)
    fast = varied(racer, rider={"power_w": 240.0, "cp_w": None, "wprime_j": None})
    winds = tuple(
        WindAt(time_s=t, wind_mps=w, wind_from_deg=d)
        for t, w, d in ((0.0, 3.0, 180.0), (300.0, 4.0, 90.0), (700.0, 6.0, 10.0))
    )
    weather = {"wind_mps": 3.0, "wind_from_deg": 180.0, "winds": winds}
    setup = varied(fast, weather=weather)
    wheel = wheel_of(simulate(course=course, setup=setup, start_speed_mps=11.0))
    needed_w = follow(wheel, setup, lost_m=LOST_M).needed_w
    assert needed_w[5:-5] == pytest.approx(240.0, abs=1.0)
    # The start's wind alone would be far off.
    steady = varied(fast, weather={**weather, "winds": ()})
    assert abs(follow(wheel, steady, lost_m=LOST_M).needed_w[-100:].mean() - 240.0) > 50.0


def test_a_table_of_one_wind_is_that_wind(racer, even_course, varied):
    course = even_course(3000.0)
    wheel = wheel_of(simulate(course=course, setup=racer, start_speed_mps=10.0))
    wind = {"wind_mps": 5.0, "wind_from_deg": 60.0}
    same = tuple(WindAt(time_s=t, **wind) for t in (0.0, 100.0))
    steady = follow(wheel, varied(racer, weather=wind), lost_m=LOST_M)
    told = follow(wheel, varied(racer, weather={**wind, "winds": same}), lost_m=LOST_M)
    assert told.needed_w == pytest.approx(steady.needed_w, rel=1e-12)
    # Drawn winds scale and turn the table as they do the steady wind.
    draws = {
        "weather.wind_mps": np.array([2.0, 9.0, 9.0]),
        "weather.wind_from_deg": np.array([200.0, 90.0, 0.0]),
    }
    ones = np.ones(3)
    lost = [
        follow_draws(
            wheel, [varied(racer, weather=w)], [draws], lost_m=LOST_M, cp_factors=ones,
            wprime_factors=ones,
        )
        for w in (wind, {**wind, "winds": same})
    ]  # fmt: skip
    assert np.array_equal(*lost)
    assert lost[0].tolist() == [[False, True, True]]
