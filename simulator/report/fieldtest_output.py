"""An `AnswerView` in the terminal, as JSON and as a page."""

from __future__ import annotations

import base64

from simulator.files import json_text
from simulator.report import style
from simulator.report.fieldtest_figure import draw_answer_narrow
from simulator.report.fieldtest_view import AnswerView
from simulator.report.page import environment, furniture, template_text
from simulator.report.terminal import WIDTH, plain, table_lines, wrapped
from simulator.report.views import exported
from simulator.report.words import note_line

_VERSION = 1

ANSWER_KEYS = {
    "sentence": "the result as one says it",
    "more": "further sentences",
    "figures": "all numbers, SI units; an uncertain one has value and sd",
    "notes": "cautions, doubts and notes",
}
"""Every key of the JSON's data and what it holds."""


def answer_text(
    view: AnswerView, *, encoding: str = "utf-8", width: int = WIDTH, is_short: bool = False
) -> str:
    """The answer for a terminal; `is_short` for the sentence alone."""
    lines: list[str] = []
    if not is_short:
        lines += [*wrapped(view.eyebrow.replace(" · ", ", "), width), ""]
        for table in view.tables:
            lines += wrapped(table.caption, width)
            lines += table_lines(table.columns[0].label, table, range(len(table.columns)), width)
    lines += wrapped(view.sentence, width)
    if not is_short:
        for text in view.more:
            lines += wrapped(text, width)
        lines.append("")
        for note in view.notes:
            lines += wrapped(note_line(note.level, note.text), width)
    return "".join(plain(line.rstrip(), encoding) + "\n" for line in lines)


def answer_json(view: AnswerView) -> str:
    """The answer as JSON text: schemas ``buildgap/fieldtest-…``, SI units."""
    fields = exported(view)
    data = {"about": ANSWER_KEYS, **{key: fields[key] for key in ANSWER_KEYS}}
    return json_text(view.kind, data, version=_VERSION)


def answer_page(view: AnswerView, picture_svg: bytes) -> str:
    """The answer as a self-contained page; the picture travels inside it, and one for phones."""
    return (
        environment()
        .get_template("fieldtest.html.j2")
        .render(
            view=view,
            picture=base64.b64encode(picture_svg).decode(),
            narrow=style.svg_base64(draw_answer_narrow(view)),
            **furniture(template_text("sort.js")),
        )
    )
