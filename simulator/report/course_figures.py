"""Plan and profile of a course: north arrow, scale bar, climbs, corners, wind."""

from __future__ import annotations

from typing import cast

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from simulator.report import palette, style, words
from simulator.report.course_view import ClimbRow, CourseView
from simulator.report.labels import scale_bar_m

_MOST_NUMBERS = 60
_ROAD = palette.BUILD_COLOURS[0]
_LABEL_ROWS = (0.97, 0.74)
_LABEL_GAP_IN = 0.08


def draw_course(view: CourseView) -> Figure:
    """Plan above, profile below.

    Parameters
    ----------
    view : CourseView

    Returns
    -------
    Figure
    """
    with style.house_style():
        figure = style.new_figure(9.0, 10.5)
        figure.text(0.07, 0.975, view.name, fontsize=style.TITLE_PT, weight="bold", va="top")
        figure.text(0.07, 0.945, view.lap_text, va="top", color=palette.QUIET)
        plan = figure.add_axes((0.04, 0.36, 0.92, 0.53))
        _draw_plan(plan, view)
        _draw_scale(figure, plan, view)
        _draw_arrows(figure, view)
        profile = figure.add_axes((0.09, 0.07, 0.87, 0.23))
        _draw_profile(profile, view)
        style.quiet_axes(profile)
    return figure


def _draw_plan(axes: Axes, view: CourseView) -> None:
    east, north = np.array(view.easts_m), np.array(view.norths_m)
    axes.plot(east, north, color=palette.PAPER, linewidth=4.5, zorder=2)
    axes.plot(east, north, color=palette.GROUND_EDGE, linewidth=2.2, zorder=3)
    distances = np.array(view.distances_m)
    for climb in view.climbs:
        inside = (distances >= climb.start_m) & (distances <= climb.end_m)
        axes.plot(east[inside], north[inside], color=_colour(climb), linewidth=2.6, zorder=4)
    axes.plot(east[0], north[0], "o", color=palette.INK, markersize=7, zorder=6)
    axes.annotate(
        "Start",
        (float(east[0]), float(north[0])),
        xytext=(8.0, -12.0),
        textcoords="offset points",
        weight="bold",
        zorder=7,
    )
    axes.set_aspect("equal", adjustable="datalim")
    axes.margins(0.08)
    axes.set_axis_off()
    _number_corners(axes, view, east, north)


def _number_corners(
    axes: Axes,
    view: CourseView,
    east: np.ndarray[tuple[int], np.dtype[np.float64]],
    north: np.ndarray[tuple[int], np.dtype[np.float64]],
) -> None:
    """Each number stands on the outside of its corner; only the tightest where there are many."""
    tightest = sorted(view.corners, key=lambda corner: corner.radius_m)[:_MOST_NUMBERS]
    distances = np.array(view.distances_m)
    for corner in tightest:
        spots = corner.apex_m + np.array([-15.0, 15.0])
        ahead = (
            np.diff(np.interp(spots, distances, east))[0],
            np.diff(np.interp(spots, distances, north))[0],
        )
        size = max(float(np.hypot(*ahead)), 1e-9)
        side = 1.0 if corner.turn_deg < 0.0 else -1.0  # outside of a left bend is to the right
        out = (side * ahead[1] / size, -side * ahead[0] / size)
        axes.plot(corner.easts_m, corner.norths_m, "o", color=palette.INK, markersize=2.4, zorder=6)
        axes.annotate(
            str(corner.number),
            (corner.easts_m, corner.norths_m),
            xytext=(9.0 * out[0], 9.0 * out[1]),
            textcoords="offset points",
            ha="center",
            va="center",
            fontsize=style.SMALL_PT - 1.0,
            color=palette.QUIET,
            zorder=5,
        )


def _colour(climb: ClimbRow) -> str:
    return palette.BUILD_COLOURS[1] if climb.kind == "climb" else _ROAD


def _draw_scale(figure: Figure, axes: Axes, view: CourseView) -> None:
    axes.apply_aspect()
    left, right = axes.get_xlim()
    share_per_m = axes.get_position().width / (right - left)
    size_m = scale_bar_m(right - left, view.measures)
    share = size_m * share_per_m
    figure.add_artist(
        Line2D([0.07, 0.07 + share], [0.345, 0.345], color=palette.INK, linewidth=2.0)
    )
    figure.text(0.07, 0.351, view.measures.length(size_m), fontsize=style.SMALL_PT)
    figure.text(
        0.72, 0.345, "numbers: corners", fontsize=style.SMALL_PT, va="center", color=palette.QUIET
    )
    if not view.climbs:
        return
    for x, name, colour in ((0.5, "climb", palette.BUILD_COLOURS[1]), (0.6, "descent", _ROAD)):
        figure.add_artist(Line2D([x, x + 0.03], [0.345, 0.345], color=colour, linewidth=2.6))
        figure.text(x + 0.035, 0.345, name, fontsize=style.SMALL_PT, va="center")


