import unicodedata
from dataclasses import replace

import pytest

from simulator.report import gap_text, make_gap_view, plain, sentence_text


def columns(line):
    return sum(
        0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1
        for c in line
    )


def test_eighty_columns_are_enough(hilly, lapped, plain, nasty):
    for comparison in (hilly, lapped, plain, nasty):
        text = gap_text(make_gap_view(comparison))
        assert max(columns(line) for line in text.splitlines()) <= 80


def test_long_names_are_cut_not_wrapped(made):
    first = replace(made.GANNET, name="The very long name of a build that somebody dreams of, 2026")
    other = replace(made.PLOVER, name="W" * 120)
    course = made.hilly_course(name="N" * 200)
    text = gap_text(make_gap_view(made.made_comparison(course, first=first, other=other)))
    assert max(map(columns, text.splitlines())) <= 80
    row = next(line for line in text.splitlines() if line.startswith("  Climb 1"))
    assert "+19.0" in row


def test_numbers_stand_under_their_headings(hilly):
    lines = gap_text(make_gap_view(hilly)).splitlines()
    i = next(i for i, line in enumerate(lines) if line.startswith("Where"))
    end = lines[i].index("Gap, s") + len("Gap, s")
    rows = lines[i + 1 : i + 14]
    assert all(row[end - 1].isdigit() and row[end] == " " for row in rows)


def test_the_last_word_is_winner_gap_and_where(hilly):
    view = make_gap_view(hilly)
    joined = " ".join(gap_text(view).split())
    assert view.sentence in joined
    assert sentence_text(view).replace("\n", " ").strip() == view.sentence


def test_an_escape_sequence_in_a_name_never_reaches_the_terminal(nasty):
    text = gap_text(make_gap_view(nasty))
    assert "\x1b" not in text
    assert all(char.isprintable() or char == "\n" for char in text)


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "latin-1", "utf-8", "no-such-thing"])
def test_every_terminal_can_show_it(hilly, nasty, encoding):
    for comparison in (hilly, nasty):
        text = gap_text(make_gap_view(comparison), encoding=encoding)
        text.encode("ascii" if encoding == "no-such-thing" else encoding)
        assert max(map(columns, text.splitlines())) <= 82


def test_plain_letters_stand_in_where_they_lack():
    assert plain("−4.1 s ± 2 m²", "ascii") == "-4.1 s +/- 2 m2"
    assert plain("−4.1 s ± 2 m²", "utf-8") == "−4.1 s ± 2 m²"


def test_many_places_are_cut_to_the_dearest_and_that_is_said(made):
    comparison = made.made_comparison()
    view = make_gap_view(comparison)
    many = replace(view, places=view.places * 3)
    text = gap_text(many)
    assert "(25 places of less weight not listed)" in text
