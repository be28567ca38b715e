"""The picture of an `AnswerView`: dots with intervals, one chart under the other."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from simulator.report import palette, style, words
from simulator.report.fieldtest_view import AnswerView, Chart

_ROW_IN = 0.27
_AROUND_IN = 0.95
_WIDTH_IN = 10.0
_LABEL_IN = 3.1
_TEXT_IN = 1.5


def draw_answer(view: AnswerView) -> Figure:
    """All charts of an answer under its sentence."""
    title = palette.balanced(view.sentence, 84)
    head_in = 0.55 + 0.28 * (title.count("\n") + 1)
    heights_in = [_AROUND_IN + _ROW_IN * max(len(chart.rows), 1) for chart in view.charts]
    height_in = head_in + sum(heights_in) + 0.6
    with style.house_style():
        figure = style.new_figure(_WIDTH_IN, height_in)
        figure.text(
            0.03, 1.0 - 0.2 / height_in, title, fontsize=13.0, weight="bold", va="top",
            linespacing=1.3,
        )  # fmt: skip
        top_in = height_in - head_in
        for chart, chart_in in zip(view.charts, heights_in, strict=True):
            rows_in = _ROW_IN * max(len(chart.rows), 1)
            axes = figure.add_axes(
                (
                    _LABEL_IN / _WIDTH_IN,
                    (top_in - 0.3 - rows_in) / height_in,
                    (_WIDTH_IN - _LABEL_IN - _TEXT_IN) / _WIDTH_IN,
                    rows_in / height_in,
                )
            )
            figure.text(
                0.03, (top_in - 0.08) / height_in, chart.title, fontsize=10.0, weight="bold",
                va="top",
            )  # fmt: skip
            _draw_chart(figure, axes, chart)
            top_in -= chart_in
        if view.legend:
            figure.text(0.03, 0.32 / height_in, view.legend, fontsize=style.SMALL_PT, va="bottom")
        figure.text(
            0.03, 0.1 / height_in, words.CAUTION, fontsize=7.5, color=palette.QUIET, va="bottom"
        )
    return figure


def _draw_chart(figure: Figure, axes: Axes, chart: Chart) -> None:
    for y, row in enumerate(chart.rows):
        i = row.colour
        colour = palette.INK if i is None else palette.BUILD_COLOURS[i % len(palette.BUILD_COLOURS)]
        if row.low is not None and row.high is not None:
            axes.plot(
                [row.low, row.high], [y, y], color=colour, linewidth=6.0, alpha=0.3,
                solid_capstyle="butt", zorder=3,
            )  # fmt: skip
        axes.plot([row.value], [y], "o", color=colour, markersize=6, zorder=4)
        if row.text:
            axes.annotate(
                row.text, (1.02, y), xycoords=axes.get_yaxis_transform(), va="center",
                fontsize=style.SMALL_PT, annotation_clip=False,
            )  # fmt: skip
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
    names = [style.fitted(figure, row.label, _LABEL_IN - 0.4) for row in chart.rows]
    axes.set_yticks(range(len(names)), names)
    axes.tick_params(axis="y", length=0, labelcolor=palette.INK)
    axes.spines["left"].set_visible(False)
    axes.grid(axis="x", color=palette.LINE, linewidth=style.HAIR_PT)
    axes.set_axisbelow(True)
    axes.margins(x=0.06)
    if chart.most is not None:
        low = min(0.0, *(row.low if row.low is not None else row.value for row in chart.rows))
        axes.set_xlim(max(low * 1.05, -chart.most), chart.most)
    axes.set_xlabel(chart.x_label)
