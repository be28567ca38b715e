"""The page of several races, with the furniture of the other pages."""

from __future__ import annotations

import base64

from simulator.report import page
from simulator.report.races_output import course_table, draw_races_narrow, races_table
from simulator.report.races_view import RacesView


def races_page(view: RacesView, picture: bytes) -> str:
    """The page of many races as HTML text; all text is escaped, see `page.gap_page`.

    Parameters
    ----------
    view : RacesView
        What to show.
    picture : bytes
        Of `draw_races`, as PNG; it stands in the page, with a narrow one for phones.
    """
    from simulator.report import style

    template = page.environment().get_template("races.html.j2")
    return template.render(
        view=view,
        table=races_table(view),
        courses=course_table(view),
        picture=base64.b64encode(picture).decode(),
        narrow=style.svg_base64(draw_races_narrow(view)),
        **page.furniture(page.template_text("sort.js")),
    )
