"""Air density against standards: ISO 2533, ASHRAE, WMO, CIPM-2007, and psychrolib."""

import math

import psychrolib
import pytest

from simulator.physics.air import (
    air_density_kgm3,
    density_ratio,
    pressure_at_pa,
    vapour_pressure_pa,
)

# psychrolib works with the compiler only; the other standards are held to without it, too.
COMPILES = hasattr(psychrolib.isIP, "py_func")
if COMPILES:
    # Once: each call has psychrolib compile itself afresh.
    psychrolib.SetUnitSystem(psychrolib.SI)
needs_psychrolib = pytest.mark.skipif(not COMPILES, reason="psychrolib wants the compiler")

LAST_PRINTED_DIGIT = 6.0e-6
HALF_A_PASCAL = 0.5

# Standard atmosphere: height (geopotential m), K, Pa, kg/m³. Constants read in copies of ICAO
# 7488 / US Standard 1976 ([F]), table from them ([D]).
ISA = [
    (0.0, 288.15, 101325.00, 1.22500),
    (500.0, 284.90, 95460.84, 1.16727),
    (1000.0, 281.65, 89874.56, 1.11164),
    (1500.0, 278.40, 84555.99, 1.05807),
    (2000.0, 275.15, 79495.20, 1.00649),
    (2500.0, 271.90, 74682.52, 0.95686),
    (3000.0, 268.65, 70108.53, 0.90912),
    (4000.0, 262.15, 61640.21, 0.81913),
]


@pytest.mark.parametrize(("height_m", "temperature_k", "pressure_pa", "density_kgm3"), ISA)
def test_standard_atmosphere(height_m, temperature_k, pressure_pa, density_kgm3):
    p = pressure_at_pa(101325.0, 288.15, height_m)
    assert p == pytest.approx(pressure_pa, abs=HALF_A_PASCAL)
    assert air_density_kgm3(temperature_k, p, 0.0) == pytest.approx(
        density_kgm3, abs=LAST_PRINTED_DIGIT
    )
    ratio = density_ratio(288.15, height_m)
    assert ratio * 1.225 == pytest.approx(density_kgm3, abs=LAST_PRINTED_DIGIT)


@pytest.mark.parametrize(
    ("geometric_m", "density_kgm3"), [(1000.0, 1.1117), (2000.0, 1.0066), (3000.0, 0.9093)]
)
def test_table_of_a_handbook(geometric_m, density_kgm3):
    # Mechanical Engineer's Handbook vol. 4 p. 23, geometric heights ([F]).
    height_m = 6356766.0 * geometric_m / (6356766.0 + geometric_m)
    assert 1.225 * density_ratio(288.15, height_m) == pytest.approx(density_kgm3, abs=6e-5)


def test_density_ratio_is_the_ratio_of_densities():
    for rise_m in (-400.0, 0.0, 350.0, 2700.0):
        there_k = 295.0 - 0.0065 * rise_m
        there_pa = pressure_at_pa(98_000.0, 295.0, rise_m)
        ratio = air_density_kgm3(there_k, there_pa, 0.0) / air_density_kgm3(295.0, 98_000.0, 0.0)
        assert density_ratio(295.0, rise_m) == pytest.approx(ratio, rel=1e-12)


def test_pressure_down_and_up_again():
    up_pa = pressure_at_pa(101_000.0, 290.0, 800.0)
    back_pa = pressure_at_pa(up_pa, 290.0 - 0.0065 * 800.0, -800.0)
    assert back_pa == pytest.approx(101_000.0, rel=1e-12)


@pytest.mark.parametrize(
    ("height_m", "pressure_pa"), [(0.0, 101325.0), (500.0, 95461.0), (1000.0, 89875.0)]
)
def test_ashrae_pressure(height_m, pressure_pa):
    # ASHRAE Fundamentals 2017 ch. 1 table 1, by way of psychrolib's tests ([F]).
    one_pascal = 1.0
    assert pressure_at_pa(101325.0, 288.15, height_m) == pytest.approx(pressure_pa, abs=one_pascal)


