"""The work that `bench_table.py` measures, ours and by general-purpose means, on the same numbers.

One ride is a solo ride over rolling hills at 5 m segments with gravity, rolling, air and
drivetrain, so that a solver for anything can be given the very same equation.
"""

from __future__ import annotations

import math
from itertools import pairwise

import gpxpy
import numpy as np
from geographiclib.geodesic import Geodesic
from laid import START_MPS, Laid
from scipy.integrate import solve_ivp
from scipy.interpolate import make_smoothing_spline
from scipy.optimize import Bounds, LinearConstraint, milp

from simulator import (
    example_path,
    load_build,
    load_course,
    load_rider,
    load_weather,
    make_build,
    make_course,
    make_rider,
    make_weather,
)
from simulator.ride import simulate
from simulator.setup import Catalogue, Part, RideSetup, Slot, Uncertain, apply_parts

STEP_M = 5.0
MASS_KG, CDA_M2, CRR, POWER_W, EFFICIENCY = 80.0, 0.30, 0.004, 250.0, 0.976
G = 9.80665
GAS_CONSTANT, LAPSE = 287.05287, 0.0065
NONE: frozenset[str] = frozenset()


def rolling_road(km):
    """Rolling hills on three scales, nowhere steep enough for the rider's habits to matter."""
    s_m = (np.arange(round(1000.0 * km / STEP_M)) + 0.5) * STEP_M
    grades = 0.02 * np.sin(s_m / 900.0) + 0.01 * np.sin(s_m / 170.0) + 0.003 * np.sin(s_m / 23.0)
    return make_course(lengths_m=np.full(len(s_m), STEP_M), grades=grades)


def plain_setup(*, doubt=0.0):
    """Rider and bike without habits or limits that rolling hills could reach."""
    rider = make_rider(
        mass_kg={"value": MASS_KG - 8.0, "sd": 10.0 * doubt},
        kit_kg=0.0,
        power_w=POWER_W,
        cadence_top_rpm=250.0,
        cadence_low_rpm=10.0,
        coast_grade_pct=-50.0,
        coast_speed_kmh=150.0,
        positions={"climbing_factor": 1.0, "tuck_factor": 1.0},
    )
    build = make_build(
        name="plain",
        mass_kg=8.0,
        cda_m2={"value": CDA_M2, "sd": 0.05 * doubt},
        crr={"value": CRR, "sd": 0.002 * doubt},
        wheel_drag_area_m2=0.0,
        wheel_inertia_kgm2=0.0,
        bearing_factor=0.0,
        drivetrain_efficiency=EFFICIENCY,
        chainrings=[34, 60],
        sprockets=[11, 30],
    )
    return RideSetup(rider=rider, build=build, weather=make_weather(humidity_pct=0.0))


def shipped_ride():
    """The demo's first ride, laid out for the kernels."""
    setup = RideSetup(
        rider=load_rider(example_path("configs/rider.toml")),
        build=load_build(example_path("configs/gannet.toml")),
        weather=load_weather(example_path("configs/weather.toml")),
    )
    return Laid(load_course(example_path("courses/three-hills")), setup)


