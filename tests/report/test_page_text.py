import base64
import hashlib
import json
import re
from html.parser import HTMLParser

import pytest

from simulator.report import gap_page, lineup_page, make_gap_view, make_lineup_view, words

HALF_A_MEGABYTE = 500_000
EMPTY = {"meta", "link", "br", "img", "hr"}


class Page(HTMLParser):
    """Elements, text and how they nest."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.open, self.elements, self.wrong, self.texts = [], [], [], []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        if tag not in EMPTY:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        if not self.open or self.open[-1] != tag:
            self.wrong.append((tag, self.open[-3:]))
        else:
            self.open.pop()

    def handle_data(self, data):
        self.texts.append((self.open[-1] if self.open else "", data))

    def all(self, tag):
        return [attrs for name, attrs in self.elements if name == tag]


@pytest.fixture(scope="module")
def texts(hilly, lapped, plain, nasty):
    comparisons = {"hilly": hilly, "lapped": lapped, "plain": plain, "nasty": nasty}
    return {name: gap_page(make_gap_view(c)) for name, c in comparisons.items()}


@pytest.fixture(scope="module")
def pages(texts, nasty):
    pages = {name: Page(text) for name, text in texts.items()}
    pages["line-up"] = Page(lineup_page(make_lineup_view([nasty], folders=["2-x"])))
    return pages


NAMES = ["hilly", "lapped", "plain", "nasty", "line-up"]


@pytest.mark.parametrize("name", NAMES)
def test_every_element_is_closed_where_it_should_be(pages, name):
    assert pages[name].wrong == []
    assert pages[name].open == []


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_loaded_from_elsewhere(pages, name):
    page = pages[name]
    for tag, attrs in page.elements:
        for key in ("src", "srcset", "data", "action", "poster", "xlink:href"):
            assert key not in attrs, (tag, attrs)
        link = attrs.get("href", "")
        assert link in ("", "data:,", "2-x/index.html") or link.startswith("#"), (tag, attrs)
        assert not [key for key in attrs if key.startswith("on")]
    assert "url(" not in "".join(text for tag, text in page.texts if tag == "style")


def test_names_with_markup_are_text_and_nothing_else(texts, pages, nasty):
    view = make_gap_view(nasty)
    page = pages["nasty"]
    assert len(page.all("script")) == 2
    assert page.all("img") == []
    assert page.all("b") == [{}] * 3  # the headings of the three panels
    heading = "".join(text for tag, text in page.texts if tag in ("h1", "span"))
    assert view.other.name.replace("\x1b", "") in heading.replace("\x1b", "")
    assert "<img src=x" not in texts["nasty"]


def test_the_block_of_figures_cannot_be_left_by_a_name(texts, pages, nasty):
    data = next(text for tag, text in pages["nasty"].texts if tag == "script")
    figures = json.loads(data)
    view = make_gap_view(nasty)
    assert (figures["first"], figures["other"]) == (view.first.name, view.other.name)
    assert "<" not in data
    assert figures["gap"][-1] == pytest.approx(view.gap_s, abs=0.005)
    lengths = {len(figures[key]) for key in ("km", "height", "grade", "speed1", "speed2", "x", "y")}
    assert lengths == {len(view.series.distances_m)}


@pytest.mark.parametrize("name", NAMES)
def test_the_policy_allows_our_script_alone(pages, name):
    page = pages[name]
    policy = next(m["content"] for m in page.all("meta") if "http-equiv" in m)
    assert policy.startswith("default-src 'none'")
    script = [text for tag, text in page.texts if tag == "script"][-1]
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in policy
    assert "unsafe-eval" not in policy


def test_the_page_opens_with_the_sentence(pages, hilly):
    page = pages["hilly"]
    view = make_gap_view(hilly)
    order = [tag for tag, _ in page.elements]
    assert order.index("h1") < order.index("section")
    pieces, inside = [], False
    for tag, text in page.texts:
        inside = tag == "h1" or (inside and tag == "span")
        if inside:
            pieces.append(text)
    assert "".join(pieces).strip().startswith(words.unbroken(view.sentence))


@pytest.mark.parametrize("name", NAMES)
def test_ids_are_unique_and_links_find_them(pages, name):
    page = pages[name]
    ids = [attrs["id"] for _, attrs in page.elements if "id" in attrs]
    assert len(ids) == len(set(ids))
    for attrs in page.all("a"):
        if attrs["href"].startswith("#"):
            assert attrs["href"][1:] in ids
    for _, attrs in page.elements:
        if "aria-labelledby" in attrs:
            assert attrs["aria-labelledby"] in ids


@pytest.mark.parametrize("name", NAMES)
def test_tables_have_captions_and_headings(pages, name):
    page = pages[name]
    tables = page.all("table")
    assert tables
    assert len(page.all("caption")) == len(tables)
    for attrs in page.all("th"):
        assert attrs.get("scope") in ("row", "col")
    for attrs in page.all("svg"):
        assert "aria-label" in attrs or attrs.get("aria-hidden") == "true"


@pytest.mark.parametrize("name", NAMES)
def test_cautions_stand_where_speeds_are_shown(pages, name):
    shown = " ".join(text for _, text in pages[name].texts)
    assert words.CAUTION in shown


def test_pages_are_small_even_for_a_long_course(made):
    comparison = made.made_comparison(made.hilly_course(length_m=200_000.0))
    assert len(gap_page(make_gap_view(comparison)).encode()) < HALF_A_MEGABYTE


def test_a_very_long_criterium_stays_readable_and_small(made):
    view = make_gap_view(made.made_comparison(made.lapped_course(n_laps=120)))
    text = gap_page(view)
    assert len(text.encode()) < HALF_A_MEGABYTE
    page = Page(text)
    assert sum(attrs.get("class") == "lap-line" for attrs in page.all("i")) <= 3 * 12
    assert sum(attrs.get("class") == "mark" for attrs in page.all("i")) == 0
    assert len(view.laps) == 120


def test_inputs_in_doubt_without_draws_are_not_said_to_be_exact(texts):
    assert (
        words.NO_DRAWS_MADE in texts["plain"].partition('id="sure"')[2].partition("</section>")[0]
    )
    assert words.NO_DOUBT_STATED not in texts["plain"]
    assert "histogram" not in re.sub(r"<style>.*?</style>", "", texts["plain"], flags=re.S)


def test_sections_without_content_are_left_out(pages):
    def ids(name):
        return {attrs.get("id") for attrs in pages[name].all("section")}

    assert "corners" not in ids("plain")
    assert "laps" not in ids("hilly")
    assert {"corners", "laps"} <= ids("lapped")


def test_the_name_of_a_build_inside_that_of_the_course_is_left_alone(made):
    comparison = made.made_comparison(made.hilly_course(name="Gannet Rock"))
    text = gap_page(make_gap_view(comparison))
    heading = re.search(r"<h1>(.*?)</h1>", text).group(1)
    assert heading.startswith("On Gannet Rock, <span")
    assert heading.count("<span") == 2


def test_no_page_breaks_a_line_between_a_number_and_its_unit(pages):
    shown = [text for page in pages.values() for tag, text in page.texts if tag != "script"]
    loose = [text for text in shown if re.search(r"\d (?:s|km|W|kJ|km/h|m|kg|%)(?!\w)", text)]
    assert loose == []
    assert any("\N{NO-BREAK SPACE}W" in text for text in shown)
