"""The self-contained page of a race in the bunch."""

from __future__ import annotations

import base64

from markupsafe import Markup

from simulator.report import style
from simulator.report.bunch_figure import draw_bunch_narrow
from simulator.report.bunch_terminal import (
    break_table,
    climb_table,
    corner_table,
    cost_table,
    lap_table,
)
from simulator.report.bunch_view import BunchView
from simulator.report.page import environment, furniture, template_text


def bunch_page(view: BunchView, picture: bytes) -> str:
    """The page as HTML text; what comes from files is escaped.

    The picture (PNG) travels inside it, with a narrow one for phones.
    """
    tables = [
        cost_table(view),
        lap_table(view),
        corner_table(view),
        climb_table(view),
        break_table(view),
    ]
    return (
        environment()
        .get_template("powerplan.html.j2")
        .render(
            title=f"In the bunch: {view.course}",
            view=view,
            picture=Markup(base64.b64encode(picture).decode()),
            narrow=Markup(style.svg_base64(draw_bunch_narrow(view))),
            more=view.more,
            tables=[table for table in tables if table is not None],
            alt="Speed of the bunch, power that each build needs, and W′ along the course",
            **furniture(template_text("sort.js")),
        )
    )
