"""The picture of a race in the bunch: speed, power needed and W′ along the course."""

from __future__ import annotations

import textwrap

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from simulator.report import palette, style, words
from simulator.report.bunch_view import BunchView


def draw_bunch(view: BunchView) -> Figure:
    """Speed of the bunch, power that each build needs, and W′ left, over one distance axis."""
    has_reserve = view.full_j is not None
    ratios = [1.0, 1.6] + ([1.2] if has_reserve else [])
    with style.house_style():
        figure = style.new_figure(11.0, 3.6 + 1.5 * len(ratios))
        title = palette.balanced(view.sentence, 88)
        figure.text(
            0.065, 0.975, title, fontsize=style.TITLE_PT, va="top", weight="bold", linespacing=1.3
        )
        top = 0.915 - 0.04 * title.count("\n")
        facts = "\n".join(textwrap.wrap(view.facts, 130))
        figure.text(0.065, top, facts, fontsize=style.TEXT_PT, va="top", color=palette.QUIET)
        grid = figure.add_gridspec(
            len(ratios), 1, height_ratios=ratios, hspace=0.14, left=0.065, right=0.88,
            top=top - 0.055 - 0.02 * facts.count("\n"), bottom=0.15,
        )  # fmt: skip
        panels = [figure.add_subplot(grid[0])]
        panels += [figure.add_subplot(grid[i], sharex=panels[0]) for i in range(1, len(ratios))]
        measures = view.measures
        at = np.array(view.distances_m) / measures.m_per_distance
        panels[0].plot(
            at, np.array(view.speeds_mps) / measures.mps_per_speed, color=palette.INK,
            linewidth=style.CURVE_PT,
        )  # fmt: skip
        panels[0].set_ylim(bottom=0.0)
        panels[0].set_ylabel(f"Bunch, {measures.speed_unit}")
        _draw_needs(panels[1], view, at)
        if has_reserve:
            for i, build in enumerate(view.builds):
                left_kj = np.array(build.reserves_j) / 1000.0
                colour = palette.BUILD_COLOURS[i % len(palette.BUILD_COLOURS)]
                # Behind the place where contact is lost nobody follows this bunch any more.
                lost_m = np.inf if build.lost_at_m is None else build.lost_at_m
                stays = np.array(view.distances_m) <= lost_m
                panels[2].plot(at[stays], left_kj[stays], color=colour, linewidth=style.CURVE_PT)
                if not stays.all():
                    panels[2].plot(at[stays][-1], left_kj[stays][-1], "x", color=colour)
                    panels[2].annotate(
                        "loses contact", (at[stays][-1], left_kj[stays][-1]), xytext=(6, 0),
                        textcoords="offset points", color=colour, fontsize=style.SMALL_PT,
                        va="center",
                    )  # fmt: skip
            panels[2].set_ylim(0.0, 1.05 * (view.full_j or 1.0) / 1000.0)
            panels[2].set_ylabel("W′ left, kJ")
        style.share_distance_axis(panels, at[-1], measures)
        text = " ".join(note.text for note in view.notes if note.level == "caution")
        style.small_print(figure, text, y=0.012, n_letters=165, size_pt=7.5)
    return figure


def _draw_needs(axes: Axes, view: BunchView, at: np.ndarray) -> None:
    highest = 0.0
    for i, build in enumerate(view.builds):
        colour = palette.BUILD_COLOURS[i % len(palette.BUILD_COLOURS)]
        axes.plot(
            at, build.needed_w, color=colour, linewidth=1.1, drawstyle="steps-post", zorder=3 + i
        )
        highest = max(highest, float(np.percentile(build.needed_w, 99.5)))
        axes.annotate(
            f"{words.short_name(build.name, 14)}\n{words.number(build.mean_w)} W mean",
            (1.012, 0.92 - 0.26 * i), xycoords="axes fraction", color=colour, weight="bold",
            va="top", fontsize=style.SMALL_PT, annotation_clip=False,
        )  # fmt: skip
    if view.cp_w is not None:
        axes.axhline(view.cp_w, color=palette.INK, linewidth=style.HAIR_PT, zorder=1)
        # In the margin, under the builds: on the curves it would hide what it explains.
        axes.annotate(
            f"— critical power\n{words.number(view.cp_w)} W",
            (1.012, 0.92 - 0.26 * len(view.builds)), xycoords="axes fraction",
            color=palette.QUIET, va="top", fontsize=style.SMALL_PT, annotation_clip=False,
        )  # fmt: skip
        highest = max(highest, view.cp_w)
    axes.set_ylim(0.0, 1.1 * highest)
    axes.set_ylabel("Power needed, W")
