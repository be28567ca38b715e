"""Several races at once: terminal, picture, CSV and JSON of a `RacesView`."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

from simulator.files import csv_text, json_text
from simulator.report import words
from simulator.report.races_view import RaceCell, RacesView
from simulator.report.tables import Cell, Column, Table, TableRow
from simulator.report.terminal import WIDTH, plain, table_lines, wrapped
from simulator.report.views import exported

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_VERSION = 1
_BUILDS_A_TABLE = 3
_NAME_IN, _BAR_IN, _SPACE_IN = 0.2, 0.19, 0.07
"""Heights in the narrow picture: a race's name, a build's bar, the space behind a race."""

RACES_KEYS = {
    "sentence": "the result as one says it",
    "more": "the worst and the best race of each build",
    "builds": "names; the first one is compared with",
    "races": "race by race: course, weather, length and climbing (m), pacing, time of the first "
    "build (s), and cells, one for each further build: time_s, gap_s (positive: it loses), low_s "
    "to high_s (nine in ten draws), half_s (half of that), chance that the first is faster",
    "first_s": "time of the first build over all races, s",
    "totals": "over all races, one cell for each further build",
    "n_draws": "draws of all inputs with an uncertainty",
    "seed": "start of the draws",
    "notes": "cautions, doubts and notes about the data",
}
"""Every key of the JSON's data and what it holds."""


def races_table(view: RacesView, shown: slice = slice(None)) -> Table:
    """One row for each race, one column for each further build."""
    heads = _heads(view.builds)
    is_exact = all(cell.half_s is None for cell in view.totals)
    doubt = "" if is_exact else "; ± holds nine in ten draws"

    def row(name: str, at: float, first_s: float, cells: tuple[RaceCell, ...]) -> TableRow:
        return TableRow(
            cells=(
                Cell(text=name, sort=at),
                Cell(text=words.stopwatch(first_s), sort=first_s),
                *(Cell(text=gap_text(cell), sort=cell.gap_s) for cell in cells[shown]),
            )
        )

    return Table(
        key="races",
        caption=f"Time of {view.builds[0]}, and the gap of the others to it in seconds{doubt}",
        columns=(
            Column(label="Race", is_text=True),
            Column(label=heads[0]),
            *(Column(label=head) for head in heads[1:][shown]),
        ),
        rows=tuple(
            row(race.name, float(i), race.first_s, race.cells) for i, race in enumerate(view.races)
        ),
        total=row("All", float(len(view.races)), view.first_s, view.totals)
        if len(view.races) > 1
        else None,
    )


def _heads(names: tuple[str, ...]) -> list[str]:
    """Names cut to fit over a column; with their number where that makes them the same."""
    heads = [words.short_name(name, 14) for name in names]
    if len(set(heads)) == len(heads):
        return heads
    return [words.short_name(f"{i + 1} {name}", 14) for i, name in enumerate(names)]


def gap_text(cell: RaceCell) -> str:
    """A gap with its interval, in seconds: ``+41.2 ± 9.0``."""
    if cell.half_s is None:
        return words.signed(cell.gap_s)
    decimals = words.decimals_for(cell.gap_s, cell.half_s)
    half = words.number(cell.half_s, decimals)
    return f"{words.signed(cell.gap_s, decimals)} ± {half}"


def races_text(
    view: RacesView, *, encoding: str = "utf-8", width: int = WIDTH, is_short: bool = False
) -> str:
    """The races for a terminal; `is_short` for the sentence alone."""
    lines: list[str] = []
    if not is_short:
        for start in range(0, len(view.builds) - 1, _BUILDS_A_TABLE):
            table = races_table(view, slice(start, start + _BUILDS_A_TABLE))
            lines += wrapped(table.caption, width) if start == 0 else []
            lines += table_lines("Race", table, range(len(table.columns)), width)
    lines += wrapped(view.sentence, width)
    if not is_short:
        for text in view.more:
            lines += wrapped(text, width)
        lines.append("")
        for note in view.notes:
            lines += wrapped(words.note_line(note.level, note.text), width)
    return "".join(plain(line.rstrip(), encoding) + "\n" for line in lines)


def races_json(view: RacesView) -> str:
    """The races as JSON text: schema ``buildgap/races``, SI units."""
    data = {"about": RACES_KEYS, **exported(view)}
    return json_text("races", data, version=_VERSION)