def _draw_arrows(figure: Figure, view: CourseView) -> None:
    _arrow(figure, (0.87, 0.925), 0.0, "N")
    if view.wind_from_deg is not None:
        speed = "" if view.wind_mps is None else f" {view.measures.speed(view.wind_mps, 0)}"
        _arrow(figure, (0.75, 0.925), view.wind_from_deg + 180.0, f"wind{speed}")


def _arrow(figure: Figure, corner: tuple[float, float], towards_deg: float, text: str) -> None:
    axes = figure.add_axes((corner[0], corner[1], 0.07, 0.06))
    axes.set_axis_off()
    axes.set_aspect("equal")
    axes.set_xlim(-1.2, 1.2)
    axes.set_ylim(-1.2, 1.2)
    towards = np.radians(towards_deg)
    move = np.array([np.sin(towards), np.cos(towards)])
    axes.annotate(
        "",
        (float(move[0]), float(move[1])),
        (-float(move[0]), -float(move[1])),
        arrowprops={"arrowstyle": "-|>", "color": palette.INK, "linewidth": 1.6},
    )
    figure.text(
        corner[0] + 0.035, corner[1] - 0.004, text, ha="center", va="top", fontsize=style.SMALL_PT
    )


def _label_climbs(axes: Axes, view: CourseView) -> None:
    """Name, length and mean grade over each climb and descent, in two rows, where there is room."""
    figure = cast(Figure, axes.figure)
    inch_per_m = axes.get_position().width * figure.get_figwidth() / view.distances_m[-1]
    taken_to_in = [-np.inf] * len(_LABEL_ROWS)
    for climb in view.climbs:
        length_m = climb.end_m - climb.start_m
        lines = (climb.name, view.measures.length(length_m), words.percent(climb.mean_grade, 1))
        half_in = 0.5 * max(style.width_in(figure, x, size_pt=style.SMALL_PT) for x in lines)
        middle_in = 0.5 * (climb.start_m + climb.end_m) * inch_per_m
        for row, top in enumerate(_LABEL_ROWS):
            if middle_in - half_in < taken_to_in[row] + _LABEL_GAP_IN:
                continue
            taken_to_in[row] = middle_in + half_in
            axes.text(
                0.5 * (climb.start_m + climb.end_m) / view.measures.m_per_distance,
                top,
                "\n".join(lines),
                transform=axes.get_xaxis_transform(),
                ha="center",
                va="top",
                fontsize=style.SMALL_PT,
                color=palette.QUIET,
                linespacing=1.2,
                zorder=6,
            )
            break


def _draw_profile(axes: Axes, view: CourseView) -> None:
    unit_m, height_m = view.measures.m_per_distance, view.measures.m_per_height
    at, heights = np.array(view.distances_m) / unit_m, np.array(view.heights_m) / height_m
    rise = max(float(np.ptp(heights)), 20.0 / height_m)
    floor = float(heights.min()) - 0.08 * rise
    axes.fill_between(at, heights, floor, color=palette.GROUND, linewidth=0, zorder=2)
    axes.plot(at, heights, color=palette.GROUND_EDGE, linewidth=1.1, zorder=3)
    axes.set_xlim(float(at[0]), float(at[-1]))
    axes.set_ylim(floor, float(heights.min()) + 1.9 * rise)
    axes.set_ylabel(f"Height, {view.measures.height_unit}")
    axes.set_xlabel(f"Distance, {view.measures.distance_unit}")
    for climb in view.climbs:
        inside = (at >= climb.start_m / unit_m) & (at <= climb.end_m / unit_m)
        axes.plot(at[inside], heights[inside], color=_colour(climb), linewidth=2.2, zorder=4)
    _label_climbs(axes, view)
    spots = np.array([corner.apex_m for corner in view.corners]) / unit_m
    axes.plot(
        spots,
        np.full(len(spots), 0.02),
        marker="^",
        markersize=4.0,
        linestyle="none",
        color=palette.QUIET,
        transform=axes.get_xaxis_transform(),
        zorder=5,
        clip_on=False,
    )
    axes.text(
        1.0,
        -0.19,
        "▲ corner",
        transform=axes.transAxes,
        ha="right",
        va="top",
        fontsize=style.SMALL_PT,
        color=palette.QUIET,
    )
