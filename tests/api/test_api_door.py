"""The door for notebooks: light to open, told to type checkers, every name there and documented."""

import inspect
import subprocess
import sys
from importlib import resources

import pytest

import simulator
from simulator import api


def loaded_after(code):
    """Heavy packages that a piece of code has loaded."""
    heavy = ("numba", "scipy", "matplotlib", "numpy", "pydantic", "jinja2", "shapely")
    code = f"{code}\nimport sys; print(*[m for m in {heavy!r} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return set(done.stdout.split())


def test_the_door_is_light_until_a_question_is_asked():
    assert loaded_after("import simulator; simulator.ride_build; dir(simulator)") == set()
    assert loaded_after("from simulator import compare_builds, make_build, load_course") == set()


def test_reading_a_build_loads_no_kernels_and_no_pictures():
    code = "from simulator import *\nimport simulator as s\n"
    code += "s.load_build(s.example_path('configs/plover.toml')); s.make_rider(power_w=200.0)"
    assert not loaded_after(code) & {"numba", "scipy", "matplotlib"}


def test_every_name_is_found_from_the_package_and_a_wrong_one_is_not():
    for name in api.__all__:
        assert getattr(simulator, name) is getattr(api, name)
        assert name in dir(simulator)
    with pytest.raises(AttributeError, match="compare_bilds"):
        _ = simulator.compare_bilds
    with pytest.raises(ImportError):
        exec("from simulator import compare_bilds")


def test_a_star_brings_the_names_of_the_api_and_nothing_else():
    names = {}
    exec("from simulator import *", names)
    assert set(names) - {"__builtins__"} == set(api.__all__)


def test_rooms_are_still_rooms():
    """No function of the API may hide a room of the same name."""
    rooms = {path.name for path in resources.files("simulator").iterdir() if path.is_dir()}
    assert not rooms & set(api.__all__)


def test_type_checkers_are_told():
    package = resources.files("simulator")
    assert package.joinpath("py.typed").is_file()
    assert "from simulator.api import *" in package.joinpath("__init__.pyi").read_text()


@pytest.mark.parametrize("name", sorted(set(api.__all__) - {"example_path"}))
def test_functions_say_what_they_take_give_and_raise(name):
    thing = getattr(api, name)
    text = inspect.getdoc(thing)
    if inspect.isclass(thing):
        for _, member in inspect.getmembers(thing, lambda m: isinstance(m, property)):
            assert member.fget.__name__.startswith("_") or member.__doc__
        return
    signature = inspect.signature(thing)
    assert signature.return_annotation is not inspect.Signature.empty
    assert all(p.annotation is not p.empty for p in signature.parameters.values())
    assert "Raises\n------\n" in text, "what can go wrong is not told"
    if len(signature.parameters) > 1:
        told = text.partition("Parameters\n----------\n")[2].partition("\n\n")[0]
        for parameter in signature.parameters:
            assert parameter in told, f"{parameter} is not told"
