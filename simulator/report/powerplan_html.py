"""Pages of a plan: the full one, and the card for a phone."""

from __future__ import annotations

import base64
from dataclasses import dataclass

from markupsafe import Markup

from simulator.measures import METRIC, Measures
from simulator.powerplan import Card
from simulator.report import powerplan_words, style, words
from simulator.report.page import environment, furniture, template_text
from simulator.report.powerplan_figure import draw_powerplan_narrow
from simulator.report.powerplan_terminal import (
    day_table,
    place_table,
    stretch_table,
    tryout_table,
)
from simulator.report.powerplan_view import PowerplanView, TryoutView
from simulator.units import clock


@dataclass(frozen=True, slots=True, kw_only=True)
class PhoneRow:
    """One line of the phone page, as text."""

    to_place: str
    climb: str
    power: str
    clock: str
    place: str


def powerplan_page(view: PowerplanView, picture: bytes) -> str:
    """The page of a plan as HTML text, its picture (PNG) inside, and a narrow one for phones."""
    return (
        environment()
        .get_template("powerplan.html.j2")
        .render(
            title=f"Plan: {view.course}",
            view=view,
            picture=Markup(base64.b64encode(picture).decode()),
            narrow=Markup(style.svg_base64(draw_powerplan_narrow(view))),
            more=view.more,
            tables=[stretch_table(view), *([day_table(view)] if len(view.days) > 1 else [])],
            alt="Profile, power of the plan and of the quickest ride, and W′ along the course",
            **furniture(template_text("sort.js")),
        )
    )


def tryout_page(view: TryoutView) -> str:
    """The page of pacings side by side as HTML text."""
    places = place_table(view)
    return (
        environment()
        .get_template("powerplan.html.j2")
        .render(
            title=f"Pacings: {view.course}",
            view=view,
            picture=None,
            narrow=None,
            more=[f"{row.name}: {row.trouble}" for row in view.rows if row.trouble],
            tables=[tryout_table(view), *([] if places is None else [places])],
            alt="",
            **furniture(template_text("sort.js")),
        )
    )


def card_page(card: Card, measures: Measures = METRIC) -> str:
    """The card as a page for a phone: big type, dark or light as the phone is set, no network."""
    rows = [
        PhoneRow(
            to_place=measures.distance_number(row.end_m),
            climb=f"↑ {measures.height(row.ascent_m)}" if row.ascent_m >= 5.0 else "",
            power=powerplan_words.power(row.power_w),
            clock=clock(row.end_s),
            place=row.place,
        )
        for row in card.rows
    ]
    return (
        environment()
        .get_template("powerplan_card.html.j2")
        .render(
            card=card,
            rows=rows,
            place_word=measures.place_word,
            time=clock(card.time_s),
            laps=words.plural(card.n_laps, "lap") if card.n_laps > 1 else "",
            cautions=(
                *((powerplan_words.CARD_BOUND,) if card.is_plain_mean else ()),
                *powerplan_words.CAUTIONS,
                powerplan_words.WHEEL_CAUTION,
            ),
        )
    )
