"""Corner speeds: friction and lean (textbook), AASHTO design tables, time lost in a corner.

Limits of a model, for comparing builds. A predicted speed is never advice to ride it.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from simulator.course import course_from_arrays
from simulator.physics.limits import corner_speed_squared
from simulator.ride import simulate

G = 9.80665
NO_LEAN_LIMIT = math.tan(math.radians(89.0))
NO_GRIP_LIMIT = 50.0
A_TENTH_OF_A_MILLISECOND = 1.0e-4
MPS_PER_MPH = 0.44704
M_PER_FT = 0.3048

# Highest speed in km/h, v = sqrt(mu g r) with g 9.81 ([D]).
RADII_M = (5.0, 10.0, 15.0, 20.0, 30.0, 50.0)
GRIP_KMH = {
    0.5: (17.83, 25.21, 30.88, 35.66, 43.67, 56.38),
    0.7: (21.09, 29.83, 36.54, 42.19, 51.67, 66.71),
    1.0: (25.21, 35.66, 43.67, 50.43, 61.76, 79.73),
}
LAST_PRINTED_DIGIT_KMH = 0.01


def flat_kmh(radius_m, grip, lean_tan):
    return 3.6 * math.sqrt(corner_speed_squared(1.0 / radius_m, 0.0, 1.0, grip, lean_tan))


@pytest.mark.parametrize("mu", GRIP_KMH)
def test_speed_from_grip(mu):
    for radius_m, printed_kmh in zip(RADII_M, GRIP_KMH[mu], strict=True):
        ours_kmh = flat_kmh(radius_m, mu, NO_LEAN_LIMIT) * math.sqrt(9.81 / G)
        assert ours_kmh == pytest.approx(printed_kmh, abs=LAST_PRINTED_DIGIT_KMH)


@pytest.mark.parametrize(
    ("mu", "lean_deg"), [(0.3, 16.70), (0.5, 26.57), (0.7, 34.99), (0.8, 38.66), (1.0, 45.00)]
)
def test_lean_and_grip_are_the_same_limit(mu, lean_deg):
    # tan(lean) = v²/(g r) = mu.
    lean_tan = math.tan(math.radians(lean_deg))
    by_lean = flat_kmh(20.0, NO_GRIP_LIMIT, lean_tan)
    by_grip = flat_kmh(20.0, mu, NO_LEAN_LIMIT)
    assert by_lean == pytest.approx(by_grip, abs=LAST_PRINTED_DIGIT_KMH)
    # The lower of the two counts.
    assert flat_kmh(20.0, 0.9 * mu, lean_tan) < by_lean
    assert flat_kmh(20.0, mu, 0.9 * lean_tan) < by_grip


# AASHTO Guide for the Development of Bicycle Facilities, radii for a lean of 15° (1999) and 20°
# (2012), values from memory ([M-hi]: every one re-derives from R = V²/(g tan lean)); 95 ft at
# 20 mph in the 1981 and 1991 editions ([F]) is the friction form.
AASHTO_FT = {
    15.0: {12: 36, 20: 100, 25: 156, 30: 225},
    20.0: {12: 27, 14: 36, 16: 47, 18: 60, 20: 74, 25: 115, 30: 166},
}
AASHTO_M = {15.0: {20: 12, 30: 27, 40: 47, 50: 74}}


@pytest.mark.parametrize("lean_deg", AASHTO_FT)
def test_aashto_radii_from_lean(lean_deg):
    # Our speed on their radius is their speed; radii are printed to a whole foot or metre, which
    # is up to 4 % of a radius and so 2 % of a speed, and their 0.067 rounds 1/g.
    two_percent = 0.02
    lean_tan = math.tan(math.radians(lean_deg))
    cases = [(mph * MPS_PER_MPH, ft * M_PER_FT) for mph, ft in AASHTO_FT[lean_deg].items()]
    cases += [(kmh / 3.6, m) for kmh, m in AASHTO_M.get(lean_deg, {}).items()]
    for v_mps, radius_m in cases:
        ours_mps = flat_kmh(radius_m, NO_GRIP_LIMIT, lean_tan) / 3.6
        assert ours_mps == pytest.approx(v_mps, rel=two_percent)


@pytest.mark.parametrize(
    ("kmh", "friction", "radius_m"),
    [(20.0, 0.31, 10.0), (30.0, 0.28, 24.0), (40.0, 0.25, 47.0), (50.0, 0.21, 86.0)],
)
def test_aashto_radii_from_friction(kmh, friction, radius_m):
    # 1999 form R = V²/(127 (e + f)) with a cross-fall e of 2 % that helps; ours knows no
    # cross-fall, so it is counted as grip, as their form does. Radii are whole metres.
    half_a_metre = 0.5
    ours_kmh = flat_kmh(1.0, friction + 0.02, NO_LEAN_LIMIT)
    assert (kmh / ours_kmh) ** 2 == pytest.approx(radius_m, abs=half_a_metre + 0.05)


@pytest.mark.parametrize(
    ("radius_m", "friction", "kmh"),
    [
        (3.1, 0.61, 15.5),
        (6.1, 0.52, 20.1),
        (9.2, 0.36, 20.5),
        (15.3, 0.26, 22.5),
        (25.4, 0.18, 24.1),
        (27.5, 0.20, 26.4),
    ],
)
def test_speeds_that_trail_cyclists_chose(radius_m, friction, kmh):
    # FHWA-HRT-04-103 table 19 ([F]): 85th percentile of 142 riders, told as "friction" used.
    assert flat_kmh(radius_m, friction, NO_LEAN_LIMIT) == pytest.approx(kmh, abs=0.06)


def test_slope_takes_its_share_of_the_grip():
    # On a descent the tyres hold m g sin against the slope; what is left sideways is the other
    # leg of the triangle, as on any friction circle. At sin = mu cos nothing is left.
    angle = math.atan(0.12)
    u = corner_speed_squared(0.05, -math.sin(angle), math.cos(angle), 0.5, NO_LEAN_LIMIT)
    sideways = math.sqrt((0.5 * math.cos(angle)) ** 2 - math.sin(angle) ** 2)
    assert u == pytest.approx(sideways * G * 20.0, rel=1e-12)
    steep = math.atan(0.5)
    assert corner_speed_squared(
        0.05, -math.sin(steep), math.cos(steep), 0.5, NO_LEAN_LIMIT
    ) == pytest.approx(0.0, abs=1e-6)


def one_point_corner(setup, varied, corner_mps, lengths_m, curved, **rider):
    """Course whose `curved` segments allow `corner_mps`, and a rider with no air or rolling."""
    lean_tan = math.tan(math.radians(45.0))
    radii_m = np.where(curved, corner_mps**2 / (G * lean_tan), np.inf)
    course = course_from_arrays(lengths_m=lengths_m, grades=0.0, radii_m=radii_m)
    made = varied(
        setup,
        rider={"lean_deg": 45.0, **rider},
        build={"crr": 0.0, "cda_m2": 0.0, "grip_dry": NO_GRIP_LIMIT},
    )
    return course, made


@pytest.mark.parametrize(("mass_kg", "loss_s"), [(80.0, 1.411111), (81.0, 1.426667)])
def test_time_lost_in_a_corner(mass_kg, loss_s, plain_setup, varied):
    # loss = (v0-vc)/a + m(v0²-vc²)/(2P) - [(v0²-vc²)/(2a) + m(v0³-vc³)/(3P)]/v0 with constant
    # braking a 4 m/s² and power 400 W, v0 12, vc 8 ([D]): +0.015556 s a kg and corner.
    v0, vc = 12.0, 8.0
    speeding_m = mass_kg * (v0**3 - vc**3) / (3 * 400.0)
    straight = np.full(40, speeding_m / 40)
    lengths_m = np.concatenate([[5.0, 5.0, 1e-6], straight])
    curved = np.arange(len(lengths_m)) == 2
    course, setup = one_point_corner(
        plain_setup, varied, vc, lengths_m, curved,
        power_w=400.0, braking_g=4.0 / G, mass_kg=mass_kg,
    )  # fmt: skip
    ride = simulate(course=course, setup=setup, start_speed_mps=v0)
    lost_s = ride.time_s - course.distance_m / v0
    assert lost_s == pytest.approx(loss_s, abs=2e-5)
    assert ride.node_speeds_mps[[2, 3]] == pytest.approx(vc, abs=1e-6)
    assert ride.node_speeds_mps[-1] == pytest.approx(v0, abs=1e-5)
    braked_j = ride.energies_j[5].sum()
    assert braked_j == pytest.approx(0.5 * mass_kg * (v0**2 - vc**2), rel=1e-6)


def test_straight_between_two_corners(plain_setup, varied):
    # vp² = vc² + 2 L a1 a2/(a1+a2), t = (vp-vc)(1/a1+1/a2): L 100, vc 8, a1 1, a2 4 ([D]).
    # Speeding up by 1 m/s² is a limit of force: 80 N for 80 kg.
    lengths_m = np.concatenate([[1e-6], np.full(20, 5.0), [1e-6]])
    curved = np.isin(np.arange(22), (0, 21))
    course, setup = one_point_corner(
        plain_setup, varied, 8.0, lengths_m, curved,
        power_w=1.0e5, start_force_n=80.0, braking_g=4.0 / G,
    )  # fmt: skip
    ride = simulate(course=course, setup=setup, start_speed_mps=8.0)
    assert ride.node_times_s[21] - ride.node_times_s[1] == pytest.approx(
        8.708287, abs=A_TENTH_OF_A_MILLISECOND
    )
    peak_m = (14.966630**2 - 64.0) / 2.0
    assert peak_m == pytest.approx(80.0, abs=1e-4)
    assert ride.node_speeds_mps[17] == pytest.approx(14.966630, abs=1e-5)


def test_a_bend_is_ridden_at_its_own_speed_all_through(plain_setup, varied):
    # 40 m of 15 m radius, lean 45°: v = sqrt(g r) from first to last metre, never above.
    lengths_m = np.full(60, 5.0)
    curved = (np.arange(60) >= 30) & (np.arange(60) < 38)
    vc = math.sqrt(15.0 * G)
    course, setup = one_point_corner(
        plain_setup, varied, vc, lengths_m, curved, power_w=400.0, braking_g=0.4
    )
    ride = simulate(course=course, setup=setup, start_speed_mps=16.0)
    assert ride.node_speeds_mps[30:39] == pytest.approx(vc, abs=1e-9)
    assert ride.node_times_s[38] - ride.node_times_s[30] == pytest.approx(40.0 / vc, abs=1e-9)
    # Into it: u = v² falls in a straight line over distance by 2 a.
    u = ride.ceilings_mps[20:31] ** 2
    assert -np.diff(u) / 10.0 == pytest.approx(0.4 * G, rel=1e-9)
    assert replace(course).n_segments == 60
