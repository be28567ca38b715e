"""The quality page of a course in a terminal."""

from __future__ import annotations

from collections.abc import Sequence

from simulator.files import json_text
from simulator.report import words
from simulator.report.course_view import CourseView
from simulator.report.tables import Cell, Column, Table, TableRow
from simulator.report.terminal import WIDTH, plain, table_lines, wrapped
from simulator.report.views import exported

_MOST_CORNERS = 20
_LABEL_WIDTH = 15


def course_text(
    view: CourseView, *, encoding: str = "utf-8", width: int = WIDTH, all_corners: bool = False
) -> str:
    """What a track became, as lines for a terminal.

    Parameters
    ----------
    view : CourseView
    encoding : str
        Of the terminal.
    width : int
        Most columns to use.
    all_corners : bool
        List every corner, not only the tightest ones.

    Returns
    -------
    str
        Lines that end in a newline.
    """
    lines = [*wrapped(view.name, width), ""]
    for fact in view.facts:
        first, *more = wrapped(fact.text, width - _LABEL_WIDTH)
        lines.append(f"{fact.label:<{_LABEL_WIDTH}}{first}")
        lines += [" " * _LABEL_WIDTH + line for line in more]
    lines.append("")
    if view.climbs:
        lines += table_lines("Climbs and descents", _climb_table(view), range(6), width)
    if view.corners:
        lines += _corner_lines(view, width, all_corners)
    if view.findings:
        lines.append("Findings")
        for text in view.findings:
            first, *more = wrapped(text, width - 4)
            lines += [f"  {first}", *(f"    {line}" for line in more)]
    else:
        lines.append("Nothing to complain about.")
    return "".join(plain(line.rstrip(), encoding) + "\n" for line in lines)


def course_json(view: CourseView) -> str:
    """The same as JSON (schema ``course``, version 1), plan and profile of one lap included."""
    return json_text("course", exported(view))


def _climb_table(view: CourseView) -> Table:
    measures = view.measures
    rows = [
        (
            climb.name,
            measures.distance_number(climb.start_m, 2),
            measures.length(climb.end_m - climb.start_m),
            measures.height(climb.rise_m),
            words.percent(climb.mean_grade, 1),
            words.percent(climb.max_grade, 1),
        )
        for climb in view.climbs
    ]
    steepest = f"steepest {measures.length(50.0)}"
    heads = ("", f"from {measures.place_word}", "length", "rise", "mean", steepest)
    return _table("climbs", heads, rows)


def _corner_lines(view: CourseView, width: int, all_corners: bool) -> list[str]:
    shown, measures = list(view.corners), view.measures
    title, note = "Corners", []
    if len(shown) > _MOST_CORNERS and not all_corners:
        tightest = sorted(shown, key=lambda corner: corner.radius_m)[:_MOST_CORNERS]
        shown = sorted(tightest, key=lambda corner: corner.apex_m)
        title = "Tightest corners"
        note = [f"  ({len(view.corners) - _MOST_CORNERS} wider corners not listed)", ""]
    rows = [
        (
            f"{corner.number} {corner.name}",
            measures.distance_number(corner.apex_m, 2),
            measures.height(corner.radius_m),
            f"{words.number(abs(corner.turn_deg))}°",
            measures.length(corner.length_m),
        )
        for corner in shown
    ]
    table = _table("corners", ("", f"at {measures.place_word}", "radius", "turn", "length"), rows)
    return table_lines(title, table, range(5), width) + note


def _table(key: str, heads: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> Table:
    return Table(
        key=key,
        caption="",
        columns=tuple(Column(label=head, is_text=k == 0) for k, head in enumerate(heads)),
        rows=tuple(TableRow(cells=tuple(Cell(text=text) for text in row)) for row in rows),
    )