def races_csv(view: RacesView) -> str:
    """One line for each build in each race and in all of them, SI units, as CSV text."""
    fields = [field.name for field in dataclasses.fields(RaceCell)]
    rows = []
    for race in view.races:
        for build, cell in zip(view.builds[1:], race.cells, strict=True):
            head = [race.name, race.course, race.weather, build, race.first_s]
            rows.append([*head, *(getattr(cell, name) for name in fields)])
    for build, cell in zip(view.builds[1:], view.totals, strict=True):
        head = ["All", "", "", build, view.first_s]
        rows.append([*head, *(getattr(cell, name) for name in fields)])
    return csv_text(["race", "course", "weather", "build", "first_time_s", *fields], rows)


def course_table(view: RacesView) -> Table:
    """What is ridden where."""
    measures = view.measures
    return Table(
        key="where",
        caption="Length, climbing, weather and power of each race",
        columns=(
            Column(label="Race", is_text=True),
            Column(label="Length"),
            Column(label="Climbing"),
            Column(label="Weather", is_text=True, is_wide=True),
            Column(label="Power", is_text=True, is_wide=True),
        ),
        rows=tuple(
            TableRow(
                cells=(
                    Cell(text=race.name, sort=float(i)),
                    Cell(text=measures.distance(race.distance_m), sort=race.distance_m),
                    Cell(text=measures.height(race.ascent_m), sort=race.ascent_m),
                    Cell(text=race.weather, sort=race.weather),
                    Cell(text=race.pacing, sort=race.pacing),
                )
            )
            for i, race in enumerate(view.races)
        ),
    )


def draw_races(view: RacesView) -> Figure:
    """Gap of each build to the first one in each race and in all, with its interval."""
    from simulator.report import palette, style

    n_others = len(view.builds) - 1
    rows = _rows(view)
    n_races = len(view.races)
    band_in = 0.3 * n_others + 0.22
    with style.house_style():
        title = palette.balanced(view.sentence, 78)
        top_in = 0.62 + 0.27 * title.count("\n") + 0.28 * (n_others > 1)
        height = top_in + band_in * len(rows) + 0.85
        figure = style.new_figure(9.0, height)
        axes = figure.add_axes((0.24, 0.85 / height, 0.6, band_in * len(rows) / height))
        for y, (_, cells) in enumerate(rows):
            for i, cell in enumerate(cells):
                at = y + (i - (n_others - 1) / 2.0) * 0.3 / band_in
                # The sum has its figures only: its bar would make all others small.
                _draw_cell(axes, cell, at, _colour(i), is_bare=y == n_races)
        axes.axvline(0.0, color=palette.BUILD_COLOURS[0], linewidth=style.CURVE_PT, zorder=1)
        if len(rows) > n_races:
            axes.axhline(n_races - 0.5, color=palette.QUIET, linewidth=style.HAIR_PT)
        axes.set_ylim(len(rows) - 0.5, -0.5)
        axes.set_yticks(range(len(rows)), [_on_two_lines(figure, name) for name, _ in rows])
        axes.tick_params(axis="y", length=0, labelsize=style.TEXT_PT, labelcolor=palette.INK)
        axes.spines["left"].set_visible(False)
        axes.grid(axis="x", color=palette.LINE, linewidth=style.HAIR_PT)
        axes.set_axisbelow(True)
        axes.margins(x=0.08)
        axes.set_xlabel(f"Gap to {style.fitted(figure, view.builds[0], 2.5)}, s (right: slower)")
        figure.text(
            0.03,
            1.0 - 0.25 / height,
            title,
            fontsize=13.0,
            weight="bold",
            va="top",
            linespacing=1.3,
        )
        if n_others > 1:
            _name_builds(figure, view, 1.0 - (top_in - 0.16) / height)
        style.small_print(figure, words.CAUTION, y=0.12 / height, n_letters=130, size_pt=7.5)
    return figure


