"""Every file of a comparison, a line-up, a review and many races, by name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from matplotlib.figure import Figure

from simulator.compare import Comparison, Review
from simulator.measures import METRIC, Measures
from simulator.report.causes_figure import draw_causes
from simulator.report.export import comparison_json, segments_csv
from simulator.report.figures import draw_gap
from simulator.report.gap_view import make_gap_view
from simulator.report.lineup import draw_lineup, lineup_json
from simulator.report.lineup_view import LineupView
from simulator.report.page import gap_page, lineup_page
from simulator.report.plan_figure import draw_plan
from simulator.report.races_html import races_page
from simulator.report.races_output import draw_races, races_csv, races_json
from simulator.report.races_view import RacesView
from simulator.report.review_export import review_csv, review_json
from simulator.report.review_html import review_page
from simulator.report.review_view import ReviewView, make_review_view
from simulator.report.style import picture_bytes

Files = dict[str, bytes]
"""Name of each file -> what it holds; the page first."""


def comparison_files(
    comparison: Comparison, measures: Measures = METRIC, *, review: ReviewView | None = None
) -> Files:
    """Page, CSV, JSON and pictures of two builds; page and pictures in the units chosen.

    The page leads to a review in the folder ``review``, if there is one.
    """
    view = make_gap_view(comparison, measures)
    files = encoded(
        {
            "index.html": gap_page(view, review=review),
            "gap.csv": segments_csv(comparison),
            "comparison.json": comparison_json(view),
        }
    )
    for name, draw in (("gap", draw_gap), ("plan", draw_plan), ("causes", draw_causes)):
        files |= pictures_of(name, draw(view))
    return files


def lineup_files(
    view: LineupView,
    comparisons: Sequence[Comparison],
    folders: Sequence[str],
    *,
    review: ReviewView | None = None,
) -> Files:
    """Page, JSON and picture of many builds, and the files of each in a folder of its own."""
    files = encoded(
        {"index.html": lineup_page(view, review=review), "lineup.json": lineup_json(view)}
    )
    files |= pictures_of("lineup", draw_lineup(view))
    for comparison, folder in zip(comparisons, folders, strict=True):
        for name, data in comparison_files(comparison, view.measures).items():
            files[f"{folder}/{name}"] = data
    return files


def review_files(review: Review, measures: Measures = METRIC) -> Files:
    """Page, CSV, JSON and picture of a recorded ride beside the predicted one."""
    view = make_review_view(review, measures)
    files = encoded(
        {
            "index.html": review_page(view),
            "review.csv": review_csv(review),
            "review.json": review_json(view),
        }
    )
    return files | pictures_of("review", draw_gap(view.along))


def races_files(view: RacesView) -> Files:
    """Page, CSV, JSON and picture of builds in several races."""
    pictures = pictures_of("races", draw_races(view))
    texts = {
        "index.html": races_page(view, pictures["races.png"]),
        "races.csv": races_csv(view),
        "races.json": races_json(view),
    }
    return {**encoded(texts), **pictures}


def encoded(texts: Mapping[str, str]) -> Files:
    """Texts as files in UTF-8."""
    return {name: text.encode("utf-8") for name, text in texts.items()}


def pictures_of(name: str, figure: Figure) -> Files:
    """A figure as PNG and SVG."""
    return {f"{name}.{kind}": picture_bytes(figure, kind) for kind in ("png", "svg")}
