"""Published savings from pacing and drafting, recomputed with the simulator.

``make_pacing_checks.py`` puts them on a page; the tests of the published values call them too.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from scipy.optimize import brentq

from simulator.course import Course, course_from_arrays
from simulator.pacing import Demand
from simulator.powerplan import make_problem, solve
from simulator.ride import Wheel, follow, simulate
from simulator.setup import (
    Build,
    Positions,
    RideSetup,
    Uncertain,
    default_rider,
    default_weather,
)

DRY_AIR = 287.05287


def rider_on_bike(
    *,
    mass_kg: float = 80.0,
    cda_m2: float = 0.269,
    wheel_drag_area_m2: float = 0.0044,
    crr: float = 0.0032,
    density_kgm3: float = 1.2234,
    efficiency: float = 0.976,
    bearing_factor: float = 1.0,
    power_w: float = 289.0,
    headwind_mps: float = 0.0,
) -> RideSetup:
    """A rider without limits on a bike, as the papers have them; wind from the north."""
    rider = replace(
        default_rider(),
        mass_kg=Uncertain(mass_kg),
        kit_kg=Uncertain(0.0),
        power_w=Uncertain(power_w),
        cadence_top_rpm=1.0e6,
        cadence_low_rpm=1.0e-9,
        start_force_n=1.0e5,
        coast_grade=-1.0e3,
        coast_speed_mps=1.0e4,
        lean_deg=89.9,
        pedal_lean_deg=89.99,
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
    build = Build(
        name="bike",
        mass_kg=Uncertain(0.0),
        cda_m2=Uncertain(cda_m2),
        yaw_degs=(0.0,),
        cda_factors=(1.0,),
        wheel_drag_area_m2=Uncertain(wheel_drag_area_m2),
        crr=Uncertain(crr),
        wheel_inertia_kgm2=Uncertain(0.14),
        wheel_radius_m=0.311,
        bearing_factor=Uncertain(bearing_factor),
        drivetrain_efficiency=Uncertain(efficiency),
        chainrings=(34, 50),
        sprockets=(11, 30),
        grip_dry=Uncertain(0.8),
        grip_wet=Uncertain(0.5),
        price=None,
        source="paper",
    )
    weather = replace(
        default_weather(),
        temperature_degc=Uncertain(15.0),
        pressure_hpa=Uncertain(density_kgm3 * DRY_AIR * 288.15 / 100.0),
        station_height_m=0.0,
        humidity_pct=Uncertain(0.0),
        wind_mps=Uncertain(abs(headwind_mps)),
        wind_from_deg=Uncertain(0.0 if headwind_mps >= 0.0 else 180.0),
        rider_height_m=10.0,
        is_wet=False,
    )
    return RideSetup(rider=rider, build=build, weather=weather)


def road(grades: np.ndarray, headings_rad: np.ndarray | float, step_m: float) -> Course:
    """A road of equal steps; the air is that at the foot all along."""
    course = course_from_arrays(
        lengths_m=np.full(len(grades), step_m), grades=grades, headings_rad=headings_rad
    )
    return replace(course, node_heights_m=np.zeros(len(grades) + 1))


def needed_power_w(setup: RideSetup, v_mps: float, *, grade: float = 0.0, factor: float = 1.0,
                   heading_rad: float = 0.0) -> float:  # fmt: skip
    """Power at a steady speed, by the force model turned round."""
    course = road(np.full(2, grade), heading_rad, 10.0)
    wheel = Wheel(
        course=course,
        node_speeds_mps=np.full(3, v_mps),
        factors=np.full(2, factor),
        gaps_m=np.zeros(2),
    )
    return float(follow(wheel, setup, lost_m=1.0e9).needed_w[0])


def steady_mps(setup: RideSetup, power_w: float, *, grade: float = 0.0, factor: float = 1.0,
               heading_rad: float = 0.0) -> float:  # fmt: skip
    """Speed at a steady power."""

    def excess_w(v_mps: float) -> float:
        return (
            needed_power_w(setup, v_mps, grade=grade, factor=factor, heading_rad=heading_rad)
            - power_w
        )

    return float(brentq(excess_w, 0.6, 60.0, xtol=1e-10))


# Atkinson, Peacock & Passfield 2007: (stretches, length, grade, wind).
ATKINSON = {"hilly": (10, 1000.0, 0.10, 0.0), "windy": (8, 5000.0, 0.0, 4.4)}


def atkinson_steady_s(kind: str, power_w: float) -> tuple[float, float]:
    """Time at constant power, and saving of +-10 % by distance, each stretch at its own speed."""
    n, length_m, grade, wind_mps = ATKINSON[kind]
    setup = rider_on_bike(power_w=power_w, headwind_mps=wind_mps)
    times = []
    for change in (0.0, 0.1):
        halves = [
            (grade, 0.0, power_w * (1.0 + change)),
            (-grade, math.pi if wind_mps else 0.0, power_w * (1.0 - change)),
        ]
        speeds = [steady_mps(setup, p, grade=g, heading_rad=h) for g, h, p in halves]
        times.append(0.5 * n * length_m * sum(1.0 / v for v in speeds))
    return times[0], times[0] - times[1]


def atkinson_ridden_s(kind: str, power_w: float) -> tuple[float, float, float, float]:
    """The same, ridden as one ride: constant time, saving of +-10 %, both mean powers."""
    n, length_m, grade, wind_mps = ATKINSON[kind]
    course = atkinson_course(kind)
    setup = rider_on_bike(power_w=power_w, headwind_mps=wind_mps)
    hard = np.repeat(np.arange(n) % 2 == 0, int(length_m / 10.0))
    start = steady_mps(setup, power_w, grade=grade)
    rides = [
        simulate(
            course=course,
            setup=setup,
            demand=Demand(powers_w=power_w * np.where(hard, 1.0 + change, 1.0 - change), text=""),
            start_speed_mps=start,
        )
        for change in (0.0, 0.1)
    ]
    return (
        rides[0].time_s,
        rides[0].time_s - rides[1].time_s,
        rides[0].mean_power_w,
        rides[1].mean_power_w,
    )


def atkinson_course(kind: str) -> Course:
    """One of their courses, in steps of 10 m."""
    n, length_m, grade, wind_mps = ATKINSON[kind]
    per = int(length_m / 10.0)
    signs = np.repeat(np.where(np.arange(n) % 2 == 0, 1.0, -1.0), per)
    headings = np.where(signs > 0, 0.0, math.pi if wind_mps else 0.0)
    return road(grade * signs, headings, 10.0)


def best_gain(course: Course, setup: RideSetup, *, mean_w: float | None = None,
              fourth_w: float | None = None, start_mps: float = 9.0,
              most_w: float | None = None) -> tuple[float, float]:  # fmt: skip
    """Constant time in s and the share of it that the quickest plan of the same mean saves."""
    plan = solve(
        make_problem(
            course=course,
            setup=setup,
            mean_w=mean_w,
            fourth_power_mean_w=fourth_w,
            most_w=most_w,
            start_speed_mps=start_mps,
        )
    )
    return plan.constant.time_s, plan.saved_s / plan.constant.time_s


def undulating_4_km() -> Course:
    """Made up: 4 km of waves 800 m long, 3.5 % at their steepest."""
    s_m = (np.arange(400) + 0.5) * 10.0
    return road(0.035 * np.sin(2.0 * math.pi * s_m / 800.0), 0.0, 10.0)


def short_courses() -> dict[str, Course]:
    """Made up: four roads of 2 km."""
    s_m = (np.arange(200) + 0.5) * 10.0
    waves = np.sin(2.0 * math.pi * s_m / 500.0)
    return {
        "flat, wind against then behind": road(np.zeros(200), np.where(s_m < 1000, 0, math.pi), 10),
        "waves of 2 %": road(0.02 * waves, 0.0, 10.0),
        "waves of 5 %": road(0.05 * waves, 0.0, 10.0),
        "one hill of 5 %": road(np.where(s_m < 1000.0, 0.05, -0.05), 0.0, 10.0),
    }


def short_gains() -> dict[str, float]:
    """Share of the time saved on each of the short roads at a fourth-power mean of 300 W."""
    gains = {}
    for name, course in short_courses().items():
        setup = rider_on_bike(headwind_mps=3.0 if "wind" in name else 0.0)
        gains[name] = best_gain(course, setup, fourth_w=300.0)[1]
    return gains


def draft_share(
    v_kmh: float,
    factor: float,
    *,
    grade: float = 0.0,
    mass_kg: float = 80.0,
    cda_m2: float = 0.269,
) -> float:
    """Power in the shelter over power alone at the same speed."""
    setup = rider_on_bike(mass_kg=mass_kg, cda_m2=cda_m2)
    v = v_kmh / 3.6
    alone_w = needed_power_w(setup, v, grade=grade)
    return needed_power_w(setup, v, grade=grade, factor=factor) / alone_w


def ouvrard_gain(factor: float) -> float:
    """Share of the time saved on 2.7 km at 7.4 % behind a wheel, at the power of 548 s alone."""
    setup = rider_on_bike(mass_kg=75.0)
    power_w = needed_power_w(setup, 2700.0 / 548.0, grade=0.074)
    return 1.0 - (2700.0 / 548.0) / steady_mps(setup, power_w, grade=0.074, factor=factor)


BROKER_W = (607.0, 430.0, 389.0, 389.0)
"""Power of four places at 60 km/h (Broker et al. 1999, abstract)."""

FRONT_FACTOR = 0.97


def track_rider(cda_m2: float) -> RideSetup:
    """A pursuit rider on a track: 80 kg, Crr 0.002 (a track's, from memory)."""
    return rider_on_bike(mass_kg=80.0, cda_m2=cda_m2, crr=0.002, efficiency=0.98)


def broker_factors() -> tuple[float, tuple[float, ...]]:
    """Drag area that gives the first rider's power, and the drag of the others over alone."""
    v = 60.0 / 3.6

    def over_w(cda_m2: float) -> float:
        return needed_power_w(track_rider(cda_m2), v, factor=FRONT_FACTOR) - BROKER_W[0]

    cda_m2 = float(brentq(over_w, 0.1, 0.5))
    setup = track_rider(cda_m2)
    factors = tuple(
        float(brentq(lambda f, w=w: needed_power_w(setup, v, factor=f) - w, 0.1, 1.2))
        for w in BROKER_W[1:]
    )
    return cda_m2, factors


def olds_gap_m(factor: float) -> float:
    """Distance between the wheels at which a second rider has this drag [Olds1998]."""

    def over(gap_m: float) -> float:
        return 0.62 - 0.0104 * gap_m + 0.0452 * gap_m**2 - factor

    return float(brentq(over, 0.12, 3.1)) if over(0.12) < 0.0 else 0.0


def oxygen_drop(v_kmh: float, factor: float, *, mass_kg: float = 72.0) -> float:
    """Share by which oxygen uptake falls in the shelter.

    Uptake is 10.8 P / m + 7 ml/kg/min: 7 of it at rest and for the legs themselves (ACSM's
    equation for cycling, from memory).
    """
    setup = rider_on_bike(mass_kg=mass_kg + 10.0)
    v = v_kmh / 3.6
    alone, drafting = (
        10.8 * needed_power_w(setup, v, factor=f) / mass_kg + 7.0 for f in (1.0, factor)
    )
    return 1.0 - drafting / alone


def saved_area_m2(share: float, v_mps: float, *, mass_kg: float, cda_m2: float) -> float:
    """Drag area whose loss saves a share of the power up 7.5 % at a speed."""
    setup = rider_on_bike(mass_kg=mass_kg, cda_m2=cda_m2)
    alone_w = needed_power_w(setup, v_mps, grade=0.075)
    return share * alone_w * 0.976 / (0.5 * 1.2234 * v_mps**3)


def most_at_8_mps(share_at_6: float) -> float:
    """Most that 8 m/s can save if the same rider in the same shelter saves this at 6 m/s.

    The air saved grows with the square of speed; the rest of the resistance does not shrink, so
    the share grows by less than (8 / 6)².
    """
    return share_at_6 * (8.0 / 6.0) ** 2
