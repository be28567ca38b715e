from dataclasses import replace
from itertools import combinations
from unittest import mock

import numpy as np
import pytest
from matplotlib.text import Text

from simulator.report import (
    draw_causes,
    draw_gap,
    draw_lineup,
    draw_plan,
    make_gap_view,
    make_lineup_view,
    picture_bytes,
)
from simulator.report.palette import BUILD_COLOURS, balanced, blended, loss_colour
from simulator.report.style import house_style


def visible_texts(figure):
    """Texts that are truly drawn, with their boxes in pixels."""
    drawn = {}
    original = Text.draw

    def record(text, renderer):
        if text.get_visible() and text.get_text().strip():
            drawn[id(text)] = (text.get_text(), Text.get_window_extent(text, renderer))
        return original(text, renderer)

    with house_style(), mock.patch.object(Text, "draw", record):
        figure.canvas.draw()
    return list(drawn.values())


def overlaps(figure):
    return [
        (one, two)
        for (one, a), (two, b) in combinations(visible_texts(figure), 2)
        if min(a.x1, b.x1) - max(a.x0, b.x0) > 1.0 and min(a.y1, b.y1) - max(a.y0, b.y0) > 1.0
    ]


def outside(figure):
    width, height = figure.canvas.get_width_height()
    return [
        text
        for text, box in visible_texts(figure)
        if box.x0 < -1 or box.y0 < -1 or box.x1 > width + 1 or box.y1 > height + 1
    ]


@pytest.fixture(scope="module")
def views(made, hilly, lapped, plain, nasty):
    close = replace(hilly.doubt, low_s=-3.0, high_s=120.0)
    turned = made.made_comparison(first=made.PLOVER, other=made.GANNET)
    tied = made.made_comparison(first=made.PLOVER, other=made.PLOVER, sd_s=None)
    long_name = replace(made.PLOVER, name="The very long name of somebody's bike")
    comparisons = {
        "hilly": hilly,
        "lapped": lapped,
        "plain": plain,
        "nasty": nasty,
        "wide doubt": replace(hilly, doubt=close),
        "turned": turned,
        "tied": tied,
        "long name": made.made_comparison(other=long_name),
    }
    return {name: make_gap_view(comparison) for name, comparison in comparisons.items()}


NAMES = ["hilly", "lapped", "plain", "nasty", "wide doubt", "turned", "tied", "long name"]


@pytest.mark.parametrize(
    ("draw", "name"),
    [(draw_gap, name) for name in NAMES]
    + [(draw, name) for draw in (draw_plan, draw_causes) for name in NAMES[1:4]],
)
def test_no_label_covers_another_or_leaves_the_picture(views, name, draw):
    figure = draw(views[name])
    assert overlaps(figure) == []
    assert outside(figure) == []


def test_every_axis_has_its_unit(views):
    profile, speed, gap = draw_gap(views["hilly"]).axes
    assert profile.get_ylabel() == "Height, m"
    assert speed.get_ylabel() == "Speed, km/h"
    assert gap.get_ylabel() == "Plover behind, s"
    assert gap.get_xlabel() == "Distance, km"


def test_the_three_panels_share_one_distance_axis(views):
    view = views["hilly"]
    limits = [axes.get_xlim() for axes in draw_gap(view).axes]
    assert limits == [(0.0, view.course.distance_m / 1000.0)] * 3


def test_curves_are_the_numbers_of_the_view(views):
    view = views["hilly"]
    _, speed, gap = draw_gap(view).axes
    first, other = speed.lines[0], speed.lines[1]
    assert first.get_ydata() == pytest.approx(3.6 * np.array(view.series.first_mps))
    assert other.get_ydata() == pytest.approx(3.6 * np.array(view.series.other_mps))
    drawn = [line for line in gap.lines if len(line.get_xdata()) == len(view.series.gaps_s)]
    assert drawn[0].get_ydata() == pytest.approx(view.series.gaps_s)
    assert (first.get_color(), other.get_color()) == BUILD_COLOURS[:2]
    assert drawn[0].get_color() == BUILD_COLOURS[1]


def test_the_interval_is_drawn_at_the_finish(views):
    view = views["hilly"]
    gap = draw_gap(view).axes[2]
    bars = [
        line
        for line in gap.lines
        if list(line.get_ydata()) == [view.doubt.low_s, view.doubt.high_s]
    ]
    assert len(bars) == 1


def test_dollar_signs_in_names_are_no_formulas(views):
    texts = [text for text, _ in visible_texts(draw_gap(views["nasty"]))]
    assert any("$" in text for text in texts)


@pytest.mark.parametrize("kind", ["png", "svg"])
def test_the_same_view_gives_the_same_bytes(views, kind):
    one, two = (picture_bytes(draw_plan(views["plain"]), kind) for _ in range(2))
    assert one == two
    assert one.startswith(b"\x89PNG" if kind == "png" else b"<?xml")


def test_drawing_leaves_the_settings_of_matplotlib_alone(views):
    import matplotlib as mpl

    before = dict(mpl.rcParams)
    picture_bytes(draw_gap(views["plain"]), "png")
    assert dict(mpl.rcParams) == before


def test_colours_tell_who_loses_and_how_much():
    first, other = BUILD_COLOURS[:2]
    assert loss_colour(1.0, 1.0) == other.lower()
    assert loss_colour(-2.0, 1.0) == first.lower()
    assert loss_colour(0.5, 0.0) == loss_colour(0.0, 1.0)
    assert blended("#000000", "#ffffff", 0.5) == "#808080"


def test_palette_colours_differ_for_colour_blind_readers():
    """Okabe and Ito (2008): the six hues of the published set that we use, from memory."""
    published = {"#0072b2", "#d55e00", "#009e73", "#cc79a7", "#e69f00", "#56b4e9"}
    assert {colour.lower() for colour in BUILD_COLOURS} == published


def test_a_number_stays_with_its_unit_when_a_title_breaks():
    text = balanced("On a course, Plover gives away 29 s ± 8 s to Gannet; 24 s of it there.", 40)
    assert len(text.splitlines()) == 2
    assert all("29\N{NO-BREAK SPACE}s" in t or "29" not in t for t in text.splitlines())


def test_the_line_up_shows_every_build(made):
    others = [replace(made.PLOVER, name=name) for name in ("Plover", "Tern", "Heron")]
    comparisons = [made.made_comparison(other=build) for build in others]
    figure = draw_lineup(make_lineup_view(comparisons, folders=["2-a", "3-b", "4-c"]))
    assert overlaps(figure) == []
    assert outside(figure) == []
    labels = [label.get_text() for label in figure.axes[0].get_yticklabels()]
    assert labels == ["Gannet", "Plover", "Tern", "Heron"]
