"""The integrator against an independent solution of the same equation.

The twin below is written from the published force balance (Martin et al. 1998 with a drag on the
square of the apparent wind) in plain Python, shares no code with the kernels, and is solved by
scipy's DOP853 at tight tolerance, restarted at every segment border.
"""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from simulator.course import course_from_arrays
from simulator.ride import simulate
from simulator.setup import Build, Rider, RideSetup, Uncertain, Weather

MILLISECOND = 0.001
G = 9.80665


class Twin:
    """Forces on one setup, written out again from the sources, one segment at a time."""

    def __init__(self, course, setup):
        self.course, self.rider, self.build = course, setup.rider, setup.build
        b, r, w = setup.build, setup.rider, setup.weather
        self.m = b.mass_kg.value + r.mass_kg.value + r.kit_kg.value
        self.m_eff = self.m + b.wheel_inertia_kgm2.value / b.wheel_radius_m**2
        t_k = w.temperature_degc.value + 273.15
        p = w.pressure_hpa.value * 100.0
        e = (
            w.humidity_pct.value
            / 100.0
            * 611.2
            * math.exp(17.62 * w.temperature_degc.value / (243.12 + w.temperature_degc.value))
        )
        self.rho0 = p / (287.05287 * t_k) * (1.0 - 0.37802 * e / p)
        self.t_k = t_k
        self.station_m = w.station_height_m
        self.wind = w.wind_mps.value
        self.wind_from = math.radians(w.wind_from_deg.value)
        self.height = w.rider_height_m
        x_nodes = [math.sin(math.radians(a)) ** 2 for a in (0, 5, 10, 15, 20, 30, 90)]
        areas = b.cda_m2.value * np.interp((0, 5, 10, 15, 20, 30, 90), b.yaw_degs, b.cda_factors)
        self.area_at = lambda x: float(np.interp(x, x_nodes, areas))
        turn_m = 2.0 * math.pi * b.wheel_radius_m
        self.grind = r.cadence_low_rpm / 60 * min(b.chainrings) / max(b.sprockets) * turn_m
        spin_out = r.cadence_top_rpm / 60 * max(b.chainrings) / min(b.sprockets) * turn_m
        self.spin = min(spin_out, r.coast_speed_mps)

    def place(self, i):
        c = self.course
        th = math.atan(c.grades[i])
        h = 0.5 * (c.node_heights_m[i] + c.node_heights_m[i + 1]) - self.station_m
        warm = 1.0 - 0.0065 * h / self.t_k
        rho = self.rho0 * warm ** (G / (287.05287 * 0.0065)) / warm
        z0 = c.roughnesses_m[i]
        wind = self.wind * c.shelters[i] * math.log(self.height / z0) / math.log(10.0 / z0)
        angle = self.wind_from - c.headings_rad[i]
        return th, rho, wind * math.cos(angle), wind * math.sin(angle)

    def net(self, v, i, power, place):
        th, rho, head, cross = place
        b, r, p = self.build, self.rider, self.rider.positions
        grade = self.course.grades[i]
        slow = p.climbing_factor if grade >= p.climbing_grade else 1.0
        fast = p.tuck_factor if grade <= p.tuck_grade else 1.0
        about = p.tuck_speed_mps if grade <= p.tuck_grade else p.climbing_speed_mps
        position = slow + (fast - slow) * min(max((v - about + 1.0) / 2.0, 0.0), 1.0)
        along = v + head
        big_v = math.hypot(along, cross)
        x = (cross / big_v) ** 2 if big_v else 0.0
        area = self.area_at(x) * position + b.wheel_drag_area_m2.value
        air = 0.5 * rho * area * big_v * along
        hold = self.m * G * (math.sin(th) + b.crr.value * self.course.crr_factors[i] * math.cos(th))
        bearing = b.bearing_factor.value * (91.0 + 8.7 * v) * 1e-3
        fade = min(max((self.spin - v) / (0.05 * self.spin), 0.0), 1.0)
        lateral = v * v / self.course.radii_m[i]
        lean = lateral / (G * math.tan(math.radians(r.pedal_lean_deg)))
        fade = min(fade, max(5.0 * (1.0 - lean), 0.0))
        eta = b.drivetrain_efficiency.value
        drive = min(eta * power * fade / max(v, self.grind), r.start_force_n)
        return drive - hold - air - bearing


