"""Wind: the logarithmic law, apparent wind and yaw, and drag in a cross-wind."""

import math

import pytest

from simulator.physics.air import wind_factor
from simulator.physics.forces import forces_at
from simulator.ride import simulate

LAST_PRINTED_DIGIT = 6.0e-5


@pytest.mark.parametrize(
    ("roughness_m", "at_1_m", "at_1_5_m", "at_2_m"),
    [
        (0.0002, 0.7872, 0.8247, 0.8513),
        (0.005, 0.6971, 0.7504, 0.7883),
        (0.01, 0.6667, 0.7254, 0.7670),
        (0.03, 0.6036, 0.6734, 0.7229),
        (0.05, 0.5654, 0.6419, 0.6962),
        (0.10, 0.5000, 0.5880, 0.6505),
    ],
)
def test_log_law(roughness_m, at_1_m, at_1_5_m, at_2_m):
    # u(z)/u(10) = ln(z/z0)/ln(10/z0) ([D]); roughness classes of Davenport and Wieringa ([F]).
    factors = [wind_factor(z, roughness_m) for z in (1.0, 1.5, 2.0)]
    assert factors == pytest.approx([at_1_m, at_1_5_m, at_2_m], abs=LAST_PRINTED_DIGIT)
    assert wind_factor(10.0, roughness_m) == 1.0


@pytest.mark.parametrize(
    ("v_mps", "wind_mps", "angle_deg", "yaw_deg", "apparent_mps"),
    [
        (10.0, 5.0, 90.0, 26.5651, 11.18034),
        (12.0, 4.0, 45.0, 10.7991, 15.09577),
        (12.0, 4.0, 135.0, 17.1393, 9.59780),
    ],
)
@pytest.mark.parametrize("side", [-1.0, 1.0])
def test_apparent_wind_and_yaw(
    v_mps, wind_mps, angle_deg, yaw_deg, apparent_mps, side, plain_setup, varied, even_course,
    kernel_parts,
):  # fmt: skip
    # V = hypot(v + w cos, w sin), yaw = atan2(w sin, v + w cos) ([D]). A table over yaw that is
    # 1 up to the printed angle's nearest node and steep behind it would show a wrong angle; one
    # that grows in proportion to sin² shows it directly: A = 0.3 (1 + sin² yaw).
    nodes_deg = (0.0, 5.0, 10.0, 15.0, 20.0, 30.0, 90.0)
    setup = varied(
        plain_setup,
        build={
            "yaw_degs": nodes_deg,
            "cda_factors": tuple(1.0 + math.sin(math.radians(a)) ** 2 for a in nodes_deg),
        },
        weather={"wind_mps": wind_mps, "wind_from_deg": (70.0 + side * angle_deg) % 360.0},
    )
    course = even_course(5.0, headings_rad=math.radians(70.0))
    step, rules = kernel_parts(course, setup)
    air_n = forces_at(v_mps, 1.0 / v_mps, 0.0, step, rules).air_n
    yaw = math.radians(yaw_deg)
    area_m2 = 0.30 * (1.0 + math.sin(yaw) ** 2)
    expected_n = 0.5 * 1.2 * area_m2 * apparent_mps * (apparent_mps * math.cos(yaw))
    assert air_n == pytest.approx(expected_n, rel=1e-5)


@pytest.mark.parametrize("from_deg", [90.0, 270.0])
@pytest.mark.parametrize(
    ("wind_mps", "printed_mps"), [(0.0, 10.636752), (3.0, 10.505336), (5.0, 10.284625)]
)
def test_pure_cross_wind_slows(wind_mps, printed_mps, from_deg, plain_setup, varied, even_course):
    # A body whose drag does not depend on direction: F = k V (v + w_axial), 250 W ([D]). That a
    # cross-wind costs power although nothing blows from ahead: Phys. Rev. Fluids 6 (2021) 124601.
    weather = {"wind_mps": wind_mps, "wind_from_deg": from_deg}
    setup = varied(plain_setup, weather=weather)
    ride = simulate(course=even_course(6000.0), setup=setup, start_speed_mps=10.0)
    v = ride.node_speeds_mps[-1]
    assert v == pytest.approx(printed_mps, abs=2e-6)
    assert 0.18 * math.hypot(v, wind_mps) * v * v + 3.138128 * v == pytest.approx(250.0, abs=1e-3)


def test_shelter_and_height_scale_the_wind(plain_setup, varied, even_course):
    # 5 m/s forecast, felt at 1.5 m over short grass behind a hedge that leaves half of it.
    setup = varied(
        plain_setup, weather={"wind_mps": 5.0, "wind_from_deg": 0.0, "rider_height_m": 1.5}
    )
    course = even_course(6000.0, shelters=0.5, roughnesses_m=0.01)
    felt_mps = 5.0 * 0.5 * 0.7254
    ride = simulate(course=course, setup=setup, start_speed_mps=10.0)
    v = ride.node_speeds_mps[-1]
    assert 0.18 * (v + felt_mps) ** 2 * v + 3.138128 * v == pytest.approx(250.0, abs=0.02)
