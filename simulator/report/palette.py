"""Colours of pictures and pages, once, and names cut to fit them.

The colours of builds are those of Okabe and Ito (Color Universal Design, 2008), told apart by
people with any common kind of colour blindness.
"""

from __future__ import annotations

import textwrap

from simulator.report import words

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


def balanced(text: str, most: int) -> str:
    """A sentence broken into lines of much the same length; numbers keep their units."""
    text = words.unbroken(text)
    n_lines = len(textwrap.wrap(text, most))
    width = most
    while width > 20 and len(textwrap.wrap(text, width - 1)) == n_lines:
        width -= 1
    return textwrap.fill(text, width)
