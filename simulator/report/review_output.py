"""A recorded ride beside the predicted one: tables and terminal of a `ReviewView`."""

from __future__ import annotations

from dataclasses import replace

from simulator.report import labels, tables, words
from simulator.report.review_view import ReviewView, fit_text
from simulator.report.tables import Cell, Column, Table, TableRow
from simulator.report.terminal import WIDTH, plain, table_lines, wrapped


def where_table(view: ReviewView) -> Table:
    """Climbs, descents and flats; the sum is of what the recording covers."""
    along = view.along
    table = tables.where_table(along)
    if not view.is_partial or table.total is None:
        return table
    measures, covered_m = along.measures, view.to_m - view.from_m
    cells = list(table.total.cells)
    cells[1] = Cell(text=measures.span(view.from_m, view.to_m))
    cells[2] = Cell(text=measures.distance(covered_m))
    cells[-1] = Cell(text=words.signed(measures.per_distance(1000.0 * along.gap_s / covered_m)))
    return replace(table, total=replace(table.total, cells=tuple(cells)))


def suspect_table(view: ReviewView) -> Table:
    """What to doubt, the likeliest first."""
    return Table(
        key="suspects",
        caption="What to doubt, the likeliest first: what each alone would have to be",
        columns=(
            Column(label="Doubt", is_text=True),
            Column(label="Would have to be", is_text=True),
            Column(label="Its uncertainty", is_text=True, is_wide=True),
            Column(label="Times that", is_wide=True),
            Column(label="Fits where"),
        ),
        rows=tuple(
            TableRow(
                cells=(
                    Cell(text=row.label, sort=float(i)),
                    Cell(text=row.needed_text, sort=row.needed_text),
                    Cell(text=row.doubt_text, sort=row.doubt_text),
                    Cell(
                        text=words.NOTHING
                        if row.times_doubt is None
                        else words.number(row.times_doubt, 1),
                        sort=row.times_doubt,
                    ),
                    Cell(text=fit_text(row), sort=row.fit),
                )
            )
            for i, row in enumerate(view.suspects)
        ),
    )


def stop_table(view: ReviewView) -> Table | None:
    """Stops on the way."""
    if not view.stops:
        return None
    measures = view.along.measures
    return Table(
        key="stops",
        caption="Stops on the way; they count in neither ride",
        columns=(
            Column(label="Stop", is_text=True),
            Column(label=words.capital(measures.place_word)),
            Column(label="Standing"),
        ),
        rows=tuple(
            TableRow(
                cells=(
                    Cell(text=f"Stop {i + 1}", sort=float(i)),
                    Cell(text=measures.distance_number(stop.place_m, 2), sort=stop.place_m),
                    Cell(text=words.stopwatch(stop.standing_s), sort=stop.standing_s),
                ),
                start_m=max(stop.place_m - 100.0, 0.0),
                end_m=stop.place_m,
                kind="lap",
            )
            for i, stop in enumerate(view.stops)
        ),
    )


def review_text(view: ReviewView, *, encoding: str = "utf-8", width: int = WIDTH) -> str:
    """The review as text for a terminal."""
    along = view.along
    lines = wrapped(
        f"{along.course.name}: {labels.course_facts(along).replace(' · ', ', ')}", width
    )
    lines += ["", *table_lines("Ride", tables.summary_table(along), (0, 1, 2), width)]
    if along.places:
        where = where_table(view)
        # Of a part of the course, places differ in how many laps they have.
        title = "Where" if view.is_partial else labels.over_laps("Where", along)
        lines += table_lines(title, where, (0, 1, 3, 5, 6, 7, 9), width)
    lines += suspect_lines(view, width)
    lines += wrapped(view.sentence, width)
    for text in view.more:
        lines += wrapped(text, width)
    notes = [words.note_line(note.level, note.text) for note in along.notes]
    for text in ["", *notes]:
        lines += wrapped(text, width) or [""]
    return "".join(plain(line.rstrip(), encoding) + "\n" for line in lines)


def short_review_text(view: ReviewView, *, encoding: str = "utf-8", width: int = WIDTH) -> str:
    """The sentence alone."""
    return "".join(plain(line, encoding) + "\n" for line in wrapped(view.sentence, width))


def trust_text(view: ReviewView, *, encoding: str = "utf-8", width: int = WIDTH) -> str:
    """The review in a few lines, for below a comparison."""
    lines = ["", *wrapped("Before you trust it: " + view.sentence, width)]
    for text in view.more:
        lines += wrapped(text, width)
    lines += ["", *suspect_lines(view, width)]
    while lines[-1] == "":
        lines.pop()
    return "".join(plain(line.rstrip(), encoding) + "\n" for line in lines)


def suspect_lines(view: ReviewView, width: int) -> list[str]:
    """The table of doubts."""
    table = suspect_table(view)
    return table_lines("Doubt", table, (0, 1, 3, 4), width)
