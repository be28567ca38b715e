"""A stranger recomputes the ride from the JSON alone, with scipy and the equations in it.

Nothing of the package is used between the text of the JSON and the times: only what stands there.
"""

import json
import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from simulator.course import Corner
from simulator.pacing import Pacing, Surge, constant_demand, demand_of
from simulator.report import make_ride_view, ride_json
from simulator.ride import simulate
from simulator.setup import WindAt

MILLISECOND = 0.001
HUNDREDTH_OF_A_SECOND = 0.01


class Stranger:
    """Integrates the equations of the JSON in time; state is distance in the step, speed, W′."""

    def __init__(self, data):
        self.rules = SimpleNamespace(**data["rules"])
        self.steps = data["steps"]
        self.changes = data["changes"]
        self.start = data["start"]
        self.ceilings = [math.inf if c is None else c**2 for c in data["step_ceilings_mps"]]
        self.n = len(self.steps["length_m"])

    def step(self, i):
        return SimpleNamespace(**{name: values[i] for name, values in self.steps.items()})

    def moment(self, t, v, last_corner_s, step):
        """Wind, power factor, critical power and surge in the middle of a step's time."""
        c = self.changes
        lasts_s = step.length_m / v if v >= 0.5 else 0.0
        middle_s = t + 0.5 * lasts_s
        east = np.interp(middle_s, c["wind_times_s"], c["winds_from_east_mps"])
        north = np.interp(middle_s, c["wind_times_s"], c["winds_from_north_mps"])
        share = 1.0
        if c["decline_after_s"] is not None and middle_s > c["decline_after_s"]:
            share = 1.0 - c["decline_per_log"] * math.log(middle_s / c["decline_after_s"])
        left_s = last_corner_s + c["surge_s"] - t
        surge = min(max(left_s / lasts_s, 0.0), 1.0) if lasts_s else float(left_s > 0.0)
        return SimpleNamespace(east=east, north=north, share=share, surge_w=step.surge_w * surge)

    def forces(self, v, reserve, step, now):
        """Net force without ceilings, force at the pedals."""
        r = self.rules
        head = now.east * step.axis_east + now.north * step.axis_north
        cross = now.east * step.axis_north - now.north * step.axis_east
        a = v + head
        apparent = math.hypot(a, cross)
        x = (cross / apparent) ** 2 if apparent else 0.0
        area = r.area_base_m2 + r.area_bend_0 * x
        for angle in (5, 10, 15, 20, 30):
            bend = getattr(r, f"area_bend_{angle}")
            area += bend * max(x, math.sin(math.radians(angle)) ** 2)
        b = min(max((v - step.position_mps) / 2.0 + 0.5, 0.0), 1.0)
        position = step.position_slow + (step.position_fast - step.position_slow) * b
        air = (
            r.half_density_kgm3 * step.density_ratio * apparent * a
            * (r.wheel_drag_area_m2 + position * area)
        )  # fmt: skip
        lateral = v * v * step.inverse_radius_per_m * r.inverse_pedal_lateral_s2_per_m
        fade = min(1.0, (r.spin_mps - v) * r.inverse_spin_width_s_per_m, 5.0 - 5.0 * lateral)
        wanted = (step.power_w + now.surge_w) * r.power_factor * now.share * max(fade, 0.0)
        cap = r.cp_w * now.share + r.surge_w * reserve * r.inverse_wprime_per_j
        push = min(wanted, cap) * min(1.0 / v if v > 0 else math.inf, r.inverse_grind_s_per_m)
        push = min(push, r.start_pedal_n)
        hold = r.weight_n * (step.sin_slope + step.cos_slope * r.crr * step.crr_factor)
        bearing = r.bearing_constant_n + r.bearing_slope_ns_per_m * v
        return r.efficiency * push - hold - bearing - air, push

    def reserve_rate(self, power, reserve, now):
        r = self.rules
        cp = r.cp_w * now.share
        if power > cp:
            return -r.reserve_on * (power - cp)
        return r.reserve_on * (1.0 - reserve * r.inverse_wprime_per_j) * (cp - power)

    def ride_step(self, i, v, reserve, t, last_corner_s):
        """One step: free until the ceiling is met, along it while it holds, free again."""
        step, r = self.step(i), self.rules
        now = self.moment(t, v, last_corner_s, step)
        low, high = self.ceilings[i], self.ceilings[i + 1]
        has_ceiling = math.isfinite(low) and math.isfinite(high)
        slope = (high - low) / step.length_m if has_ceiling else 0.0
        s, took_s = 0.0, 0.0
        if math.isfinite(low):
            v = min(v, math.sqrt(low))

        def ceiling(at):
            return low + slope * at if has_ceiling else math.inf

        def pull(v, reserve):
            return r.two_over_mass_per_kg * self.forces(v, reserve, step, now)[0]

        def free(_, y):
            net, push = self.forces(max(y[1], 0.0), y[2], step, now)
            rate = self.reserve_rate(push * max(y[1], 0.0), y[2], now)
            return [max(y[1], 0.0), 0.5 * r.two_over_mass_per_kg * net, rate]

        def at_end(_, y):
            return y[0] - step.length_m

        def at_ceiling(_, y):
            return y[1] ** 2 - ceiling(y[0])

        def held(at, y):
            v_here = math.sqrt(max(ceiling(at), 1e-12))
            net, push = self.forces(v_here, y[1], step, now)
            drive = r.efficiency * push
            less = min(net - slope / r.two_over_mass_per_kg, drive)
            rate = self.reserve_rate((push - less / r.efficiency) * v_here, y[1], now)
            return [1.0 / v_here, rate / v_here]

        def let_go(at, y):
            return pull(math.sqrt(max(ceiling(at), 1e-12)), y[1]) - slope

        at_end.terminal, at_end.direction = True, 1.0
        at_ceiling.terminal, at_ceiling.direction = True, 1.0
        let_go.terminal, let_go.direction = True, -1.0
        tight = {"method": "DOP853", "rtol": 1e-10, "atol": 1e-10}
        while s < step.length_m * (1.0 - 1e-12):
            on_it = has_ceiling and v * v >= ceiling(s) * (1.0 - 1e-9)
            if on_it and pull(v, reserve) >= slope:
                done = solve_ivp(held, (s, step.length_m), [0.0, reserve], events=let_go, **tight)
                s = done.t[-1]
                took_s += done.y[0, -1]
                reserve = done.y[1, -1]
                # Off the ceiling by a hair, so that the free ride starts below it.
                v = math.sqrt(ceiling(s)) * (1.0 - 1e-9 * (s < step.length_m))
                continue
            events = [at_end, at_ceiling] if has_ceiling else [at_end]
            done = solve_ivp(free, (0.0, 1e4), [s, v, reserve], events=events, **tight)
            s, v, reserve = done.y[:, -1]
            took_s += done.t[-1]
        return v, reserve, took_s

    def times(self):
        v, reserve = self.start["speed_mps"], self.start["reserve_j"]
        t, last_corner_s, times_s, speeds = 0.0, -math.inf, [0.0], [v]
        for i in range(self.n):
            if self.steps["opens_surge"][i] > 0.0:
                last_corner_s = t
            v, reserve, took_s = self.ride_step(i, v, reserve, t, last_corner_s)
            t += took_s
            times_s.append(t)
            speeds.append(v)
        return np.array(times_s), np.array(speeds), reserve


