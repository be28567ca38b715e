"""The self-contained page of a comparison: no network, no library, about a tenth of a megabyte."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from functools import cache
from importlib import resources

import jinja2
from markupsafe import Markup

from simulator import __version__
from simulator.report import charts, labels, palette, tables, words
from simulator.report.lineup import lineup_table
from simulator.report.lineup_view import LineupView
from simulator.report.review_view import ReviewView
from simulator.report.views import GapView, InputRow

_TEMPLATES = "simulator.report"


def gap_page(view: GapView, *, review: ReviewView | None = None) -> str:
    """The page of a comparison as HTML text.

    Everything that comes from files is escaped by the template; the figures for the cursor
    travel as JSON in a block that the browser does not run; a content policy in the page
    forbids it to load anything and to run any script but ours.

    Parameters
    ----------
    view : GapView
        What to show.
    review : ReviewView, optional
        A recorded ride of the first build, told in short; its own page lies in ``review/``.

    Returns
    -------
    str
        HTML, UTF-8.
    """
    script = template_text("sort.js") + template_text("along.js") + template_text("page.js")
    found = [
        tables.where_table(view),
        tables.wind_table(view),
        tables.corner_table(view),
        tables.lap_table(view),
        tables.why_table(view),
        tables.unit_table(view),
        tables.doubt_table(view),
        tables.energy_table(view),
    ]
    return (
        environment()
        .get_template("gap.html.j2")
        .render(
            view=view,
            review=review,
            sentence=_parts(view.sentence, view),
            facts=labels.course_facts(view),
            summary=tables.summary_table(view),
            tables={table.key: table for table in found if table is not None},
            panels=charts.stack_panels(view),
            km_ticks=charts.distance_ticks(view),
            shades=charts.shades(view),
            laps_pct=[100.0 * m / view.course.distance_m for m in labels.shown_laps_m(view)],
            plan=charts.plan_chart(view.plan, view.measures),
            histogram=None if view.doubt is None else charts.histogram(view.doubt),
            matrix=_matrix(view),
            inputs=grouped_inputs(view.inputs),
            data=Markup(cursor_json(view)),
            **furniture(script),
        )
    )


def lineup_page(view: LineupView, *, review: ReviewView | None = None) -> str:
    """The overview of many builds as HTML text; each pair has its own page beside it."""
    template = environment().get_template("lineup.html.j2")
    return template.render(
        view=view, review=review, table=lineup_table(view), **furniture(template_text("sort.js"))
    )


def furniture(script: str) -> dict[str, object]:
    """What all pages share: style, script and its fingerprint for the content policy."""
    return {
        "words": words,
        "colours": palette.BUILD_COLOURS,
        "palette": palette,
        "css": Markup(template_text("page.css")),
        "script": Markup(script),
        "script_hash": base64.b64encode(hashlib.sha256(script.encode()).digest()).decode(),
        "version": __version__,
    }


@cache
def environment() -> jinja2.Environment:
    """Where templates are found and how they escape, for every page."""
    return jinja2.Environment(
        loader=jinja2.PackageLoader(_TEMPLATES, "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        finalize=_unbroken,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )


def _unbroken(value: object) -> object:
    """Every text that a template shows keeps its numbers and units together; markup stays."""
    if isinstance(value, str) and not isinstance(value, Markup):
        return words.unbroken(value)
    return value


def template_text(name: str) -> str:
    """A style sheet or script beside the templates."""
    folder = resources.files(_TEMPLATES) / "templates"
    return (folder / name).read_text(encoding="utf-8")


def _parts(sentence: str, view: GapView) -> list[tuple[str, str]]:
    """The sentence cut at the names of the builds: (text, CSS class)."""
    classes = {view.other.name: "other", view.first.name: "first"}
    names = sorted((name for name in classes if name), key=len, reverse=True)
    if not names:
        return [(sentence, "")]
    # Only after the name of the course: that one may hold the name of a build as well.
    head = f"On {view.course.name}, "
    start = len(head) if sentence.startswith(head) else 0
    pattern = "(" + "|".join(rf"(?<!\w){re.escape(name)}(?!\w)" for name in names) + ")"
    pieces = re.split(pattern, sentence[start:])
    parts = [(sentence[:start], "")] + [(piece, classes.get(piece, "")) for piece in pieces]
    return [part for part in parts if part[0]]


def _matrix(view: GapView) -> dict[str, object]:
    """Cells of places × causes with the colour of who loses there."""
    matrix = view.matrix
    shown = labels.shown_causes(matrix)
    most = max((abs(value) for row in matrix.gaps_s for value in row), default=0.0)

    def cell(value: float) -> tuple[str, str]:
        colour = palette.blended(palette.loss_colour(value, most), palette.PAPER, 0.35)
        return words.signed(value), colour

    return {
        "causes": [words.cause_short(matrix.causes[j]) for j in shown],
        "rows": [
            {
                "name": matrix.places[i],
                "span": matrix.spans[i],
                "cells": [cell(row[j]) for j in shown],
                "total": words.signed(matrix.place_totals_s[i]),
            }
            for i, row in enumerate(matrix.gaps_s)
        ],
        "totals": [words.signed(matrix.cause_totals_s[j]) for j in shown],
        "total": words.signed(matrix.total_s),
        "left_out": [words.cause_words(c) for j, c in enumerate(matrix.causes) if j not in shown],
    }


def grouped_inputs(rows: tuple[InputRow, ...]) -> list[tuple[str, list[InputRow]]]:
    """Inputs under the heading of their group."""
    groups: dict[str, list[InputRow]] = {}
    for row in rows:
        groups.setdefault(row.group, []).append(row)
    return list(groups.items())


def cursor_json(view: GapView) -> str:
    """What the cursor reads, as JSON that no name can break out of."""
    series, per_mps = view.series, 1.0 / view.measures.mps_per_speed
    plan = charts.plan_chart(view.plan, view.measures)
    data = {
        "first": view.first.name,
        "other": view.other.name,
        **charts.cursor_data(view),
        "grade": [round(100.0 * grade, 1) for grade in series.grades],
        "speed1": [round(per_mps * v, 1) for v in series.first_mps],
        "speed2": [round(per_mps * v, 1) for v in series.other_mps],
        "gap": [round(gap_s, 2) for gap_s in series.gaps_s],
        "x": [round((e - plan.east_m) * plan.per_m, 1) for e in series.easts_m],
        "y": [round((plan.north_m - n) * plan.per_m, 1) for n in series.norths_m],
    }
    text = json.dumps(data, ensure_ascii=True, separators=(",", ":"), allow_nan=False)
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
