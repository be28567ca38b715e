"""A race in the bunch: tables, terminal text and JSON."""

from __future__ import annotations

from simulator.bunch import SoloBreak
from simulator.files import json_text
from simulator.measures import Measures
from simulator.report import words
from simulator.report.bunch_view import BunchBuildView, BunchView
from simulator.report.tables import Cell, Column, Table, TableRow
from simulator.report.terminal import WIDTH, plain, table_lines, wrapped
from simulator.report.views import exported

_MOST_LAPS, _MOST_CORNERS = 14, 8


def cost_table(view: BunchView) -> Table:
    """What staying in takes, a row for each quantity and a column for each build."""
    measures = view.measures
    first = words.short_name(view.builds[0].name, 12)
    rows = [
        ("Mean power, W", [words.number(b.mean_w, 1) for b in view.builds]),
        ("Fourth-power mean, W", [words.number(b.fourth_power_mean_w) for b in view.builds]),
        ("Work, kJ", [words.number(b.work_j / 1e3) for b in view.builds]),
        ("Surges over critical power", [str(b.n_surges) for b in view.builds]),
        (
            "  their length and size",
            [
                f"{words.number(b.surge_s, 1)} s, +{words.number(b.surge_over_w)} W"
                if b.n_surges
                else words.NOTHING
                for b in view.builds
            ],
        ),
        ("  longest, s", [words.number(b.longest_surge_s, 1) for b in view.builds]),
        ("Work above it, kJ", [words.number(b.work_over_j / 1e3, 1) for b in view.builds]),
        ("W′ at its lowest, kJ", [_kj(b.low_j) for b in view.builds]),
        ("Loses contact", [_lost(b, measures) for b in view.builds]),
        (
            "Chance of that",
            [
                words.NOTHING if b.chance_lost is None else words.percent(b.chance_lost)
                for b in view.builds
            ],
        ),
        *(_matches(view, first) if len(view.builds) > 1 else []),
        ("Sprint, s", [_sprint(b, measures) for b in view.builds]),
    ]
    return Table(
        key="cost",
        caption=f"What staying in place {view.place:g} takes, and what is left of W′",
        columns=(
            Column(label="In the bunch", is_text=True),
            *(Column(label=words.short_name(b.name, 18)) for b in view.builds),
        ),
        rows=tuple(
            TableRow(cells=(Cell(text=label, sort=i), *(Cell(text=t, sort=t) for t in texts)))
            for i, (label, texts) in enumerate(rows)
        ),
    )


def _matches(view: BunchView, first: str) -> list[tuple[str, list[str]]]:
    """How many places lie between the builds."""
    return [
        (f"Place to match {first}", [_place(b.tie_place) for b in view.builds]),
        (f"{first}’s place to match it", [_place(b.first_tie_place) for b in view.builds]),
    ]


def _kj(value_j: float | None) -> str:
    return words.NOTHING if value_j is None else words.number(value_j / 1e3, 1)


def _place(place: float | None) -> str:
    return "none" if place is None else words.number(place, 1)


def _lost(build: BunchBuildView, measures: Measures) -> str:
    return "no" if build.lost_at_m is None else measures.place(build.lost_at_m)


def _sprint(build: BunchBuildView, measures: Measures) -> str:
    if build.sprint is None:
        return words.NOTHING
    return f"{words.number(build.sprint.time_s, 2)}, {measures.speed(build.sprint.end_mps)}"


def lap_table(view: BunchView) -> Table | None:
    """Lap by lap: power needed, and W′ at its lowest."""
    if len(view.builds[0].laps) < 2:
        return None
    columns = [Column(label="Lap", is_text=True)]
    for build in view.builds:
        name = words.short_name(build.name, 12)
        columns += [
            Column(label=f"{name}, W"),
            Column(label="4th W", is_wide=True),
            Column(label="W′ low, kJ"),
        ]
    rows = []
    for i, lap in enumerate(view.builds[0].laps):
        cells = [Cell(text=str(lap.lap), sort=lap.lap)]
        for build in view.builds:
            row = build.laps[i]
            low = _kj(row.low_j) if row.is_held else "lost"
            cells += [
                Cell(text=words.number(row.mean_w), sort=row.mean_w),
                Cell(text=words.number(row.fourth_power_mean_w), sort=row.fourth_power_mean_w),
                Cell(text=low, sort=row.low_j),
            ]
        rows.append(TableRow(cells=tuple(cells)))
    return Table(key="laps", caption="Lap by lap", columns=tuple(columns), rows=tuple(rows))


