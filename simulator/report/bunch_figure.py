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
        _draw_panels(panels, view)
        panels[0].set_ylabel(f"Bunch, {view.measures.speed_unit}")
        panels[1].set_ylabel("Power needed, W")
        _name_needs(panels[1], view)
        if has_reserve:
            panels[2].set_ylabel("W′ left, kJ")
            lost = [(f"× {name}\n{where}", colour, "normal") for name, where, colour in _lost(view)]
            _in_margin(panels[2], lost)
        text = " ".join(note.text for note in view.notes if note.level == "caution")
        style.small_print(figure, text, y=0.012, n_letters=165, size_pt=7.5)
    return figure


def draw_bunch_narrow(view: BunchView) -> Figure:
    """The same for a phone: one panel under the other, its words above it; no sentence."""
    needs = [
        (f"{words.short_name(b.name, 20)} {words.number(b.mean_w)} W mean", _colour(i))
        for i, b in enumerate(view.builds)
    ]
    if view.cp_w is not None:
        needs.append((f"— critical power {words.number(view.cp_w)} W", palette.QUIET))
    heads: list[tuple[str, list[style.Piece]]] = [
        (f"Speed of the bunch, {view.measures.speed_unit}", []),
        ("Power needed, W", needs),
    ]
    if view.full_j is not None:
        lost = [(f"× {name}: {where}", colour) for name, where, colour in _lost(view)]
        heads.append(("W′ left, kJ", lost))
    with style.house_style():
        figure, panels = style.narrow_panels(heads, [0.9, 1.8, 1.2][: len(heads)])
        _draw_panels(panels, view, curve_pt=0.8)
    return figure


def _colour(i: int) -> str:
    return palette.BUILD_COLOURS[i % len(palette.BUILD_COLOURS)]


def _draw_panels(panels: list[Axes], view: BunchView, *, curve_pt: float = style.CURVE_PT) -> None:
    """Curves of speed, power needed and W′."""
    measures = view.measures
    at = np.array(view.distances_m) / measures.m_per_distance
    speeds = np.array(view.speeds_mps) / measures.mps_per_speed
    panels[0].plot(at, speeds, color=palette.INK, linewidth=curve_pt)
    panels[0].set_ylim(bottom=0.0)
    _draw_needs(panels[1], view, at, curve_pt=0.7 * curve_pt)
    if view.full_j is not None:
        _draw_reserves(panels[2], view, at, curve_pt=curve_pt)
    style.share_distance_axis(panels, at[-1], measures)


def _draw_reserves(axes: Axes, view: BunchView, at: np.ndarray, *, curve_pt: float) -> None:
    for i, build in enumerate(view.builds):
        left_kj, colour = np.array(build.reserves_j) / 1000.0, _colour(i)
        # Behind the place where contact is lost nobody follows this bunch any more.
        lost_m = np.inf if build.lost_at_m is None else build.lost_at_m
        stays = np.array(view.distances_m) <= lost_m
        axes.plot(at[stays], left_kj[stays], color=colour, linewidth=curve_pt)
        if not stays.all():
            axes.plot(at[stays][-1], left_kj[stays][-1], "x", color=colour)
    axes.set_ylim(0.0, 1.05 * (view.full_j or 1.0) / 1000.0)


def _draw_needs(axes: Axes, view: BunchView, at: np.ndarray, *, curve_pt: float) -> None:
    highest = 0.0
    for i, build in enumerate(view.builds):
        axes.plot(
            at, build.needed_w, color=_colour(i), linewidth=curve_pt, drawstyle="steps-post",
            zorder=3 + i,
        )  # fmt: skip
        highest = max(highest, float(np.percentile(build.needed_w, 99.5)))
    if view.cp_w is not None:
        axes.axhline(view.cp_w, color=palette.INK, linewidth=style.HAIR_PT, zorder=1)
        highest = max(highest, view.cp_w)
    axes.set_ylim(0.0, 1.1 * highest)


def _name_needs(axes: Axes, view: BunchView) -> None:
    """Who needs how much, in the margin: on the curves it would hide what it explains."""
    named = [
        (f"{words.short_name(b.name, 14)}\n{words.number(b.mean_w)} W mean", _colour(i), "bold")
        for i, b in enumerate(view.builds)
    ]
    if view.cp_w is not None:
        text = f"— critical power\n{words.number(view.cp_w)} W"
        named.append((text, palette.QUIET, "normal"))
    _in_margin(axes, named)


def _lost(view: BunchView) -> list[tuple[str, str, str]]:
    """Name, words and colour of each build that loses contact."""
    return [
        (words.short_name(b.name, 14), f"lost at {view.measures.place(b.lost_at_m)}", _colour(i))
        for i, b in enumerate(view.builds)
        if b.lost_at_m is not None
    ]


def _in_margin(axes: Axes, named: list[tuple[str, str, str]]) -> None:
    """Words of two lines below each other, right of a panel: text, colour and weight."""
    for i, (text, colour, weight) in enumerate(named):
        axes.annotate(
            text, (1.012, 0.92 - 0.26 * i), xycoords="axes fraction", color=colour, weight=weight,
            va="top", fontsize=style.SMALL_PT, annotation_clip=False,
        )  # fmt: skip
