"""``buildgap course check|draw|export``: pages, pictures and files; errors leave nothing behind."""

import json
import re
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from simulator.cli import main
from simulator.course import build_course
from simulator.errors import InputError
from simulator.report import course_text, draw_course, make_course_view, picture_bytes

COURSES = Path(__file__).parents[2] / "courses"
PNG = b"\x89PNG\r\n\x1a\n"


def run(*arguments):
    result = CliRunner().invoke(main.group, [str(argument) for argument in arguments])
    if result.exception and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result.output


@pytest.fixture(scope="module")
def hills():
    return make_course_view(build_course(COURSES / "three-hills"), wind_from_deg=230.0)


def test_check_tells_what_a_racer_wants_to_know():
    text = run("course", "check", COURSES / "three-hills")
    for words in (
        "Three Hills",
        "54.19 km",
        "falls of 2 m and more",
        "from tiles; noise about 2.5 m",
        "over 50 m",
        "over 200 m",
        "39 corners",
        "Harrow Hill",
        "Mizzen Steps",
        "right hairpin",
        "note: heights from elevation tiles: the track has no heights",
    ):
        assert words in text
    assert max(len(line) for line in text.splitlines()) <= 80


@pytest.mark.parametrize("name", ["town-criterium", "three-hills"])
def test_climbing_is_one_figure_in_every_command(name):
    """A flat circuit rises by centimetres all the way: nobody may read two sums as one."""
    course = build_course(COURSES / name)
    up, down = re.search(
        r"Ascent +([\d,]+) m up, ([\d,]+) m down \(smoothed", run("course", "check", COURSES / name)
    ).groups()
    climbed = re.search(r"([\d,]+) m of climbing", run("check", COURSES / name)).group(1)
    build = COURSES.parent / "configs" / "plover.toml"
    ridden = re.search(
        r" ([\d,]+) m up", run("ride", "--course", COURSES / name, "--build", build)
    ).group(1)
    assert up == climbed == ridden
    rises_m = np.diff(course.node_heights_m)
    assert float(up.replace(",", "")) == pytest.approx(rises_m[rises_m > 0].sum(), abs=0.5)
    assert float(down.replace(",", "")) == pytest.approx(-rises_m[rises_m < 0].sum(), abs=0.5)


def test_check_lists_all_corners_when_asked(hills):
    short, long = course_text(hills), course_text(hills, all_corners=True)
    assert "wider corners not listed" in short
    assert "not listed" not in long
    assert long.count("corner") > short.count("corner")


def test_check_as_json():
    data = json.loads(run("course", "check", COURSES / "town-criterium", "--json"))
    assert data["schema"].endswith("course") or "course" in json.dumps(data)[:200]
    view = data if "corners" in data else data["data"]
    assert len(view["corners"]) == 6
    assert view["distances_m"][-1] == pytest.approx(1388.0, abs=5.0)


def test_check_obeys_its_options():
    text = run("course", "check", COURSES / "town-criterium", "--laps", 3, "--reverse")
    assert "3 laps" in text
    assert "right corner" in text


def test_draw_writes_a_picture_and_never_overwrites(tmp_path):
    out = tmp_path / "plan.png"
    assert "wrote" in run("course", "draw", COURSES / "steady-climb", "--out", out)
    first = out.read_bytes()
    assert first.startswith(PNG)
    with pytest.raises(InputError, match="exists already"):
        run("course", "draw", COURSES / "steady-climb", "--out", out)
    assert out.read_bytes() == first
    with pytest.raises(InputError, match=r"\.png or \.svg"):
        run("course", "draw", COURSES / "steady-climb", "--out", tmp_path / "plan.jpg")


def words_in(figure):
    return [text.get_text() for axes in figure.axes for text in axes.texts] + [
        text.get_text() for text in figure.texts
    ]


def test_the_picture_shows_north_scale_wind_climbs_and_corners(hills):
    figure = draw_course(hills)
    words = words_in(figure)
    assert "N" in words
    assert "wind" in words
    assert "Start" in words
    assert "2.0 km" in words
    assert "The Mizzen\n7.6 km\n6.2 %" in words
    assert {str(number) for number in range(1, 40)} <= set(words)
    plan, profile = figure.axes[0], figure.axes[-1]
    assert plan.get_aspect() == 1.0
    assert profile.get_xlabel() == "Distance, km"
    assert profile.get_ylabel() == "Height, m"


def test_scale_bar_is_true_to_scale(hills):
    figure = draw_course(hills)
    plan = figure.axes[0]
    picture_bytes(figure, "png")
    left, right = plan.get_xlim()
    bar = figure.lines[0].get_xdata() if figure.lines else figure.artists[0].get_xdata()
    share = plan.get_position().width * 2000.0 / (right - left)
    assert bar[1] - bar[0] == pytest.approx(share, rel=1e-3)


def test_without_wind_there_is_no_wind_arrow():
    view = make_course_view(build_course(COURSES / "steady-climb"))
    assert "wind" not in words_in(draw_course(view))


def test_export(tmp_path):
    run("course", "export", COURSES / "steady-climb", "--out", tmp_path / "x")
    course = build_course(COURSES / "steady-climb")
    again = build_course(tmp_path / "x" / "course.gpx")
    assert again.distance_m == pytest.approx(course.distance_m, rel=1e-3)
    rows = np.loadtxt(tmp_path / "x" / "course.csv", delimiter=",", skiprows=1, usecols=(1, 2))
    assert len(rows) == course.n_segments
    with pytest.raises(InputError, match="exists already"):
        run("course", "export", COURSES / "steady-climb", "--out", tmp_path / "x")


def test_a_bad_course_leaves_no_file(tmp_path):
    (tmp_path / "bad.gpx").write_text("<gpx></gpx>")
    with pytest.raises(InputError):
        run("course", "export", tmp_path / "bad.gpx", "--out", tmp_path / "out")
    with pytest.raises(InputError):
        run("course", "draw", tmp_path / "bad.gpx", "--out", tmp_path / "out.png")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["bad.gpx"]
