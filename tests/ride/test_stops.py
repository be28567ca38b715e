"""A rider who cannot go on is an answer: where, why, and the other rides of a batch unharmed."""

import ast
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import simulator.physics
from simulator.course import course_from_arrays
from simulator.errors import CannotFinish
from simulator.ride import simulate, simulate_many
from simulator.setup import WindAt

STOPS = {
    # name: (grade, setup changes, start speed, place in km)
    "zero power up 2 %": (0.02, {"rider": {"power_w": 0.0}}, 7.0, r"0\.0[89]|0\.10"),
    "zero power on the flat, rolling in": (0.0, {"rider": {"power_w": 0.0}}, 7.0, r"0\.(29|30)"),
    "zero power on the flat, standing": (0.0, {"rider": {"power_w": 0.0}}, 0.0, r"0\.00"),
    "head wind of 60 m/s": (
        0.0, {"rider": {"power_w": 100.0}, "weather": {"wind_mps": 60.0}}, 7.0, r"0\.0\d",
    ),
    "wall of 40 %": (
        0.40, {"rider": {"power_w": 250.0, "cadence_low_rpm": 40.0}}, 7.0, r"0\.01",
    ),
    "wall of 500 %": (5.0, {"rider": {"cadence_low_rpm": 40.0}}, 7.0, r"0\.00"),
    "too weak to turn the lowest gear": (
        0.10, {"rider": {"power_w": 60.0, "cadence_low_rpm": 40.0}}, 7.0, r"0\.0[34]",
    ),
    "one watt from a standstill": (
        0.0, {"rider": {"power_w": 1.0, "cadence_low_rpm": 40.0}}, 0.0, r"0\.00",
    ),
    "push too weak to start uphill": (
        0.05, {"rider": {"start_force_n": 30.0}}, 0.0, r"0\.00",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", STOPS.values(), ids=STOPS.keys())
def test_who_cannot_go_on_is_told_where(case, plain_setup, varied, even_course):
    grade, changes, start_mps, place = case
    setup = varied(plain_setup, **changes)
    course = even_course(400.0, grade)
    with pytest.raises(CannotFinish, match=rf"cannot pass km ({place}) at \d+ W") as told:
        simulate(course=course, setup=setup, start_speed_mps=start_mps)
    assert f"{grade * 100.0:.1f} %" in str(told.value)
    times_s = simulate_many(
        course=course, setups=[setup], start_speed_mps=start_mps, marks=np.array([0, 80])
    )
    assert times_s.ravel().tolist() == [0.0, math.inf]


def test_the_place_of_the_stop_is_where_speed_runs_out(plain_setup, varied, even_course):
    # Coasting up 3 %: v0²/2 = g (sin + Crr cos) s without air.
    setup = varied(plain_setup, rider={"power_w": 0.0}, build={"cda_m2": 0.0})
    angle = math.atan(0.03)
    slowing = 9.80665 * (math.sin(angle) + 0.004 * math.cos(angle))
    place_km = 10.0**2 / (2.0 * slowing) / 1000.0
    with pytest.raises(CannotFinish, match=f"km {place_km:.2f} at 0 W"):
        simulate(course=even_course(1000.0, 0.03), setup=setup, start_speed_mps=10.0)


def test_a_stopped_ride_leaves_the_others_alone(plain_setup, varied, even_course):
    setup = varied(plain_setup, rider={"cadence_low_rpm": 40.0})
    course = even_course(500.0, 0.12)
    masses_kg = np.linspace(60.0, 260.0, 75)
    marks = np.arange(0, 101, 20)
    together_s = simulate_many(
        course=course, setups=[setup], draws=[{"rider.mass_kg": masses_kg}], marks=marks
    )[0]
    stopped = np.isinf(together_s[:, -1])
    assert 10 < stopped.sum() < 65
    # Once stopped, stopped for good; and the times of the others are those of a ride alone.
    assert (np.isinf(together_s[:, 1:]) >= np.isinf(together_s[:, :-1])).all()
    assert not np.isnan(together_s).any()
    for i in np.flatnonzero(~stopped)[::9]:
        alone_s = simulate_many(
            course=course,
            setups=[setup],
            draws=[{"rider.mass_kg": masses_kg[i : i + 1]}],
            marks=marks,
        )[0, 0]
        assert np.array_equal(alone_s, together_s[i])


@pytest.mark.parametrize("grip", [0.099, 0.08, 0.04, 0.008])
def test_a_bend_on_a_slope_that_takes_all_the_grip(grip, plain_setup, varied):
    # -10 %: tan is 0.1, so a grip of less holds no bike against the slope, let alone in a bend.
    curved = (np.arange(60) > 20) & (np.arange(60) < 25)
    course = course_from_arrays(
        lengths_m=np.full(60, 5.0), grades=-0.10, radii_m=np.where(curved, 15.0, np.inf)
    )
    setup = varied(plain_setup, rider={"lean_deg": 35.0}, build={"grip_dry": grip})
    with pytest.raises(CannotFinish, match=rf"cannot pass km 0\.1\d? upright.*grip of {grip:.2f}"):
        simulate(course=course, setup=setup)
    assert np.isinf(simulate_many(course=course, setups=[setup])).all()
    # A little more grip, and it is ridden, slowly.
    enough = varied(setup, build={"grip_dry": 0.12})
    ride = simulate(course=course, setup=enough)
    assert 0.0 < ride.node_speeds_mps[21:26].max() < 4.0


def test_ice_that_forbids_slowing_down_in_time(plain_setup, varied):
    # Good grip in the bend, none on the slope before it: nobody can brake there.
    i = np.arange(60)
    course = course_from_arrays(
        lengths_m=np.full(60, 5.0),
        grades=-0.10,
        radii_m=np.where((i >= 40) & (i < 44), 12.0, np.inf),
        grip_factors=np.where((i >= 5) & (i < 40), 0.05, 1.0),
    )
    setup = varied(plain_setup, rider={"lean_deg": 35.0})
    with pytest.raises(CannotFinish, match=r"cannot pass km 0\.\d\d upright"):
        simulate(course=course, setup=setup)
    assert np.isinf(simulate_many(course=course, setups=[setup])).all()


@pytest.mark.parametrize("places_m", [(500.0, 505.0), (500.0, 501.0, 502.0), (495.0, 500.0, 505.0)])
def test_stops_on_neighbouring_segments_are_passed(places_m, hilly_setup, even_course):
    # Declared restarts a few metres apart: the rider stops and starts again, and gets home.
    course = replace(even_course(1000.0), restarts_m=places_m)
    ride = simulate(course=course, setup=hilly_setup)
    once = simulate(course=replace(course, restarts_m=(500.0,)), setup=hilly_setup)
    nothing = simulate(course=even_course(1000.0), setup=hilly_setup)
    assert ride.node_speeds_mps[99:102].min() == 0.0
    assert nothing.time_s + 5.0 < once.time_s <= ride.time_s + 0.1 < once.time_s + 6.0
    many_s = simulate_many(course=course, setups=[hilly_setup]).item()
    assert many_s == pytest.approx(ride.time_s, abs=1e-9)
    assert ride.work_j == pytest.approx(ride.energies_j.sum(), rel=1e-6)


def test_no_loop_of_the_kernels_can_run_for_ever():
    # Read the source: every loop counts over a range, or walks an index or an interval that its
    # body moves and its condition bounds. Anything else must be argued for here.
    bounded_whiles = {
        "mark < n_marks and marks[mark] == 0",
        "mark < n_marks and marks[mark] == i + 1",
        "high - low > 1",
    }
    n_loops = 0
    for path in Path(simulator.physics.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.While):
                assert ast.unparse(node.test) in bounded_whiles, f"{path.name}:{node.lineno}"
                n_loops += 1
            if isinstance(node, ast.For) and path.name not in {"jit.py", "constants.py"}:
                over = ast.unparse(node.iter)
                told = f"{path.name}:{node.lineno} {over}"
                counts = over.startswith(("range(", "prange(")) or isinstance(node.iter, ast.Tuple)
                assert counts, told
                n_loops += 1
    assert n_loops > 10


def test_the_head_wind_told_is_that_of_the_moment(plain_setup, varied, even_course):
    # Calm at the start; behind the first minutes a gale from ahead stops the rider on a climb.
    setup = varied(plain_setup, rider={"power_w": 150.0, "cadence_low_rpm": 40.0})
    winds = (
        WindAt(time_s=0.0, wind_mps=0.0, wind_from_deg=0.0),
        WindAt(time_s=120.0, wind_mps=0.0, wind_from_deg=0.0),
        WindAt(time_s=180.0, wind_mps=25.0, wind_from_deg=0.0),
    )
    setup = replace(setup, weather=replace(setup.weather, winds=winds))
    with pytest.raises(CannotFinish, match=r"head wind \d+ km/h") as told:
        simulate(course=even_course(5000.0, 0.05), setup=setup)
    told_kmh = float(str(told.value).partition("head wind ")[2].split(" ")[0])
    assert 36.0 < told_kmh <= 90.0  # on the way from calm to the gale
