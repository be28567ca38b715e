"""The comparison in a terminal: a table within 80 columns and the sentence, plain text."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence

from simulator.report import labels, tables, words
from simulator.report.tables import Column, Table, TableRow
from simulator.report.views import GapView

WIDTH = 80
_MOST_PLACES = 14
_MOST_CAUSES = 8
_INDENT = "  "

# What stands in for letters that a terminal may lack; all of them are in ASCII.
_PLAIN = {"−": "-", "–": "-", "…": "~", "±": "+/-", "·": ",", "²": "2", "°": " deg", "′": "'"}


def gap_text(view: GapView, *, encoding: str = "utf-8", width: int = WIDTH) -> str:
    """The comparison as text for a terminal.

    Parameters
    ----------
    view : GapView
        What to show.
    encoding : str
        Of the terminal; letters that it lacks are replaced by plain ones.
    width : int
        Most columns to use, 80 unless told.

    Returns
    -------
    str
        Lines that end in a newline.
    """
    lines = [*_head(view, width), ""]
    lines += table_lines("Ride", tables.summary_table(view), (0, 1, 2), width)
    where = tables.where_table(view)
    kept = _dearest(where.rows, view)
    lines += table_lines(
        labels.over_laps("Where", view), where, (0, 1, 3, 5, 6, 7, 8), width, rows=kept
    )
    if len(kept) < len(where.rows):
        n_left = len(where.rows) - len(kept)
        lines += [f"{_INDENT}({words.plural(n_left, 'place')} of less weight not listed)", ""]
    winds = tables.wind_table(view)
    if winds is not None and len(winds.rows) <= _MOST_PLACES:
        lines += table_lines("Flats by the wind", winds, (0, 1, 4, 5, 6, 7, 8), width)
    laps = tables.lap_table(view)
    if laps is not None and len(laps.rows) > _MOST_PLACES:
        lines += [f"{_INDENT}({len(laps.rows)} laps, one by one on the page and in the JSON)", ""]
    elif laps is not None:
        lines += table_lines("Laps", laps, (0, 1, 2, 3, 4), width)
    if view.causes:
        lines += table_lines("Why", tables.why_table(view), (0, 1, 2, 3, 4), width)
    units = tables.unit_table(view)
    if units is not None:
        lines += table_lines(f"One step for {view.slower.name}", units, (0, 1), width)
    lines += wrapped(view.sentence, width)
    for text in view.more:
        lines += wrapped(text, width)
    if view.doubt is not None:
        doubt = view.doubt
        text = words.interval_sentence(
            view.other.name, doubt.low_s, doubt.high_s, doubt.interval_error_s
        )
        lines += wrapped(text, width)
    notes = [words.note_line(note.level, note.text) for note in view.notes]
    if notes:
        lines.append("")
    for text in notes:
        lines += wrapped(text, width)
    return "".join(plain(line.rstrip(), encoding) + "\n" for line in lines)


def sentence_text(view: GapView, *, encoding: str = "utf-8", width: int = WIDTH) -> str:
    """The spoken sentence alone."""
    return "".join(plain(line, encoding) + "\n" for line in wrapped(view.sentence, width))


def plain(text: str, encoding: str = "utf-8") -> str:
    """Text without control characters, in letters that an encoding has.

    Names come from files: an escape sequence in one must not reach the terminal.
    """
    text = "".join(char if char.isprintable() else "?" for char in text)
    try:
        text.encode(encoding)
    except (UnicodeEncodeError, LookupError):
        for letter, stand_in in _PLAIN.items():
            text = text.replace(letter, stand_in)
        known = "ascii" if _is_unknown(encoding) else encoding
        text = text.encode(known, errors="replace").decode(known)
    return text


def _is_unknown(encoding: str) -> bool:
    try:
        "".encode(encoding)
    except LookupError:
        return True
    return False


def _head(view: GapView, width: int) -> list[str]:
    return wrapped(f"{view.course.name}: {labels.course_facts(view).replace(' · ', ', ')}", width)


def _dearest(rows: Sequence[TableRow], view: GapView) -> list[TableRow]:
    """The rows with the largest gaps, in course order."""
    order = sorted(range(len(rows)), key=lambda i: -abs(view.places[i].gap_s))
    return [rows[i] for i in sorted(order[:_MOST_PLACES])]


def table_lines(
    title: str,
    table: Table,
    picked: Sequence[int],
    width: int,
    *,
    rows: Sequence[TableRow] | None = None,
) -> list[str]:
    """A table as lines, its title in place of the first heading, and an empty line after it."""
    columns = [table.columns[i] for i in picked]
    shown = list(table.rows if rows is None else rows)
    body = [[row.cells[i].text for i in picked] for row in shown]
    total = None if table.total is None else [table.total.cells[i].text for i in picked]
    heads = [title, *(column.label for column in columns[1:])]
    grid = [heads, *body] + ([total] if total else [])
    widths = _widths(grid, columns, width)
    lines = [_line(heads, columns, widths)]
    lines += [_INDENT + _line(row, columns, [widths[0] - 2, *widths[1:]]) for row in body]
    if total and len(body) > 1:
        lines.append(_INDENT + _line(total, columns, [widths[0] - 2, *widths[1:]]))
    return [*lines, ""]


def _widths(grid: list[list[str]], columns: Sequence[Column], width: int) -> list[int]:
    """Widths that fit; what must give way is the widest column of text or of a build's name."""
    n = len(columns)
    widths = [max(_columns_of(row[i]) for row in grid) for i in range(n)]
    widths[0] = max(widths[0], max(_columns_of(row[0]) + 2 for row in grid[1:]))
    while sum(widths) + 2 * (n - 1) > width:
        i_widest = max(range(n), key=lambda i: widths[i])
        widths[i_widest] -= 1
    return widths


def _line(texts: Sequence[str], columns: Sequence[Column], widths: Sequence[int]) -> str:
    parts = []
    for text, column, width in zip(texts, columns, widths, strict=True):
        text = _cut(text, width)
        room = " " * (width - _columns_of(text))
        parts.append(text + room if column.is_text else room + text)
    return "  ".join(parts)


def _columns_of(text: str) -> int:
    """Columns that a text takes: wide letters take two, combining ones none."""
    return sum(
        0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1
        for c in text
    )


def _cut(text: str, width: int) -> str:
    if _columns_of(text) <= width:
        return text
    while text and _columns_of(text) > width - 1:
        text = text[:-1]
    return text + "…"


def wrapped(text: str, width: int) -> list[str]:
    """Lines of whole words, counted in columns; a word too long for a line is cut into pieces."""
    lines = [""]
    for word in text.split():
        while _columns_of(word) > width:
            piece = word[: max(1, width // 2)]
            lines.append(piece)
            word = word[len(piece) :]
        if lines[-1] and _columns_of(lines[-1]) + 1 + _columns_of(word) > width:
            lines.append(word)
        else:
            lines[-1] = f"{lines[-1]} {word}" if lines[-1] else word
    return [line for line in lines if line]
