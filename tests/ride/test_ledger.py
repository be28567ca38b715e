"""What entered a ride, told so that it adds up; time in each position."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.pacing import Demand, constant_demand
from simulator.physics.forces import forces_at
from simulator.physics.params import Rules
from simulator.physics.step import step_at
from simulator.ride import ledger_of, simulate, sitting_times_s
from simulator.ride.prepare import nominal_rules, rule_columns
from simulator.ride.roadsteps import prepare_steps, standing_shares


def test_steps_cover_the_course_and_nothing_else(hilly_setup, rolling_course):
    course = rolling_course(300)
    demand = constant_demand(course, hilly_setup.rider)
    ledger = ledger_of(simulate(course=course, setup=hilly_setup, demand=demand), demand)
    assert ledger.steps["length_m"].sum() == pytest.approx(course.distance_m)
    lengths_m = np.bincount(ledger.segment_of_step, weights=ledger.steps["length_m"])
    assert lengths_m == pytest.approx(course.lengths_m)
    assert len(ledger.node_ceilings_mps) == len(ledger.segment_of_step) + 1
    assert ledger.rules["weight_n"] == pytest.approx(9.80665 * (72.0 + 3.0 + 8.0))


def test_bottles_ride_along(hilly_setup, rolling_course, varied):
    course = rolling_course(100)
    demand = constant_demand(course, hilly_setup.rider)
    heavier = varied(hilly_setup, rider={"bottles_kg": 1.5})
    ledger = ledger_of(simulate(course=course, setup=heavier, demand=demand), demand)
    assert ledger.rules["weight_n"] == pytest.approx(9.80665 * (72.0 + 3.0 + 1.5 + 8.0))


def test_times_in_positions_add_up_and_lie_where_they_should(hilly_setup, rolling_course):
    course = rolling_course(2000)
    demand = constant_demand(course, hilly_setup.rider)
    ride = simulate(course=course, setup=hilly_setup, demand=demand)
    times_s = sitting_times_s(ride, demand)
    assert sum(times_s.values()) == pytest.approx(ride.time_s, rel=1e-12)
    assert times_s["standing"] == 0.0
    steep_s = np.diff(ride.node_times_s)[course.grades >= 0.04].sum()
    assert 0.0 < times_s["climbing"] <= steep_s
    assert times_s["tuck"] > 0.0


def test_shares_of_positions_are_those_of_the_drag(hilly_setup, even_course, varied):
    # One climbing metre at any speed: what the kernel makes of the drag area is what is reported.
    setup = varied(
        hilly_setup,
        positions={"climbing_grade": 0.03, "climbing_speed_mps": 6.0, "climbing_factor": 1.2},
    )
    course = even_course(5.0, 0.05)
    demand = Demand(powers_w=np.array([300.0]), text="")
    ride = simulate(course=course, setup=setup, demand=demand, start_speed_mps=6.3)
    steps = prepare_steps(course, setup, demand)
    rules = nominal_rules(setup)
    v = 0.5 * (ride.node_speeds_mps[0] + ride.node_speeds_mps[1])
    no_wheels = rules._replace(wheel_drag_area_m2=0.0)
    step = step_at(steps.rows, 0)
    plain = step._replace(position_slow=1.0, position_fast=1.0)
    factor = forces_at(v, 1.0 / v, 0.0, step, no_wheels).air_n / (
        forces_at(v, 1.0 / v, 0.0, plain, no_wheels).air_n
    )
    share = sitting_times_s(ride, demand)["climbing"] / ride.time_s
    assert 0.05 < share < 0.95
    assert factor == pytest.approx(1.0 + 0.2 * share, rel=1e-9)


def test_out_of_the_saddle_above_a_power_on_climbs_only(hilly_setup, even_course, varied):
    setup = varied(hilly_setup, positions={"standing_factor": 1.3, "standing_power_w": 300.0})
    climb, flat = even_course(1000.0, 0.06), even_course(1000.0, 0.0)
    hard, easy = (Demand(powers_w=np.full(200, w), text="") for w in (340.0, 260.0))
    assert (standing_shares(climb, setup.rider, hard) == 1.0).all()
    assert (standing_shares(climb, setup.rider, easy) == 0.0).all()
    assert (standing_shares(flat, setup.rider, hard) == 0.0).all()
    ride = simulate(course=climb, setup=setup, demand=hard)
    assert sitting_times_s(ride, hard)["standing"] == pytest.approx(ride.time_s)
    seated = varied(hilly_setup)
    # 1.3 against 1.1 of the drag area, at the speed of a climb: slower, but not by much.
    assert 0.0 < ride.time_s / simulate(course=climb, setup=seated, demand=hard).time_s - 1.0 < 0.02


def test_getting_up_is_gradual_in_power(hilly_setup, even_course, varied):
    setup = varied(hilly_setup, positions={"standing_factor": 1.3, "standing_power_w": 300.0})
    climb = even_course(1000.0, 0.06)

    def time_s(power_w):
        demand = Demand(powers_w=np.full(200, power_w), text="")
        return simulate(course=climb, setup=setup, demand=demand).time_s

    # A ten-thousandth of a watt never switches the whole drag area.
    for power_w in (285.0, 300.0, 315.0):
        assert abs(time_s(power_w + 1e-4) - time_s(power_w)) < 1e-3


def test_highest_power_caps_a_rider_without_a_reserve(hilly_setup, even_course, varied):
    course = even_course(2000.0)
    demand = Demand(powers_w=np.full(400, 600.0), text="")
    setup = varied(hilly_setup)
    capped = replace(setup, rider=replace(setup.rider, max_power_w=400.0))
    ride = simulate(course=course, setup=capped, demand=demand)
    assert ride.powers_w.max() == pytest.approx(400.0, rel=1e-9)
    assert simulate(course=course, setup=setup, demand=demand).powers_w.max() > 599.0


def test_reduced_pressure_is_brought_back_to_the_station(hilly_setup, varied):
    # Standard atmosphere [ISO2533]: 898.746 hPa and 8.5 °C at 1000 m for 1013.25 hPa at the sea.
    air = {"temperature_degc": 8.5, "station_height_m": 1000.0, "humidity_pct": 0.0}
    at_station = varied(hilly_setup, weather={**air, "pressure_hpa": 898.746})
    reduced = varied(
        hilly_setup, weather={**air, "pressure_hpa": 1013.25, "is_pressure_reduced": True}
    )
    half = [
        float(rule_columns(setup)[Rules._fields.index("half_density_kgm3"), 0])
        for setup in (at_station, reduced)
    ]
    assert half[0] == pytest.approx(half[1], rel=1e-5)
    assert 2.0 * half[1] == pytest.approx(1.1117, abs=1e-4)  # [ISO2533], 1000 m