class Equation:
    """The same ride as plain arrays: what each segment holds back, and what air takes."""

    def __init__(self, course):
        sines, cosines = np.sin(np.arctan(course.grades)), np.cos(np.arctan(course.grades))
        self.holds = G * (sines + CRR * cosines)  # per kg
        self.sines, self.cosines = sines, cosines
        halves_m = 0.5 * (course.node_heights_m[1:] + course.node_heights_m[:-1])
        station_k = 288.15
        warm = 1.0 - LAPSE * halves_m / station_k
        sea_level = 101325.0 / (GAS_CONSTANT * station_k)
        self.halves_kgm3 = 0.5 * sea_level * warm ** (G / (GAS_CONSTANT * LAPSE) - 1.0)

    def by_scipy(self, method="RK45"):
        """`solve_ivp` over the whole course, at most a segment at once."""
        holds_n, ks = MASS_KG * self.holds, CDA_M2 * self.halves_kgm3
        last = len(ks) - 1

        def rate(s_m, y):
            i = min(int(s_m / STEP_M), last)
            v = math.sqrt(y[0])
            return [(EFFICIENCY * POWER_W / v - holds_n[i] - ks[i] * y[0]) * 2.0 / MASS_KG, 1.0 / v]

        found = solve_ivp(
            rate,
            (0.0, STEP_M * len(ks)),
            [START_MPS**2, 0.0],
            method=method,
            max_step=STEP_M,
            rtol=1e-6,
            atol=1e-9,
        )
        return found.y[1, -1]

    def by_plain_loop(self):
        """The classical Runge-Kutta method written out in Python."""
        drive, two_over_m = EFFICIENCY * POWER_W, 2.0 / MASS_KG
        u, time_s = START_MPS**2, 0.0
        for hold, half in zip(
            (MASS_KG * self.holds).tolist(), self.halves_kgm3.tolist(), strict=True
        ):
            k = CDA_M2 * half
            v1 = math.sqrt(u)
            f1 = two_over_m * (drive / v1 - hold - k * u)
            u2 = u + 0.5 * STEP_M * f1
            v2 = math.sqrt(u2)
            f2 = two_over_m * (drive / v2 - hold - k * u2)
            u3 = u + 0.5 * STEP_M * f2
            v3 = math.sqrt(u3)
            f3 = two_over_m * (drive / v3 - hold - k * u3)
            u4 = u + STEP_M * f3
            v4 = math.sqrt(u4)
            f4 = two_over_m * (drive / v4 - hold - k * u4)
            time_s += STEP_M / 6.0 * (1.0 / v1 + 2.0 / v2 + 2.0 / v3 + 1.0 / v4)
            u += STEP_M / 6.0 * (f1 + 2.0 * f2 + 2.0 * f3 + f4)
        return time_s

    def many_by_numpy(self, masses_kg, areas_m2, crrs):
        """The same method, numpy arrays over all rides at once, a Python loop over segments."""
        drive, two_over_m = EFFICIENCY * POWER_W, 2.0 / masses_kg
        u, time_s = np.full(len(masses_kg), START_MPS**2), np.zeros(len(masses_kg))
        for sine, cosine, half in zip(self.sines, self.cosines, self.halves_kgm3, strict=True):
            hold = masses_kg * G * (sine + crrs * cosine)
            k = areas_m2 * half
            v1 = np.sqrt(u)
            f1 = two_over_m * (drive / v1 - hold - k * u)
            u2 = u + 0.5 * STEP_M * f1
            v2 = np.sqrt(u2)
            f2 = two_over_m * (drive / v2 - hold - k * u2)
            u3 = u + 0.5 * STEP_M * f2
            v3 = np.sqrt(u3)
            f3 = two_over_m * (drive / v3 - hold - k * u3)
            u4 = u + STEP_M * f3
            v4 = np.sqrt(u4)
            f4 = two_over_m * (drive / v4 - hold - k * u4)
            time_s += STEP_M / 6.0 * (1.0 / v1 + 2.0 / v2 + 2.0 / v3 + 1.0 / v4)
            u += STEP_M / 6.0 * (f1 + 2.0 * f2 + 2.0 * f3 + f4)
        return time_s


def many_draws(n):
    """Masses, drag areas and rolling coefficients of many rides."""
    rng = np.random.default_rng(1)
    return (
        rng.normal(MASS_KG - 8.0, 1.0, n),
        rng.normal(CDA_M2, 0.005, n),
        rng.normal(CRR, 0.0002, n),
    )


