"""Setups and courses that many tests start from, as factories.

Session-wide and without state, so that hypothesis may call them as often as it likes.
"""

import math
from dataclasses import fields, replace

import numpy as np
import pytest
from scipy.optimize import brentq

from simulator.course import course_from_arrays
from simulator.pacing import constant_demand
from simulator.physics.step import step_at
from simulator.ride.prepare import nominal_rules
from simulator.ride.roadsteps import prepare_steps
from simulator.setup import (
    BuildFile,
    Positions,
    RideSetup,
    Uncertain,
    default_rider,
    default_weather,
)
from simulator.setup.build_file import build_of

DRY_AIR = 287.05287
G = 9.80665


def _changed(thing, changes):
    """A frozen dataclass with fields replaced; numbers become `Uncertain` where one stood."""
    made = {}
    for name, value in changes.items():
        if name not in {f.name for f in fields(thing)}:
            raise KeyError(name)
        if isinstance(getattr(thing, name), Uncertain) and not isinstance(value, Uncertain):
            value = Uncertain(float(value))
        made[name] = value
    return replace(thing, **made)


def _varied(setup, rider, build, weather, positions):
    new_rider = _changed(setup.rider, rider or {})
    if positions:
        new_rider = replace(new_rider, positions=_changed(new_rider.positions, positions))
    return RideSetup(
        rider=new_rider,
        build=_changed(setup.build, build or {}),
        weather=_changed(setup.weather, weather or {}),
    )


def _plain():
    """Only gravity, rolling and air: 80 kg, CdA 0.30, Crr 0.004, rho 1.2, no limits at all."""
    rider = replace(
        default_rider(),
        name="plain",
        mass_kg=Uncertain(80.0),
        kit_kg=Uncertain(0.0),
        power_w=Uncertain(250.0),
        cadence_top_rpm=1.0e6,
        cadence_low_rpm=1.0e-9,
        start_force_n=1.0e5,
        coast_grade=-1.0e3,
        coast_speed_mps=1.0e4,
        lean_deg=89.9,
        pedal_lean_deg=89.99,
        braking_g=0.4,
        positions=Positions(
            climbing_factor=1.0,
            climbing_grade=0.04,
            climbing_speed_mps=6.0,
            tuck_factor=1.0,
            tuck_grade=-0.04,
            tuck_speed_mps=13.0,
        ),
        cp_w=None,
        wprime_j=None,
        max_power_w=None,
    )
    written = BuildFile(
        name="plain",
        mass_kg={"value": 1.0},
        cda_m2={"value": 0.30},
        crr={"value": 0.004},
        wheel_drag_area_m2={"value": 0.0},
        wheel_inertia_kgm2={"value": 0.0},
        wheel_circumference_m=2.1,
        bearing_factor={"value": 0.0},
        drivetrain_efficiency={"value": 1.0},
        chainrings=(34, 50),
        sprockets=(11, 30),
        grip_dry={"value": 0.8},
        grip_wet={"value": 0.5},
    )
    build = replace(build_of(written), mass_kg=Uncertain(0.0))
    weather = replace(
        default_weather(),
        name="plain",
        temperature_degc=Uncertain(15.0),
        # Dry air of exactly 1.2 kg/m³ by the gas law.
        pressure_hpa=Uncertain(1.2 * DRY_AIR * 288.15 / 100.0),
        station_height_m=0.0,
        humidity_pct=Uncertain(0.0),
        wind_mps=Uncertain(0.0),
        wind_from_deg=Uncertain(0.0),
        # The height of the forecast: what it says is what the rider meets.
        rider_height_m=10.0,
        is_wet=False,
    )
    return RideSetup(rider=rider, build=build, weather=weather)


def _hilly():
    """Everything at once, with ordinary numbers."""
    plain = _plain()
    return _varied(
        plain,
        rider={
            "name": "made",
            "mass_kg": 72.0,
            "kit_kg": 3.0,
            "power_w": 240.0,
            "cadence_top_rpm": 115.0,
            "cadence_low_rpm": 35.0,
            "start_force_n": 250.0,
            "coast_grade": -0.07,
            "coast_speed_mps": 16.0,
            "lean_deg": 35.0,
            "pedal_lean_deg": 25.0,
        },
        positions={"climbing_factor": 1.1, "tuck_factor": 0.9},
        build={
            "name": "made",
            "mass_kg": 8.0,
            "cda_m2": 0.31,
            "yaw_degs": (0.0, 5.0, 10.0, 15.0, 20.0, 30.0, 90.0),
            "cda_factors": (1.0, 0.99, 0.96, 0.97, 1.02, 1.1, 1.2),
            "wheel_drag_area_m2": 0.0044,
            "crr": 0.0042,
            "wheel_inertia_kgm2": 0.14,
            "bearing_factor": 1.0,
            "drivetrain_efficiency": 0.975,
        },
        weather={
            "name": "made",
            "temperature_degc": 18.0,
            "pressure_hpa": 1008.0,
            "station_height_m": 20.0,
            "humidity_pct": 70.0,
            "wind_mps": 6.0,
            "wind_from_deg": 230.0,
            "rider_height_m": 1.2,
        },
    )


