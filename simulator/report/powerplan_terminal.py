"""Plans of power and pacings side by side: tables, terminal text and JSON."""

from __future__ import annotations

from simulator.files import json_text
from simulator.report import powerplan_words, words
from simulator.report.powerplan_view import DayRow, PowerplanView, TryoutView
from simulator.report.tables import Cell, Column, Table, TableRow
from simulator.report.terminal import WIDTH, plain, table_lines, wrapped
from simulator.report.views import exported
from simulator.ride import CUT_W

_MOST_ROWS = 40


def stretch_table(view: PowerplanView) -> Table:
    """The plan, stretch by stretch."""
    has_reserve = view.full_j is not None
    measures = view.measures
    columns = [
        Column(label=measures.place_word, is_text=True),
        Column(label="Power, W"),
        Column(label="Mean, W"),
        Column(label=f"Climb, {measures.height_unit}", is_wide=True),
        Column(label="Grade", is_wide=True),
        Column(label="Time"),
        Column(label="Clock"),
    ]
    if has_reserve:
        columns.append(Column(label="W′ left, kJ", is_wide=True))
    columns.append(Column(label="Place", is_text=True, is_wide=True))
    rows = []
    for row in view.rows:
        cells = [
            Cell(text=measures.span(row.start_m, row.end_m), sort=row.start_m),
            Cell(text=powerplan_words.power(row.power_w), sort=row.power_w),
            Cell(text=words.number(row.mean_w), sort=row.mean_w),
            Cell(text=measures.height_number(row.ascent_m), sort=row.ascent_m),
            Cell(text=words.percent(row.mean_grade, 1), sort=row.mean_grade),
            Cell(text=words.stopwatch(row.time_s), sort=row.time_s),
            Cell(text=words.stopwatch(row.end_s), sort=row.end_s),
        ]
        if has_reserve:
            left = words.NOTHING if row.reserve_j is None else words.number(row.reserve_j / 1e3, 1)
            cells.append(Cell(text=left, sort=row.reserve_j))
        place = row.place or words.NOTHING
        if view.n_laps > 1:
            place = f"lap {row.lap}" + (f", {row.place}" if row.place else "")
        cells.append(Cell(text=place, sort=place))
        rows.append(TableRow(cells=tuple(cells)))
    return Table(
        key="stretches",
        caption=f"The plan: steady power from {measures.place_word} to {measures.place_word}; the "
        "clock runs from the start",
        columns=tuple(columns),
        rows=tuple(rows),
    )


def day_table(view: PowerplanView) -> Table:
    """One row for each weather."""
    first, measures = view.days[0].name, view.measures
    return Table(
        key="days",
        caption="The best plan for each weather, and what the plan for the first one costs there; "
        "short: W′ would not allow all of it",
        columns=(
            Column(label="Weather", is_text=True),
            Column(label=f"Wind, {measures.speed_unit}"),
            Column(label="From", is_wide=True),
            Column(label="Plan"),
            Column(label="Constant"),
            Column(label="Saved, s"),
            Column(label="Quickest", is_wide=True),
            Column(label=f"Plan for {words.short_name(first, 14)}, s"),
        ),
        rows=tuple(
            TableRow(
                cells=(
                    Cell(text=day.name + (", wet" if day.is_wet else ""), sort=day.name),
                    Cell(text=measures.speed_number(day.wind_mps, 0), sort=day.wind_mps),
                    Cell(text=f"{words.number(day.wind_from_deg)}°", sort=day.wind_from_deg),
                    Cell(text=words.stopwatch(day.plan_s), sort=day.plan_s),
                    Cell(text=words.stopwatch(day.constant_s), sort=day.constant_s),
                    Cell(text=words.number(day.saved_s, 1), sort=day.saved_s),
                    Cell(text=words.stopwatch(day.quickest_s), sort=day.quickest_s),
                    _other_plan_cell(day),
                )
            )
            for day in view.days
        ),
    )


def _other_plan_cell(day: DayRow) -> Cell:
    if day.first_plan_s is None:
        return Cell(text="stops", sort=None)
    lost_s = day.first_plan_s - day.plan_s
    short = ""
    if day.first_plan_short_w > CUT_W:
        short = f", {words.number(day.first_plan_short_w)} W short"
    return Cell(text=words.signed(lost_s) + short, sort=lost_s)


