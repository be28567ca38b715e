"""Pages of a recorded ride and of several races in a real Chromium."""

from dataclasses import replace

import numpy as np
import pytest

pytestmark = pytest.mark.slow

PHONE = {"width": 375, "height": 720, "is_phone": True}
DESK = {"width": 1280, "height": 900}
NASTY = "</script><img src=x onerror='window.hacked=1'>" + "W" * 60


@pytest.fixture(scope="module")
def reviewed(tmp_path_factory):
    """A ride with a stop on a course whose name is markup, beside a prediction with less drag."""
    from simulator.compare import review
    from simulator.course import Feature, course_from_arrays
    from simulator.files import csv_text
    from simulator.pacing import constant_demand
    from simulator.recordings import read_recording
    from simulator.ride import simulate
    from simulator.setup import Uncertain, default_rider, default_weather

    n = 1200
    grades = np.repeat([0.05, -0.04, 0.001], n // 3)
    features = tuple(
        Feature(
            kind=kind,
            name=f"{kind} 1",
            start_m=2000.0 * i,
            end_m=2000.0 * (i + 1),
            mean_grade=float(grades[400 * i]),
            max_grade=float(grades[400 * i]),
            ascent_m=0.0,
            descent_m=0.0,
            lap=1,
        )
        for i, kind in enumerate(("climb", "descent", "flat"))
    )
    course = course_from_arrays(
        name=NASTY,
        lengths_m=np.full(n, 5.0),
        grades=grades,
        headings_rad=np.linspace(0.0, 2.0 * np.pi, n),
        features=features,
    )
    setup = _setup(default_rider(), default_weather())
    heavy = replace(setup, build=replace(setup.build, cda_m2=Uncertain(0.36)))
    stopping = replace(course, restarts_m=(3000.0,))
    ride = simulate(course=stopping, setup=heavy, demand=constant_demand(course, heavy.rider))
    clock_s = np.arange(0.0, ride.time_s + 1.0)
    i = int(np.searchsorted(clock_s, ride.time_at_s(3000.0)))
    clock_s = np.insert(clock_s, i, np.full(40, ride.time_at_s(3000.0)))
    at_m = np.interp(clock_s, ride.node_times_s, course.node_distances_m)
    works_j = np.append(0.0, np.cumsum(ride.powers_w * np.diff(ride.node_times_s)))
    columns = {
        "time_s": np.arange(len(at_m), dtype=float),
        "lat_deg": np.interp(at_m, course.node_distances_m, course.node_lats_deg),
        "lon_deg": np.interp(at_m, course.node_distances_m, course.node_lons_deg),
        "power_w": np.diff(np.interp(clock_s, ride.node_times_s, works_j), prepend=0.0),
        "speed_mps": np.where(
            np.diff(clock_s, append=np.inf) > 0.0,
            np.interp(clock_s, ride.node_times_s, ride.node_speeds_mps),
            0.0,
        ),
    }
    path = tmp_path_factory.mktemp("ride") / "<b>ride.csv"
    rows = zip(*(column.tolist() for column in columns.values()), strict=True)
    path.write_text(csv_text(list(columns), rows), encoding="utf-8")
    return review(course=course, setup=setup, recording=read_recording(path))


def _setup(rider, weather):
    from simulator.setup import RideSetup, Uncertain, build_from_keys

    build = build_from_keys({"name": "Plover", "mass_kg": 8.6, "cda_m2": 0.315, "crr": 0.0045})
    weather = replace(weather, wind_mps=Uncertain(3.0), wind_from_deg=Uncertain(250.0))
    return RideSetup(rider=rider, build=build, weather=weather)


@pytest.fixture(scope="module")
def review_view(reviewed):
    from simulator.report import make_review_view

    return make_review_view(reviewed)


@pytest.fixture(scope="module")
def review_path(review_view, tmp_path_factory):
    from simulator.report import review_page

    path = tmp_path_factory.mktemp("pages") / "review.html"
    path.write_text(review_page(review_view), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def races_path(reviewed, tmp_path_factory):
    from simulator.compare import Race, race_table
    from simulator.report import make_races_view, races_files

    setup = reviewed.gap.first.setup
    builds = [
        setup.build,
        *(replace(setup.build, name=f"{i} {NASTY}") for i in range(4)),
    ]
    races = [
        Race(
            name=f"{name}{NASTY}",
            course=reviewed.gap.first.course,
            weather=setup.weather,
            weather_number=0,
            demand=reviewed.demand,
        )
        for name in ("a", "b")
    ]
    table = race_table(races, rider=setup.rider, builds=builds, n_draws=0)
    path = tmp_path_factory.mktemp("races") / "index.html"
    path.write_bytes(races_files(make_races_view(table))["index.html"])
    return path


@pytest.mark.parametrize("window", [DESK, PHONE], ids=["desk", "phone"])
@pytest.mark.parametrize("which", ["review_path", "races_path"])
def test_quiet_alone_escaped_and_no_wider_than_the_window(browser, request, which, window):
    path = request.getfixturevalue(which)
    browser.open(path, **window)
    browser.ask("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
    assert browser.complaints() == []
    outside = [url for url in browser.requests() if not url.startswith("data:image/")]
    assert outside == [path.resolve().as_uri()]
    assert browser.ask("document.documentElement.scrollWidth") <= window["width"]
    assert browser.ask("window.hacked") is None
    assert path.stat().st_size < 500_000


def test_the_cursor_reads_recorded_and_predicted(browser, review_path, review_view):
    browser.open(review_path, **DESK)
    browser.ask("document.getElementById('slider').focus()")
    browser.press("End")
    value = "Number(document.getElementById('slider').getAttribute('aria-valuenow'))"
    assert browser.ask(value) == pytest.approx(6.0, abs=0.001)
    spoken = browser.ask("document.getElementById('slider').getAttribute('aria-valuetext')")
    assert "seconds behind Predicted" in spoken
    shown = browser.ask("document.querySelector('[data-read=gap]').textContent")
    assert float(shown.replace("+", "")) == pytest.approx(review_view.along.gap_s, abs=0.06)


def test_stops_and_places_are_shown_on_the_charts(browser, review_path, review_view):
    browser.open(review_path, **DESK)
    browser.ask("document.querySelector('#t-stops .go').click()")
    value = "Number(document.getElementById('slider').getAttribute('aria-valuenow'))"
    (stop,) = review_view.stops
    assert browser.ask(value) == pytest.approx(stop.place_m / 1000.0, abs=0.001)
    assert stop.standing_s == pytest.approx(40.0, abs=2.0)


def test_doubts_stand_in_their_order_and_sort(browser, review_path, review_view):
    browser.open(review_path, **DESK)
    rows = (
        "Array.from(document.querySelectorAll('#t-suspects tbody tr'))"
        ".map((r) => r.cells[0].textContent.trim())"
    )
    names = [row.label for row in review_view.suspects]
    assert browser.ask(rows) == names
    browser.ask("document.querySelectorAll('#t-suspects thead button')[4].click()")
    by_fit = sorted(review_view.suspects, key=lambda row: -row.fit)
    assert browser.ask(rows)[0] == by_fit[0].label


def test_a_screen_reader_finds_headings_tables_and_the_slider(browser, review_path):
    browser.open(review_path, **DESK)
    tree = browser.call("Accessibility.getFullAXTree")["nodes"]
    roles = [node["role"]["value"] for node in tree if not node.get("ignored")]
    assert roles.count("slider") == 1
    assert roles.count("main") == 1
    assert roles.count("heading") >= 5
    tables = [n for n in tree if n["role"]["value"] == "table" and not n.get("ignored")]
    assert len(tables) >= 3
    assert all(node["name"]["value"] for node in tables)
