"""Names as long as a file may hold them, and a course that ends between two metres."""

from dataclasses import replace

import pytest

from simulator.report import gap_page, make_gap_view

LONG = "A name as long as a file may hold it, of a {} with {} wheels"


@pytest.fixture(scope="module")
def page(made, tmp_path_factory):
    comparison = made.made_comparison(
        first=replace(made.GANNET, name=LONG.format("Gannet", "deep")),
        other=replace(made.PLOVER, name=LONG.format("Plover", "plain")),
    )
    view = make_gap_view(comparison)
    # Places of the cursor are told to a metre: the last one may lie a little behind the finish.
    *bands, last = view.bands
    bands.append(replace(last, end_m=last.end_m - 0.4))
    corners = tuple(
        replace(row, name=f"Right hairpin below the chapel, km {30 + i}")
        for i, row in enumerate(view.corners)
    )
    path = tmp_path_factory.mktemp("long") / "index.html"
    path.write_text(gap_page(replace(view, bands=tuple(bands), corners=corners)), encoding="utf-8")
    return path


@pytest.mark.parametrize("width", [375, 1280])
@pytest.mark.parametrize("table", ["where", "corners", "why"])
def test_gaps_are_seen_without_pushing_the_table(browser, page, width, table):
    browser.open(page, width=width, is_phone=width < 600)
    hidden = browser.ask(
        f"(()=>{{const s=document.querySelector('#t-{table}').closest('.scroll');"
        "return s.scrollWidth-s.clientWidth})()"
    )
    assert hidden <= 0


def test_tables_fit_on_paper(browser, page):
    browser.open(page, width=720)  # 19 cm at the 96 dots an inch of paper
    browser.call("Emulation.setEmulatedMedia", media="print")
    try:
        wide = (
            "Array.from(document.querySelectorAll('table'))"
            ".filter(t => t.getBoundingClientRect().right > innerWidth + 1).map(t => t.id)"
        )
        assert browser.ask(wide) == []
    finally:
        browser.call("Emulation.setEmulatedMedia", media="")


def test_the_finish_lies_on_the_last_stretch(browser, page):
    browser.open(page, width=1280)
    browser.ask("document.getElementById('slider').focus()")
    browser.press("End")
    last = browser.ask("JSON.parse(document.getElementById('data').textContent).bands.pop()")
    assert last[0] in browser.ask("document.getElementById('place').textContent")
