"""Fonts, widths and the house look of all matplotlib figures, once.

Figures are made without pyplot: nothing here keeps state or opens a window. Colours stand in
``palette.py``, which loads no matplotlib.
"""

from __future__ import annotations

import base64
import io
import re
import textwrap
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties

from simulator.measures import METRIC, Measures
from simulator.report.palette import INK, LINE, PAPER, QUIET

TITLE_PT = 14.0
TEXT_PT = 9.5
SMALL_PT = 8.5
CURVE_PT = 1.6
HAIR_PT = 0.7
DPI = 150

NARROW_IN = 3.6
"""Width of a picture for a phone: shown across its screen, type is as large as it says."""

NARROW_EDGE_IN = 0.06
_NARROW_TICKS_IN = 0.4
_NARROW_LINE_IN = 0.17
_NARROW_GAP_IN = 0.2

Piece = tuple[str, str]
"""Words and their colour."""

_SETTINGS: dict[Any, Any] = {
    "font.family": ["DejaVu Sans"],
    "font.size": TEXT_PT,
    # Names of tracks and builds may hold dollar signs; they are never formulas.
    "text.parse_math": False,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.edgecolor": QUIET,
    "axes.labelcolor": QUIET,
    "axes.linewidth": HAIR_PT,
    "axes.unicode_minus": True,
    "xtick.color": QUIET,
    "ytick.color": QUIET,
    "xtick.labelsize": SMALL_PT,
    "ytick.labelsize": SMALL_PT,
    "text.color": INK,
    "svg.hashsalt": "buildgap",
    "svg.fonttype": "path",
}


@contextmanager
def house_style() -> Iterator[None]:
    """Our settings while a figure is made or written, and nobody's afterwards."""
    with mpl.rc_context(_SETTINGS), warnings.catch_warnings():
        # A name in a script that the font lacks shows as boxes; that is no reason to stop.
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        yield


def new_figure(width_in: float, height_in: float) -> Figure:
    """An empty figure with its own canvas."""
    figure = Figure(figsize=(width_in, height_in), facecolor=PAPER)
    FigureCanvasAgg(figure)
    return figure


# Letters that steer terminals may stand in a name; in XML they may not stand at all.
_NOT_IN_XML = re.compile(rb"[\x00-\x08\x0b\x0c\x0e-\x1f]")


def picture_bytes(figure: Figure, kind: str) -> bytes:
    """The figure as a file: `kind` is ``"png"`` or ``"svg"``. Same figure, same bytes."""
    stream = io.BytesIO()
    metadata = {"Software": None} if kind == "png" else {"Date": None, "Creator": "buildgap"}
    more: dict[str, Any] = {"pil_kwargs": {"compress_level": 4}} if kind == "png" else {}
    with house_style():
        figure.savefig(stream, format=kind, dpi=DPI, metadata=metadata, facecolor=PAPER, **more)
    data = stream.getvalue()
    return _NOT_IN_XML.sub(b"?", data) if kind == "svg" else data


def svg_base64(figure: Figure) -> str:
    """The figure as it travels inside a page."""
    return base64.b64encode(picture_bytes(figure, "svg")).decode()


def quiet_axes(axes: Axes) -> None:
    """Thin level lines behind the data, nothing else."""
    axes.grid(axis="y", color=LINE, linewidth=HAIR_PT, zorder=0.5)
    axes.set_axisbelow(True)
    axes.tick_params(length=3, width=HAIR_PT)


def share_distance_axis(panels: Sequence[Axes], end: float, measures: Measures = METRIC) -> None:
    """Panels above each other over one distance axis, which only the lowest one names.

    ``end`` is where it ends, in the unit that is shown.
    """
    for axes in panels:
        quiet_axes(axes)
        axes.yaxis.set_label_coords(-0.045, 0.5)
    for axes in panels[:-1]:
        axes.tick_params(labelbottom=False, bottom=False)
    panels[0].set_xlim(0.0, end)
    panels[-1].set_xlabel(f"Distance, {measures.distance_unit}")


def small_print(
    figure: Figure, text: str, *, y: float, n_letters: int, size_pt: float = SMALL_PT
) -> None:
    """Quiet lines at the foot of a figure, broken at so many letters."""
    lines = "\n".join(textwrap.wrap(text, n_letters))
    figure.text(0.065, y, lines, fontsize=size_pt, color=QUIET, va="bottom")


