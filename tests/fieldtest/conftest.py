"""Test days made for tests: a rider and bike with nothing but gravity, rolling and air."""

from pathlib import Path

import pytest

from simulator.fieldtest.infer import make_problem
from simulator.fieldtest.recorded import read_runs
from simulator.fieldtest.testday import testday_of as day_of
from simulator.fieldtest.testday_file import TestDayFile as DayFile
from simulator.files import check_toml

PLAIN = """
name = "{name}"
mass_kg = {mass}
cda_m2 = {cda}
crr = {crr}
wheel_drag_area_m2 = 0.0
wheel_inertia_kgm2 = 0.0
bearing_factor = 0.0
drivetrain_efficiency = 1.0
"""

# 80 kg in all with the plain bike; dry air of 1.2 kg/m3 by the gas law at 15 degrees.
RIDER = 'name = "made"\nmass_kg = 72.0\nkit_kg = 0.0\n'
WEATHER = 'name = "made"\ntemperature_degc = 15.0\npressure_hpa = 992.5714\nhumidity_pct = 0.0\n'


@pytest.fixture
def folder(tmp_path):
    """Folder with rider, weather and two plain builds, alike but for CdA and Crr."""
    (tmp_path / "rider.toml").write_text(RIDER, encoding="utf-8")
    (tmp_path / "weather.toml").write_text(WEATHER, encoding="utf-8")
    for name, cda, crr in (("Plover", 0.30, 0.004), ("Gannet", 0.28, 0.0035)):
        text = PLAIN.format(name=name, mass=8.0, cda=cda, crr=crr)
        (tmp_path / f"{name.lower()}.toml").write_text(text, encoding="utf-8")
    return tmp_path


@pytest.fixture
def make_day(folder):
    """``make_day(text)``: a `TestDay` of roads and runs, on the files of `folder`."""

    def make(text, *, head=""):
        whole = (
            f'name = "made"\nrider = "rider.toml"\nweather = "weather.toml"\n'
            f'position_factor = 1.0\n{head}\n[[build]]\nfile = "plover.toml"\n{text}'
        )
        written = check_toml(whole, DayFile, file="day.toml")
        return day_of(written, file="day.toml", folder=Path(folder))

    return make


@pytest.fixture
def make_fit_problem(make_day):
    """``make_fit_problem(text)``: the same as a `Problem`."""

    def make(text, **more):
        day = make_day(text, **more)
        return make_problem(day, read_runs(day))

    return make


@pytest.fixture
def mixed_text():
    """Two builds on a climb, a flat road both ways, and down a slope, A B B A."""
    roads = (
        '[[build]]\nfile = "gannet.toml"\n'
        '[[road]]\nname = "hill"\nlength_m = 1000\ngrade_pct = 7\n'
        '[[road]]\nname = "flat"\nlength_m = 1500\nheading_deg = 90\n'
        '[[road]]\nname = "slope"\nlength_m = 700\ngrade_pct = -4\n'
    )
    runs = ""
    for i, name in enumerate(("Plover", "Gannet", "Gannet", "Plover")):
        own = f'[[run]]\nbuild = "{name}"\n'
        runs += own + 'kind = "climb"\nroad = "hill"\ntime_s = 240\npower_w = 250\n'
        for back in ("false", "true"):
            runs += own + (
                f'kind = "flat"\nroad = "flat"\nback = {back}\nwind = "spell {i}"\n'
                "time_s = 140\npower_w = 250\n"
            )
        runs += own + (
            'kind = "roll-down"\nroad = "slope"\ntime_s = 70\n'
            "start_kmh = { value = 18, sd = 0.3 }\n"
        )
    return roads + runs