def tryout_table(view: TryoutView) -> Table:
    """One row for each pacing."""

    def or_dash(value: float | None, decimals: int = 0, scale: float = 1.0) -> Cell:
        text = words.NOTHING if value is None else words.number(value * scale, decimals)
        return Cell(text=text, sort=value)

    measures = view.measures
    rows = []
    for row in view.rows:
        low_at = words.NOTHING
        if row.low_at_m is not None:
            low_at = measures.distance_number(row.low_at_m)
        time = words.NOTHING if row.time_s is None else words.stopwatch(row.time_s)
        gap = words.NOTHING if row.gap_s is None else words.signed(row.gap_s)
        weak = words.NOTHING if row.weak_loss_s is None else words.signed(row.weak_loss_s)
        rows.append(
            TableRow(
                cells=(
                    Cell(text=row.name, sort=row.name),
                    Cell(text=time, sort=row.time_s),
                    Cell(text=gap, sort=row.gap_s),
                    or_dash(row.mean_w),
                    or_dash(row.fourth_power_mean_w),
                    or_dash(row.low_j, 1, 1e-3),
                    Cell(text=low_at, sort=row.low_at_m),
                    Cell(text=row.answer, sort=row.answer),
                    Cell(text=weak, sort=row.weak_loss_s),
                    Cell(text=row.weak_answer, sort=row.weak_answer),
                )
            )
        )
    return Table(
        key="tryout",
        caption="Pacings side by side; gap to the first in seconds, power in watts, W′ in "
        "kilojoules; a weak day has 5 % less critical power; last, whether it can be held then",
        columns=(
            Column(label="Pacing", is_text=True),
            Column(label="Time"),
            Column(label="Gap, s"),
            Column(label="Mean W"),
            Column(label="4th W", is_wide=True),
            Column(label="W′ low"),
            Column(label=f"at {measures.place_word}", is_wide=True),
            Column(label="Can be done", is_text=True),
            Column(label="Weak day, s", is_wide=True),
            Column(label="Done then", is_text=True, is_wide=True),
        ),
        rows=tuple(rows),
    )


def place_table(view: TryoutView) -> Table | None:
    """Where each pacing gains on the first one."""
    others = [row for row in view.rows[1:] if row.place_gaps_s]
    if not others:
        return None
    return Table(
        key="places",
        caption=f"Where each gains on {view.rows[0].name}, in seconds; negative is quicker",
        columns=(
            Column(label="Place", is_text=True),
            *(Column(label=words.short_name(row.name, 18)) for row in others),
        ),
        rows=tuple(
            TableRow(
                cells=(
                    Cell(text=place, sort=i),
                    *(
                        Cell(text=words.signed(row.place_gaps_s[i]), sort=row.place_gaps_s[i])
                        for row in others
                    ),
                )
            )
            for i, place in enumerate(view.places)
        ),
    )


def powerplan_text(
    view: PowerplanView, *, encoding: str = "utf-8", width: int = WIDTH, is_short: bool = False
) -> str:
    """The plan for a terminal; `is_short` for the sentence alone."""
    lines = []
    if not is_short:
        lines += [*wrapped(f"{view.course}: {view.facts.replace(' · ', ', ')}", width), ""]
        table = stretch_table(view)
        n_columns = len(table.columns)
        picked = [i for i in range(n_columns) if i not in (3, 4)]
        lines += table_lines(
            view.measures.place_word, table, picked, width,
            rows=table.rows[:_MOST_ROWS],
        )  # fmt: skip
        if len(table.rows) > _MOST_ROWS:
            left = words.plural(len(table.rows) - _MOST_ROWS, "stretch", "stretches")
            lines += [f"  ({left} more; all of them in the files)", ""]
        if len(view.days) > 1:
            lines += table_lines("Weather", day_table(view), (0, 1, 3, 4, 5, 7), width)
    lines += wrapped(view.sentence, width)
    if not is_short:
        for text in view.more:
            lines += wrapped(text, width)
        lines.append("")
        for note in view.notes:
            lines += wrapped(note.text, width)
    return "".join(plain(line.rstrip(), encoding) + "\n" for line in lines)


def tryout_text(
    view: TryoutView, *, encoding: str = "utf-8", width: int = WIDTH, is_short: bool = False
) -> str:
    """Pacings side by side for a terminal; `is_short` for the sentence alone."""
    lines = []
    if not is_short:
        lines += [*wrapped(f"{view.course}: {view.facts.replace(' · ', ', ')}", width), ""]
        table = tryout_table(view)
        lines += table_lines("Pacing", table, (0, 1, 2, 3, 4, 7), width)
        lines += table_lines("W′ and a weak day", table, (0, 5, 6, 8, 9), width)
        places = place_table(view)
        if places is not None:
            picked = range(min(len(places.columns), 5))
            lines += table_lines("Where", places, picked, width, rows=places.rows[:20])
    lines += wrapped(view.sentence, width)
    for row in view.rows:
        if row.trouble:
            lines += wrapped(f"{row.name}: {row.trouble}", width)
    if not is_short:
        lines.append("")
        for note in view.notes:
            lines += wrapped(note.text, width)
    return "".join(plain(line.rstrip(), encoding) + "\n" for line in lines)


def powerplan_json(view: PowerplanView) -> str:
    """The plan as JSON text: schema ``buildgap/powerplan``, SI units in the names of the keys."""
    return json_text("powerplan", exported(view))


def tryout_json(view: TryoutView) -> str:
    """Pacings side by side as JSON text: schema ``buildgap/tryout``, SI units."""
    return json_text("tryout", exported(view))