def draw_races_narrow(view: RacesView) -> Figure:
    """The same for a phone: each race under its name, figures beside the bars; no sentence."""
    from simulator.report import palette, style

    pieces = []
    if len(view.builds) > 2:
        pieces = [(words.short_name(b, 30), _colour(i)) for i, b in enumerate(view.builds[1:])]
    title = f"Gap to {words.short_name(view.builds[0], 30)}, s (right: slower)"
    rows, n_races = _rows(view), len(view.races)
    height_in = len(rows) * (_NAME_IN + _BAR_IN * (len(view.builds) - 1) + _SPACE_IN)
    with style.house_style():
        scratch = style.new_figure(style.NARROW_IN, 1.0)
        top_in = style.narrow_head(scratch, title, pieces, top_in=style.NARROW_EDGE_IN)
        figures = [gap_text(cell) for _, cells in rows for cell in cells]
        right_in = max(style.width_in(scratch, t, size_pt=style.SMALL_PT) for t in figures) + 0.1
        full_in = top_in + height_in + 0.3
        figure = style.new_figure(style.NARROW_IN, full_in)
        style.narrow_head(figure, title, pieces, top_in=style.NARROW_EDGE_IN)
        left, wide = style.NARROW_EDGE_IN, style.NARROW_IN - 3.0 * style.NARROW_EDGE_IN - right_in
        axes = figure.add_axes(
            (left / style.NARROW_IN, 0.3 / full_in, wide / style.NARROW_IN, height_in / full_in)
        )
        at_in = 0.0
        for i_row, (name, cells) in enumerate(rows):
            if i_row == n_races:
                axes.axhline(at_in, color=palette.QUIET, linewidth=style.HAIR_PT)
            axes.annotate(
                style.fitted(figure, name, style.NARROW_IN - 3.0 * left, size_pt=style.SMALL_PT),
                (0.0, at_in + 0.6 * _NAME_IN), xycoords=axes.get_yaxis_transform(), va="center",
                fontsize=style.SMALL_PT, zorder=5,
                # Over the lines of the grid, which would run through its letters.
                bbox={"facecolor": palette.PAPER, "edgecolor": "none", "pad": 1.0},
            )  # fmt: skip
            at_in += _NAME_IN + 0.5 * _BAR_IN
            for i, cell in enumerate(cells):
                _draw_cell(axes, cell, at_in, _colour(i), is_bare=i_row == n_races)
                at_in += _BAR_IN
            at_in += _SPACE_IN - 0.5 * _BAR_IN
        axes.axvline(0.0, color=palette.BUILD_COLOURS[0], linewidth=0.8, zorder=1)
        axes.set_ylim(height_in, 0.0)
        axes.set_yticks([])
        axes.spines["left"].set_visible(False)
        axes.grid(axis="x", color=palette.LINE, linewidth=style.HAIR_PT)
        axes.set_axisbelow(True)
        axes.margins(x=0.08)
        axes.locator_params(axis="x", nbins=4)
    return figure


def _rows(view: RacesView) -> list[tuple[str, tuple[RaceCell, ...]]]:
    """Name and cells of each race, and of their sum where there are several."""
    rows = [(race.name, race.cells) for race in view.races]
    return [*rows, ("All", view.totals)] if len(rows) > 1 else rows


def _colour(i: int) -> str:
    """Of a build behind the first one."""
    from simulator.report import palette

    return palette.BUILD_COLOURS[1 + i % 5]


def _on_two_lines(figure: Figure, name: str) -> str:
    """A name that fits beside the axis; course and weather above each other where they must."""
    from simulator.report import style

    if style.width_in(figure, name) <= 1.85:
        return name
    course, comma, weather = name.partition(", ")
    lines = (f"{course}{comma.strip()}", weather)
    return "\n".join(style.fitted(figure, line, 1.85) for line in lines if line)


def _draw_cell(axes: Axes, cell: RaceCell, at: float, colour: str, *, is_bare: bool) -> None:
    if not is_bare:
        if cell.low_s is not None and cell.high_s is not None:
            axes.plot(
                [cell.low_s, cell.high_s],
                [at, at],
                color=colour,
                linewidth=6.0,
                alpha=0.35,
                solid_capstyle="butt",
            )
        axes.plot([cell.gap_s], [at], "o", color=colour, markersize=6.5, zorder=4)
    axes.annotate(
        gap_text(cell),
        (1.02, at),
        xycoords=axes.get_yaxis_transform(),
        va="center",
        fontsize=8.5,
        color=colour,
    )


def _name_builds(figure: Figure, view: RacesView, y: float) -> None:
    """Names of the builds in their colours, side by side."""
    from simulator.report import style

    x = 0.24
    for i, name in enumerate(view.builds[1:]):
        text = style.fitted(figure, name, 1.6, weight="bold")
        figure.text(x, y, text, color=_colour(i), weight="bold", va="center")
        x += (style.width_in(figure, text, weight="bold") + 0.3) / 9.0
