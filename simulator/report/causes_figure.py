"""Places × causes as a picture: what each cause adds on each climb, descent and flat."""

from __future__ import annotations

from typing import cast

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from simulator.report import palette, style, words
from simulator.report.labels import shown_causes
from simulator.report.views import GapView, MatrixView

_MOST_ROWS = 26


def draw_causes(view: GapView) -> Figure:
    """Places × causes: what each cause adds on each climb, descent and flat, in seconds."""
    matrix = view.matrix
    rows = shown_rows(matrix)
    columns = shown_causes(matrix)
    n_rows, n_causes = len(rows), len(columns)
    with style.house_style():
        left_in, cell_in, row_in, top_in = 1.9, 0.95, 0.34, 1.15
        width, height = left_in + cell_in * (n_causes + 1) + 0.25, top_in + row_in * (n_rows + 2)
        width = max(width, 6.0)
        figure = style.new_figure(width, height)
        axes = figure.add_axes(
            (
                left_in / width,
                0.1 / height,
                cell_in * (n_causes + 1) / width,
                row_in * (n_rows + 2) / height,
            )
        )
        _draw_matrix(axes, matrix, rows, columns)
        figure.text(
            0.25 / width, 1.0 - 0.2 / height, "Where and why", fontsize=14, weight="bold", va="top"
        )
        what = f"Seconds that {view.other.name} loses to {view.first.name} (minus: wins)"
        figure.text(
            0.25 / width,
            1.0 - 0.52 / height,
            style.fitted(figure, what, width - 0.5),
            va="top",
            color=palette.QUIET,
        )
    return figure


def shown_rows(matrix: MatrixView) -> tuple[int, ...]:
    """Rows to show, in course order: all, or the dearest where there are too many to read."""
    order = sorted(range(len(matrix.places)), key=lambda i: -abs(matrix.place_totals_s[i]))
    return tuple(sorted(order[:_MOST_ROWS]))


def _draw_matrix(
    axes: Axes, matrix: MatrixView, rows: tuple[int, ...], columns: tuple[int, ...]
) -> None:
    n_causes = len(columns)
    axes.set_xlim(0, n_causes + 1)
    axes.set_ylim(len(rows) + 1.6, -0.4)
    axes.set_axis_off()
    scale = max((abs(matrix.gaps_s[i][j]) for i in rows for j in columns), default=0.0)
    for j, cause in enumerate((*(matrix.causes[k] for k in columns), "")):
        label = words.cause_short(cause) if cause else "All"
        axes.text(j + 0.5, -0.2, label, ha="center", va="bottom", weight="bold", fontsize=9)
    for y, i in enumerate(rows):
        name = style.fitted(cast(Figure, axes.figure), matrix.places[i], 1.6) + "  "
        axes.text(-0.05, y + 0.5, name, ha="right", va="center")
        for j, k in enumerate(columns):
            value = matrix.gaps_s[i][k]
            colour = palette.blended(palette.loss_colour(value, scale), palette.PAPER, 0.35)
            axes.add_patch(Rectangle((j + 0.02, y + 0.04), 0.96, 0.92, color=colour, linewidth=0))
            axes.text(j + 0.5, y + 0.5, words.signed(value), ha="center", va="center", fontsize=9)
        axes.text(
            n_causes + 0.5,
            y + 0.5,
            words.signed(matrix.place_totals_s[i]),
            ha="center",
            va="center",
        )
    bottom = len(rows) + 0.7
    left_out = len(matrix.places) - len(rows)
    axes.text(
        -0.05,
        bottom,
        "All  " if not left_out else f"All, with {left_out} more  ",
        ha="right",
        va="center",
        weight="bold",
    )
    axes.plot(
        [0, n_causes + 1],
        [bottom - 0.45, bottom - 0.45],
        color=palette.QUIET,
        linewidth=style.HAIR_PT,
    )
    for j, value in enumerate((*(matrix.cause_totals_s[k] for k in columns), matrix.total_s)):
        axes.text(j + 0.5, bottom, words.signed(value), ha="center", va="center", weight="bold")