def stranger_of(ride, demand):
    text = ride_json(make_ride_view(ride, demand), ride, demand)
    document = json.loads(text)
    assert (document["schema"], document["version"]) == ("buildgap/ride", 1)
    return Stranger(document["data"]), document["data"]


def test_hills_wind_and_reserve_from_a_standing_start(hilly_setup, rolling_course):
    # Demand above critical power for much of the way; everything on, no corner.
    rider = replace(hilly_setup.rider, cp_w=230.0, wprime_j=15_000.0, max_power_w=700.0)
    setup = replace(hilly_setup, rider=rider)
    course = rolling_course(160, start="standing")
    demand = constant_demand(course, rider, power_w=260.0)
    ride = simulate(course=course, setup=setup, demand=demand)
    stranger, data = stranger_of(ride, demand)
    times_s, speeds, reserve_j = stranger.times()
    assert abs(times_s[-1] - data["time_s"]) < MILLISECOND
    assert speeds[-1] == pytest.approx(data["nodes"]["speed_mps"][-1], abs=1e-4)
    assert reserve_j == pytest.approx(data["nodes"]["reserve_j"][-1], rel=1e-5)
    assert reserve_j < 0.99 * rider.wprime_j


def test_corners_braking_and_letting_go(hilly_setup, cornered_course):
    course = cornered_course(1500.0, hills=1.5)
    rider = replace(hilly_setup.rider, lean_deg=20.0, pedal_lean_deg=15.0, braking_g=0.25)
    setup = replace(hilly_setup, rider=rider)
    demand = constant_demand(course, rider)
    ride = simulate(course=course, setup=setup, demand=demand)
    assert ride.energies_j[5].sum() > 1000.0  # the brakes are really used
    stranger, data = stranger_of(ride, demand)
    times_s, _, _ = stranger.times()
    assert abs(times_s[-1] - data["time_s"]) < HUNDREDTH_OF_A_SECOND


def test_what_changes_with_time(hilly_setup, rolling_course):
    rider = replace(hilly_setup.rider, decline_after_s=30.0, decline_per_log=0.08)
    winds = (
        WindAt(time_s=0.0, wind_mps=3.0, wind_from_deg=180.0),
        WindAt(time_s=60.0, wind_mps=8.0, wind_from_deg=270.0),
    )
    weather = replace(hilly_setup.weather, winds=winds)
    setup = replace(hilly_setup, rider=rider, weather=weather)
    bend = Corner(
        number=1, name="bend", start_m=190.0, apex_m=195.0, end_m=200.0, radius_m=40.0,
        turn_rad=1.0, lap=1,
    )  # fmt: skip
    course = replace(rolling_course(160), corners=(bend,))
    pacing = Pacing(name="surges", rules=(Surge(add_w=60.0, for_s=5.0),))
    demand = demand_of(pacing, course=course, rider=rider, weather=weather)
    ride = simulate(course=course, setup=setup, demand=demand)
    stranger, data = stranger_of(ride, demand)
    times_s, _, _ = stranger.times()
    assert abs(times_s[-1] - data["time_s"]) < MILLISECOND
    assert max(data["segments"]["power_w"]) > 1.2 * rider.power_w.value  # the surge was ridden
    calm = simulate(course=course, setup=hilly_setup, demand=demand)
    assert abs(calm.time_s - ride.time_s) > 0.5
