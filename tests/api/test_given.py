"""What is given from Python: the keys of the files, the same checks, wrong things told in words."""

import numpy as np
import pytest

import simulator as bg
from simulator.errors import InputError

CLIMB = bg.example_path("courses/steady-climb")
PLOVER, GANNET = bg.example_path("configs/plover.toml"), bg.example_path("configs/gannet.toml")
PARTS = bg.example_path("configs/parts.toml")
RIDER = bg.example_path("configs/rider.toml")


@pytest.fixture(scope="module")
def course():
    return bg.load_course(CLIMB)


@pytest.mark.parametrize(
    ("make", "keys", "told"),
    [
        (bg.make_build, {"name": "X", "mass_kg": 8.0, "cda_m2": 0.3}, "crr"),
        (bg.make_build, {"name": "X", "mass_kg": "8", "cda_m2": 0.3, "crr": 0.004}, "mass_kg"),
        (bg.make_rider, {"powr_w": 250.0}, "did you mean `power_w`"),
        (bg.make_weather, {"wind_kmh": -3.0}, "from 0 to"),
        (bg.make_bunch, {"place": 0}, "from 1 to"),
    ],
)
def test_wrong_keys_are_told_as_in_a_file(make, keys, told):
    with pytest.raises(InputError, match=told.replace("`", ".")):
        make(**keys)


STEPS = np.full(4, 5.0)


@pytest.mark.parametrize(
    ("ask", "told"),
    [
        (lambda c: bg.ride_build(c, PLOVER, power_w=0.0), "above 0"),
        (lambda c: bg.ride_build(c, PLOVER, power_w=float("nan")), "above 0"),
        (lambda c: bg.compare_builds(c, PLOVER, GANNET, n_draws=-1), "0 or more"),
        (lambda c: bg.spend_budget(PLOVER, PARTS, c, []), "at least one"),
        (lambda c: bg.spend_budget(PLOVER, PARTS, c, -5.0), "0 or more"),
        (lambda c: bg.spend_budget(PLOVER, PARTS, [c, c], 5.0, weights=[1.0]), "1 for 2 courses"),
        (lambda c: bg.try_pacings(c, PLOVER, []), "no pacing"),
        (lambda c: bg.ride_bunch(c, []), "no build"),
        (lambda c: bg.solve_powerplan(c, PLOVER, rider=RIDER, changes=-1), "0 or more"),
        (lambda c: bg.make_course(lengths_m=[], grades=0.0), "at least one"),
        (lambda c: bg.make_course(lengths_m=[5.0, -5.0], grades=0.0), "above 0"),
        (lambda c: bg.make_course(lengths_m=STEPS, grades=[0.0, 0.1]), "4, one for each length"),
        (lambda c: bg.make_course(lengths_m=STEPS, grades=np.nan), "none missing"),
    ],
)
def test_numbers_that_mean_nothing_are_refused_in_words(course, ask, told):
    with pytest.raises(ValueError, match=told):
        ask(course)


@pytest.mark.parametrize(
    ("ask", "told"),
    [
        (lambda c: bg.ride_build(None, PLOVER), "a course or the path"),
        (lambda c: bg.ride_build(c, 3), "a build or the path"),
        (lambda c: bg.ride_build(c, PLOVER, rider=75.0), "a rider or the path"),
        (lambda c: bg.ride_build(c, PLOVER, weather="", pacing=2), "a pacing or the path"),
        (lambda c: bg.ride_build(c, PLOVER, weather=20.0), "a weather or the path"),
    ],
)
def test_things_of_another_kind_are_refused_in_words(course, ask, told, monkeypatch):
    monkeypatch.setattr("simulator.api.given.load_weather", lambda path: bg.make_weather())
    with pytest.raises(TypeError, match=told):
        ask(course)


def test_numbers_of_numpy_are_numbers():
    made = bg.make_build(
        name="X",
        mass_kg=np.float32(8.0),
        cda_m2=np.array(0.3),
        crr={"value": np.float64(0.004), "sd": np.float32(0.0)},
        sprockets=np.array([11, 12, 30]),
    )
    assert (made.mass_kg.value, made.cda_m2.value, made.sprockets) == (8.0, 0.3, (11, 12, 30))


def test_keys_in_python_are_the_keys_of_the_file():
    import tomllib

    keys = tomllib.loads(PLOVER.read_text(encoding="utf-8"))
    made, read = bg.make_build(**keys), bg.load_build(PLOVER)
    assert {f: getattr(made, f) for f in made.__slots__ if f != "source"} == {
        f: getattr(read, f) for f in read.__slots__ if f != "source"
    }


def test_a_doubt_may_be_given_as_an_object():
    from simulator.setup import Uncertain

    made = bg.make_build(name="X", mass_kg=8.0, cda_m2=0.3, crr=Uncertain(0.004, 0.0003))
    assert made.crr == Uncertain(0.004, 0.0003)
