"""One ride in a terminal, within 80 columns."""

from __future__ import annotations

import math

from simulator.report import labels, ride_tables, words
from simulator.report.ride_view import PartRow, RideView
from simulator.report.terminal import WIDTH, plain, table_lines, wrapped

_MOST_ROWS = 20
_BAR = 50
_LETTERS = {
    "climbing": "C",
    "air": "A",
    "rolling": "T",
    "bearings": "B",
    "drivetrain": "D",
    "braking": "X",
    "kinetic": "S",
}


def ride_text(view: RideView, *, encoding: str = "utf-8", width: int = WIDTH) -> str:
    """One ride as text for a terminal.

    Parameters
    ----------
    view : RideView
        What to show.
    encoding : str
        Of the terminal; letters that it lacks are replaced by plain ones.
    width : int
        Most columns to use.
    """
    facts = labels.course_facts(view).replace(" · ", ", ")
    lines = wrapped(f"{view.course.name}: {facts}", width)
    lines += wrapped(f"{view.weather_text}.", width)
    lines.append("")
    lines += table_lines("Ride", ride_tables.ride_summary(view), (0, 1), width)
    tables = [
        (words.capital(view.measures.place_word), ride_tables.split_table(view)),
        ("Place", ride_tables.place_table(view)),
        ("Lap", ride_tables.ride_lap_table(view)),
    ]
    for title, table in tables:
        # More splits than that were asked for: those made unasked are fewer.
        most = math.inf if table is tables[0][1] else _MOST_ROWS
        if table is None or not 0 < len(table.rows) <= most:
            continue
        picked = [i for i in range(len(table.columns)) if i not in (1, 5)]
        lines += table_lines(title, table, picked, width)
    corners = ride_tables.ride_corner_table(view)
    if corners is not None and len(corners.rows) <= _MOST_ROWS:
        title = "Corner, last lap" if view.course.n_laps > 1 else "Corner"
        lines += table_lines(title, corners, (0, 1, 2, 3, 4), width)
    lines += table_lines("Position", ride_tables.sitting_table(view), (0, 1, 2), width)
    lines += table_lines("Work", ride_tables.work_table(view), (0, 1, 2), width)
    lines += [*_bar_lines(view.energy, width), ""]
    for text in (view.sentence, *view.more):
        lines += wrapped(text, width)
    lines.append("")
    for note in view.notes:
        lines += wrapped(words.note_line(note.level, note.text), width)
    return "".join(plain(line.rstrip(), encoding) + "\n" for line in lines)


def short_ride_text(view: RideView, *, encoding: str = "utf-8", width: int = WIDTH) -> str:
    """The spoken sentence alone."""
    return "".join(plain(line, encoding) + "\n" for line in wrapped(view.sentence, width))


def _bar_lines(rows: tuple[PartRow, ...], width: int) -> list[str]:
    """The work as one bar of letters, a letter for each fiftieth, and what they stand for."""
    shown = [row for row in rows if row.share > 0.0]
    whole = sum(row.share for row in shown)
    if whole <= 0.0:
        return []
    ends, total = [], 0.0
    for row in shown:
        total += row.share / whole
        ends.append(round(_BAR * total))
    bar, start, meanings = "", 0, []
    for row, end in zip(shown, ends, strict=True):
        if end > start:
            letter = _LETTERS[row.key]
            bar += letter * (end - start)
            meanings.append(f"{letter} {row.label.lower()}")
        start = end
    return [f"[{bar}]", *wrapped(", ".join(meanings), width)]
