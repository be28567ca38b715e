"""Tables of a `GapView`, once for terminal and page: columns, cells, what to sort by."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from simulator.report import words
from simulator.report.views import DoubtShareRow, GapView, PlaceRow

_LEAST_SHARE = 0.005

CORNER_PARTS = ("Braking", "Turning", "Surge")

T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column; those with ``is_wide`` are left out where space is short."""

    label: str
    is_text: bool = False
    is_wide: bool = False
    is_gap: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """What stands in a cell, and the number or text to sort by.

    ``bar`` is the length of a bar, −1 to 1, in cells that have one.
    """

    text: str
    sort: float | str | None = None
    bar: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TableRow:
    """Cells, and the stretch of road (m) that the row is about, if any."""

    cells: tuple[Cell, ...]
    start_m: float | None = None
    end_m: float | None = None
    kind: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table with a caption that says what it shows and in which units."""

    key: str
    caption: str
    columns: tuple[Column, ...]
    rows: tuple[TableRow, ...]
    total: TableRow | None = None

    @property
    def is_one_sided(self) -> bool:
        """Whether all bars point the same way, so that they may start at the edge."""
        bars = [c.bar for row in self.rows for c in row.cells if c.bar is not None]
        return min(bars, default=0.0) >= 0.0 or max(bars, default=0.0) <= 0.0


def summary_table(view: GapView) -> Table:
    """Both rides as a whole."""
    builds = (view.first, view.other)

    def row(label: str, texts: Sequence[str]) -> TableRow:
        return TableRow(cells=(Cell(text=label), *(Cell(text=text) for text in texts)))

    measures = view.measures
    speeds = [measures.speed_number(b.mean_speed_mps) for b in builds]
    tops = [measures.speed_number(b.top_speed_mps) for b in builds]
    return Table(
        key="summary",
        caption="Both rides as a whole",
        columns=(
            Column(label="", is_text=True),
            *(Column(label=words.short_name(b.name)) for b in builds),
        ),
        rows=(
            row("Time", [words.stopwatch(b.time_s) for b in builds]),
            row(f"Mean speed, {measures.speed_unit}", speeds),
            row(f"Top speed, {measures.speed_unit}", tops),
            row("Mean power, W", [words.number(b.mean_power_w) for b in builds]),
        ),
    )


def where_table(view: GapView) -> Table:
    """Climbs, descents and flats in order; their gaps add up to the whole."""
    laps = view.course.n_laps
    over = f", summed over {laps} laps" if laps > 1 else ""
    total = TableRow(
        cells=(
            Cell(text="All"),
            Cell(text=""),
            Cell(text=view.measures.distance(view.course.distance_m)),
            Cell(text=""),
            Cell(text=""),
            Cell(text=words.stopwatch(view.first.time_s)),
            Cell(text=words.stopwatch(view.other.time_s)),
            Cell(text=words.signed(view.gap_s)),
            Cell(text=words.percent(1.0) if view.share_is_meant else words.NOTHING),
            Cell(
                text=words.signed(
                    view.measures.per_distance(1000.0 * view.gap_s / view.course.distance_m)
                )
            ),
        )
    )
    return Table(
        key="where",
        caption=f"Climbs, descents and flats{over}; gap of {view.other.name} in seconds",
        columns=_place_columns(view, grade=True),
        rows=tuple(_place_row(row, view, view.places, grade=True) for row in view.places),
        total=total,
    )


def corner_table(view: GapView) -> Table | None:
    """Corners with braking and surge; inside the stretches of `where_table`."""
    if not view.corners:
        return None
    laps = view.course.n_laps
    over = f", summed over {laps} laps" if laps > 1 else ""
    table = Table(
        key="corners",
        caption=f"Corners from braking to the end of the surge{over}; "
        "part of the stretches above, not on top",
        columns=_place_columns(view, grade=False),
        rows=tuple(_place_row(row, view, view.corners, grade=False) for row in view.corners),
    )
    return _without(table, 2)  # where it is tells its length


def _part_cells(row: PlaceRow) -> tuple[Cell, ...]:
    """The gap of a corner in braking, turning and the surge out of it."""
    parts: Sequence[float | None] = (None,) * 3 if row.parts_s is None else row.parts_s
    return tuple(
        Cell(text=words.NOTHING if part_s is None else words.signed(part_s, 2), sort=part_s)
        for part_s in parts
    )


def wind_table(view: GapView) -> Table | None:
    """Flats cut into pieces into, across and with the wind; inside the flats of `where_table`."""
    if not view.winds:
        return None
    laps = view.course.n_laps
    over = f", summed over {laps} laps" if laps > 1 else ""
    table = Table(
        key="winds",
        caption=f"The flats by the wind{over}; part of the stretches above, not on top",
        columns=_place_columns(view, grade=True),
        rows=tuple(_place_row(row, view, view.winds, grade=True) for row in view.winds),
    )
    return _without(table, 4)  # the steepest grade of a piece of a flat says nothing


def _without(table: Table, i: int) -> Table:
    """A table without one of its columns."""

    def cut(items: tuple[T, ...]) -> tuple[T, ...]:
        return (*items[:i], *items[i + 1 :])

    return replace(
        table,
        columns=cut(table.columns),
        rows=tuple(replace(row, cells=cut(row.cells)) for row in table.rows),
    )


def lap_table(view: GapView) -> Table | None:
    """Lap by lap."""
    if not view.laps:
        return None
    most = _largest(row.gap_s for row in view.laps)
    return Table(
        key="laps",
        caption=f"Lap by lap; gap of {view.other.name} in seconds",
        columns=(
            Column(label="Lap", is_text=True),
            Column(label=words.short_name(view.first.name)),
            Column(label=words.short_name(view.other.name)),
            Column(label="Gap, s", is_gap=True),
            Column(label="Share", is_wide=True),
        ),
        rows=tuple(
            TableRow(
                cells=(
                    Cell(text=row.name, sort=row.start_m),
                    Cell(text=words.stopwatch(row.first_s), sort=row.first_s),
                    Cell(text=words.stopwatch(row.other_s), sort=row.other_s),
                    _gap_cell(row.gap_s, most),
                    _share_cell(row.share),
                ),
                start_m=row.start_m,
                end_m=row.end_m,
                kind="lap",
            )
            for row in view.laps
        ),
    )


def why_table(view: GapView) -> Table:
    """Causes; their gaps add up to the whole."""
    most = _largest(row.gap_s for row in view.causes)
    rows = sorted(view.causes, key=lambda row: -abs(row.gap_s))
    blank = Cell(text="")
    return Table(
        key="why",
        caption=f"What makes the gap of {view.other.name}, in seconds; the parts add up to it",
        columns=(
            Column(label="Cause", is_text=True),
            Column(label=words.short_name(view.first.name), is_text=True),
            Column(label=words.short_name(view.other.name), is_text=True),
            Column(label="Gap, s", is_gap=True),
            Column(label="Share", is_wide=True),
        ),
        rows=tuple(
            TableRow(
                cells=(
                    Cell(text=row.label, sort=row.label),
                    Cell(text=view.measures.said(row.first_text), sort=row.first_text),
                    Cell(text=view.measures.said(row.other_text), sort=row.other_text),
                    _gap_cell(row.gap_s, most),
                    _share_cell(row.share),
                )
            )
            for row in rows
        ),
        total=TableRow(
            cells=(
                Cell(text="All"),
                blank,
                blank,
                Cell(text=words.signed(view.gap_s)),
                Cell(text=words.percent(1.0) if view.share_is_meant else words.NOTHING),
            )
        ),
    )


def unit_table(view: GapView) -> Table | None:
    """What one unit of each thing buys on this course."""
    if not view.units:
        return None
    most = _largest(row.change_s for row in view.units)
    return Table(
        key="units",
        caption=f"What one step changes for {view.slower.name} on this course, in seconds: "
        "ridden again in full, and by the slope at the start",
        columns=(
            Column(label="Step", is_text=True),
            Column(label="Time, s", is_gap=True),
            Column(label="By slope, s", is_wide=True),
        ),
        rows=tuple(
            TableRow(
                cells=(
                    Cell(text=f"{row.label}: {view.measures.said(row.step)}", sort=row.label),
                    _gap_cell(row.change_s, most),
                    Cell(text=words.signed(row.slope_change_s), sort=row.slope_change_s),
                )
            )
            for row in view.units
        ),
    )


def doubt_table(view: GapView) -> Table | None:
    """Which inputs bring the doubt."""
    if view.doubt is None:
        return None
    shown = [row for row in view.doubt.shares if row.share >= _LEAST_SHARE]
    rest = 1.0 - sum(row.share for row in shown)
    if not shown:
        return None
    if rest >= _LEAST_SHARE:
        shown.append(DoubtShareRow(name="All others, and what inputs do together", share=rest))
    return Table(
        key="doubt",
        caption="Which input brings how much of the doubt (share of the gap's variance)",
        columns=(Column(label="Input", is_text=True), Column(label="Share", is_gap=True)),
        rows=tuple(
            TableRow(
                cells=(
                    Cell(text=row.name, sort=row.name),
                    Cell(text=words.percent(row.share), sort=row.share, bar=row.share),
                )
            )
            for row in shown
        ),
    )


def energy_table(view: GapView) -> Table:
    """Where the work went, in kilojoules."""
    rows = [row for row in view.energy if abs(row.first_j) + abs(row.other_j) > 0.5]
    return Table(
        key="work",
        caption="Where the work at the pedals went, in kilojoules; the parts add up to it",
        columns=(
            Column(label="Into", is_text=True),
            Column(label=words.short_name(view.first.name)),
            Column(label=words.short_name(view.other.name)),
            Column(label="Difference"),
        ),
        rows=tuple(
            TableRow(
                cells=(
                    Cell(text=row.label, sort=row.label),
                    Cell(text=words.number(row.first_j / 1e3, 1), sort=row.first_j),
                    Cell(text=words.number(row.other_j / 1e3, 1), sort=row.other_j),
                    Cell(
                        text=words.signed((row.other_j - row.first_j) / 1e3, 1),
                        sort=row.other_j - row.first_j,
                    ),
                )
            )
            for row in rows
        ),
    )


def _place_columns(view: GapView, *, grade: bool) -> tuple[Column, ...]:
    middle = (
        (Column(label="Grade", is_wide=True), Column(label="Steepest", is_wide=True))
        if grade
        else (Column(label="Radius"),)
    )
    parts = () if grade else tuple(Column(label=x, is_wide=True) for x in CORNER_PARTS)
    return (
        Column(label="Place" if grade else "Corner", is_text=True),
        Column(label=words.capital(view.measures.place_word), is_wide=True),
        Column(label="Length", is_wide=True),
        *middle,
        Column(label=words.short_name(view.first.name)),
        Column(label=words.short_name(view.other.name)),
        Column(label="Gap, s", is_gap=True),
        *parts,
        Column(label="Share", is_wide=True),
        Column(label=view.measures.rate_unit, is_wide=True),
    )


def _place_row(row: PlaceRow, view: GapView, rows: Sequence[PlaceRow], *, grade: bool) -> TableRow:
    measures = view.measures
    most = _largest(other.gap_s for other in rows)
    decimals = 1 if grade else 2
    middle: tuple[Cell, ...]
    if grade:
        middle = (_grade_cell(row.mean_grade), _grade_cell(row.max_grade))
    else:
        radius = words.NOTHING if row.radius_m is None else measures.height(row.radius_m)
        middle = (Cell(text=radius, sort=row.radius_m),)
    return TableRow(
        cells=(
            Cell(text=row.name, sort=row.start_m),
            Cell(text=measures.span(row.start_m, row.end_m), sort=row.start_m),
            Cell(text=measures.length(row.length_m), sort=row.length_m),
            *middle,
            Cell(text=words.stopwatch(row.first_s), sort=row.first_s),
            Cell(text=words.stopwatch(row.other_s), sort=row.other_s),
            _gap_cell(row.gap_s, most, decimals),
            *(() if grade else _part_cells(row)),
            _share_cell(row.share),
            Cell(text=words.signed(measures.per_distance(row.gap_per_km_s)), sort=row.gap_per_km_s),
        ),
        start_m=row.start_m,
        end_m=row.end_m,
        kind=row.kind,
    )


def _grade_cell(grade: float | None) -> Cell:
    text = words.NOTHING if grade is None else words.percent(grade, 1)
    return Cell(text=text, sort=grade)


def _gap_cell(gap_s: float, most_s: float, decimals: int = 1) -> Cell:
    bar = gap_s / most_s if most_s > 0.0 else 0.0
    return Cell(text=words.signed(gap_s, decimals), sort=gap_s, bar=bar)


def _share_cell(share: float | None) -> Cell:
    return Cell(text=words.NOTHING if share is None else words.percent(share), sort=share)


def _largest(values: Iterable[float]) -> float:
    return max((abs(value) for value in values), default=0.0)
