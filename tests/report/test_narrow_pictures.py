"""Pictures for phones: type that can be read there, nothing cut off, nothing on each other."""

import importlib.util
import re
from pathlib import Path

import pytest

from simulator.measures import IMPERIAL, METRIC
from simulator.report import draw_bunch

HERE = Path(__file__).parent
NAMES = ["bunch", "powerplan", "races", "infer", "verdict", "runs"]

PHONE_PX = 346
"""Width of a picture on a screen of 375 CSS pixels, between the page's edges."""

SMALLEST_PX = 10.0
"""Common practice, no source: smaller type is hard to read at arm's length."""


@pytest.fixture(scope="module")
def maker():
    spec = importlib.util.spec_from_file_location("made_answers", HERE / "made_answers.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def worked_out(maker, cornered_course, hilly_setup):
    return maker.answers(cornered_course(3000.0), hilly_setup)


@pytest.fixture(scope="module", params=[METRIC, IMPERIAL], ids=["metric", "imperial"])
def made(request, maker, worked_out):
    return maker.pictured(worked_out, request.param)


def shown_texts(figure):
    """Every text that is drawn, with its box."""
    figure.canvas.draw()
    texts = list(figure.texts)
    for axes in figure.axes:
        texts += [*axes.texts, axes.xaxis.label, axes.yaxis.label]
        for axis, (low, high) in ((axes.xaxis, axes.get_xlim()), (axes.yaxis, axes.get_ylim())):
            low, high = sorted((low, high))
            for tick in axis.get_major_ticks():
                if low <= tick.get_loc() <= high and tick.label1.get_visible():
                    texts.append(tick.label1)
    renderer = figure.canvas.get_renderer()
    return [(t, t.get_window_extent(renderer)) for t in texts if t.get_text().strip()]


@pytest.mark.parametrize("name", NAMES)
def test_type_can_be_read_and_nothing_is_cut_off(made, name):
    figure, _ = made[name]
    px_per_pt = PHONE_PX / (72.0 * figure.get_figwidth())
    assert len(shown_texts(figure)) > 5
    for text, box in shown_texts(figure):
        assert text.get_fontsize() * px_per_pt >= SMALLEST_PX, text.get_text()
        assert box.x0 >= -1.0, text.get_text()
        assert box.x1 <= figure.bbox.x1 + 1.0, text.get_text()
        assert box.y0 >= -1.0, text.get_text()
        assert box.y1 <= figure.bbox.y1 + 1.0, text.get_text()


@pytest.mark.parametrize("name", NAMES)
def test_words_do_not_lie_on_each_other(made, name):
    boxes = shown_texts(made[name][0])
    for i, (one, box) in enumerate(boxes):
        for other, another in boxes[i + 1 :]:
            over_x = min(box.x1, another.x1) - max(box.x0, another.x0)
            over_y = min(box.y1, another.y1) - max(box.y0, another.y0)
            touches = over_x > 1.0 and over_y > 0.35 * min(box.height, another.height)
            assert not touches, (one.get_text(), other.get_text())


@pytest.mark.parametrize("name", NAMES)
def test_the_page_offers_it_to_narrow_screens_and_nothing_scrolls(made, name):
    _, page = made[name]
    source = re.search(r'<source media="([^"]+)" srcset="data:image/svg\+xml;base64,(.)', page)
    assert source.group(1) == "screen and (max-width: 56rem)"  # paper gets the wide one
    picture = re.search(r"\.picture[^{]*\{([^}]*)\}", page).group(1)
    assert "width: 100%" in picture
    assert "min-width" not in picture


@pytest.mark.parametrize("name", ["bunch", "powerplan"])
def test_the_answer_stands_before_the_cautions_and_all_of_them_stand(made, name):
    _, page = made[name]
    order = [page.index(mark) for mark in ("<h1>", "<figure", "<table", 'id="care"')]
    assert order == sorted(order)
    words = {"bunch": ["craft of its own"], "powerplan": []}[name]
    words += ["see a doctor", "never advice to ride it", "at an easy pace first"]
    for caution in words:
        assert page.count(caution) == 1
        assert page.index(caution) > page.index('id="care"')
    # Above everything else a line leads there, and counts them.
    link = re.search(r'<a href="#care">(\w+) cautions', page)
    assert link.group(1) == {3: "Three", 4: "Four"}[len(words)]
    assert link.start() < page.index("<figure")


def test_who_is_dropped_and_where_stands_beside_the_curves(worked_out):
    """In the wide picture, too: in the margin, where no curve and no other name is."""
    race, make_view, draw_narrow, _ = worked_out["bunch"]
    lost = [b for b in race.builds if b.following.lost_at_m is not None]
    assert len(lost) == 2
    for measures in (METRIC, IMPERIAL):
        view = make_view(race, measures)
        for figure in (draw_bunch(view), draw_narrow(view)):
            told = [
                (t.get_text(), box) for t, box in shown_texts(figure) if "lost at" in t.get_text()
            ]
            assert len(told) == len(lost)
            for (text, box), build in zip(told, lost, strict=True):
                assert measures.place(build.following.lost_at_m) in text
                assert box.x1 <= figure.bbox.x1
            assert not told[0][1].overlaps(told[1][1])
