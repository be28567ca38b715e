"""Rides under ceilings and with W' against independent solutions with located events.

The twin's forces (see ``conftest.py``) are solved by scipy's DOP853 at tight tolerance with event
location: free until the ceiling is met, along it while the free ride would rise above it.
"""

import math

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from simulator.course import course_from_arrays
from simulator.pacing import Demand
from simulator.ride import simulate

MILLISECOND = 0.001
G = 9.80665
NO_CEILING_MPS = 50.0
TIGHT = {"method": "DOP853", "rtol": 1e-11, "atol": 1e-11}


def ceiling_times(twin, powers_w, ceilings_mps, u_start):
    """Times and u at the nodes of a ride below ceilings whose u is linear on every segment."""
    limits = np.minimum(ceilings_mps, NO_CEILING_MPS) ** 2
    u, time_s = min(u_start, limits[0]), 0.0
    times, us, held_m = [0.0], [u], 0.0
    for i, length in enumerate(twin.course.lengths_m):
        place, power = twin.place(i), powers_w[i]
        first, slope = limits[i], (limits[i + 1] - limits[i]) / length

        def rise(u, i=i, place=place, power=power):
            return 2.0 * twin.net(math.sqrt(u), i, power, place) / twin.m_eff

        def line(x, first=first, slope=slope):
            return first + slope * x

        x = 0.0
        while x < length * (1.0 - 1e-13):
            if u >= line(x) * (1.0 - 1e-12) and rise(line(x)) >= slope:
                # Along the ceiling until the free ride falls below it.
                end = length
                if rise(line(length)) < slope:
                    low, high = x, length
                    for _ in range(80):
                        middle = 0.5 * (low + high)
                        low, high = (middle, high) if rise(line(middle)) >= slope else (low, middle)
                    end = high
                time_s += quad(lambda s: line(s) ** -0.5, x, end, epsabs=1e-12, epsrel=1e-12)[0]
                held_m += end - x
                x, u = end, line(end)
                if x < length:
                    u *= 1.0 - 1e-11
                continue

            def meets(s, y, line=line):
                return y[0] - line(s)

            meets.terminal, meets.direction = True, 1.0
            solved = solve_ivp(
                lambda _, y, rise=rise: [rise(y[0]), y[0] ** -0.5],
                (x, length),
                [u, 0.0],
                events=meets,
                **TIGHT,
            )
            x, u = solved.t[-1], solved.y[0, -1]
            time_s += solved.y[1, -1]
            if solved.status == 1:
                u = line(x)
        times.append(time_s)
        us.append(u)
    return np.array(times), np.array(us), held_m


def test_a_cornered_ride_agrees_with_located_events(hilly_setup, varied, cornered_course, twin_of):
    # 2 km, seven bends, braking into each, power fading with the lean inside them.
    rider = {"lean_deg": 18.0, "pedal_lean_deg": 16.0, "power_w": 340.0, "braking_g": 0.25}
    setup = varied(hilly_setup, rider=rider)
    course = cornered_course(2000.0, hills=0.6)
    ride = simulate(course=course, setup=setup)
    powers_w = setup.rider.power_w.value * np.clip(
        (course.grades - setup.rider.coast_grade) / 0.01, 0.0, 1.0
    )
    times, us, held_m = ceiling_times(
        twin_of(course, setup), powers_w, ride.ceilings_mps, ride.node_speeds_mps[0] ** 2
    )
    assert held_m > 80.0
    assert (ride.energies_j[5] > 1.0).sum() > 15
    assert ride.node_times_s == pytest.approx(times, abs=MILLISECOND)
    assert ride.node_speeds_mps == pytest.approx(np.sqrt(us), abs=1e-3)


def ceilings_again(setup, course):
    """Corner and braking limits written out again, node by node from the finish."""
    lean = math.tan(math.radians(setup.rider.lean_deg))
    mu = setup.build.grip_dry.value
    lift = 0.60 / 1.15
    n = course.n_segments
    angle = np.arctan(course.grades)
    sideways = np.minimum(
        np.sqrt(np.maximum((mu * np.cos(angle)) ** 2 - np.sin(angle) ** 2, 0.0)),
        lean * np.cos(angle),
    )
    corner = sideways * G * course.radii_m
    limit = np.full(n + 1, NO_CEILING_MPS**2)
    limit[:-1] = np.minimum(limit[:-1], corner)
    limit[1:] = np.minimum(limit[1:], corner)
    for i in range(n - 1, -1, -1):
        u, sin, cos = limit[i + 1], math.sin(angle[i]), math.cos(angle[i])
        if u >= NO_CEILING_MPS**2:
            continue
        tyres = math.sqrt(max((mu * cos) ** 2 - (u / (G * course.radii_m[i])) ** 2, 0.0))
        share = min(u / corner[i], 1.0)
        willing = setup.rider.braking_g * math.sqrt(1.0 - share**2) + max(-sin, 0.0)
        slowing = G * (min(tyres, lift * cos, willing) + sin)
        limit[i] = min(limit[i], u + 2.0 * slowing * course.lengths_m[i])
    return np.sqrt(limit)


