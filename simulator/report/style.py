"""Colours, fonts and widths of all pictures and pages, once.

The colours of builds are those of Okabe and Ito (Color Universal Design, 2008), told apart by
people with any common kind of colour blindness. Figures are made without pyplot: nothing here
keeps state or opens a window.
"""

from __future__ import annotations

import io
import textwrap
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

BUILD_COLOURS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9")
"""In the order in which builds are named; the first one is what others are compared with."""

INK = "#1d2529"
QUIET = "#5b666c"
LINE = "#c9cfcd"
PAPER = "#ffffff"
GROUND = "#dfe3de"
GROUND_EDGE = "#8d9890"
EVEN = "#d9d9d2"
"""Neither build gains."""

BAND_COLOURS = {"climb": "#f3ead8", "descent": "#e1ebf1", "flat": None}
"""Quiet shading behind the curves."""

TITLE_PT = 14.0
TEXT_PT = 9.5
SMALL_PT = 8.5
CURVE_PT = 1.6
HAIR_PT = 0.7
DPI = 150

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


def picture_bytes(figure: Figure, kind: str) -> bytes:
    """The figure as a file: `kind` is ``"png"`` or ``"svg"``. Same figure, same bytes."""
    stream = io.BytesIO()
    metadata = {"Software": None} if kind == "png" else {"Date": None, "Creator": "buildgap"}
    with house_style():
        figure.savefig(stream, format=kind, dpi=DPI, metadata=metadata, facecolor=PAPER)
    return stream.getvalue()


def quiet_axes(axes: Axes) -> None:
    """Thin level lines behind the data, nothing else."""
    axes.grid(axis="y", color=LINE, linewidth=HAIR_PT, zorder=0.5)
    axes.set_axisbelow(True)
    axes.tick_params(length=3, width=HAIR_PT)


def blended(colour: str, towards: str, share: float) -> str:
    """A colour mixed with another: share 0 gives `colour`, 1 gives `towards`; both ``#rrggbb``."""
    pairs = [(int(colour[i : i + 2], 16), int(towards[i : i + 2], 16)) for i in (1, 3, 5)]
    return "#" + "".join(f"{round(a + (b - a) * share):02x}" for a, b in pairs)


def loss_colour(rate: float, scale: float) -> str:
    """Colour of a place by who loses there: the loser's own colour, paler the less it loses.

    ``rate`` > 0 means that the second build loses; at ``scale`` the colour is full.
    """
    if scale <= 0.0:
        return EVEN
    strength = min(abs(rate) / scale, 1.0)
    return blended(EVEN, BUILD_COLOURS[1] if rate > 0.0 else BUILD_COLOURS[0], strength)


def short(text: str, most: int) -> str:
    """A name cut to at most so many characters."""
    return text if len(text) <= most else text[: most - 1] + "…"


def balanced(text: str, most: int) -> str:
    """A sentence broken into lines of much the same length."""
    n_lines = len(textwrap.wrap(text, most))
    width = most
    while width > 20 and len(textwrap.wrap(text, width - 1)) == n_lines:
        width -= 1
    return textwrap.fill(text, width)