@pytest.fixture(scope="session")
def varied():
    """``varied(setup, rider={...}, build={...}, weather={...}, positions={...})``."""

    def make(setup, *, rider=None, build=None, weather=None, positions=None):
        return _varied(setup, rider, build, weather, positions)

    return make


@pytest.fixture(scope="session")
def plain_setup():
    """Only gravity, rolling and air; see `_plain`."""
    return _plain()


@pytest.fixture(scope="session")
def hilly_setup():
    """Every force and limit with ordinary numbers; see `_hilly`."""
    return _hilly()


@pytest.fixture(scope="session")
def kernel_parts():
    """``kernel_parts(course, setup)``: first `Step` and `Rules`, as the kernels get them."""

    def make(course, setup):
        steps = prepare_steps(course, setup, constant_demand(course, setup.rider))
        return step_at(steps.rows, 0), nominal_rules(setup)

    return make


@pytest.fixture(scope="session")
def even_course():
    """``even_course(distance_m, grade=0, step_m=5, ...)``: one grade, air the same all along.

    Heights are left at 0 so that density stays that of the station; gravity follows the grade.
    """

    def make(distance_m, grade=0.0, *, step_m=5.0, **more):
        n = round(distance_m / step_m)
        course = course_from_arrays(lengths_m=np.full(n, distance_m / n), grades=grade, **more)
        return replace(course, node_heights_m=np.zeros(n + 1))

    return make


@pytest.fixture(scope="session")
def rolling_course():
    """``rolling_course(n, step_m=5, ...)``: hills on three scales, turning, half sheltered."""

    def make(n, *, step_m=5.0, start="rolling", radii_m=None):
        s_m = (np.arange(n) + 0.5) * step_m
        grades = (
            0.045 * np.sin(s_m / 900.0) + 0.02 * np.sin(s_m / 170.0) + 0.004 * np.sin(s_m / 23.0)
        )
        return course_from_arrays(
            lengths_m=np.full(n, step_m),
            grades=grades,
            headings_rad=0.8 * np.sin(s_m / 400.0) + s_m / 3000.0,
            shelters=np.where(np.sin(s_m / 800.0) > 0.3, 0.6, 1.0),
            roughnesses_m=np.full(n, 0.03),
            crr_factors=np.where(np.sin(s_m / 1500.0) > 0.5, 1.2, 1.0),
            radii_m=radii_m,
            start=start,
        )

    return make


@pytest.fixture(scope="session")
def cornered_course():
    """``cornered_course(distance_m, step_m=5, ...)``: the same road cut at any step.

    Hills on two scales, a bend of 12 to 30 m radius every 300 m whose curvature swells and
    fades as sin² over 40 m, so that finer steps see the same bends better.
    """

    def make(distance_m, *, step_m=5.0, start="rolling", hills=1.0, every_m=300.0):
        n = round(distance_m / step_m)
        step_m = distance_m / n
        s_m = (np.arange(n) + 0.5) * step_m
        grades = hills * (0.05 * np.sin(s_m / 400.0) + 0.02 * np.sin(s_m / 130.0))
        number = np.floor(s_m / every_m)
        into_m = s_m - number * every_m - 0.5 * every_m
        tightest_m = 12.0 + 18.0 * np.abs(np.sin(1.0 + 2.0 * number))
        swell = np.where(np.abs(into_m) < 20.0, np.cos(math.pi * into_m / 40.0) ** 2, 0.0)
        with np.errstate(divide="ignore"):
            radii_m = tightest_m / swell
        turns = np.where(number % 2 == 0, 1.0, -1.0) * swell / tightest_m * step_m
        return course_from_arrays(
            lengths_m=np.full(n, step_m),
            grades=grades,
            headings_rad=np.cumsum(turns),
            radii_m=radii_m,
            start=start,
        )

    return make


@pytest.fixture(scope="session")
def steady_speed():
    """``steady_speed(power_w=, grade=0, headwind_mps=0, ...)``: root of the force balance.

    Written out again here, for flat or sloping road in a wind along it; no other limits.
    """

    def find(
        *,
        power_w,
        grade=0.0,
        headwind_mps=0.0,
        mass_kg=80.0,
        cda_m2=0.30,
        crr=0.004,
        density_kgm3=1.2,
        efficiency=1.0,
        bearings=0.0,
        gravity_mps2=G,
    ):
        angle = math.atan(grade)
        hold_n = mass_kg * gravity_mps2 * (math.sin(angle) + crr * math.cos(angle))

        def surplus_w(v):
            air = v + headwind_mps
            drag_n = 0.5 * density_kgm3 * cda_m2 * air * abs(air)
            bearing_n = bearings * (0.091 + 0.0087 * v)
            return efficiency * power_w - v * (hold_n + drag_n + bearing_n)

        return brentq(surplus_w, 1.0e-3, 60.0, xtol=1e-14, rtol=1e-14)

    return find
