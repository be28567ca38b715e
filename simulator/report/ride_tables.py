"""Tables of a `RideView`, once for terminal and page."""

from __future__ import annotations

from collections.abc import Sequence

from simulator.measures import Measures
from simulator.report import words
from simulator.report.ride_rows import SplitRow
from simulator.report.ride_view import PartRow, RideView
from simulator.report.tables import Cell, Column, Table, TableRow


def ride_summary(view: RideView) -> Table:
    """The ride as a whole."""
    rows = [
        ("Time", words.stopwatch(view.time_s)),
        ("Mean speed", view.measures.speed(view.mean_speed_mps)),
        ("Top speed", view.measures.speed(view.top_speed_mps)),
        ("Mean power", f"{words.number(view.mean_power_w)} W"),
        ("Fourth-power mean, unsmoothed", f"{words.number(view.fourth_power_mean_w)} W"),
        ("Work at the pedals", f"{words.number(view.work_j / 1e3)} kJ"),
        (_coasting_label(view), words.seconds(view.coasting_s, 0)),
    ]
    if view.fading_s >= 0.5:
        start = view.measures.speed(view.fading_from_mps, 0)
        rows.append((f"Above {start}, where power fades", words.seconds(view.fading_s, 0)))
    return Table(
        key="summary",
        caption="The ride as a whole",
        columns=(Column(label="", is_text=True), Column(label=words.short_name(view.build_name))),
        rows=tuple(TableRow(cells=(Cell(text=a), Cell(text=b))) for a, b in rows),
    )


def _coasting_label(view: RideView) -> str:
    """What is counted as ridden with hardly any power."""
    below = f"Under {words.number(view.coasting_below_w)} W"
    if view.coasting_below_w < view.steady_w:
        return f"{below}, a tenth of {words.number(view.steady_w)} W"
    return below


def split_table(view: RideView) -> Table:
    """Splits of one length."""
    first = view.splits[0]
    measures = view.measures
    each = measures.length(first.end_m - first.start_m)
    head = words.capital(measures.place_word)
    return _table("splits", f"Splits of {each}", head, view.splits, view)


def place_table(view: RideView) -> Table:
    """Climbs, descents and flats in order."""
    when = " on the last lap" if view.course.n_laps > 1 else ""
    caption = f"Climbs, descents and flats{when}, in order"
    return _table("places", caption, "Place", view.places, view, is_whole=not when)


def ride_lap_table(view: RideView) -> Table | None:
    """Lap by lap."""
    return _table("laps", "Lap by lap", "Lap", view.laps, view) if view.laps else None


def ride_corner_table(view: RideView) -> Table | None:
    """Corners that hold the ride up."""
    if not view.corners:
        return None
    when = " on the last lap" if view.course.n_laps > 1 else ""
    measures = view.measures
    return Table(
        key="corners",
        caption=f"Corners that hold the ride up{when}: radius of the line, lowest speed, work of "
        "the brakes before it",
        columns=(
            Column(label="Corner", is_text=True),
            Column(label=words.capital(measures.place_word)),
            Column(label="Radius"),
            Column(label=measures.speed_unit),
            Column(label="Brakes, kJ", is_wide=True),
        ),
        rows=tuple(
            TableRow(
                cells=(
                    Cell(text=row.name, sort=row.apex_m),
                    Cell(text=measures.distance_number(row.apex_m, 2), sort=row.apex_m),
                    Cell(text=measures.height(row.radius_m), sort=row.radius_m),
                    Cell(text=measures.speed_number(row.lowest_mps), sort=row.lowest_mps),
                    Cell(text=words.number(row.braking_j / 1e3, 1), sort=row.braking_j),
                )
            )
            for row in view.corners
        ),
    )


def sitting_table(view: RideView) -> Table:
    """Time in each position."""
    shown = [row for row in view.sitting if row.amount > 0.0]
    return _part_table(
        "sitting",
        "Time in each position",
        "Position",
        "Time",
        shown,
        [words.seconds(row.amount, 0) for row in shown],
    )