@pytest.mark.parametrize(
    ("t_degc", "magnus_pa"),
    [(0.0, 611.20), (10.0, 1226.03), (20.0, 2332.60), (30.0, 4233.72), (40.0, 7367.46)],
)
def test_magnus_form_of_the_wmo(t_degc, magnus_pa):
    # WMO Guide to instruments, 611.2 exp(17.62 t / (243.12 + t)) ([F]), evaluated ([D]).
    assert vapour_pressure_pa(t_degc + 273.15) == pytest.approx(magnus_pa, abs=0.01)


@pytest.mark.parametrize(("t_degc", "pressure_pa"), [(5.0, 872.6), (25.0, 3169.7)])
def test_saturation_pressure_of_ashrae(t_degc, pressure_pa):
    # ASHRAE table 3 ([F]). Magnus lies 0.3 % lower at 25 °C; a third of a percent
    # of the vapour, itself three percent of the air, changes density by one in 25 000.
    assert vapour_pressure_pa(t_degc + 273.15) == pytest.approx(pressure_pa, rel=0.0035)


@needs_psychrolib
def test_ashrae_density_of_moist_air():
    # 30 °C, 0.02 kg of water a kg, 95461 Pa: 1.084120 kg/m³ of mixture by the volume of dry
    # air times 1.02; 25 °C dry 101325 Pa: 0.8443 m³/kg ([F], psychrolib's tests).
    humidity = psychrolib.GetRelHumFromHumRatio(30.0, 0.02, 95461.0)
    assert air_density_kgm3(303.15, 95461.0, humidity) == pytest.approx(1.0841, rel=4e-4)
    # Real air is 0.04 % denser than an ideal gas.
    assert 1.0 / air_density_kgm3(298.15, 101325.0, 0.0) == pytest.approx(0.8443, rel=5e-4)


@needs_psychrolib
@pytest.mark.parametrize("t_degc", [0.0, 10.0, 20.0, 30.0, 40.0])
@pytest.mark.parametrize("humidity", [0.1, 0.5, 1.0])
@pytest.mark.parametrize("pressure_pa", [85_000.0, 101_325.0])
def test_psychrolib_agrees(t_degc, humidity, pressure_pa):
    ratio = psychrolib.GetHumRatioFromRelHum(t_degc, humidity, pressure_pa)
    theirs = psychrolib.GetMoistAirDensity(t_degc, ratio, pressure_pa)
    ours = air_density_kgm3(t_degc + 273.15, pressure_pa, humidity)
    assert ours == pytest.approx(theirs, rel=4e-4)


def cipm_2007_kgm3(t_degc, p, h):
    """CIPM-2007, Picard et al., Metrologia 45 (2008) 149; constants as in public codes ([F])."""
    k = t_degc + 273.15
    psv = math.exp(1.2378847e-5 * k * k - 1.9121316e-2 * k + 33.93711047 - 6343.1645 / k)
    f = 1.00062 + 3.14e-8 * p + 5.6e-7 * t_degc**2
    x = h * f * psv / p
    z = (
        1.0
        - (p / k)
        * (
            1.58123e-6
            - 2.9331e-8 * t_degc
            + 1.1043e-10 * t_degc**2
            + (5.707e-6 - 2.051e-8 * t_degc) * x
            + (1.9898e-4 - 2.376e-6 * t_degc) * x * x
        )
        + (p / k) ** 2 * (1.83e-11 - 0.765e-8 * x * x)
    )
    dry_kg, water_kg, gas = 28.96546e-3, 18.01528e-3, 8.314472
    return p * dry_kg / (z * gas * k) * (1.0 - x * (1.0 - water_kg / dry_kg))


@pytest.mark.parametrize(
    ("t_degc", "pressure_pa", "humidity", "density_kgm3"),
    [
        (20.0, 101325.0, 0.5, 1.199314),
        (25.0, 101325.0, 0.5, 1.177315),
        (30.0, 100000.0, 0.8, 1.134777),
        (15.0, 101325.0, 0.0, 1.225521),
        (10.0, 95000.0, 0.6, 1.165921),
    ],
)
def test_cipm_2007(t_degc, pressure_pa, humidity, density_kgm3):
    theirs = cipm_2007_kgm3(t_degc, pressure_pa, humidity)
    assert theirs == pytest.approx(density_kgm3, abs=1e-6)
    ours = air_density_kgm3(t_degc + 273.15, pressure_pa, humidity)
    # Ideal gases lie a little below, as our docstring says: never above, never by 0.06 %.
    assert -6.0e-4 < ours / theirs - 1.0 < 0.0
