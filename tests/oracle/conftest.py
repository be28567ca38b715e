"""The twin: the force balance written out again from its sources, in plain Python."""

import math

import numpy as np
import pytest

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


@pytest.fixture(scope="session")
def twin_of():
    """``twin_of(course, setup)``: the independent forces of a setup on a course."""
    return Twin
