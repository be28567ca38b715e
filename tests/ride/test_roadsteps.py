"""A course is laid out once for all who ask for the same, and never for another."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.pacing import constant_demand
from simulator.physics.params import STEP_FIELDS
from simulator.ride import open_rehearsal, rehearse, simulate
from simulator.ride.roadsteps import prepare_steps, slope_sines


@pytest.fixture
def asked(hilly_setup, rolling_course):
    course = rolling_course(200)
    return course, hilly_setup, constant_demand(course, hilly_setup.rider)


def test_builds_share_the_steps_of_a_course(asked, varied):
    course, setup, demand = asked
    steps = prepare_steps(course, setup, demand)
    other = varied(setup, build={"cda_m2": 0.28, "mass_kg": 7.0})
    again = constant_demand(course, setup.rider)
    assert prepare_steps(course, other, again) is steps


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"demand": {"powers_w": 180.0}}, "power_w"),
        ({"demand": {"surge_w": 90.0}}, "surge_w"),
        ({"weather": {"rider_height_m": 1.5}}, "axis_east"),
        ({"rider": {"climbing_grade": 0.005, "climbing_factor": 1.2}}, "position_slow"),
    ],
)
def test_whatever_enters_the_steps_lays_them_out_anew(asked, change, field):
    course, setup, demand = asked
    column = STEP_FIELDS.index(field)
    before = prepare_steps(course, setup, demand).rows[:, column].copy()
    if "demand" in change:
        ((name, value),) = change["demand"].items()
        value = np.full(course.n_segments, value) if name == "powers_w" else value
        demand = replace(demand, **{name: value})
    elif "weather" in change:
        setup = replace(setup, weather=replace(setup.weather, **change["weather"]))
    else:
        positions = replace(setup.rider.positions, **change["rider"])
        setup = replace(setup, rider=replace(setup.rider, positions=positions))
    after = prepare_steps(course, setup, demand).rows[:, column]
    assert not np.array_equal(before, after)


def test_a_rehearsal_at_other_powers_leaves_rides_as_they_were(asked):
    course, setup, demand = asked
    before = simulate(course=course, setup=setup, demand=demand)
    nominal = constant_demand(course, setup.rider, power_w=250.0)
    shared = prepare_steps(course, setup, nominal)
    rows = shared.rows.copy()
    rehearse(open_rehearsal(course=course, setup=setup), np.full(course.n_segments, 111.0))
    assert np.array_equal(shared.rows, rows)
    after = simulate(course=course, setup=setup, demand=demand)
    assert after.time_s == before.time_s


def test_sines_of_slopes():
    grades = np.array([-0.2, 0.0, 0.05, 0.3])
    sines, cosines = slope_sines(grades)
    assert sines == pytest.approx(np.sin(np.arctan(grades)), abs=1e-16)
    assert cosines == pytest.approx(np.cos(np.arctan(grades)), rel=1e-15)
