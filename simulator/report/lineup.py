"""Many builds against the first one: terminal, picture, page and JSON of a `LineupView`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.files import json_text
from simulator.measures import Measures
from simulator.report import words
from simulator.report.lineup_view import LineupRow, LineupView
from simulator.report.review_export import review_data
from simulator.report.review_view import ReviewView
from simulator.report.tables import Cell, Column, Table, TableRow
from simulator.report.terminal import WIDTH, plain, table_lines, wrapped
from simulator.report.views import exported

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_VERSION = 1
_KIND_HEADS = {"climb": "Climbs, s", "descent": "Descents, s", "flat": "Flats, s"}

LINEUP_KEYS = {
    "sentence": "the result as one says it",
    "course": "name of the course",
    "facts": "course and pacing in words",
    "kinds": "kinds of stretches, in the order of each row's where_s",
    "rows": "builds: time_s, gap_s to the first (s; positive: it loses), low_s to high_s (s; nine "
    "in ten draws), half_s (s; half of that), where_s (s), chance that the first is faster",
    "n_draws": "draws of all inputs with an uncertainty; 0 where all are exact",
    "seed": "start of the draws; null without any",
    "notes": "cautions, doubts and notes about the data",
}
"""Every key of the JSON's data and what it holds."""


def lineup_table(view: LineupView) -> Table:
    """One row for each build."""
    most = max((abs(row.gap_s) for row in view.rows), default=0.0)
    kinds = tuple(
        Column(label=_KIND_HEADS.get(kind, f"{kind}, s"), is_wide=True) for kind in view.kinds
    )
    return Table(
        key="lineup",
        caption=f"Times, and gaps to {view.rows[0].name} in seconds; ± holds nine in ten draws",
        columns=(
            Column(label="Build", is_text=True),
            Column(label="Time"),
            Column(label=view.measures.speed_unit, is_wide=True),
            Column(label="Gap, s", is_gap=True),
            Column(label="±"),
            *kinds,
            Column(label="Main cause", is_text=True, is_wide=True),
        ),
        rows=tuple(TableRow(cells=_cells(row, most, view.measures)) for row in view.rows),
    )


def _cells(row: LineupRow, most_s: float, measures: Measures) -> tuple[Cell, ...]:
    half = words.NOTHING if row.half_s is None else words.number(row.half_s, 1)
    bar = row.gap_s / most_s if most_s > 0.0 else 0.0
    return (
        Cell(text=row.name, sort=row.name),
        Cell(text=words.stopwatch(row.time_s), sort=row.time_s),
        Cell(text=measures.speed_number(row.mean_speed_mps), sort=row.mean_speed_mps),
        Cell(text=words.signed(row.gap_s), sort=row.gap_s, bar=bar),
        Cell(text=half, sort=row.half_s),
        *(Cell(text=words.signed(part_s), sort=part_s) for part_s in row.where_s),
        Cell(text=row.main_cause or words.NOTHING, sort=row.main_cause),
    )


def lineup_text(
    view: LineupView, *, encoding: str = "utf-8", width: int = WIDTH, is_short: bool = False
) -> str:
    """The line-up for a terminal; `is_short` for the sentence alone."""
    lines = []
    if not is_short:
        lines += wrapped(f"{view.course}: {view.facts.replace(' · ', ', ')}", width)
        lines.append("")
        table = lineup_table(view)
        picked = [i for i in range(len(table.columns) - 1) if i != 2]
        lines += table_lines("Build", table, picked, width)
    lines += wrapped(view.sentence, width)
    if not is_short:
        for row in view.rows[1:]:
            lines += wrapped(row.sentence, width)
        lines.append("")
        for note in view.notes:
            lines += wrapped(words.note_line(note.level, note.text), width)
    return "".join(plain(line.rstrip(), encoding) + "\n" for line in lines)


def lineup_json(view: LineupView, *, review: ReviewView | None = None) -> str:
    """The line-up as JSON text: schema ``buildgap/lineup``, SI units.

    A recorded ride beside it, if there is one, is the key ``review``, as in its own file.
    """
    data = {"about": LINEUP_KEYS, **exported(view)}
    if review is not None:
        data["review"] = review_data(review)
    return json_text("lineup", data, version=_VERSION)


def draw_lineup(view: LineupView) -> Figure:
    """Gap of each build to the first one, with its interval."""
    from simulator.report import palette, style

    n = len(view.rows)
    with style.house_style():
        height = 1.75 + 0.5 * n
        figure = style.new_figure(9.0, height)
        axes = figure.add_axes((0.24, 0.75 / height, 0.6, 0.5 * n / height))
        for y, row in enumerate(view.rows):
            colour = palette.BUILD_COLOURS[min(y, 1)]
            if row.low_s is not None and row.high_s is not None:
                axes.plot(
                    [row.low_s, row.high_s],
                    [y, y],
                    color=colour,
                    linewidth=7.0,
                    alpha=0.35,
                    solid_capstyle="butt",
                )
            axes.plot([row.gap_s], [y], "o", color=colour, markersize=8, zorder=4)
            text = words.stopwatch(row.time_s)
            if y:
                text += f"  {words.signed_seconds(row.gap_s)}"
            axes.annotate(
                text, (1.02, y), xycoords=axes.get_yaxis_transform(), va="center", fontsize=9.5
            )
        axes.axvline(0.0, color=palette.BUILD_COLOURS[0], linewidth=style.CURVE_PT, zorder=1)
        axes.set_ylim(n - 0.5, -0.5)
        axes.set_yticks(range(n), [style.fitted(figure, row.name, 1.85) for row in view.rows])
        axes.tick_params(axis="y", length=0, labelsize=style.TEXT_PT, labelcolor=palette.INK)
        axes.spines["left"].set_visible(False)
        axes.grid(axis="x", color=palette.LINE, linewidth=style.HAIR_PT)
        axes.set_axisbelow(True)
        axes.margins(x=0.08)
        axes.set_xlabel(f"Gap to {style.fitted(figure, view.rows[0].name, 2.5)}, s (right: slower)")
        figure.text(
            0.03,
            1.0 - 0.25 / height,
            palette.balanced(view.sentence, 78),
            fontsize=13.0,
            weight="bold",
            va="top",
            linespacing=1.3,
        )
        figure.text(
            0.03, 0.12 / height, words.CAUTION, fontsize=7.5, color=palette.QUIET, va="bottom"
        )
    return figure
