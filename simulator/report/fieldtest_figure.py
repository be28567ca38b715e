"""The picture of an `AnswerView`: dots with intervals, one chart under the other."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke
from matplotlib.ticker import MaxNLocator

from simulator.report import palette, style, words
from simulator.report.fieldtest_view import AnswerView, Chart, Scatter

_ROW_IN = 0.27
_AROUND_IN = 0.95
_WIDTH_IN = 10.0
_LABEL_IN = 3.1
_TEXT_IN = 1.5
_SCATTER_IN = 2.4
_MARGIN_IN = 0.95
_NARROW_ROW_IN = 0.43
_NARROW_SCATTER_IN = 2.0
_NARROW_LEFT_IN = 0.75
_MOST_TICKS = 5


def draw_answer(view: AnswerView) -> Figure:
    """All charts of an answer under its sentence."""
    title = palette.balanced(view.sentence, 84)
    head_in = 0.55 + 0.28 * (title.count("\n") + 1)
    plots_in = [_plot_in(chart) for chart in view.charts]
    height_in = head_in + sum(_AROUND_IN + plot_in for plot_in in plots_in) + 0.6
    with style.house_style():
        figure = style.new_figure(_WIDTH_IN, height_in)
        figure.text(
            0.03, 1.0 - 0.2 / height_in, title, fontsize=13.0, weight="bold", va="top",
            linespacing=1.3,
        )  # fmt: skip
        top_in = height_in - head_in
        for chart, plot_in in zip(view.charts, plots_in, strict=True):
            left_in = _MARGIN_IN if isinstance(chart, Scatter) else _LABEL_IN
            axes = figure.add_axes(
                (
                    left_in / _WIDTH_IN,
                    (top_in - 0.3 - plot_in) / height_in,
                    (_WIDTH_IN - left_in - _TEXT_IN) / _WIDTH_IN,
                    plot_in / height_in,
                )
            )
            figure.text(
                0.03, (top_in - 0.08) / height_in, chart.title, fontsize=10.0, weight="bold",
                va="top",
            )  # fmt: skip
            if isinstance(chart, Scatter):
                _draw_scatter(axes, chart)
                _name_outlines(axes, chart)
            else:
                _draw_chart(figure, axes, chart)
            top_in -= _AROUND_IN + plot_in
        if view.legend:
            figure.text(0.03, 0.32 / height_in, view.legend, fontsize=style.SMALL_PT, va="bottom")
        figure.text(
            0.03, 0.1 / height_in, words.CAUTION, fontsize=7.5, color=palette.QUIET, va="bottom"
        )
    return figure


def draw_answer_narrow(view: AnswerView) -> Figure:
    """All charts for a phone, each row named above its bar; without the sentence."""
    with style.house_style():
        scratch = style.new_figure(style.NARROW_IN, 1.0)
        full_in = _put_narrow(scratch, view, axes_too=False)
        figure = style.new_figure(style.NARROW_IN, full_in)
        _put_narrow(figure, view, axes_too=True)
    return figure


def _put_narrow(figure: Figure, view: AnswerView, *, axes_too: bool) -> float:
    """Draw the charts from the top; how high all of it is, in inches."""
    top_in, full_in = 0.05, figure.get_figheight()
    for chart in view.charts:
        if isinstance(chart, Scatter):
            left_in, plot_in = _NARROW_LEFT_IN, _NARROW_SCATTER_IN
            names = [(o.label, _build_colour(o.colour)) for o in chart.outlines]
        else:
            left_in, plot_in = 0.26, _NARROW_ROW_IN * max(len(chart.rows), 1)
            names = []
        top_in = style.narrow_head(figure, chart.title, names, top_in=top_in)
        axis_in = style.NARROW_IN - left_in - 0.1
        named = style.broken(figure, chart.x_label, axis_in, size_pt=style.SMALL_PT)
        if axes_too:
            box = (
                left_in / style.NARROW_IN,
                1.0 - (top_in + plot_in) / full_in,
                1.0 - (left_in + 0.16) / style.NARROW_IN,
                plot_in / full_in,
            )
            axes = figure.add_axes(box)
            if isinstance(chart, Scatter):
                _draw_scatter(axes, chart)
            else:
                _draw_dots(axes, chart)
                _name_above(figure, axes, chart)
            axes.set_xlabel("\n".join(named), fontsize=style.SMALL_PT)
            axes.xaxis.set_major_locator(MaxNLocator(_MOST_TICKS))
        top_in += plot_in + 0.42 + 0.15 * len(named)
    if view.legend:
        room_in = style.NARROW_IN - 2.0 * style.NARROW_EDGE_IN
        lines = style.broken(figure, view.legend, room_in, size_pt=style.SMALL_PT)
        if axes_too:
            figure.text(
                style.NARROW_EDGE_IN / style.NARROW_IN, 1.0 - top_in / full_in, "\n".join(lines),
                fontsize=style.SMALL_PT, va="top",
            )  # fmt: skip
        top_in += 0.17 * len(lines)
    return top_in + 0.05


def _name_above(figure: Figure, axes: Axes, chart: Chart) -> None:
    """The name of a row at the left above its bar, its figure at the right."""
    across = axes.get_yaxis_transform()
    for y, row in enumerate(chart.rows):
        text_in = style.width_in(figure, row.text, size_pt=style.SMALL_PT) if row.text else 0.0
        name = style.fitted(
            figure, row.label, style.NARROW_IN - 0.6 - text_in, size_pt=style.SMALL_PT
        )
        for x, text, side in ((0.0, name, "left"), (1.0, row.text, "right")):
            axes.text(
                x, y - 0.38, text, transform=across, fontsize=style.SMALL_PT, ha=side, va="center",
                zorder=5, path_effects=[withStroke(linewidth=2.5, foreground=palette.PAPER)],
            )  # fmt: skip
    axes.set_ylim(len(chart.rows) - 0.6, -0.75)
    axes.set_yticks([])


def _plot_in(chart: Chart | Scatter) -> float:
    if isinstance(chart, Scatter):
        return _SCATTER_IN
    return _ROW_IN * max(len(chart.rows), 1)


def _build_colour(i: int) -> str:
    return palette.BUILD_COLOURS[i % len(palette.BUILD_COLOURS)]


def _draw_scatter(axes: Axes, chart: Scatter) -> None:
    if chart.band is not None:
        axes.axhspan(*chart.band, color=palette.GROUND, linewidth=0, zorder=0.2)
        axes.axhline(0.0, color=palette.QUIET, linewidth=style.HAIR_PT * 1.5, zorder=1)
    for mark in chart.marks:
        axes.plot([mark.x], [mark.y], "o", color=_build_colour(mark.colour), markersize=6, zorder=4)
    axes.grid(color=palette.LINE, linewidth=style.HAIR_PT)
    axes.set_axisbelow(True)
    axes.margins(x=0.04, y=0.08)
    for outline in chart.outlines:
        colour = _build_colour(outline.colour)
        axes.plot(outline.xs, outline.ys, color=colour, linewidth=1.6, zorder=3)
    axes.set_xlabel(chart.x_label)
    axes.set_ylabel(chart.y_label)


def _name_outlines(axes: Axes, chart: Scatter) -> None:
    """Names at the right of the outlines, in their colours."""
    ends = _apart([max(zip(o.xs, o.ys, strict=True))[1] for o in chart.outlines], axes)
    for outline, y in zip(chart.outlines, ends, strict=True):
        axes.annotate(
            outline.label, (1.02, y), xycoords=axes.get_yaxis_transform(), va="center",
            fontsize=style.SMALL_PT, color=_build_colour(outline.colour), annotation_clip=False,
        )  # fmt: skip


def _apart(heights: list[float], axes: Axes) -> list[float]:
    """Heights of names, moved up where one would lie on another."""
    low, high = axes.get_ylim()
    least = 0.09 * (high - low)
    placed: dict[int, float] = {}
    for i in sorted(range(len(heights)), key=heights.__getitem__):
        floor = max(placed.values(), default=-float("inf")) + least
        placed[i] = max(heights[i], floor)
    return [placed[i] for i in range(len(heights))]


def _draw_chart(figure: Figure, axes: Axes, chart: Chart) -> None:
    """Dots with intervals, named at the left, their figures at the right."""
    _draw_dots(axes, chart)
    for y, row in enumerate(chart.rows):
        if row.text:
            axes.annotate(
                row.text, (1.02, y), xycoords=axes.get_yaxis_transform(), va="center",
                fontsize=style.SMALL_PT, annotation_clip=False,
            )  # fmt: skip
    names = [style.fitted(figure, row.label, _LABEL_IN - 0.4) for row in chart.rows]
    axes.set_yticks(range(len(names)), names)
    axes.tick_params(axis="y", length=0, labelcolor=palette.INK)
    axes.set_xlabel(chart.x_label)


def _draw_dots(axes: Axes, chart: Chart) -> None:
    for y, row in enumerate(chart.rows):
        i = row.colour
        colour = palette.INK if i is None else _build_colour(i)
        if row.low is not None and row.high is not None:
            axes.plot(
                [row.low, row.high], [y, y], color=colour, linewidth=6.0, alpha=0.3,
                solid_capstyle="butt", zorder=3,
            )  # fmt: skip
        axes.plot([row.value], [y], "o", color=colour, markersize=6, zorder=4)
    if chart.band is not None:
        axes.axvspan(*chart.band, color=palette.GROUND, linewidth=0, zorder=0.2)
    for at, text in chart.lines:
        axes.axvline(at, color=palette.QUIET, linewidth=style.HAIR_PT * 1.5, zorder=1)
        if text:
            axes.annotate(
                f" {text}", (at, 0.02), xycoords=axes.get_xaxis_transform(), va="bottom",
                fontsize=style.SMALL_PT, color=palette.QUIET,
            )  # fmt: skip
    axes.set_ylim(len(chart.rows) - 0.4, -0.6)
    axes.spines["left"].set_visible(False)
    axes.grid(axis="x", color=palette.LINE, linewidth=style.HAIR_PT)
    axes.set_axisbelow(True)
    axes.margins(x=0.06)
    if chart.most is not None:
        low = min(0.0, *(row.low if row.low is not None else row.value for row in chart.rows))
        axes.set_xlim(max(low * 1.05, -chart.most), chart.most)
