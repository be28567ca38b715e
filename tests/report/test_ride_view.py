"""What is shown of one ride: sums, laps, stops, positions, and names that mean harm."""

import csv
import dataclasses
import io
import json
import re
from dataclasses import replace

import numpy as np
import pytest

from simulator.measures import IMPERIAL, METRIC
from simulator.pacing import constant_demand
from simulator.report import draw_ride, make_ride_view, ride_csv, ride_json, ride_page, ride_text
from simulator.report.ride_export import RIDE_KEYS
from simulator.report.ride_tables import ride_summary
from simulator.ride import simulate
from simulator.setup import Uncertain

A_TENTH_S = 0.1


def shown(course, setup, **more):
    demand = constant_demand(course, setup.rider)
    ride = simulate(course=course, setup=setup, demand=demand)
    return make_ride_view(ride, demand, **more), ride, demand


@pytest.fixture
def lapped(hilly_setup, even_course):
    """Six laps of 900 m round a square with four tight corners, from a standing start."""
    side_m = np.arange(180) % 45
    radii_m = np.where(side_m < 3, 10.0, np.inf)
    headings_rad = np.pi / 2.0 * (np.arange(180) // 45)
    course = even_course(
        5400.0,
        start="standing",
        radii_m=np.tile(radii_m, 6),
        headings_rad=np.tile(headings_rad, 6),
        lap_starts_m=np.arange(7) * 900.0,
        is_closed=True,
    )
    return course, hilly_setup


def test_splits_and_parts_add_up(hilly_setup, rolling_course):
    view, ride, _ = shown(rolling_course(2000), hilly_setup)
    assert sum(row.time_s for row in view.splits) == pytest.approx(ride.time_s)
    assert sum(row.ascent_m for row in view.splits) == pytest.approx(ride.course.ascent_m)
    works = [row.mean_power_w * row.time_s for row in view.splits]
    assert sum(works) == pytest.approx(ride.work_j, rel=1e-9)
    assert sum(row.amount for row in view.energy) == pytest.approx(ride.work_j, rel=1e-6)
    assert sum(row.amount for row in view.sitting) == pytest.approx(ride.time_s)
    assert [row.clock_s for row in view.splits][-1] == pytest.approx(ride.time_s)
    assert max(row.top_speed_mps for row in view.splits) == view.top_speed_mps
    assert len(view.splits) <= 20


@pytest.mark.parametrize(
    ("split_m", "count", "last_m"), [(1000.0, 10, 1000.0), (3000.0, 4, 1000.0)]
)
def test_splits_of_a_wanted_length(hilly_setup, rolling_course, split_m, count, last_m):
    view, _, _ = shown(rolling_course(2000), hilly_setup, split_m=split_m)
    assert len(view.splits) == count
    assert view.splits[-1].end_m - view.splits[-1].start_m == pytest.approx(last_m)


def test_laps_settle(lapped):
    view, ride, _ = shown(*lapped)
    times_s = [lap.time_s for lap in view.laps]
    assert len(times_s) == 6
    assert sum(times_s) == pytest.approx(ride.time_s)
    # From a standstill the first lap is slower; from then on each lap is like the one before.
    assert times_s[0] > times_s[1] + 2.0
    assert max(times_s[2:]) - min(times_s[2:]) < 0.01
    settling = next(text for text in view.more if "lap" in text)
    assert re.fullmatch(
        r"The first lap takes [\d:.]+; from lap 2 on each takes [\d:.]+\.", settling
    )


def test_rolling_start_saves_the_first_lap(lapped):
    course, setup = lapped
    standing, _, _ = shown(course, setup)
    rolling, ride, _ = shown(replace(course, start="rolling"), setup)
    assert ride.node_speeds_mps[0] == pytest.approx(25.0 / 3.6)
    assert rolling.laps[0].time_s < standing.laps[0].time_s
    assert rolling.laps[-1].time_s == pytest.approx(standing.laps[-1].time_s, abs=0.01)


def test_restart_costs_its_time_once_and_is_told(lapped):
    course, setup = lapped
    plain, _, _ = shown(course, setup)
    view, ride, _ = shown(replace(course, restarts_m=(2250.0,)), setup)
    i_stop = int(np.searchsorted(course.node_distances_m, 2250.0))
    assert ride.node_speeds_mps[i_stop] == 0.0
    assert "The rider stops and starts again at km 2.2." in view.more
    lost_s = [a.time_s - b.time_s for a, b in zip(view.laps, plain.laps, strict=True)]
    assert lost_s[2] > 5.0
    assert max(abs(s) for s in (*lost_s[:2], *lost_s[4:])) < A_TENTH_S


def test_corners_are_told_where_they_hold_the_ride_up(hilly_setup, cornered_course):
    course = cornered_course(3000.0, hills=1.5)
    view, ride, _ = shown(course, hilly_setup)
    assert view.corners == ()  # the course names none, whatever its radii
    assert ride.ceilings_mps.min() < 15.0
    with_corners = _named_corners(course)
    view, ride, _ = shown(with_corners, hilly_setup)
    assert 0 < len(view.corners) < len(with_corners.corners)
    for row in view.corners:
        # On the ceiling: sideways it is what lean or grip allow, the lower of both.
        limit = min(np.tan(np.radians(35.0)), 0.8) * 9.80665
        assert row.lowest_mps**2 / row.radius_m == pytest.approx(limit, rel=0.06)
    assert any("hold" in text and "slowest" in text for text in view.more)
    assert any("never advice" in note.text for note in view.notes if note.level == "caution")


def _named_corners(course):
    from simulator.course import Corner

    corners = []
    for number in range(10):
        apex_m = 150.0 + 300.0 * number
        inside = np.abs(course.node_distances_m[:-1] + 2.5 - apex_m) < 20.0
        corners.append(
            Corner(
                number=number + 1,
                name=f"bend {number + 1}",
                start_m=apex_m - 20.0,
                apex_m=apex_m,
                end_m=apex_m + 20.0,
                radius_m=float(course.radii_m[inside].min()),
                turn_rad=1.0,
                lap=1,
            )
        )
    return replace(course, corners=tuple(corners))


def test_skill_and_caution_are_said_to_be_equal(hilly_setup, rolling_course):
    view, _, _ = shown(rolling_course(100), hilly_setup)
    text = " ".join(note.text for note in view.notes)
    assert "Skill and caution are the same on every build" in text
    assert "leaning up to 35°" in text


def test_reserve_is_told_only_where_it_is_followed(hilly_setup, rolling_course):
    course = rolling_course(400)
    view, _, _ = shown(course, hilly_setup)
    assert view.series.reserve_shares is None
    assert all(row.reserve_share is None for row in view.splits)
    rider = replace(hilly_setup.rider, cp_w=200.0, wprime_j=15_000.0, power_w=Uncertain(230.0))
    view, ride, _ = shown(course, replace(hilly_setup, rider=rider))
    assert min(view.series.reserve_shares) == pytest.approx(
        ride.node_reserves_j.min() / 15_000.0, abs=1e-3
    )
    assert any(text.startswith("W′ is lowest at km") for text in view.more)


def test_terminal_keeps_to_its_width_and_letters(lapped):
    view, _, _ = shown(*lapped)
    for width in (60, 80):
        assert max(map(len, ride_text(view, width=width).splitlines())) <= width
    ride_text(view, encoding="ascii").encode("ascii")


def test_bar_of_work_has_a_letter_for_each_fiftieth(hilly_setup, even_course):
    view, _, _ = shown(even_course(3000.0, 0.06), hilly_setup)
    bar = re.search(r"\[([A-Z]+)\]", ride_text(view))[1]
    assert len(bar) == 50
    climbing = next(row.share for row in view.energy if row.key == "climbing")
    assert bar.count("C") == pytest.approx(50 * climbing, abs=1)


def test_json_explains_every_key_and_names_units(hilly_setup, rolling_course):
    view, ride, demand = shown(rolling_course(50), hilly_setup)
    data = json.loads(ride_json(view, ride, demand))["data"]
    assert set(data) == {"about", *RIDE_KEYS}
    assert set(data["about"]) == set(RIDE_KEYS)
    for table, size in (("segments", 50), ("nodes", 51)):
        assert {len(values) for values in data[table].values()} == {size}
    assert data["given"]["build"]["mass_kg"] == {"value": 8.0, "sd": 0.0}
    dimensionless = {"lap", "n_steps", "grade", "shelter", "crr_factor", "grip_factor"}
    units = ("_m", "_s", "_mps", "_w", "_j", "_rad", "_deg")
    for name in {*data["segments"], *data["nodes"]} - dimensionless:
        assert name.endswith(units), name
    # Every scalar of the equations is named in them.
    told = " ".join(data["equations"])
    for name in {*data["rules"], *data["steps"]}:
        short = re.sub(r"^position_(slow|fast)$", r"\1", name.removesuffix("_mps"))
        short = re.sub(r"^area_bend_\d+$", "area_bend_", short)
        assert re.search(rf"\b{short}", told), name


def test_csv_has_the_scalars_on_top_and_a_row_a_segment(hilly_setup, rolling_course):
    _, ride, demand = shown(rolling_course(50), hilly_setup)
    lines = ride_csv(ride, demand).splitlines()
    head = [line for line in lines if line.startswith("# ")]
    scalars = dict(line[2:].split(" = ", 1) for line in head)
    assert float(scalars["rules.weight_n"]) == pytest.approx(9.80665 * 83.0)
    assert float(scalars["given.weather.wind_mps.value"]) == 6.0
    assert scalars["given.build.name"] == "made"
    rows = list(csv.DictReader(io.StringIO("\n".join(lines[len(head) :]))))
    assert len(rows) == 50
    assert float(rows[-1]["end_time_s"]) == pytest.approx(ride.time_s, abs=1e-9)
    assert float(rows[3]["step_length_m"]) * int(rows[3]["n_steps"]) == pytest.approx(5.0)


def test_names_that_mean_harm_stay_text(hilly_setup, rolling_course):
    evil = "</script><img src=x onerror=alert(1)>\n# rules.crr = 9"
    course = replace(rolling_course(50), name=evil)
    setup = replace(
        hilly_setup,
        build=replace(hilly_setup.build, name=evil),
        rider=replace(hilly_setup.rider, name=evil),
    )
    view, ride, demand = shown(course, setup)
    page = ride_page(view)
    assert "<img" not in page
    assert page.count("</script>") == 2
    assert "\x1b" not in ride_text(dataclasses.replace(view, sentence="\x1b[31m"))
    lines = ride_csv(ride, demand).splitlines()
    assert sum(line.startswith("# rules.crr = ") for line in lines) == 1


def test_page_has_a_panel_a_curve_and_works_without_corners(hilly_setup, rolling_course):
    view, _, _ = shown(rolling_course(200), hilly_setup)
    page = ride_page(view)
    assert [x for x in re.findall(r'<figure class="panel (\w+)"', page)] == [
        "height", "speed", "power",
    ]  # fmt: skip
    assert 'id="corners"' not in page
    assert "://" not in page


def test_stretches_of_a_lapped_course_are_those_of_the_last_lap(lapped):
    course, setup = lapped
    features = tuple(
        replace(course.features[0], start_m=900.0 * i, end_m=900.0 * (i + 1), lap=i + 1)
        for i in range(6)
    )
    view, ride, _ = shown(replace(course, features=features), setup)
    assert [row.start_m for row in view.places] == [4500.0]
    assert view.places[0].clock_s == pytest.approx(ride.time_s)
    assert "on the last lap" in ride_page(view)


@pytest.fixture
def steep_then_flat(hilly_setup, even_course):
    """Five kilometres down at 4.6 %, gentler than the coasting grade; then five level ones."""
    grades = np.r_[np.full(1000, -0.046), np.zeros(1000)]
    course = even_course(10_000.0, grade=grades)
    setup = replace(hilly_setup, build=replace(hilly_setup.build, chainrings=(50, 34)))
    return course, replace(setup, rider=replace(setup.rider, coast_speed_mps=55.0 / 3.6))


def summary_of(view):
    return {row.cells[0].text: row.cells[1].text for row in ride_summary(view).rows}


@pytest.mark.parametrize(
    ("measures", "words"),
    [
        (METRIC, "no pedalling above 55 km/h (power fades from 52 km/h on)"),
        (IMPERIAL, "no pedalling above 34 mph (power fades from 32 mph on)"),
    ],
)
def test_power_lost_to_the_coasting_speed_is_told(steep_then_flat, measures, words):
    view, ride, _ = shown(*steep_then_flat, measures=measures)
    wanted_w = steep_then_flat[1].rider.power_w.value
    assert ride.mean_power_w < 0.95 * wanted_w  # so it needs a reason
    assert words in view.pacing
    assert words in " ".join(ride_text(view).split())
    assert words in " ".join(ride_page(view).split())  # spaces before units do not break there
    # The time at which it acts accounts for all that is missing at the pedals.
    held = ride.node_speeds_mps[1:] > 0.95 * 55.0 / 3.6
    times_s = np.diff(ride.node_times_s)
    missing_j = (wanted_w - ride.powers_w) * times_s
    assert view.fading_s == pytest.approx(times_s[held].sum(), rel=0.01)
    assert missing_j[held].sum() == pytest.approx(missing_j.sum(), rel=0.02)
    start = measures.speed(view.fading_from_mps, 0)
    assert f"Above {start}, where power fades" in summary_of(view)


def test_a_long_head_stays_within_the_picture(steep_then_flat):
    view, _, _ = shown(*steep_then_flat)
    figure = draw_ride(replace(view, course=replace(view.course, n_laps=12, n_corners=8)))
    figure.canvas.draw()
    renderer = figure.canvas.get_renderer()
    (head,) = [t for t in figure.texts if "fades from" in t.get_text()]
    box = head.get_window_extent(renderer)
    assert box.x1 <= figure.bbox.x1
    assert box.y0 > figure.axes[0].get_window_extent(renderer).y1


def test_a_top_gear_that_is_pedalled_out_is_not_called_coasting(steep_then_flat):
    course, setup = steep_then_flat
    low = replace(setup, build=replace(setup.build, chainrings=(34,)))
    view, _, _ = shown(course, low)
    assert "the highest gear pedalled out at" in view.pacing
    assert "no pedalling above" not in view.pacing


def test_speed_is_not_blamed_where_it_holds_nothing_down(lapped):
    view, _, _ = shown(*lapped)
    assert view.fading_s == 0.0
    assert "fades" not in view.pacing
    assert not any("fades" in label for label in summary_of(view))


def test_time_with_hardly_any_power_says_what_it_counts(steep_then_flat):
    """Power that fades is seldom none at all: what is counted has its limit beside it."""
    course, setup = steep_then_flat
    brisk = replace(setup, rider=replace(setup.rider, coast_speed_mps=30.0 / 3.6))
    view, ride, _ = shown(course, brisk)
    limit_w = 0.1 * setup.rider.power_w.value
    times_s = np.diff(ride.node_times_s)
    assert view.coasting_s == pytest.approx(times_s[ride.powers_w < limit_w].sum())
    assert times_s[ride.powers_w < 1.0].sum() <= view.coasting_s
    assert view.coasting_s > 0.3 * ride.time_s
    label = f"Under {limit_w:.0f} W, a tenth of {10.0 * limit_w:.0f} W"
    assert summary_of(view)[label]
    assert "Without pedalling" not in ride_text(view)
