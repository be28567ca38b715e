"""The page in a real Chromium: quiet, alone, usable by mouse, finger and keyboard, narrow."""

import numpy as np
import pytest

pytestmark = pytest.mark.slow

NAMES = ["hilly", "lapped", "plain", "unsure", "nasty"]
PHONE = {"width": 375, "height": 720, "is_phone": True}
DESK = {"width": 1280, "height": 900}

VALUE = "Number(document.getElementById('slider').getAttribute('aria-valuenow'))"
SPOKEN = "document.getElementById('slider').getAttribute('aria-valuetext')"


def box(browser, selector):
    script = (
        f"(() => {{ const b = document.querySelector({selector!r}).getBoundingClientRect();"
        " return [b.left, b.top, b.width, b.height]; })()"
    )
    return browser.ask(script)


def read(browser, name):
    text = browser.ask(f"document.querySelector('[data-read={name}]').textContent")
    return float(text.split()[0].replace("−", "-").replace("+", ""))


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("window", [DESK, PHONE], ids=["desk", "phone"])
def test_quiet_alone_and_no_wider_than_the_window(browser, pages, name, window):
    browser.open(pages[name], **window)
    browser.ask("document.getElementById('slider').focus()")
    browser.press("ArrowRight")
    browser.ask("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
    assert browser.complaints() == []
    assert browser.requests() == [pages[name].resolve().as_uri()]
    assert browser.ask("document.documentElement.scrollWidth") <= window["width"]
    assert browser.ask("window.hacked") is None


@pytest.mark.parametrize("window", [DESK, PHONE], ids=["desk", "phone"])
def test_a_line_up_is_quiet_sorts_and_fits(browser, pages, window):
    browser.open(pages["line-up"], **window)
    assert browser.complaints() == []
    assert browser.requests() == [pages["line-up"].resolve().as_uri()]
    assert browser.ask("document.documentElement.scrollWidth") <= window["width"]
    browser.ask("document.querySelectorAll('#t-lineup thead button')[1].click()")
    assert "largest first" in browser.ask("document.getElementById('status').textContent")
    assert browser.ask("document.querySelectorAll('#t-lineup tbody tr').length") == 3


def test_the_policy_really_forbids_requests(browser, pages):
    browser.open(pages["hilly"], **DESK)
    browser.ask("void (new Image().src = 'http://127.0.0.1:9/x.png')")
    browser.ask("new Promise((done) => setTimeout(done, 50))")
    assert any("Content Security Policy" in text for text in browser.complaints())


def test_the_mouse_reads_all_curves_at_one_place(browser, pages, views):
    browser.open(pages["hilly"], **DESK)
    browser.ask("document.getElementById('stack').scrollIntoView({behavior: 'instant'})")
    left, top, width, height = box(browser, "#reach")
    series = views["hilly"].series
    for share in (0.1, 0.5, 0.93):
        browser.mouse("mouseMoved", left + share * width, top + 0.5 * height)
        metres = 1000.0 * browser.ask(VALUE)
        assert metres == pytest.approx(share * series.distances_m[-1], rel=0.002, abs=15)
        at = series.distances_m
        speed = 3.6 * np.interp(metres, at, series.first_mps)
        # Shown to 0.1 from points rounded to 0.1 and 1 m.
        assert read(browser, "speed1") == pytest.approx(speed, abs=0.2)
        assert read(browser, "gap") == pytest.approx(np.interp(metres, at, series.gaps_s), abs=0.1)
        assert read(browser, "height") == pytest.approx(
            np.interp(metres, at, series.heights_m), abs=1.0
        )
        assert browser.ask("document.getElementById('cursor').hidden") is False


def test_the_plan_marks_the_same_place(browser, pages, views):
    browser.open(pages["hilly"], **DESK)
    browser.ask("document.getElementById('slider').focus()")
    start = browser.ask("document.getElementById('here').getAttribute('cx')")
    browser.press("End")
    browser.press("Home")
    again = browser.ask("document.getElementById('here').getAttribute('cx')")
    assert float(again) == pytest.approx(float(start), abs=0.2)
    for _ in range(5):
        browser.press("PageUp")
    km = browser.ask(VALUE)
    series = views["hilly"].series
    here = [
        float(browser.ask(f"document.getElementById('here').getAttribute('{axis}')"))
        for axis in ("cx", "cy")
    ]
    # The mark lies on the drawn road: nearest point of the polyline within its own width.
    points = browser.ask("document.querySelector('.road').getAttribute('points')")
    road = np.array([[float(v) for v in pair.split(",")] for pair in points.split()])
    assert np.hypot(*(road - here).T).min() < 4.0
    east = np.interp(1000.0 * km, series.distances_m, series.easts_m)
    scale = np.ptp(road[:, 0]) / np.ptp(views["hilly"].plan.easts_m)
    assert (here[0] - float(start)) == pytest.approx(scale * (east - series.easts_m[0]), abs=2.0)


def test_the_keyboard_alone_reaches_and_moves_the_cursor(browser, pages, views):
    browser.open(pages["hilly"], **DESK)
    for _ in range(30):
        browser.press("Tab")
        if browser.ask("document.activeElement.id") == "slider":
            break
    assert browser.ask("document.activeElement.id") == "slider"
    browser.press("ArrowRight")
    one = browser.ask(VALUE)
    assert 0.0 < one <= 0.1
    browser.press("ArrowLeft")
    browser.press("ArrowLeft")
    assert browser.ask(VALUE) == 0.0
    browser.press("End")
    total = views["hilly"].course.distance_m / 1000.0
    assert browser.ask(VALUE) == pytest.approx(total, abs=0.001)
    spoken = browser.ask(SPOKEN)
    assert "Plover" in spoken
    assert "seconds behind Gannet" in spoken


def test_a_finger_drags_the_cursor(browser, pages):
    browser.open(pages["lapped"], **PHONE)
    browser.ask("document.getElementById('stack').scrollIntoView({behavior: 'instant'})")
    left, top, width, height = box(browser, "#reach")
    y = top + 0.4 * height
    browser.touch("touchStart", left + 0.2 * width, y)
    first = browser.ask(VALUE)
    for share in (0.3, 0.4, 0.5):
        browser.touch("touchMove", left + share * width, y)
    second = browser.ask(VALUE)
    browser.touch("touchEnd")
    assert 0.0 < first < second
    assert "lap" in browser.ask("document.getElementById('place').textContent")


def test_a_heading_sorts_up_and_down_and_says_so(browser, pages, views):
    browser.open(pages["hilly"], **DESK)
    heads = "Array.from(document.querySelectorAll('#t-where thead th'))"
    heading = f"{heads}.find((h) => h.textContent.includes('Gap'))"
    body = "Array.from(document.querySelectorAll('#t-where tbody tr'))"
    rows = f"{body}.map((r) => r.cells[0].textContent.trim())"
    original = browser.ask(rows)
    browser.ask(f"{heading}.querySelector('button').click()")
    by_gap = sorted(views["hilly"].places, key=lambda row: -row.gap_s)
    assert browser.ask(rows) == [row.name for row in by_gap]
    assert browser.ask(f"{heading}.getAttribute('aria-sort')") == "descending"
    assert "largest first" in browser.ask("document.getElementById('status').textContent")
    browser.ask(f"{heading}.querySelector('button').click()")
    assert browser.ask(rows) == [row.name for row in reversed(by_gap)]
    browser.ask("document.querySelector('#t-where thead button').click()")
    assert browser.ask(rows) == original


def test_a_place_in_the_table_is_shown_on_the_charts(browser, pages, views):
    browser.open(pages["hilly"], **DESK)
    browser.ask("document.querySelectorAll('#t-where .go')[1].click()")
    place = views["hilly"].places[1]
    total = views["hilly"].course.distance_m
    left = browser.ask("parseFloat(document.getElementById('lit').style.left)")
    width = browser.ask("parseFloat(document.getElementById('lit').style.width)")
    assert left == pytest.approx(100.0 * place.start_m / total, abs=0.01)
    assert width == pytest.approx(100.0 * place.length_m / total, abs=0.01)
    assert browser.ask("document.getElementById('leg-lit').getAttribute('points').length") > 10
    assert browser.ask(VALUE) == pytest.approx(place.end_m / 1000.0, abs=0.001)


@pytest.mark.parametrize("name", ["hilly", "lapped", "unsure"])
@pytest.mark.parametrize("window", [DESK, PHONE], ids=["desk", "phone"])
def test_no_label_on_the_charts_covers_another(browser, pages, name, window):
    browser.open(pages[name], **window)
    script = """(() => {
      const bad = [];
      for (const plot of document.querySelectorAll('.plot, .axis-ticks')) {
        const labels = Array.from(plot.querySelectorAll(
            ':scope > .x-tick, :scope > .y-tick, :scope > .on-band > span'))
          .map((l) => [l.textContent, l.getBoundingClientRect()])
          .filter((l) => l[1].width > 0);
        for (let i = 0; i < labels.length; i += 1) {
          for (let j = i + 1; j < labels.length; j += 1) {
            const a = labels[i][1], b = labels[j][1];
            if (Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1 &&
                Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 3) {
              bad.push([labels[i][0], labels[j][0]]);
            }
          }
        }
      }
      return bad;
    })()"""
    assert browser.ask(script) == []


def test_paper_shows_everything_and_nothing_to_press(browser, pages):
    browser.open(pages["hilly"], **DESK)
    browser.ask("window.dispatchEvent(new Event('beforeprint'))")
    browser.call("Emulation.setEmulatedMedia", media="print")
    try:
        hidden = "getComputedStyle(document.querySelector('nav')).display"
        assert browser.ask(hidden) == "none"
        assert browser.ask("Array.from(document.querySelectorAll('details')).every(d => d.open)")
        assert len(browser.call("Page.printToPDF")["data"]) > 10_000
    finally:
        browser.call("Emulation.setEmulatedMedia", media="")


def test_without_script_the_page_still_tells_everything(browser, pages, views):
    browser.call("Emulation.setScriptExecutionDisabled", value=True)
    try:
        browser.open(pages["hilly"], **DESK)
        tree = browser.call("Accessibility.getFullAXTree")["nodes"]
    finally:
        browser.call("Emulation.setScriptExecutionDisabled", value=False)
    names = " ".join(str(node.get("name", {}).get("value", "")) for node in tree)
    assert "gives away" in names
    for row in views["hilly"].places:
        assert row.name in names


def test_a_screen_reader_finds_headings_tables_and_the_slider(browser, pages):
    browser.open(pages["hilly"], **DESK)
    tree = browser.call("Accessibility.getFullAXTree")["nodes"]
    roles = [node["role"]["value"] for node in tree if not node.get("ignored")]
    assert roles.count("slider") == 1
    assert roles.count("main") == 1
    assert roles.count("table") >= 5
    assert roles.count("heading") >= 6
    tables = [n for n in tree if n["role"]["value"] == "table" and not n.get("ignored")]
    assert all(node["name"]["value"] for node in tables)
