"""The course from above, coloured by who loses time where."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from simulator.report import palette, style, words
from simulator.report.labels import scale_bar_m
from simulator.report.views import GapView, WindMark
from simulator.report.wind_view import towards

_FIRST, _OTHER = palette.BUILD_COLOURS[:2]


def draw_plan(view: GapView) -> Figure:
    """The course from above, coloured by who loses time there."""
    plan = view.plan
    with style.house_style():
        figure = style.new_figure(6.4, 6.8)
        axes = figure.add_axes((0.03, 0.16, 0.94, 0.71))
        points = np.column_stack((plan.easts_m, plan.norths_m))
        legs = np.stack((points[:-1], points[1:]), axis=1)
        colours = [palette.loss_colour(rate, plan.scale_s_per_km) for rate in plan.rates_s_per_km]
        for width, colour in ((8.5, palette.QUIET), (7.0, palette.PAPER)):
            axes.plot(*points.T, color=colour, linewidth=width, solid_joinstyle="round", zorder=1)
        axes.add_collection(
            LineCollection(list(legs), colors=colours, linewidths=5.0, capstyle="round", zorder=2)
        )
        axes.plot(*points[0], "o", color=palette.INK, markersize=7, zorder=4)
        ahead = points[3] - points[0]
        ahead = ahead / max(float(np.hypot(*ahead)), 1e-9)
        # To the side away from the middle of the course, where less road runs.
        side = np.array([ahead[1], -ahead[0]])
        side *= -1.0 if side @ (points.mean(axis=0) - points[0]) > 0.0 else 1.0
        axes.annotate(
            "Start",
            points[0],
            xytext=tuple(20.0 * side),
            textcoords="offset points",
            weight="bold",
            ha="left" if side[0] > 0.3 else "right" if side[0] < -0.3 else "center",
            va="bottom" if side[1] > 0.3 else "top" if side[1] < -0.3 else "center",
            zorder=5,
        )
        axes.annotate(
            "",
            points[0],
            xytext=tuple(26.0 * ahead),
            textcoords="offset points",
            arrowprops={"arrowstyle": "<|-", "color": palette.INK, "linewidth": 1.6},
            zorder=6,
        )
        axes.set_aspect("equal")
        axes.margins(0.1)
        axes.set_axis_off()
        title = style.fitted(figure, view.course.name, 3.9, size_pt=style.TITLE_PT, weight="bold")
        figure.text(0.05, 0.965, title, fontsize=style.TITLE_PT, weight="bold", va="top")
        figure.text(
            0.05,
            0.915,
            f"Who loses time where, seconds a {view.measures.distance_word}; north is up",
            va="top",
        )
        _colour_key(figure, view)
        _scale_and_wind(figure, axes, view)
    return figure


def _colour_key(figure: Figure, view: GapView) -> None:
    axes = figure.add_axes((0.3, 0.075, 0.4, 0.022))
    axes.set_axis_off()
    steps = np.linspace(-1.0, 1.0, 41)
    for i, at in enumerate(steps):
        axes.add_patch(Rectangle((i / 41.0, 0), 1 / 41.0, 1, color=palette.loss_colour(at, 1.0)))
    scale = words.number(view.measures.per_distance(view.plan.scale_s_per_km), 1)
    for x, name, colour, side in (
        (-0.03, view.first.name, _FIRST, "right"),
        (1.03, view.other.name, _OTHER, "left"),
    ):
        axes.text(
            x,
            0.5,
            f"{style.fitted(figure, name, 1.2, weight='bold')} loses",
            color=colour,
            ha=side,
            va="center",
            weight="bold",
        )
    for x, text in ((0.0, scale), (0.5, "0"), (1.0, scale)):
        axes.text(
            x, -0.5, text, ha="center", va="top", fontsize=style.SMALL_PT, color=palette.QUIET
        )


def _scale_and_wind(figure: Figure, axes: Axes, view: GapView) -> None:
    """Scale bar and wind, in the margins where no road can run under them."""
    left, right = axes.get_xlim()
    axes.apply_aspect()
    inch_per_m = axes.get_position().width * figure.get_figwidth() / (right - left)
    size_m = scale_bar_m(0.9 * figure.get_figwidth() / inch_per_m, view.measures)
    share = size_m * inch_per_m / figure.get_figwidth()
    bar = Line2D([0.05, 0.05 + share], [0.145, 0.145], color=palette.INK, linewidth=2.0)
    figure.add_artist(bar)
    figure.text(0.05, 0.153, view.measures.length(size_m), fontsize=style.SMALL_PT)
    plan = view.plan
    marks = plan.winds
    if not marks and plan.wind_mps > 0.0:
        marks = (WindMark(when="", wind_mps=plan.wind_mps, wind_from_deg=plan.wind_from_deg),)
    for i, mark in enumerate(marks):
        middle = 0.925 - 0.095 * (len(marks) - 1 - i)
        wind = figure.add_axes((middle - 0.05, 0.925, 0.1, 0.06))
        wind.set_axis_off()
        wind.set_aspect("equal")
        wind.set_xlim(-1.2, 1.2)
        wind.set_ylim(-1.2, 1.2)
        move = np.array(towards(mark))
        wind.annotate(
            "",
            tuple(move),
            tuple(-move),
            arrowprops={"arrowstyle": "-|>", "color": palette.INK, "linewidth": 1.6},
        )
        figure.text(
            middle,
            0.92,
            f"{mark.when or 'wind'}\n{view.measures.speed(mark.wind_mps, 0)}",
            ha="center",
            va="top",
            fontsize=style.SMALL_PT,
            linespacing=1.2,
        )
