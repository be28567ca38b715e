"""Cards and sentences of plans: what is on them, that nothing touches, that cautions stand."""

from dataclasses import replace

import numpy as np
import pytest

from simulator.powerplan import MOST_ROWS, Card, CardRow
from simulator.report import CARD_SIZES_MM, card_page, draw_card
from simulator.report import powerplan_words as words


def card(n_rows, *, power_w=285.0, n_laps=1, name="A long ride over three hills and back"):
    rows = tuple(
        CardRow(
            start_m=4000.0 * i, end_m=4000.0 * (i + 1), ascent_m=1240.0, power_w=power_w + i,
            end_s=900.0 * (i + 1), place="Harrow Hill",
        )
        for i in range(n_rows)
    )  # fmt: skip
    return Card(
        course=name, rider="Edda Marl", build="Plover", weather="Fresh westerly",
        distance_m=4000.0 * n_rows, ascent_m=1240.0 * n_rows, time_s=900.0 * n_rows,
        n_laps=n_laps, rows=rows,
    )  # fmt: skip


@pytest.mark.parametrize("size", CARD_SIZES_MM)
@pytest.mark.parametrize(("n_rows", "power_w"), [(1, 293.3), (5, 285.0), (MOST_ROWS, 985.0)])
def test_nothing_on_a_card_touches_or_leaves_it(size, n_rows, power_w):
    figure = draw_card(card(n_rows, power_w=power_w), size)
    width_mm, height_mm = CARD_SIZES_MM[size]
    assert figure.get_size_inches() * 25.4 == pytest.approx([width_mm, height_mm])
    renderer = figure.canvas.get_renderer()
    boxes = [t.get_window_extent(renderer) for t in figure.texts if t.get_text()]
    page = figure.bbox
    for i, box in enumerate(boxes):
        assert box.x0 >= page.x0
        assert box.x1 <= page.x1
        assert box.y0 >= page.y0
        assert box.y1 <= page.y1
        for other in boxes[i + 1 :]:
            over_x = min(box.x1, other.x1) - max(box.x0, other.x0)
            over_y = min(box.y1, other.y1) - max(box.y0, other.y0)
            # Lines of type stand close: a box reaches above and below its digits.
            assert not (over_x > 1.0 and over_y > 0.35 * min(box.height, other.height))


@pytest.mark.parametrize("size", CARD_SIZES_MM)
def test_a_card_says_to_see_a_doctor_and_to_ride_the_course_first(size):
    told = [text.get_text() for text in draw_card(card(12), size).texts]
    for caution in words.CARD_CAUTIONS:
        assert caution in told  # whole, not cut
    assert "doctor" in words.CARD_CAUTIONS[0]
    assert "bunch" in words.CARD_CAUTIONS[1]
    smallest_pt = min(text.get_fontsize() for text in draw_card(card(12), size).texts)
    assert smallest_pt >= 4.0


def test_type_of_the_watts_is_read_on_the_road():
    # Digits at least 4 mm high on a card of five rows, 2.3 mm on the fullest one (cap height of
    # the typeface: 0.73 of its size).
    for n_rows, least_mm in ((5, 4.0), (MOST_ROWS, 2.3)):
        for size in CARD_SIZES_MM:
            figure = draw_card(card(n_rows), size)
            largest_pt = max(t.get_fontsize() for t in figure.texts if t.get_text().isdigit())
            assert 0.73 * largest_pt / 72.0 * 25.4 >= least_mm


def test_the_phone_page_has_every_caution_in_full():
    page = card_page(card(3, n_laps=4))
    for caution in (*words.CAUTIONS, words.WHEEL_CAUTION):
        assert caution.replace("'", "&#39;") in page
    assert "the same on each of 4 laps" in page


def test_a_constant_power_is_told_as_it_is():
    assert words.power(294.79) == "294.8"
    assert words.power(295.0) == "295"
    said = words.plan_sentence("Hills", 0, 0.0, 294.79, 1)
    assert "294.8 W" in said
    assert "save" not in said
    assert np.isclose(float(words.power(294.79)), 294.79, atol=0.05)


@pytest.mark.parametrize("size", CARD_SIZES_MM)
def test_where_the_rider_coasts_the_card_says_so_and_the_figures_stay_large(size):
    full = card(8)
    rows = tuple(replace(r, power_w=0.0 if i == 3 else r.power_w) for i, r in enumerate(full.rows))
    coasting = replace(full, rows=rows)
    sizes = {t.get_text(): t.get_fontsize() for t in draw_card(coasting, size).texts}
    plain = {t.get_text(): t.get_fontsize() for t in draw_card(full, size).texts}
    assert "0" not in sizes
    assert 4.0 < sizes["coast"] <= sizes["285"]
    assert sizes["285"] == plain["285"]
    assert ">coast<" in card_page(coasting)


@pytest.mark.parametrize("size", CARD_SIZES_MM)
def test_a_card_for_a_plain_mean_says_that_hard_efforts_are_not_limited(size):
    bound = replace(card(MOST_ROWS), is_plain_mean=True)
    assert words.CARD_BOUND in [text.get_text() for text in draw_card(bound, size).texts]
    assert words.CARD_BOUND in card_page(bound)
    assert words.CARD_BOUND not in card_page(card(MOST_ROWS))