def width_in(
    figure: Figure, text: str, *, size_pt: float = TEXT_PT, weight: str = "normal"
) -> float:
    """How wide a text is as drawn, in inches."""
    canvas: Any = figure.canvas
    font = FontProperties(family=_SETTINGS["font.family"], size=size_pt, weight=weight)
    width, _, _ = canvas.get_renderer().get_text_width_height_descent(text, font, ismath=False)
    return float(width) / figure.dpi


def broken(
    figure: Figure, text: str, most_in: float, *, size_pt: float = TEXT_PT, weight: str = "normal"
) -> list[str]:
    """Lines of whole words, none wider as drawn than so many inches but for a word by itself."""
    lines: list[str] = []
    for word in text.split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_in(figure, longer, size_pt=size_pt, weight=weight) > most_in:
            lines.append(word)
        else:
            lines[-1:] = [longer]
    return lines


def fitted(
    figure: Figure, text: str, most_in: float, *, size_pt: float = TEXT_PT, weight: str = "normal"
) -> str:
    """A name cut so that it is at most so wide as drawn, in inches."""
    if width_in(figure, text, size_pt=size_pt, weight=weight) <= most_in:
        return text
    while text and width_in(figure, text + "…", size_pt=size_pt, weight=weight) > most_in:
        text = text[:-1]
    return text + "…"


def narrow_head(
    figure: Figure, title: str, pieces: Sequence[Piece] = (), *, top_in: float
) -> float:
    """A heading and words in colour below each other, across a narrow picture.

    Parameters
    ----------
    figure : Figure
    title : str
        In bold, broken where it must be.
    pieces : sequence of Piece
        Follow one another on lines of their own; none is broken.
    top_in : float
        Upper edge, in inches from the top of the figure.

    Returns
    -------
    float
        Lower edge, in inches from the top.
    """
    height_in = figure.get_figheight()
    room_in = NARROW_IN - 2.0 * NARROW_EDGE_IN

    def put(x_in: float, text: str, **more: Any) -> None:
        y_in = height_in - top_in
        figure.text(x_in / NARROW_IN, y_in / height_in, text, va="top", fontsize=SMALL_PT, **more)

    for line in broken(figure, title, room_in, size_pt=SMALL_PT, weight="bold"):
        put(NARROW_EDGE_IN, line, weight="bold")
        top_in += _NARROW_LINE_IN
    x_in = NARROW_EDGE_IN
    for text, colour in pieces:
        text = fitted(figure, text, room_in, size_pt=SMALL_PT)
        size_in = width_in(figure, text, size_pt=SMALL_PT)
        if x_in > NARROW_EDGE_IN and x_in + size_in > NARROW_IN - NARROW_EDGE_IN:
            x_in, top_in = NARROW_EDGE_IN, top_in + _NARROW_LINE_IN
        put(x_in, text, color=colour)
        x_in += size_in + 0.14
    return top_in + (_NARROW_LINE_IN if pieces else 0.0) + 0.05


def narrow_panels(
    heads: Sequence[tuple[str, Sequence[Piece]]], heights_in: Sequence[float]
) -> tuple[Figure, list[Axes]]:
    """Panels above each other across a phone, each under its heading, over one distance axis.

    Parameters
    ----------
    heads : sequence of (str, sequence of Piece)
        Heading and words in colour of each panel.
    heights_in : sequence of float
        Heights of the panels, in inches.
    """
    tops_in = []
    bottom_in = NARROW_EDGE_IN
    scratch = new_figure(NARROW_IN, 1.0)
    for (title, pieces), height_in in zip(heads, heights_in, strict=True):
        tops_in.append(narrow_head(scratch, title, pieces, top_in=bottom_in))
        bottom_in = tops_in[-1] + height_in + _NARROW_GAP_IN
    full_in = bottom_in + 0.32
    figure = new_figure(NARROW_IN, full_in)
    panels: list[Axes] = []
    bottom_in = NARROW_EDGE_IN
    for (title, pieces), top_in, height_in in zip(heads, tops_in, heights_in, strict=True):
        narrow_head(figure, title, pieces, top_in=bottom_in)
        bottom_in = top_in + height_in
        box = (
            _NARROW_TICKS_IN / NARROW_IN,
            1.0 - bottom_in / full_in,
            1.0 - (_NARROW_TICKS_IN + 2.0 * NARROW_EDGE_IN) / NARROW_IN,
            height_in / full_in,
        )
        panels.append(figure.add_axes(box, sharex=panels[0] if panels else None))
        bottom_in += _NARROW_GAP_IN
    return figure, panels
