"""The page of one ride in a real Chromium: quiet, alone, narrow, read by mouse and keyboard."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.course import Corner
from simulator.measures import IMPERIAL
from simulator.pacing import constant_demand
from simulator.report import make_ride_view, ride_page
from simulator.ride import simulate

pytestmark = pytest.mark.slow

PHONE = {"width": 375, "height": 720, "is_phone": True}
DESK = {"width": 1280, "height": 900}
NAMES = ["hills", "laps", "nasty"]
VALUE = "Number(document.getElementById('slider').getAttribute('aria-valuenow'))"
SPOKEN = "document.getElementById('slider').getAttribute('aria-valuetext')"


@pytest.fixture(scope="module")
def ride_views(hilly_setup, rolling_course, cornered_course):
    rider = replace(hilly_setup.rider, cp_w=220.0, wprime_j=15_000.0)
    setup = replace(hilly_setup, rider=rider)
    bend = Corner(
        number=1, name="bend", start_m=130.0, apex_m=150.0, end_m=170.0, radius_m=30.0,
        turn_rad=1.0, lap=1,
    )  # fmt: skip
    lapped = replace(
        cornered_course(4500.0, start="standing", hills=0.4),
        lap_starts_m=np.arange(6) * 900.0,
        is_closed=True,
        corners=(bend,),
    )
    evil = "</script><img src=x onerror='window.hacked=1'>" + "W" * 60
    courses = {
        "hills": (rolling_course(2500), setup),
        "laps": (lapped, hilly_setup),
        "nasty": (replace(rolling_course(300), name=evil), setup),
    }
    views = {}
    for name, (course, its_setup) in courses.items():
        if name == "nasty":
            its_setup = replace(its_setup, build=replace(its_setup.build, name=evil))
        demand = constant_demand(course, its_setup.rider)
        views[name] = make_ride_view(
            simulate(course=course, setup=its_setup, demand=demand), demand
        )
    return views


@pytest.fixture(scope="module")
def ride_pages(ride_views, tmp_path_factory):
    folder = tmp_path_factory.mktemp("rides")
    paths = {name: folder / f"{name}.html" for name in ride_views}
    for name, view in ride_views.items():
        paths[name].write_text(ride_page(view), encoding="utf-8")
    return paths


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("window", [DESK, PHONE], ids=["desk", "phone"])
def test_quiet_alone_and_no_wider_than_the_window(browser, ride_pages, name, window):
    browser.open(ride_pages[name], **window)
    browser.ask("document.getElementById('slider').focus()")
    browser.press("ArrowRight")
    browser.ask("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
    assert browser.complaints() == []
    assert browser.requests() == [ride_pages[name].resolve().as_uri()]
    assert browser.ask("document.documentElement.scrollWidth") <= window["width"]
    assert browser.ask("window.hacked") is None


def test_keys_read_all_curves_at_one_place(browser, ride_pages, ride_views):
    browser.open(ride_pages["hills"], **DESK)
    browser.ask("document.getElementById('slider').focus()")
    for _ in range(4):
        browser.press("PageUp")
    metres = 1000.0 * browser.ask(VALUE)
    series = ride_views["hills"].series
    shown = {
        name: browser.ask(f"document.querySelector('[data-read={name}]').textContent")
        for name in ("speed", "power", "reserve")
    }
    at = series.distances_m
    assert float(shown["speed"]) == pytest.approx(
        3.6 * np.interp(metres, at, series.speeds_mps), abs=0.3
    )
    share = np.interp(metres, at, series.reserve_shares)
    assert float(shown["reserve"]) == pytest.approx(100.0 * share, abs=1.0)
    spoken = browser.ask(SPOKEN)
    assert spoken.startswith("Kilometre 4.0")
    assert "watts, W prime" in spoken


def test_the_cursor_reads_and_speaks_in_miles_and_feet(browser, ride_views, tmp_path):
    page = tmp_path / "imperial.html"
    hills = ride_views["hills"]
    page.write_text(ride_page(replace(hills, measures=IMPERIAL)), encoding="utf-8")
    browser.open(page, **DESK)
    browser.ask("document.getElementById('slider').focus()")
    browser.press("PageUp")
    browser.press("PageUp")
    miles = browser.ask(VALUE)
    # Two steps of a tenth of the course each, as that is less than a mile.
    assert miles == pytest.approx(0.2 * hills.course.distance_m / 1609.344, abs=0.001)
    metres = miles * 1609.344
    series = hills.series
    mph = np.interp(metres, series.distances_m, series.speeds_mps) * 3600.0 / 1609.344
    feet = np.interp(metres, series.distances_m, series.heights_m) / 0.3048
    shown = {
        name: browser.ask(f"document.querySelector('[data-read={name}]').textContent")
        for name in ("speed", "height")
    }
    assert float(shown["speed"]) == pytest.approx(mph, abs=0.3)
    height, unit = shown["height"].split(",")[0].split(" ")
    assert float(height) == pytest.approx(feet, abs=1.5)
    assert unit == "ft"
    spoken = browser.ask(SPOKEN)
    assert spoken.startswith(f"Mile {miles:.1f}")
    assert "feet" in spoken
    assert "miles an hour" in spoken
    browser.ask("document.querySelector('#t-splits button.go').click()")
    assert "mile 0.0 to " in browser.ask("document.getElementById('status').textContent")


def test_a_lap_lights_up_on_the_charts(browser, ride_pages):
    browser.open(ride_pages["laps"], **DESK)
    browser.ask("document.querySelectorAll('#t-laps button.go')[2].click()")
    assert browser.ask("document.getElementById('lit').hidden") is False
    assert browser.ask(VALUE) == pytest.approx(2.7, abs=0.001)
    assert "Lap 3 is marked" in browser.ask("document.getElementById('status').textContent")


def test_a_heading_sorts_the_laps(browser, ride_pages):
    browser.open(ride_pages["laps"], **DESK)
    column = "[...document.querySelectorAll('#t-laps thead th')].findIndex((h) => h.textContent"
    browser.ask(
        f"document.querySelectorAll('#t-laps thead button')[{column}.trim().startsWith('Time'))]"
        ".click()"
    )
    first = browser.ask("document.querySelector('#t-laps tbody tr th').textContent.trim()")
    assert first == "Lap 1"  # from a standstill: the slowest
