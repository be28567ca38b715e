"""Every file of a result, by name: the same from the command line and from a notebook."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from simulator.measures import METRIC, Measures
from simulator.pacing import Demand
from simulator.powerplan import Day, Plan, make_card, pacing_text
from simulator.report.bunch_figure import draw_bunch
from simulator.report.bunch_html import bunch_page
from simulator.report.bunch_terminal import bunch_json
from simulator.report.bunch_view import BunchView
from simulator.report.fieldtest_figure import draw_answer
from simulator.report.fieldtest_output import answer_json, answer_page
from simulator.report.fieldtest_view import AnswerView
from simulator.report.gap_files import Files, encoded, pictures_of
from simulator.report.powerplan_figure import CARD_SIZES_MM, card_bytes, draw_card, draw_powerplan
from simulator.report.powerplan_html import card_page, powerplan_page, tryout_page
from simulator.report.powerplan_terminal import powerplan_json, tryout_json
from simulator.report.powerplan_view import TryoutView, make_powerplan_view
from simulator.report.ride_export import ride_csv, ride_json
from simulator.report.ride_figure import draw_ride
from simulator.report.ride_html import ride_page
from simulator.report.ride_view import make_ride_view
from simulator.report.spend_figure import draw_spend
from simulator.report.spend_html import spend_page
from simulator.report.spend_terminal import shopping_csv, spend_json
from simulator.report.spend_view import SpendView
from simulator.ride import Ride


def ride_files(
    ride: Ride, demand: Demand, *, split_m: float | None = None, measures: Measures = METRIC
) -> Files:
    """Page, JSON, CSV and picture of one ride; page and picture in the units chosen."""
    view = make_ride_view(ride, demand, split_m=split_m, measures=measures)
    texts = {
        "index.html": ride_page(view),
        "ride.json": ride_json(view, ride, demand),
        "ride.csv": ride_csv(ride, demand),
    }
    return {**encoded(texts), **pictures_of("ride", draw_ride(view))}


def spend_files(view: SpendView) -> Files:
    """Page, CSV, JSON and picture of what a budget buys."""
    texts = {
        "index.html": spend_page(view),
        "shopping.csv": shopping_csv(view),
        "spend.json": spend_json(view),
    }
    return {**encoded(texts), **pictures_of("frontier", draw_spend(view))}


def fieldtest_files(view: AnswerView, builds: Mapping[str, str]) -> Files:
    """Page, JSON and picture of what runs say; ``builds`` are files of builds, by name."""
    pictures = pictures_of("fieldtest", draw_answer(view))
    texts = {
        "index.html": answer_page(view, pictures["fieldtest.svg"]),
        "fieldtest.json": answer_json(view),
        **builds,
    }
    return {**encoded(texts), **pictures}


def powerplan_files(days: Sequence[Day], measures: Measures = METRIC) -> Files:
    """Page, pacing file, JSON, picture and cards of a plan for one or several days."""
    view = make_powerplan_view(days, measures)
    pictures = pictures_of("plan", draw_powerplan(view))
    texts = {
        "index.html": powerplan_page(view, pictures["plan.png"]),
        "plan.toml": pacing_text(days[0].plan),
        "plan.json": powerplan_json(view),
    }
    return {**encoded(texts), **pictures, **card_files(days[0].plan, measures)}


def card_files(plan: Plan, measures: Measures = METRIC) -> Files:
    """Cards of a plan in every size, and its page for the phone."""
    card = make_card(plan)
    files = {}
    for size in CARD_SIZES_MM:
        figure = draw_card(card, size, measures)
        for kind in ("png", "pdf"):
            files[f"card-{size}.{kind}"] = card_bytes(figure, kind)
    return {**files, **encoded({"card.html": card_page(card, measures)})}


def tryout_files(view: TryoutView) -> Files:
    """Page and JSON of pacings side by side."""
    return encoded({"index.html": tryout_page(view), "tryout.json": tryout_json(view)})


def bunch_files(view: BunchView) -> Files:
    """Page, picture and JSON of a race in the bunch."""
    pictures = pictures_of("bunch", draw_bunch(view))
    texts = {"index.html": bunch_page(view, pictures["bunch.png"]), "bunch.json": bunch_json(view)}
    return {**encoded(texts), **pictures}
