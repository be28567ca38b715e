"""A recorded ride beside the predicted one: terminal, page, CSV and JSON of a `ReviewView`."""

from __future__ import annotations

import dataclasses

import numpy as np
from markupsafe import Markup

from simulator.compare import Review
from simulator.files import csv_text, json_text
from simulator.report import charts, labels, page, review_words, tables, words
from simulator.report.review_view import ReviewView, fit_text
from simulator.report.tables import Cell, Column, Table, TableRow
from simulator.report.terminal import WIDTH, plain, table_lines, wrapped

_VERSION = 1

REVIEW_KEYS = {
    "sentence": "the result as one says it",
    "more": "further sentences: verdict, what to doubt, where they part, stops",
    "recording": "name of the recording",
    "course": "name, length and climbing (m), laps, corners a lap, kind of start, sources",
    "recorded_w": "mean recorded power over the moving time, W",
    "predicted_w": "mean power that the model rode, W",
    "usual_s": "what the uncertainties of all inputs bring on this ride, one standard deviation, s",
    "from_m": "where the recording gets on the course, m from the start",
    "to_m": "where it leaves it, m",
    "standing_s": "time of all stops, s; in neither time",
    "stops": "place (m) and time (s) of each stop",
    "predicted": "the predicted ride: time (s), speeds (m/s), power (W), work (J)",
    "recorded": "the recorded ride without its stops, as `predicted`",
    "gap_s": "recorded minus predicted time, s; positive: slower than predicted",
    "places": "climbs, descents and flats: first is predicted, other recorded; s",
    "corners": "corners, as `places`",
    "laps": "lap by lap; empty for a course ridden once",
    "suspects": "likeliest first: `needed` instead of `nominal` explains the whole gap (SI; for "
    "the power meter true over shown power); times_doubt: change over its uncertainty; doubt_s: "
    "what one uncertainty is worth, s; fit: share of the differences along the course explained; "
    "score: -2 ln likelihood above the best",
    "inputs": "all inputs as used, as text with units",
    "notes": "cautions, and what was mended in the recording",
}
"""Every key of the JSON's data and what it holds."""


def suspect_table(view: ReviewView) -> Table:
    """What to doubt, the likeliest first."""
    return Table(
        key="suspects",
        caption="What to doubt, the likeliest first: what each alone would have to be",
        columns=(
            Column(label="Doubt", is_text=True),
            Column(label="Would have to be", is_text=True),
            Column(label="Its uncertainty", is_text=True, is_wide=True),
            Column(label="Times that"),
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
        where = tables.where_table(along)
        lines += table_lines("Where", where, (0, 1, 3, 5, 6, 7, 9), width)
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


def review_json(view: ReviewView) -> str:
    """The review as JSON text: schema ``buildgap/review``, SI units."""
    return json_text("review", review_data(view), version=_VERSION)


def review_data(view: ReviewView) -> dict[str, object]:
    """Everything but the curves, by the names in `REVIEW_KEYS`."""
    along = view.along
    held: dict[str, object] = {
        "course": along.course,
        "predicted": along.first,
        "recorded": along.other,
        "gap_s": along.gap_s,
        "places": along.places,
        "corners": along.corners,
        "laps": along.laps,
        "inputs": along.inputs,
        "notes": along.notes,
    }
    shown = {field.name: getattr(view, field.name) for field in dataclasses.fields(view)}
    data: dict[str, object] = {"about": REVIEW_KEYS}
    return data | {key: held[key] if key in held else shown[key] for key in REVIEW_KEYS}


def review_csv(review: Review) -> str:
    """Both rides on every segment as CSV text, SI units; times without stops."""
    gap = review.gap
    course = gap.first.course
    ends_m = course.node_distances_m[1:]
    columns = {
        "end_m": np.round(ends_m, 3),
        "height_m": np.round(course.node_heights_m[1:], 3),
        "grade": np.round(course.grades, 6),
        "lat_deg": np.round(course.node_lats_deg[1:], 7),
        "lon_deg": np.round(course.node_lons_deg[1:], 7),
        "is_recorded": (ends_m >= review.from_m) & (ends_m <= review.to_m),
        "predicted_time_s": np.round(gap.first.node_times_s[1:], 3),
        "recorded_time_s": np.round(gap.other.node_times_s[1:], 3),
        "gap_s": np.round(gap.node_gaps_s[1:], 3) + 0.0,
        "predicted_speed_mps": np.round(gap.first.node_speeds_mps[1:], 3),
        "recorded_speed_mps": np.round(gap.other.node_speeds_mps[1:], 3),
        "predicted_power_w": np.round(gap.first.powers_w, 1),
        "recorded_power_w": np.round(gap.other.powers_w, 1),
    }
    rows = zip(*(column.tolist() for column in columns.values()), strict=True)
    return csv_text(list(columns), rows)


def review_page(view: ReviewView) -> str:
    """The page of a review as HTML text; all text is escaped, see `page.gap_page`."""
    along = view.along
    script = "".join(page.template_text(name) for name in ("sort.js", "along.js", "page.js"))
    found = [
        tables.where_table(along) if along.places else None,
        tables.corner_table(along),
        tables.lap_table(along),
        suspect_table(view),
        stop_table(view),
    ]
    return (
        page.environment()
        .get_template("review.html.j2")
        .render(
            review=view,
            view=along,
            facts=labels.course_facts(along),
            how_ranked=review_words.HOW_RANKED,
            sign_rule=review_words.SIGN_RULE,
            summary=tables.summary_table(along),
            tables={table.key: table for table in found if table is not None},
            panels=charts.stack_panels(along),
            km_ticks=charts.distance_ticks(along),
            shades=charts.shades(along),
            laps_pct=[100.0 * m / along.course.distance_m for m in labels.shown_laps_m(along)],
            plan=charts.plan_chart(along.plan, along.measures),
            inputs=page.grouped_inputs(along.inputs),
            data=Markup(page.cursor_json(along)),
            **page.furniture(script),
        )
    )
