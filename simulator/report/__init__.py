"""The report room: shows results as terminal tables, pictures, pages, CSV and JSON.

Computes nothing. May import ``compare`` and below. Start reading at ``views.py`` (what is shown),
then ``gap_view.py`` (where it comes from) and ``words.py`` (the sentences). The pictures load
matplotlib and the page jinja2, so names are looked up in their files when first used.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from simulator.report.bunch_figure import draw_bunch
    from simulator.report.bunch_html import bunch_page
    from simulator.report.bunch_terminal import bunch_json, bunch_text
    from simulator.report.bunch_view import BunchView, make_bunch_view
    from simulator.report.causes_figure import draw_causes
    from simulator.report.course_figures import draw_course
    from simulator.report.course_terminal import course_json, course_text
    from simulator.report.course_view import CourseView, make_course_view
    from simulator.report.export import comparison_json, segments_csv
    from simulator.report.fieldtest_figure import draw_answer
    from simulator.report.fieldtest_outcome import make_outcome_view
    from simulator.report.fieldtest_output import answer_json, answer_page, answer_text
    from simulator.report.fieldtest_plan import make_plan_view
    from simulator.report.fieldtest_verdict import make_verdict_view
    from simulator.report.fieldtest_view import AnswerView
    from simulator.report.figures import draw_gap
    from simulator.report.gap_files import comparison_files, lineup_files, races_files, review_files
    from simulator.report.gap_view import make_gap_view
    from simulator.report.lineup import draw_lineup, lineup_json, lineup_text
    from simulator.report.lineup_view import LineupView, folder_names, make_lineup_view
    from simulator.report.page import gap_page, lineup_page
    from simulator.report.plan_figure import draw_plan
    from simulator.report.powerplan_figure import (
        CARD_SIZES_MM,
        card_bytes,
        draw_card,
        draw_powerplan,
    )
    from simulator.report.powerplan_html import card_page, powerplan_page, tryout_page
    from simulator.report.powerplan_terminal import (
        powerplan_json,
        powerplan_text,
        tryout_json,
        tryout_text,
    )
    from simulator.report.powerplan_view import (
        PowerplanView,
        TryoutView,
        make_powerplan_view,
        make_tryout_view,
    )
    from simulator.report.races_html import races_page
    from simulator.report.races_output import draw_races, races_csv, races_json, races_text
    from simulator.report.races_view import RacesView, make_races_view
    from simulator.report.result_files import (
        bunch_files,
        card_files,
        fieldtest_files,
        powerplan_files,
        ride_files,
        spend_files,
        tryout_files,
    )
    from simulator.report.review_export import review_csv, review_data, review_json
    from simulator.report.review_html import review_page
    from simulator.report.review_output import review_text, short_review_text, trust_text
    from simulator.report.review_view import ReviewView, make_review_view
    from simulator.report.ride_export import ride_csv, ride_json
    from simulator.report.ride_figure import draw_ride
    from simulator.report.ride_html import ride_page
    from simulator.report.ride_terminal import ride_text, short_ride_text
    from simulator.report.ride_view import RideView, make_ride_view
    from simulator.report.spend_figure import draw_spend
    from simulator.report.spend_html import spend_page
    from simulator.report.spend_terminal import shopping_csv, spend_json, spend_text
    from simulator.report.spend_view import SpendView, make_spend_view
    from simulator.report.style import picture_bytes
    from simulator.report.terminal import gap_text, plain, sentence_text
    from simulator.report.usual_air import usual_text
    from simulator.report.views import GapView

_FILES = {
    "bunch_files": "result_files",
    "card_files": "result_files",
    "comparison_files": "gap_files",
    "review_files": "gap_files",
    "races_files": "gap_files",
    "RacesView": "races_view",
    "make_races_view": "races_view",
    "draw_races": "races_output",
    "races_csv": "races_output",
    "races_json": "races_output",
    "races_page": "races_html",
    "races_text": "races_output",
    "ReviewView": "review_view",
    "make_review_view": "review_view",
    "review_csv": "review_export",
    "review_data": "review_export",
    "review_json": "review_export",
    "review_page": "review_html",
    "review_text": "review_output",
    "short_review_text": "review_output",
    "trust_text": "review_output",
    "fieldtest_files": "result_files",
    "lineup_files": "gap_files",
    "powerplan_files": "result_files",
    "ride_files": "result_files",
    "spend_files": "result_files",
    "tryout_files": "result_files",
    "BunchView": "bunch_view",
    "make_bunch_view": "bunch_view",
    "bunch_text": "bunch_terminal",
    "bunch_json": "bunch_terminal",
    "draw_bunch": "bunch_figure",
    "bunch_page": "bunch_html",
    "PowerplanView": "powerplan_view",
    "TryoutView": "powerplan_view",
    "make_powerplan_view": "powerplan_view",
    "make_tryout_view": "powerplan_view",
    "powerplan_text": "powerplan_terminal",
    "tryout_text": "powerplan_terminal",
    "powerplan_json": "powerplan_terminal",
    "tryout_json": "powerplan_terminal",
    "draw_powerplan": "powerplan_figure",
    "draw_card": "powerplan_figure",
    "card_bytes": "powerplan_figure",
    "CARD_SIZES_MM": "powerplan_figure",
    "powerplan_page": "powerplan_html",
    "tryout_page": "powerplan_html",
    "card_page": "powerplan_html",
    "AnswerView": "fieldtest_view",
    "answer_json": "fieldtest_output",
    "answer_page": "fieldtest_output",
    "answer_text": "fieldtest_output",
    "draw_answer": "fieldtest_figure",
    "make_outcome_view": "fieldtest_outcome",
    "make_plan_view": "fieldtest_plan",
    "make_verdict_view": "fieldtest_verdict",
    "CourseView": "course_view",
    "course_json": "course_terminal",
    "course_text": "course_terminal",
    "draw_course": "course_figures",
    "make_course_view": "course_view",
    "GapView": "views",
    "ride_csv": "ride_export",
    "ride_json": "ride_export",
    "draw_ride": "ride_figure",
    "ride_page": "ride_html",
    "ride_text": "ride_terminal",
    "short_ride_text": "ride_terminal",
    "RideView": "ride_view",
    "make_ride_view": "ride_view",
    "comparison_json": "export",
    "draw_causes": "causes_figure",
    "draw_gap": "figures",
    "draw_plan": "plan_figure",
    "gap_page": "page",
    "gap_text": "terminal",
    "LineupView": "lineup_view",
    "folder_names": "lineup_view",
    "draw_lineup": "lineup",
    "lineup_json": "lineup",
    "lineup_page": "page",
    "lineup_text": "lineup",
    "make_gap_view": "gap_view",
    "make_lineup_view": "lineup_view",
    "picture_bytes": "style",
    "plain": "terminal",
    "segments_csv": "export",
    "sentence_text": "terminal",
    "usual_text": "usual_air",
    "draw_spend": "spend_figure",
    "spend_page": "spend_html",
    "shopping_csv": "spend_terminal",
    "spend_json": "spend_terminal",
    "spend_text": "spend_terminal",
    "SpendView": "spend_view",
    "make_spend_view": "spend_view",
}

__all__ = [
    "CARD_SIZES_MM",
    "AnswerView",
    "BunchView",
    "CourseView",
    "GapView",
    "LineupView",
    "PowerplanView",
    "RacesView",
    "ReviewView",
    "RideView",
    "SpendView",
    "TryoutView",
    "answer_json",
    "answer_page",
    "answer_text",
    "bunch_files",
    "bunch_json",
    "bunch_page",
    "bunch_text",
    "card_bytes",
    "card_files",
    "card_page",
    "comparison_files",
    "comparison_json",
    "course_json",
    "course_text",
    "draw_answer",
    "draw_bunch",
    "draw_card",
    "draw_causes",
    "draw_course",
    "draw_gap",
    "draw_lineup",
    "draw_plan",
    "draw_powerplan",
    "draw_races",
    "draw_ride",
    "draw_spend",
    "fieldtest_files",
    "folder_names",
    "gap_page",
    "gap_text",
    "lineup_files",
    "lineup_json",
    "lineup_page",
    "lineup_text",
    "make_bunch_view",
    "make_course_view",
    "make_gap_view",
    "make_lineup_view",
    "make_outcome_view",
    "make_plan_view",
    "make_powerplan_view",
    "make_races_view",
    "make_review_view",
    "make_ride_view",
    "make_spend_view",
    "make_tryout_view",
    "make_verdict_view",
    "picture_bytes",
    "plain",
    "powerplan_files",
    "powerplan_json",
    "powerplan_page",
    "powerplan_text",
    "races_csv",
    "races_files",
    "races_json",
    "races_page",
    "races_text",
    "review_csv",
    "review_data",
    "review_files",
    "review_json",
    "review_page",
    "review_text",
    "ride_csv",
    "ride_files",
    "ride_json",
    "ride_page",
    "ride_text",
    "segments_csv",
    "sentence_text",
    "shopping_csv",
    "short_review_text",
    "short_ride_text",
    "spend_files",
    "spend_json",
    "spend_page",
    "spend_text",
    "trust_text",
    "tryout_files",
    "tryout_json",
    "tryout_page",
    "tryout_text",
    "usual_text",
]


def __getattr__(name: str) -> Any:
    if name not in _FILES:
        msg = f"module {__name__!r} has no attribute {name!r}"
        raise AttributeError(msg)
    return getattr(importlib.import_module(f"{__name__}.{_FILES[name]}"), name)
