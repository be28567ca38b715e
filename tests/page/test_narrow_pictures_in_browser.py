"""Pages of bunch, plan and field tests in a real Chromium: their pictures fit every screen."""

import base64
import importlib.util
from pathlib import Path

import pytest

from simulator.measures import METRIC
from simulator.report import picture_bytes
from simulator.report.style import new_figure

pytestmark = pytest.mark.slow

MADE = Path(__file__).parents[1] / "report" / "made_answers.py"
NAMES = ["bunch", "powerplan", "infer", "verdict", "runs"]
SHOWN = "document.querySelector('picture img')"


@pytest.fixture(scope="module")
def picture_pages(cornered_course, hilly_setup, tmp_path_factory):
    spec = importlib.util.spec_from_file_location("made_answers", MADE)
    answers = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(answers)
    folder = tmp_path_factory.mktemp("pictures")
    worked_out = answers.answers(cornered_course(3000.0), hilly_setup)
    paths = {}
    for name, (_, page) in answers.pictured(worked_out, METRIC).items():
        kind = "svg" if name in ("infer", "verdict", "runs") else "png"
        stand_in = base64.b64encode(b"wide").decode()
        wide = base64.b64encode(picture_bytes(new_figure(10.0, 5.0), kind)).decode()
        paths[name] = folder / f"{name}.html"
        paths[name].write_text(page.replace(stand_in, wide), encoding="utf-8")
    return paths


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("width", [320, 375, 800])
def test_a_narrow_screen_gets_a_picture_that_fits_it(browser, picture_pages, name, width):
    browser.open(picture_pages[name], width=width, height=720, is_phone=True)
    assert browser.ask(f"{SHOWN}.naturalWidth") > 0
    assert browser.ask("document.documentElement.scrollWidth") <= width
    left, right = browser.ask(f"(r => [r.left, r.right])({SHOWN}.getBoundingClientRect())")
    assert 0 <= left < right <= width
    # The narrow drawing: 3.6 inches of 96 CSS pixels each.
    assert browser.ask(f"{SHOWN}.naturalWidth") == pytest.approx(345.6, abs=1.0)
    assert browser.complaints() == []


@pytest.mark.parametrize("name", NAMES)
def test_a_wide_screen_gets_the_wide_one(browser, picture_pages, name):
    browser.open(picture_pages[name], width=1280)
    assert browser.ask(f"{SHOWN}.naturalWidth") >= 960
    assert browser.ask("document.documentElement.scrollWidth") <= 1280


def test_on_a_phone_the_answer_of_a_race_comes_before_its_cautions(browser, picture_pages):
    browser.open(picture_pages["bunch"], width=375, height=720, is_phone=True)
    tops = browser.ask(
        "['h1', 'picture', 'table', '#care'].map("
        "q => document.querySelector(q).getBoundingClientRect().top)"
    )
    assert tops == sorted(tops)
    browser.ask("document.querySelector('header a').click()")
    assert browser.ask("location.hash") == "#care"
