"""The picture of one ride: profile, speed, power, W′, and where the work and the time went."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from simulator.report import palette, style, words
from simulator.report.figures import draw_profile, shade_bands
from simulator.report.labels import course_facts
from simulator.report.ride_charts import POWER_COLOUR, RESERVE_COLOUR, RIDE_COLOUR, part_colour
from simulator.report.ride_view import PartRow, RideView


def draw_ride(view: RideView) -> Figure:
    """One ride over one distance axis, with bars of work and positions below."""
    has_reserve = view.series.reserve_shares is not None
    with style.house_style():
        figure = style.new_figure(11.0, 10.2 if has_reserve else 9.0)
        title = palette.balanced(view.sentence, 88)
        figure.text(
            0.065, 0.98, title, fontsize=style.TITLE_PT, va="top", weight="bold", linespacing=1.3
        )
        top = 0.93 - 0.025 * title.count("\n")
        facts = style.broken(figure, course_facts(view), 0.91 * figure.get_figwidth())
        figure.text(
            0.065,
            top,
            "\n".join([*facts, view.weather_text]),
            fontsize=style.TEXT_PT,
            va="top",
            color=palette.QUIET,
            linespacing=1.5,
        )
        ratios = [1.0, 1.3, 1.0] + [0.7] * has_reserve
        grid = figure.add_gridspec(
            len(ratios),
            1,
            height_ratios=ratios,
            hspace=0.12,
            left=0.065,
            right=0.975,
            top=top - 0.06 - 0.023 * (len(facts) - 1),
            bottom=0.285,
        )
        profile = figure.add_subplot(grid[0])
        panels = [profile] + [
            figure.add_subplot(grid[i], sharex=profile) for i in range(1, len(ratios))
        ]
        draw_profile(profile, view)
        _draw_speed(panels[1], view)
        _draw_power(panels[2], view)
        if has_reserve:
            _draw_reserve(panels[3], view)
        style.share_distance_axis(
            panels, view.course.distance_m / view.measures.m_per_distance, view.measures
        )
        for axes in panels:
            shade_bands(axes, view)
        for axes in panels[:-1]:
            axes.spines["bottom"].set_visible(False)
        _draw_parts(figure, 0.165, f"Work, {words.number(view.work_j / 1e3)} kJ", view.energy)
        _draw_parts(figure, 0.085, f"Positions, {words.stopwatch(view.time_s)}", view.sitting)
        style.small_print(figure, words.CAUTION, y=0.014, n_letters=130)
    return figure


def _places(view: RideView) -> np.ndarray:
    return np.array(view.series.distances_m) / view.measures.m_per_distance


def _draw_speed(axes: Axes, view: RideView) -> None:
    per_mps = 1.0 / view.measures.mps_per_speed
    speeds = per_mps * np.array(view.series.speeds_mps)
    ceilings = np.array(view.series.ceilings_mps, dtype=np.float64) * per_mps
    top = 1.1 * float(speeds.max())
    axes.plot(
        _places(view), ceilings, color=palette.BUILD_COLOURS[1], linewidth=style.HAIR_PT, zorder=3
    )
    axes.plot(_places(view), speeds, color=RIDE_COLOUR, linewidth=style.CURVE_PT, zorder=4)
    axes.set_ylim(0.0, top)
    axes.set_ylabel(f"Speed, {view.measures.speed_unit}")
    if np.isfinite(ceilings).any() and (ceilings[np.isfinite(ceilings)] < top).any():
        axes.text(
            0.995,
            0.03,
            "thin: limit of corners and braking",
            transform=axes.transAxes,
            ha="right",
            fontsize=style.SMALL_PT,
            color=palette.BUILD_COLOURS[1],
            zorder=6,
            bbox={"facecolor": palette.PAPER, "alpha": 0.8, "edgecolor": "none", "pad": 1.0},
        )


def _draw_power(axes: Axes, view: RideView) -> None:
    powers = np.array(view.series.powers_w)
    axes.fill_between(
        _places(view),
        powers,
        0.0,
        step="post",
        color=palette.blended(POWER_COLOUR, palette.PAPER, 0.75),
        linewidth=0,
        zorder=2,
    )
    axes.step(_places(view), powers, where="post", color=POWER_COLOUR, linewidth=1.2, zorder=4)
    axes.axhline(view.mean_power_w, color=palette.QUIET, linewidth=style.HAIR_PT, zorder=3)
    axes.set_ylim(0.0, max(1.15 * float(powers.max()), 1.0))
    axes.set_ylabel("Power, W")


def _draw_reserve(axes: Axes, view: RideView) -> None:
    shares = 100.0 * np.array(view.series.reserve_shares)
    axes.fill_between(
        _places(view),
        shares,
        0.0,
        color=palette.blended(RESERVE_COLOUR, palette.PAPER, 0.75),
        linewidth=0,
        zorder=2,
    )
    axes.plot(_places(view), shares, color=RESERVE_COLOUR, linewidth=style.CURVE_PT, zorder=4)
    axes.set_ylim(0.0, 105.0)
    axes.set_yticks([0.0, 50.0, 100.0])
    axes.set_ylabel("W′ left, %")


def _draw_parts(figure: Figure, bottom: float, title: str, parts: Sequence[PartRow]) -> None:
    """One bar of parts, labelled inside where they fit, else below."""
    axes = figure.add_axes((0.065, bottom, 0.91, 0.028))
    shown = [part for part in parts if part.share > 0.0005]
    whole = sum(part.share for part in shown)
    at, small = 0.0, []
    for part in shown:
        width = part.share / whole
        axes.barh(0.0, width, left=at, height=1.0, color=part_colour(part), linewidth=0)
        text = f"{part.label} {words.percent(part.share)}"
        if style.fitted(figure, text, 10.0 * width, size_pt=style.SMALL_PT) == text:
            axes.text(
                at + 0.5 * width, 0.0, text, ha="center", va="center", fontsize=style.SMALL_PT
            )
        else:
            small.append(text)
        at += width
    axes.set_xlim(0.0, 1.0)
    axes.set_ylim(-0.5, 0.5)
    axes.set_axis_off()
    figure.text(0.065, bottom + 0.031, title, fontsize=style.SMALL_PT, weight="bold", va="bottom")
    if small:
        figure.text(
            0.975,
            bottom + 0.031,
            " · ".join(small),
            fontsize=style.SMALL_PT,
            color=palette.QUIET,
            ha="right",
            va="bottom",
        )