def corner_table(view: BunchView) -> Table | None:
    """The gap out of each corner and what closing it takes."""
    if not view.builds[0].corners:
        return None
    measures = view.measures
    order = {c.name: i for i, c in enumerate(view.builds[0].corners)}
    columns = [
        Column(label="Corner", is_text=True),
        Column(label="Times", is_wide=True),
        Column(label=f"Gap, {measures.height_unit}"),
        Column(label="Surge, s"),
    ]
    for build in view.builds:
        name = words.short_name(build.name, 10)
        columns += [
            Column(label=f"{name}, W"),
            Column(label="peak W", is_wide=True),
            Column(label="kJ"),
        ]
    rows = []
    for name, i in order.items():
        first = view.builds[0].corners[i]
        cells = [
            Cell(text=measures.said(name), sort=name),
            Cell(text=str(first.n_times), sort=first.n_times),
            Cell(text=measures.height_number(first.gap_m, 1), sort=first.gap_m),
            Cell(text=words.number(first.surge_s, 1), sort=first.surge_s),
        ]
        for build in view.builds:
            corner = next(c for c in build.corners if c.name == name)
            cells += [
                Cell(text=words.number(corner.surge_w), sort=corner.surge_w),
                Cell(text=words.number(corner.peak_w), sort=corner.peak_w),
                Cell(text=words.number(corner.speed_up_j / 1e3, 1), sort=corner.speed_up_j),
            ]
        rows.append(TableRow(cells=tuple(cells)))
    return Table(
        key="corners",
        caption="Out of the corners: the gap that opens, mean and highest power while it closes, "
        "and the work to get back up to speed, all laps together",
        columns=tuple(columns),
        rows=tuple(rows),
    )


def climb_table(view: BunchView) -> Table | None:
    """How fast the bunch may climb before each build is dropped."""
    measures = view.measures
    rows = [
        TableRow(
            cells=(
                Cell(text=f"{climb.name}, {words.short_name(build.name, 14)}", sort=climb.name),
                Cell(text=measures.length(climb.length_m), sort=climb.length_m),
                Cell(text=words.percent(climb.mean_grade, 1), sort=climb.mean_grade),
                Cell(text=measures.speed_number(climb.bunch_mps), sort=climb.bunch_mps),
                Cell(text=measures.speed_number(climb.limit_mps), sort=climb.limit_mps),
                Cell(text=words.number(climb.limit_w), sort=climb.limit_w),
                Cell(text=words.number(climb.limit_w_per_kg, 2), sort=climb.limit_w_per_kg),
            )
        )
        for i in range(len(view.builds[0].climbs))
        for build in view.builds
        for climb in (build.climbs[i],)
    ]
    if not rows:
        return None
    return Table(
        key="climbs",
        caption="Climbs: the bunch's speed, and the speed at which each build is dropped",
        columns=(
            Column(label="Climb", is_text=True),
            Column(label="Length", is_wide=True),
            Column(label="Grade", is_wide=True),
            Column(label=f"Bunch, {measures.speed_unit}"),
            Column(label="Dropped at"),
            Column(label="W"),
            Column(label="W/kg"),
        ),
        rows=tuple(rows),
    )


def break_table(view: BunchView) -> Table | None:
    """Alone from some laps out."""
    rows = [
        TableRow(
            cells=(
                Cell(text=f"{_from(b, view)}, {words.short_name(build.name, 14)}", sort=b.start_m),
                Cell(text=words.number(b.power_w), sort=b.power_w),
                Cell(text=words.signed(b.lead_s), sort=b.lead_s),
            )
        )
        for build in view.builds
        for b in build.breaks
    ]  # fmt: skip
    if not rows:
        return None
    return Table(
        key="breaks",
        caption=_BREAKS_MEAN,
        columns=(
            Column(label="Solo break", is_text=True),
            Column(label="Power, W"),
            Column(label="Lead, s"),
        ),
        rows=tuple(rows),
    )


_BREAKS_MEAN = (
    "Alone to the finish at what W′ allows, against a bunch that keeps its pace: a lead below 0 "
    "means that it comes back before the line."
)


def _from(start: SoloBreak, view: BunchView) -> str:
    if len(view.builds[0].laps) < 2:
        return f"from {view.measures.place(start.start_m)}"
    return f"{words.plural(start.laps_out, 'lap')} out"


def bunch_text(
    view: BunchView, *, encoding: str = "utf-8", width: int = WIDTH, is_short: bool = False
) -> str:
    """The race for a terminal; `is_short` for the sentence alone."""
    lines = []
    if not is_short:
        lines += [*wrapped(f"{view.course}: {view.facts.replace(' · ', ', ')}", width), ""]
        n_shown = min(len(view.builds), 3)
        lines += table_lines("In the bunch", cost_table(view), range(1 + n_shown), width)
        laps = lap_table(view)
        if laps is not None and len(laps.rows) <= _MOST_LAPS:
            picked = [0, *(1 + 3 * i + j for i in range(n_shown) for j in (0, 2))]
            lines += table_lines("Lap", laps, picked, width)
        corners = corner_table(view)
        if corners is not None:
            picked = [0, 2, 3, *(4 + 3 * i + j for i in range(min(n_shown, 2)) for j in (1, 2))]
            lines += table_lines(
                "Corner", corners, picked, width, rows=corners.rows[:_MOST_CORNERS]
            )
        climbs = climb_table(view)
        if climbs is not None:
            lines += table_lines("Climb", climbs, (0, 3, 4, 5, 6), width)
        breaks = break_table(view)
        if breaks is not None:
            lines += table_lines("Solo break", breaks, (0, 1, 2), width)
            lines += [*wrapped(_BREAKS_MEAN, width), ""]
    lines += wrapped(view.sentence, width)
    if not is_short:
        for text in view.more:
            lines += wrapped(text, width)
        lines.append("")
        for note in view.notes:
            lines += wrapped(note.text, width)
    return "".join(plain(line.rstrip(), encoding) + "\n" for line in lines)


def bunch_json(view: BunchView) -> str:
    """The race as JSON text: schema ``buildgap/bunch``, SI units in the names of the keys."""
    return json_text("bunch", exported(view))