def test_ceilings_written_out_again(hilly_setup, varied, cornered_course):
    for rider, grip in (
        ({"lean_deg": 30.0, "braking_g": 0.4}, 0.8),
        ({"lean_deg": 40.0, "braking_g": 0.9}, 0.55),
        ({"lean_deg": 20.0, "braking_g": 0.2}, 0.35),
    ):
        setup = varied(hilly_setup, rider=rider, build={"grip_dry": grip})
        # Hills gentle enough that every segment is one step, as it is in the twin.
        course = cornered_course(3000.0, hills=0.6)
        ours = np.minimum(simulate(course=course, setup=setup).ceilings_mps, NO_CEILING_MPS)
        assert (ours < 15.0).sum() > 50
        assert ours == pytest.approx(ceilings_again(setup, course), rel=1e-9)


def braking_curve(setup, curvature_of, start_m, end_m, u_end, at_m):
    """u over distance of the hardest braking that keeps to the ellipse, solved backward."""
    lean = math.tan(math.radians(setup.rider.lean_deg))
    mu = setup.build.grip_dry.value

    def back(s, y):
        u, curve = y[0], curvature_of(s)
        corner = min(mu, lean) * G / curve if curve > 0.0 else math.inf
        share = min(u / corner, 1.0)
        tyres = math.sqrt(max(mu**2 - (u * curve / G) ** 2, 0.0))
        willing = setup.rider.braking_g * math.sqrt(1.0 - share**2)
        return [-2.0 * G * min(tyres, 0.60 / 1.15, willing)]

    solved = solve_ivp(
        back, (end_m, start_m), [u_end], t_eval=at_m[::-1], max_step=0.5, rtol=1e-9, atol=1e-9
    )
    return solved.y[0, ::-1]


def test_braking_into_a_tightening_bend_converges_on_the_ellipse(plain_setup, varied):
    # Curvature grows in a straight line from 0 to 1/12 m over 60 m, flat. The rider brakes while
    # turning; the curve of steps nears the differential equation's at first order.
    setup = varied(plain_setup, rider={"lean_deg": 30.0, "braking_g": 0.4})
    length_m = 60.0

    def error_mps(step_m):
        n = round(length_m / step_m)
        s_m = (np.arange(n) + 0.5) * step_m
        course = course_from_arrays(
            lengths_m=np.concatenate([np.full(n, step_m), [1.0]]),
            grades=0.0,
            radii_m=np.concatenate([12.0 * length_m / s_m, [12.0]]),
        )
        ours = simulate(course=course, setup=setup, start_speed_mps=3.0).ceilings_mps[: n + 1]
        at_m = np.arange(n + 1) * step_m
        lean = math.tan(math.radians(30.0))
        exact = np.sqrt(
            braking_curve(
                setup,
                lambda s: s / (12.0 * length_m),
                0.0,
                length_m,
                lean * G * 12.0 * (1.0 - 1e-9),
                at_m,
            )
        )
        braked = at_m < 40.0
        return np.abs(ours - exact)[braked].max()

    errors = [error_mps(h) for h in (5.0, 2.5, 1.25, 0.625)]
    assert errors[0] < 0.6
    ratios = np.array(errors[:-1]) / np.array(errors[1:])
    assert (ratios > 1.6).all()


def test_w_prime_agrees_with_an_independent_solution(hilly_setup, varied, rolling_course, twin_of):
    # Speed and W' together (Skiba 2015 differential balance, power limited as in Morton 1996),
    # over hills on which W' is spent and refilled.
    cp_w, wprime_j, max_w = 215.0, 7000.0, 700.0
    setup = varied(
        hilly_setup,
        rider={"cp_w": cp_w, "wprime_j": wprime_j, "max_power_w": max_w},
    )
    course = rolling_course(900)
    powers_w = np.where(course.grades > 0.0, 330.0, 120.0)
    demand = Demand(powers_w=powers_w, text="hard up, easy down")
    ride = simulate(course=course, setup=setup, demand=demand)
    twin = twin_of(course, setup)
    eta = setup.build.drivetrain_efficiency.value
    u, reserve, time_s = ride.node_speeds_mps[0] ** 2, wprime_j, 0.0
    times, reserves = [0.0], [reserve]
    for i, length in enumerate(course.lengths_m):
        place, wanted = twin.place(i), powers_w[i]

        def rates(_, y, i=i, place=place, wanted=wanted):
            v, w = math.sqrt(y[0]), y[1]
            # The limit applies to power after it has faded with speed.
            free_n = twin.net(v, i, wanted, place) - twin.net(v, i, 0.0, place)
            power = min(free_n * v / eta, cp_w + (max_w - cp_w) * w / wprime_j)
            net = twin.net(v, i, 0.0, place) + eta * power / v
            rate = -(power - cp_w) if power > cp_w else (1.0 - w / wprime_j) * (cp_w - power)
            return [2.0 * net / twin.m_eff, rate / v, 1.0 / v]

        solved = solve_ivp(rates, (0.0, length), [u, reserve, 0.0], **TIGHT)
        u, reserve, dt_s = solved.y[:, -1]
        time_s += dt_s
        times.append(time_s)
        reserves.append(reserve)
    assert min(reserves) < 0.15 * wprime_j
    assert np.diff(reserves).max() > 0.5
    assert ride.node_times_s == pytest.approx(times, abs=MILLISECOND)
    assert ride.node_reserves_j == pytest.approx(reserves, abs=1.0)