def write_gpx(path, km):
    """A winding, hilly ride with a point every 10 m, heights and times."""
    along = 10.0 * np.arange(round(100 * km))
    heading = 0.8 * np.sin(along / 400.0) + 0.3 * np.sin(along / 90.0)
    lats = np.cumsum(10.0 * np.cos(heading)) / 111_000.0
    lons = np.cumsum(10.0 * np.sin(heading)) / 111_000.0
    heights = 200.0 + 60.0 * np.sin(along / 1500.0) + 12.0 * np.sin(along / 400.0)
    when = np.datetime64("2026-05-03T09:00:00") + np.arange(len(along)).astype("timedelta64[s]")
    rows = "\n".join(
        f'<trkpt lat="{a:.7f}" lon="{b:.7f}"><ele>{h:.1f}</ele><time>{t}Z</time></trkpt>'
        for a, b, h, t in zip(lats, lons, heights, when, strict=True)
    )
    path.write_text(
        '<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">'
        f"<trk><trkseg>{rows}</trkseg></trk></gpx>",
        encoding="utf-8",
    )
    return path


def course_by_packages(path):
    """Parse with gpxpy, measure with geographiclib, smooth heights with scipy; length in m."""
    points = gpxpy.parse(path.read_text(encoding="utf-8")).tracks[0].segments[0].points
    legs_m = [
        Geodesic.WGS84.Inverse(a.latitude, a.longitude, b.latitude, b.longitude)["s12"]
        for a, b in pairwise(points)
    ]
    along_m = np.concatenate(([0.0], np.cumsum(legs_m)))
    make_smoothing_spline(along_m, [point.elevation for point in points])
    return along_m[-1]


def made_catalogue(n_slots, n_options):
    """Slots of parts that change mass, drag area and rolling, with prices."""
    rng = np.random.default_rng(4)
    slots = tuple(
        Slot(name=f"s{i}", now="old", resale=0.0, provides=NONE, needs=NONE, excludes=NONE)
        for i in range(n_slots)
    )
    parts = tuple(
        Part(
            name=f"p{i}-{j}",
            slots=(f"s{i}",),
            price=float(rng.integers(20, 900)),
            labour=0.0,
            changes=(
                ("mass_kg", Uncertain(float(rng.uniform(-0.3, 0.05)))),
                ("crr", Uncertain(float(rng.uniform(-0.0002, 0.00002)))),
            ),
            owns=(),
            yaw_degs=(0.0,),
            cda_changes_m2=(float(rng.uniform(-0.002, 0.0003)),),
            cda_change_sd_m2=0.0,
            chainrings=None,
            sprockets=None,
            wheel_radius_m=None,
            provides=NONE,
            needs=NONE,
            excludes=NONE,
            note="",
        )
        for i in range(n_slots)
        for j in range(n_options - 1)
    )
    return Catalogue(currency="crowns", slots=slots, parts=parts, provides=NONE, source="")


def set_by_milp(catalogue, build, ride_s, budget):
    """Parts chosen by a solver for sums (HiGHS), from what each gains alone.

    Returns
    -------
    tuple
        Time of the chosen set ridden as a whole, in s, and how many rides it took.
    """
    alone_s = ride_s(build)
    gains_s = np.array(
        [alone_s - ride_s(apply_parts(build, catalogue, [p])) for p in catalogue.parts]
    )
    prices = np.array([part.price for part in catalogue.parts])
    one_a_slot = np.array(
        [
            [float(part.slots[0] == slot.name) for part in catalogue.parts]
            for slot in catalogue.slots
        ]
    )
    found = milp(
        -gains_s,
        constraints=[LinearConstraint(prices, ub=budget), LinearConstraint(one_a_slot, ub=1.0)],
        bounds=Bounds(0.0, 1.0),
        integrality=np.ones(len(prices)),
    )
    chosen = [part for part, x in zip(catalogue.parts, found.x, strict=True) if x > 0.5]
    return ride_s(apply_parts(build, catalogue, chosen)), len(prices) + 2


def one_by_one_s(course, setup):
    """Time of a build on a course, ridden alone."""

    def ride_s(build):
        changed = RideSetup(rider=setup.rider, build=build, weather=setup.weather)
        return simulate(course=course, setup=changed).time_s

    return ride_s