def tight_times(twin, powers_w, u_start):
    """Times at the nodes and final u, ceilings left out (the course has none)."""
    times, u = [0.0], u_start
    for i, length in enumerate(twin.course.lengths_m):
        place, power = twin.place(i), powers_w[i]

        def rate(_, y, i=i, place=place, power=power):
            v = math.sqrt(y[0])
            return [2.0 * twin.net(v, i, power, place) / twin.m_eff, 1.0 / v]

        solved = solve_ivp(rate, (0.0, length), [u, 0.0], method="DOP853", rtol=1e-11, atol=1e-11)
        u = solved.y[0, -1]
        times.append(times[-1] + solved.y[1, -1])
    return np.array(times), u


def made_course(n, *, step_m=5.0, start="rolling", radii_m=None):
    s_m = (np.arange(n) + 0.5) * step_m
    grades = 0.045 * np.sin(s_m / 900.0) + 0.02 * np.sin(s_m / 170.0) + 0.004 * np.sin(s_m / 23.0)
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


def test_an_hour_agrees_with_the_tight_solution(hilly_setup):
    # 33 km of hills, wind and changing shelter: about an hour.
    course = made_course(6600)
    ride = simulate(course=course, setup=hilly_setup)
    rider = hilly_setup.rider
    share = np.clip((course.grades - rider.coast_grade) / 0.01, 0.0, 1.0)
    times, u = tight_times(
        Twin(course, hilly_setup), rider.power_w.value * share, ride.node_speeds_mps[0] ** 2
    )
    assert times[-1] > 3300.0
    assert np.abs(ride.node_times_s - times).max() < MILLISECOND
    assert ride.node_speeds_mps[-1] == pytest.approx(math.sqrt(u), abs=1e-4)


def test_slow_steep_ride_agrees_with_the_tight_solution(hilly_setup):
    # 9 to 16 % all the way: stiff, near the lowest gear, where steps must be taken apart.
    n = 240
    s_m = (np.arange(n) + 0.5) * 5.0
    course = course_from_arrays(
        lengths_m=np.full(n, 5.0), grades=0.125 + 0.035 * np.sin(s_m / 110.0)
    )
    ride = simulate(course=course, setup=hilly_setup, start_speed_mps=3.0)
    times, _ = tight_times(
        Twin(course, hilly_setup), np.full(n, hilly_setup.rider.power_w.value), 9.0
    )
    assert np.abs(ride.node_times_s - times).max() < MILLISECOND


@pytest.fixture
def hilly_setup():
    from simulator.setup import Positions

    rider = Rider(
        name="made",
        mass_kg=Uncertain(72.0),
        kit_kg=Uncertain(3.0),
        power_w=Uncertain(240.0),
        cadence_top_rpm=115.0,
        cadence_low_rpm=35.0,
        start_force_n=250.0,
        coast_grade=-0.07,
        coast_speed_mps=16.0,
        lean_deg=35.0,
        pedal_lean_deg=25.0,
        braking_g=0.4,
        positions=Positions(
            climbing_factor=1.1,
            climbing_grade=0.04,
            climbing_speed_mps=6.0,
            tuck_factor=0.9,
            tuck_grade=-0.04,
            tuck_speed_mps=13.0,
        ),
        cp_w=None,
        wprime_j=None,
        max_power_w=None,
        source="test",
    )
    build = Build(
        name="made",
        mass_kg=Uncertain(8.0),
        cda_m2=Uncertain(0.31),
        yaw_degs=(0.0, 5.0, 10.0, 15.0, 20.0, 30.0, 90.0),
        cda_factors=(1.0, 0.99, 0.96, 0.97, 1.02, 1.1, 1.2),
        wheel_drag_area_m2=Uncertain(0.0044),
        crr=Uncertain(0.0042),
        wheel_inertia_kgm2=Uncertain(0.14),
        wheel_radius_m=0.334,
        bearing_factor=Uncertain(1.0),
        drivetrain_efficiency=Uncertain(0.975),
        chainrings=(34, 50),
        sprockets=(11, 30),
        grip_dry=Uncertain(0.8),
        grip_wet=Uncertain(0.5),
        price=None,
        source="test",
    )
    weather = Weather(
        name="made",
        temperature_degc=Uncertain(18.0),
        pressure_hpa=Uncertain(1008.0),
        station_height_m=20.0,
        humidity_pct=Uncertain(70.0),
        wind_mps=Uncertain(6.0),
        wind_from_deg=Uncertain(230.0),
        rider_height_m=1.2,
        is_wet=False,
        source="test",
    )
    return RideSetup(rider=rider, build=build, weather=weather)
