"""The main picture of a comparison: profile, speeds and gap over one distance axis."""

from __future__ import annotations

from typing import cast

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from simulator.report import palette, style, words
from simulator.report.labels import (
    Label,
    band_labels,
    course_facts,
    gap_labels,
    shown_bands,
    shown_laps_m,
    shown_marks_m,
    times,
)
from simulator.report.views import AlongCourse, GapView

_FIRST, _OTHER = palette.BUILD_COLOURS[:2]


def draw_gap(view: GapView) -> Figure:
    """Profile, speed of both rides and cumulative gap, stacked over one distance axis."""
    with style.house_style():
        figure = style.new_figure(11.0, 8.2)
        title = palette.balanced(view.sentence, 88)
        figure.text(
            0.065, 0.975, title, fontsize=style.TITLE_PT, va="top", weight="bold", linespacing=1.3
        )
        top = 0.915 - 0.03 * title.count("\n")
        figure.text(
            0.065,
            top,
            f"{course_facts(view)}\n{times(view)}",
            fontsize=style.TEXT_PT,
            va="top",
            color=palette.QUIET,
            linespacing=1.5,
        )
        grid = figure.add_gridspec(
            3,
            1,
            height_ratios=(1.0, 1.35, 1.5),
            hspace=0.12,
            left=0.065,
            right=0.875,
            top=top - 0.075,
            bottom=0.105,
        )
        profile = figure.add_subplot(grid[0])
        speed = figure.add_subplot(grid[1], sharex=profile)
        gap = figure.add_subplot(grid[2], sharex=profile)
        draw_profile(profile, view)
        _draw_speed(speed, view)
        _draw_cumulative(gap, view)
        panels = (profile, speed, gap)
        style.share_distance_axis(
            panels, view.course.distance_m / view.measures.m_per_distance, view.measures
        )
        for axes in panels:
            shade_bands(axes, view)
        for axes in panels[:-1]:
            axes.spines["bottom"].set_visible(False)
        style.small_print(figure, words.CAUTION, y=0.02, n_letters=130)
    return figure


def _places(view: AlongCourse) -> np.ndarray:
    return np.array(view.series.distances_m) / view.measures.m_per_distance


def draw_profile(axes: Axes, view: AlongCourse) -> None:
    """Heights along the course, with the names of climbs, descents or laps."""
    measures = view.measures
    at, heights = _places(view), np.array(view.series.heights_m) / measures.m_per_height
    rise = max(float(np.ptp(heights)), 20.0 / measures.m_per_height)
    floor = float(heights.min()) - 0.08 * rise
    axes.fill_between(at, heights, floor, color=palette.GROUND, linewidth=0, zorder=2)
    axes.plot(at, heights, color=palette.GROUND_EDGE, linewidth=1.1, zorder=3)
    axes.set_ylim(floor, float(heights.min()) + 1.42 * rise)
    axes.set_ylabel(f"Height, {measures.height_unit}")
    _label_bands(axes, band_labels(view), view)


def _label_bands(axes: Axes, labels: list[Label], view: AlongCourse) -> None:
    """Write each label over its stretch, on two lines if it must be, or not at all."""
    figure = cast(Figure, axes.figure)
    inch_per_m = axes.get_position().width * figure.get_figwidth() / view.course.distance_m
    for label in labels:
        room_in = 0.98 * (label.end_m - label.start_m) * inch_per_m
        for text in (label.text, label.text.replace(" ", "\n", 1)):
            lines = text.split("\n")
            if max(style.width_in(figure, x, size_pt=style.SMALL_PT) for x in lines) <= room_in:
                axes.text(
                    label.middle_m / view.measures.m_per_distance,
                    0.97,
                    text,
                    transform=axes.get_xaxis_transform(),
                    ha="center",
                    va="top",
                    fontsize=style.SMALL_PT,
                    color=palette.QUIET,
                    linespacing=1.15,
                    zorder=6,
                )
                break


def _draw_speed(axes: Axes, view: GapView) -> None:
    at, per_mps = _places(view), 1.0 / view.measures.mps_per_speed
    first = per_mps * np.array(view.series.first_mps)
    other = per_mps * np.array(view.series.other_mps)
    axes.plot(at, first, color=_FIRST, linewidth=style.CURVE_PT, zorder=3)
    axes.plot(at, other, color=_OTHER, linewidth=style.CURVE_PT, zorder=4)
    top = 1.08 * float(max(first.max(), other.max()))
    axes.set_ylim(0.0, top)
    axes.set_ylabel(f"Speed, {view.measures.speed_unit}")
    marks = np.array(shown_marks_m(view)) / view.measures.m_per_distance
    axes.plot(
        marks,
        np.full(len(marks), 0.015),
        marker="^",
        markersize=4.5,
        linestyle="none",
        color=palette.QUIET,
        transform=axes.get_xaxis_transform(),
        zorder=5,
        clip_on=False,
    )
    labels = [(view.first.name, first[-1], _FIRST), (view.other.name, other[-1], _OTHER)]
    _label_ends(axes, labels, gap=0.085 * top)
    if len(marks):
        axes.text(
            1.012,
            0.02,
            "▲ corner",
            transform=axes.transAxes,
            fontsize=style.SMALL_PT,
            color=palette.QUIET,
        )


