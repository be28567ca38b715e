"""Exact solutions of the force balance, each evaluated from the formula beside it.

m 80 kg, CdA 0.30 m², rho 1.2, so k = rho CdA / 2 = 0.18; Crr 0.004, g 9.80665; nothing else acts.
The printed figures are derived in double precision from these formulas ([D]); where a test can
evaluate the formula itself, it does, and the printed figure is the second witness.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from simulator.course import course_from_arrays
from simulator.errors import CannotFinish
from simulator.ride import simulate

M, K, G = 80.0, 0.18, 9.80665
R = M * G * 0.004

LAST_PRINTED_DIGIT_MPS = 2.0e-6
A_TENTH_OF_A_MILLISECOND = 1.0e-4
A_MILLISECOND = 1.0e-3
HALF_A_MILLIMETRE = 5.0e-4


def cubic_root(k, r, p):
    """v of k v³ + r v = p for r >= 0, by Cardano."""
    a, b = r / k, p / k
    root = math.sqrt((b / 2) ** 2 + (a / 3) ** 3)
    return np.cbrt(b / 2 + root) + np.cbrt(b / 2 - root)


@pytest.mark.parametrize(
    ("power_w", "printed_mps", "printed_40km_s"),
    [
        (100.0, 7.515682, 5322.205),
        (200.0, 9.796941, 4082.907),
        (250.0, 10.636752, 3760.547),
        (300.0, 11.366454, 3519.128),
        (400.0, 12.604408, 3173.493),
    ],
)
def test_flat_steady_speed_is_the_root_of_the_cubic(
    power_w, printed_mps, printed_40km_s, plain_setup, varied, even_course
):
    setup = varied(plain_setup, rider={"power_w": power_w})
    exact_mps = cubic_root(K, R, power_w)
    assert exact_mps == pytest.approx(printed_mps, abs=LAST_PRINTED_DIGIT_MPS)
    ride = simulate(course=even_course(40_000.0), setup=setup, start_speed_mps=exact_mps)
    assert ride.time_s == pytest.approx(printed_40km_s, abs=A_MILLISECOND)
    # From any other speed the ride settles there: nothing but the cubic holds it.
    for start_mps in (0.0, 5.0, 15.0):
        settled = simulate(course=even_course(6000.0), setup=setup, start_speed_mps=start_mps)
        assert settled.node_speeds_mps[-1] == pytest.approx(exact_mps, abs=LAST_PRINTED_DIGIT_MPS)


@pytest.mark.parametrize(
    ("headwind_mps", "printed_mps"),
    [(-5.0, 14.030767), (-3.0, 12.622723), (3.0, 8.827809), (5.0, 7.733865)],
)
def test_steady_speed_in_wind(headwind_mps, printed_mps, plain_setup, varied, even_course):
    # k (v + w) |v + w| v + R v = P at 250 W.
    setup = varied(
        plain_setup,
        weather={"wind_mps": abs(headwind_mps), "wind_from_deg": 0.0 if headwind_mps > 0 else 180},
    )
    ride = simulate(course=even_course(8000.0), setup=setup, start_speed_mps=10.0)
    v = ride.node_speeds_mps[-1]
    assert v == pytest.approx(printed_mps, abs=LAST_PRINTED_DIGIT_MPS)
    air_w = K * (v + headwind_mps) * abs(v + headwind_mps) * v
    assert air_w + R * v == pytest.approx(250.0, abs=1e-4)


def test_out_and_back_in_wind_costs_22_seconds_on_10_km(plain_setup, varied, even_course):
    # Each leg at its own steady speed: 962.5030 s in 3 m/s against 940.1366 s in calm.
    def legs_s(wind_mps):
        total_s = 0.0
        for wind_from_deg in (0.0, 180.0):
            setup = varied(
                plain_setup, weather={"wind_mps": wind_mps, "wind_from_deg": wind_from_deg}
            )
            settled = simulate(course=even_course(10_000.0), setup=setup, start_speed_mps=10.0)
            leg = simulate(
                course=even_course(5000.0),
                setup=setup,
                start_speed_mps=settled.node_speeds_mps[-1],
            )
            total_s += leg.time_s
        return total_s

    assert legs_s(0.0) == pytest.approx(940.1366, abs=A_TENTH_OF_A_MILLISECOND)
    assert legs_s(3.0) == pytest.approx(962.5030, abs=A_TENTH_OF_A_MILLISECOND)


@pytest.mark.parametrize(
    ("grade", "printed_mps", "printed_s_per_km", "per_kg_s", "no_drag_mps"),
    [
        (0.03, 7.030530, 142.2368, 0.8913, 9.376608),
        (0.05, 5.281703, 189.3329, 1.7495, 5.908507),
        (0.06, 4.631285, 215.9228, 2.1965, 4.988037),
        (0.08, 3.670235, 272.4621, 3.0696, 3.805707),
        (0.10, 3.018365, 331.3052, 3.9073, 3.079333),
        (0.12, 2.557126, 391.0641, 4.7179, 2.588286),
    ],
)
def test_climbs(
    grade, printed_mps, printed_s_per_km, per_kg_s, no_drag_mps, plain_setup, varied, even_course
):
    def kilometre_s(mass_kg):
        angle = math.atan(grade)
        hold_n = mass_kg * G * (math.sin(angle) + 0.004 * math.cos(angle))
        v = cubic_root(K, hold_n, 250.0)
        setup = varied(plain_setup, rider={"mass_kg": mass_kg})
        ride = simulate(course=even_course(1000.0, grade), setup=setup, start_speed_mps=v)
        assert ride.node_speeds_mps == pytest.approx(v, abs=1e-9)
        return ride.time_s, v

    time_s, v = kilometre_s(M)
    assert v == pytest.approx(printed_mps, abs=LAST_PRINTED_DIGIT_MPS)
    assert time_s == pytest.approx(printed_s_per_km, abs=A_TENTH_OF_A_MILLISECOND)
    assert kilometre_s(M + 1.0)[0] - time_s == pytest.approx(per_kg_s, abs=A_TENTH_OF_A_MILLISECOND)
    airless = varied(plain_setup, build={"cda_m2": 0.0})
    settled = simulate(course=even_course(6000.0, grade), setup=airless, start_speed_mps=4.0)
    assert settled.node_speeds_mps[-1] == pytest.approx(no_drag_mps, abs=LAST_PRINTED_DIGIT_MPS)


def test_sensitivities_of_steady_speed(plain_setup, varied, even_course):
    # dlnv/dlnP = 1/(1+2f), dlnv/dlnCdA = dlnv/dlnrho = -f/(1+2f), dlnv/dlnm = -(1-f)/(1+2f),
    # dv/dw = -2f/(1+2f) with f the share of air in the power: 0.866482 on the flat at 250 W.
    course = even_course(6000.0)

    def settled_mps(**changes):
        setup = varied(plain_setup, **changes)
        return simulate(course=course, setup=setup, start_speed_mps=10.6).node_speeds_mps[-1]

    def log_slope(room, name, value):
        h = 1.0e-4
        up, down = (settled_mps(**{room: {name: value * (1 + s * h)}}) for s in (1, -1))
        return (math.log(up) - math.log(down)) / (2 * h)

    v = settled_mps()
    share = K * v**3 / 250.0
    assert share == pytest.approx(0.866482, abs=1e-6)
    pressure_hpa = plain_setup.weather.pressure_hpa.value
    a_millionth = 1.0e-6
    assert log_slope("rider", "power_w", 250.0) == pytest.approx(0.365903, abs=a_millionth)
    assert log_slope("build", "cda_m2", 0.30) == pytest.approx(-0.317048, abs=a_millionth)
    assert log_slope("weather", "pressure_hpa", pressure_hpa) == pytest.approx(
        -0.317048, abs=a_millionth
    )
    assert log_slope("rider", "mass_kg", M) == pytest.approx(-0.048855, abs=a_millionth)
    head, tail = (settled_mps(weather={"wind_mps": 1e-3, "wind_from_deg": d}) for d in (0.0, 180.0))
    assert (head - tail) / 2e-3 == pytest.approx(-0.634097, abs=a_millionth)


def test_climbing_without_air_takes_time_in_proportion_to_mass(plain_setup, varied, even_course):
    # dt/t = dm/m exactly when air is left out: P = m g (...) v.
    def time_s(mass_kg):
        setup = varied(plain_setup, rider={"mass_kg": mass_kg}, build={"cda_m2": 0.0})
        angle = math.atan(0.08)
        v = 250.0 / (mass_kg * G * (math.sin(angle) + 0.004 * math.cos(angle)))
        return simulate(course=even_course(1000.0, 0.08), setup=setup, start_speed_mps=v).time_s

    assert time_s(88.0) / time_s(80.0) == pytest.approx(1.1, abs=1e-9)


def test_coast_down_on_the_flat(plain_setup, varied, even_course):
    # v = sqrt(R/k) tan(atan(v0 sqrt(k/R)) - t sqrt(kR)/m), s = m/2k ln((R+k v0²)/(R+k v²)).
    setup = varied(plain_setup, rider={"power_w": 0.0})

    def exact(s):
        v = math.sqrt(((R + K * 144.0) * math.exp(-2 * K * s / M) - R) / K)
        root = math.sqrt(K * R)
        t = (M / root) * (math.atan(12.0 * math.sqrt(K / R)) - math.atan(v * math.sqrt(K / R)))
        return t, v

    ten_s = simulate(course=even_course(104.544393), setup=setup, start_speed_mps=12.0)
    assert ten_s.time_s == pytest.approx(10.0, abs=1e-6)
    assert ten_s.node_speeds_mps[-1] == pytest.approx(9.133303, abs=LAST_PRINTED_DIGIT_MPS)

    nearly = simulate(course=even_course(493.0), setup=setup, start_speed_mps=12.0)
    assert nearly.time_s == pytest.approx(exact(493.0)[0], abs=A_MILLISECOND)
    assert nearly.node_speeds_mps[-1] == pytest.approx(exact(493.0)[1], abs=1e-4)
    # Standstill lies at 494.593732 m; a rider slower than 0.3 m/s is taken to have stopped.
    with pytest.raises(CannotFinish, match=r"km 0\.49 at 0 W"):
        simulate(course=even_course(495.0), setup=setup, start_speed_mps=12.0)


@pytest.mark.parametrize(
    ("grade", "terminal_mps", "v_20s", "s_20s", "v_500m", "t_500m"),
    [
        (-0.05, 14.150667, 7.962624, 84.60574, 13.384173, 56.242042),
        (-0.08, 18.171184, 12.244068, 134.48716, 17.186912, 43.798048),
    ],
)
def test_descent_from_rest(
    grade, terminal_mps, v_20s, s_20s, v_500m, t_500m, plain_setup, varied, even_course
):
    # v = vT tanh(t/tau), s = m/k ln cosh(t/tau), vT = sqrt(D/k), tau = m/sqrt(kD).
    setup = varied(plain_setup, rider={"power_w": 0.0})
    angle = math.atan(grade)
    drive_n = -M * G * (math.sin(angle) + 0.004 * math.cos(angle))
    assert math.sqrt(drive_n / K) == pytest.approx(terminal_mps, abs=LAST_PRINTED_DIGIT_MPS)
    for distance_m, time_s, v in ((s_20s, 20.0, v_20s), (500.0, t_500m, v_500m)):
        course = even_course(distance_m, grade)
        ride = simulate(course=course, setup=setup, start_speed_mps=0.0)
        assert ride.time_s == pytest.approx(time_s, abs=A_MILLISECOND)
        assert ride.node_speeds_mps[-1] == pytest.approx(v, abs=1e-5)
    far = simulate(course=even_course(5000.0, grade), setup=setup, start_speed_mps=0.0)
    assert far.node_speeds_mps[-1] == pytest.approx(terminal_mps, abs=LAST_PRINTED_DIGIT_MPS)


def test_terminal_speed_grows_with_the_root_of_mass(plain_setup, varied, even_course):
    # The heavier rider wins time downhill: vT ~ sqrt(m).
    def end_mps(mass_kg):
        setup = varied(plain_setup, rider={"power_w": 0.0, "mass_kg": mass_kg})
        ride = simulate(course=even_course(8000.0, -0.06), setup=setup)
        return ride.node_speeds_mps[-1]

    assert end_mps(100.0) / end_mps(64.0) == pytest.approx(1.25, abs=1e-6)


@pytest.mark.parametrize(
    ("time_s", "v_mps", "distance_m"),
    [(5.0, 6.123724, 20.412415), (10.0, 8.660254, 57.735027), (30.0, 15.0, 300.0)],
)
def test_constant_power_without_resistance(
    time_s, v_mps, distance_m, plain_setup, varied, even_course
):
    # From rest v = sqrt(2Pt/m), s = sqrt(8P/9m) t^1.5; 300 W. The force without limit at the
    # first instant is the hardest start an integrator can be given.
    setup = varied(plain_setup, rider={"power_w": 300.0}, build={"cda_m2": 0.0, "crr": 0.0})
    ride = simulate(course=even_course(distance_m), setup=setup, start_speed_mps=0.0)
    assert ride.time_s == pytest.approx(time_s, abs=A_MILLISECOND)
    assert ride.node_speeds_mps[-1] == pytest.approx(v_mps, abs=1e-4)


@pytest.mark.parametrize(
    ("distance_m", "v_mps", "time_s"),
    [
        (100.0, 9.35256255, 15.07029135),
        (250.0, 11.07487305, 29.52193213),
        (500.0, 11.71950498, 51.28670698),
        (1000.0, 11.85168177, 93.59763846),
    ],
)
def test_constant_power_against_drag_alone(
    distance_m, v_mps, time_s, plain_setup, varied, even_course
):
    # v³ = vt³ - (vt³ - v0³) e^(-3ks/m), vt = (P/k)^(1/3); t by its known integral; 300 W.
    vt = (300.0 / K) ** (1 / 3)
    assert (vt**3 * (1 - math.exp(-3 * K * distance_m / M))) ** (1 / 3) == pytest.approx(
        v_mps, abs=1e-8
    )
    setup = varied(plain_setup, rider={"power_w": 300.0}, build={"crr": 0.0})
    ride = simulate(course=even_course(distance_m), setup=setup, start_speed_mps=0.0)
    assert ride.node_speeds_mps[-1] == pytest.approx(v_mps, abs=1e-5)
    assert ride.time_s == pytest.approx(time_s, abs=A_MILLISECOND)


def test_thin_air_is_faster_by_the_cube_root(plain_setup, varied, even_course):
    # Drag alone: v ~ rho^(-1/3); 1.000 against 1.225 kg/m³ makes 1.069987.
    def settled_mps(density_kgm3):
        hpa = plain_setup.weather.pressure_hpa.value * density_kgm3 / 1.2
        setup = varied(plain_setup, build={"crr": 0.0}, weather={"pressure_hpa": hpa})
        ride = simulate(course=even_course(8000.0), setup=setup, start_speed_mps=11.0)
        return ride.node_speeds_mps[-1]

    assert settled_mps(1.000) / settled_mps(1.225) == pytest.approx(1.069987, abs=1e-6)


def test_doubling_the_course_from_steady_speed_doubles_the_time(
    plain_setup, even_course, steady_speed
):
    v = steady_speed(power_w=250.0, grade=0.02)
    one = simulate(course=even_course(5000.0, 0.02), setup=plain_setup, start_speed_mps=v)
    two = simulate(course=even_course(10_000.0, 0.02), setup=plain_setup, start_speed_mps=v)
    assert two.time_s == pytest.approx(2.0 * one.time_s, abs=1e-8)


def test_splitting_segments_changes_nothing(hilly_setup, rolling_course):
    # Everything at once: the same piecewise road with every segment cut into three.
    whole = rolling_course(1200)
    cut = course_from_arrays(
        lengths_m=np.repeat(whole.lengths_m, 3) / 3.0,
        grades=np.repeat(whole.grades, 3),
        headings_rad=np.repeat(whole.headings_rad, 3),
        shelters=np.repeat(whole.shelters, 3),
        roughnesses_m=np.repeat(whole.roughnesses_m, 3),
        crr_factors=np.repeat(whole.crr_factors, 3),
    )
    # One air for both: density is taken at the middle of a segment, which moves when it is cut.
    whole = replace(whole, node_heights_m=np.full(1201, 60.0))
    cut = replace(cut, node_heights_m=np.full(3601, 60.0))
    times_s = [simulate(course=c, setup=hilly_setup).node_times_s for c in (whole, cut)]
    assert times_s[1][::3] == pytest.approx(times_s[0], abs=A_TENTH_OF_A_MILLISECOND)


def test_reversing_a_calm_flat_course_changes_nothing(plain_setup, even_course, steady_speed):
    v = steady_speed(power_w=250.0)
    rng = np.random.default_rng(4)
    lengths_m = rng.uniform(2.0, 12.0, 300)
    headings_rad = np.cumsum(rng.normal(0.0, 0.2, 300))
    there = course_from_arrays(lengths_m=lengths_m, grades=0.0, headings_rad=headings_rad)
    back = course_from_arrays(
        lengths_m=lengths_m[::-1], grades=0.0, headings_rad=headings_rad[::-1] + math.pi
    )
    for start_mps in (v, 4.0):
        there_s, back_s = (
            simulate(course=c, setup=plain_setup, start_speed_mps=start_mps).time_s
            for c in (there, back)
        )
        # Only where the steps fall differs.
        assert there_s == pytest.approx(back_s, abs=A_MILLISECOND)