def work_table(view: RideView) -> Table:
    """Where the work at the pedals went."""
    shown = [row for row in view.energy if abs(row.amount) > 0.5]
    return _part_table(
        "work",
        "Where the work at the pedals went; the parts add up to it",
        "Into",
        "kJ",
        shown,
        [words.number(row.amount / 1e3, 1) for row in shown],
    )


def _part_table(
    key: str,
    caption: str,
    head: str,
    unit: str,
    rows: Sequence[PartRow],
    texts: Sequence[str],
) -> Table:
    most = max((abs(row.share) for row in rows), default=1.0)
    return Table(
        key=key,
        caption=caption,
        columns=(
            Column(label=head, is_text=True),
            Column(label=unit),
            Column(label="Share", is_gap=True),
        ),
        rows=tuple(
            TableRow(
                cells=(
                    Cell(text=row.label, sort=row.label),
                    Cell(text=text, sort=row.amount),
                    Cell(text=words.percent(row.share), sort=row.share, bar=row.share / most),
                )
            )
            for row, text in zip(rows, texts, strict=True)
        ),
    )


def _table(
    key: str,
    caption: str,
    head: str,
    rows: Sequence[SplitRow],
    view: RideView,
    *,
    is_whole: bool = True,
) -> Table:
    has_reserve = any(row.reserve_share is not None for row in rows)
    reserve = (Column(label="W′"),) if has_reserve else ()
    measures = view.measures
    return Table(
        key=key,
        caption=caption,
        columns=(
            Column(label=head, is_text=True),
            Column(label=f"At {measures.place_word}", is_wide=True),
            Column(label="Clock", is_wide=key != "splits"),
            Column(label="Time"),
            Column(label=measures.speed_unit),
            Column(label="Top", is_wide=True),
            Column(label="W"),
            Column(label="Grade", is_wide=True),
            Column(label=f"Up, {measures.height_unit}", is_wide=True),
            *reserve,
        ),
        rows=tuple(_row(row, measures, has_reserve=has_reserve) for row in rows),
        total=_total(view, has_reserve=has_reserve) if is_whole else None,
    )


def _total(view: RideView, *, has_reserve: bool) -> TableRow:
    return TableRow(
        cells=(
            Cell(text="All"),
            Cell(text=""),
            Cell(text=words.stopwatch(view.time_s)),
            Cell(text=words.stopwatch(view.time_s)),
            Cell(text=view.measures.speed_number(view.mean_speed_mps)),
            Cell(text=view.measures.speed_number(view.top_speed_mps)),
            Cell(text=words.number(view.mean_power_w)),
            Cell(text=""),
            Cell(text=view.measures.height_number(view.course.ascent_m)),
            *((Cell(text=""),) if has_reserve else ()),
        )
    )


def _row(row: SplitRow, measures: Measures, *, has_reserve: bool) -> TableRow:
    cells = [
        Cell(text=row.name, sort=row.start_m),
        Cell(text=measures.span(row.start_m, row.end_m), sort=row.start_m),
        Cell(text=words.stopwatch(row.clock_s), sort=row.clock_s),
        Cell(text=words.stopwatch(row.time_s), sort=row.time_s),
        Cell(text=measures.speed_number(row.mean_speed_mps), sort=row.mean_speed_mps),
        Cell(text=measures.speed_number(row.top_speed_mps), sort=row.top_speed_mps),
        Cell(text=words.number(row.mean_power_w), sort=row.mean_power_w),
        Cell(text=words.percent(row.mean_grade, 1), sort=row.mean_grade),
        Cell(text=measures.height_number(row.ascent_m), sort=row.ascent_m),
    ]
    if has_reserve and row.reserve_share is not None:
        cells.append(Cell(text=words.percent(row.reserve_share), sort=row.reserve_share))
    # Laps and splits have no mark of a kind before their name.
    return TableRow(
        cells=tuple(cells),
        start_m=row.start_m,
        end_m=row.end_m,
        kind="lap" if row.kind == "split" else row.kind,
    )