def _fitted(axes: Axes, name: str, most_in: float, weight: str = "normal") -> str:
    return style.fitted(cast(Figure, axes.figure), name, most_in, weight=weight)


def _margin_name(axes: Axes, name: str) -> str:
    """A name cut to the margin right of the curves."""
    return _fitted(axes, name, 1.15, "bold")


def _label_ends(axes: Axes, labels: list[tuple[str, float, str]], gap: float) -> None:
    """Names at the right ends of curves, pushed apart where they would touch."""
    labels = sorted(labels, key=lambda label: label[1])
    at = [float(label[1]) for label in labels]
    middle, lowest = sum(at) / len(at), gap * 1.6
    if at[1] - at[0] < gap:
        at = [middle - gap / 2.0, middle + gap / 2.0]
    shift = max(0.0, lowest - at[0])
    for (text, _, colour), y in zip(labels, at, strict=True):
        axes.annotate(
            _margin_name(axes, text),
            (1.012, y + shift),
            xycoords=axes.get_yaxis_transform(),
            color=colour,
            weight="bold",
            va="center",
            fontsize=style.TEXT_PT,
            annotation_clip=False,
        )


def _draw_cumulative(axes: Axes, view: GapView) -> None:
    at, gaps = _places(view), np.array(view.series.gaps_s)
    low, high = min(float(gaps.min()), 0.0), max(float(gaps.max()), 0.0)
    if view.doubt is not None:
        low, high = min(low, view.doubt.low_s), max(high, view.doubt.high_s)
    room = max(high - low, 0.2)
    axes.set_ylim(low - 0.06 * room, high + 0.2 * room)
    axes.axhline(0.0, color=_FIRST, linewidth=style.CURVE_PT, zorder=3)
    axes.fill_between(at, gaps, 0.0, color=palette.blended(_OTHER, palette.PAPER, 0.75), zorder=2)
    axes.plot(at, gaps, color=_OTHER, linewidth=2.2, zorder=4)
    axes.set_ylabel(
        f"{_fitted(axes, view.other.name, 1.1)} behind{words.minus_is_ahead(low, room)}, s"
    )
    end, end_s = float(at[-1]), float(gaps[-1])
    axes.plot([end], [end_s], "o", color=_OTHER, markersize=5, zorder=6, clip_on=False)
    text = f"{_margin_name(axes, view.other.name)}\n{words.signed_seconds(end_s)}"
    if view.doubt is not None:
        axes.plot(
            [end, end],
            [view.doubt.low_s, view.doubt.high_s],
            color=_OTHER,
            linewidth=5.0,
            alpha=0.35,
            solid_capstyle="butt",
            zorder=5,
            clip_on=False,
        )
        decimals = words.decimals_for(end_s, view.doubt.half_s)
        text += f"\n± {words.seconds(view.doubt.half_s, decimals)}"
    _end_texts(axes, view, text, end_s, room)
    _label_bands(axes, gap_labels(view), view)


def _end_texts(axes: Axes, view: GapView, text: str, end_s: float, room: float) -> None:
    n_lines = text.count("\n") + 1
    away = 0.062 * room * (n_lines + 1)
    other_at = end_s
    if abs(end_s) < away:
        other_at = away if end_s >= 0.0 else -away
    for label, y, colour in (
        (_margin_name(axes, view.first.name), 0.0, _FIRST),
        (text, other_at, _OTHER),
    ):
        axes.annotate(
            label,
            (1.012, y),
            xycoords=axes.get_yaxis_transform(),
            color=colour,
            weight="bold",
            va="center",
            fontsize=style.TEXT_PT,
            annotation_clip=False,
        )


def shade_bands(axes: Axes, view: AlongCourse) -> None:
    """Climbs and descents behind the curves, and a line at the start of each lap."""
    unit_m = view.measures.m_per_distance
    for band in shown_bands(view):
        colour = palette.BAND_COLOURS.get(band.kind)
        if colour is not None:
            axes.axvspan(
                band.start_m / unit_m, band.end_m / unit_m, color=colour, linewidth=0, zorder=0.1
            )
    for start_m in shown_laps_m(view):
        axes.axvline(start_m / unit_m, color=palette.QUIET, linewidth=style.HAIR_PT, zorder=1)
