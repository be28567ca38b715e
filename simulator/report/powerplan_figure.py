"""Pictures of a plan: power along the course, and the card to carry."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from simulator.measures import METRIC, Measures
from simulator.powerplan import Card
from simulator.report import palette, powerplan_words, style, words
from simulator.report.powerplan_view import PowerplanView
from simulator.units import clock

CARD_SIZES_MM = {"stem": (60.0, 120.0), "pocket": (74.0, 105.0), "page": (105.0, 148.0)}
"""Width and height of the cards: to tape on a stem, A7 for a pocket, A6."""

CARD_DPI = 300
_FOOT_PT, _FOOT_LINE_MM = 5.2, 2.3
_MM_PER_IN = 25.4
_PT_PER_MM = 72.0 / _MM_PER_IN
_PLAN, _QUICKEST, _RESERVE = palette.BUILD_COLOURS[1], palette.GROUND_EDGE, palette.BUILD_COLOURS[0]


def draw_powerplan(view: PowerplanView) -> Figure:
    """Profile, power of plan and quickest, and W′, over one distance axis."""
    has_reserve = view.full_j is not None
    many = len(view.days) > 1
    ratios = [1.0, 1.6] + ([1.0] if has_reserve else []) + ([1.3] if many else [])
    with style.house_style():
        figure = style.new_figure(11.0, 3.6 + 1.35 * len(ratios))
        title = palette.balanced(view.sentence, 88)
        figure.text(0.065, 0.975, title, fontsize=style.TITLE_PT, va="top", weight="bold")
        top = 0.915 - 0.035 * title.count("\n")
        figure.text(0.065, top, view.facts, fontsize=style.TEXT_PT, va="top", color=palette.QUIET)
        grid = figure.add_gridspec(
            len(ratios), 1, height_ratios=ratios, hspace=0.14, left=0.065, right=0.88,
            top=top - 0.05, bottom=0.125,
        )  # fmt: skip
        panels = [figure.add_subplot(grid[0])]
        panels += [figure.add_subplot(grid[i], sharex=panels[0]) for i in range(1, len(ratios))]
        _draw_panels(panels, view)
        panels[0].set_ylabel(f"Height, {view.measures.height_unit}")
        panels[1].set_ylabel("Power, W")
        _margin_labels(panels[1], _power_labels(view), panels[1].get_ylim()[1])
        if has_reserve:
            panels[2].set_ylabel("W′ left, kJ")
        if many:
            panels[-1].set_ylabel("Quickest, W")
            _margin_labels(panels[-1], _day_labels(view), panels[-1].get_ylim()[1])
        text = " ".join(note.text for note in view.notes)
        style.small_print(figure, text, y=0.012, n_letters=165, size_pt=7.5)
    return figure


def draw_powerplan_narrow(view: PowerplanView) -> Figure:
    """The same for a phone: one panel under the other, its words above it; no sentence."""
    heads: list[tuple[str, list[style.Piece]]] = [
        (f"Height, {view.measures.height_unit}", []),
        ("Power, W", [(text, colour) for text, _, colour in reversed(_power_labels(view))]),
    ]
    heights_in = [0.8, 1.7]
    if view.full_j is not None:
        heads.append(("W′ left, kJ", []))
        heights_in.append(0.9)
    if len(view.days) > 1:
        names = [(text, colour) for text, _, colour in _day_labels(view, most_letters=40)]
        heads.append(("Quickest, W", names))
        heights_in.append(1.4)
    with style.house_style():
        figure, panels = style.narrow_panels(heads, heights_in)
        _draw_panels(panels, view, per_letter=0.026)
    return figure


def _draw_panels(panels: list[Axes], view: PowerplanView, *, per_letter: float = 0.011) -> None:
    """Curves of height, power, W′ and days; a letter takes that share of the width."""
    at = np.array(view.along.distances_m) / view.measures.m_per_distance
    _draw_heights(panels[0], at, view)
    _draw_powers(panels[1], view, at, per_letter)
    if view.full_j is not None:
        _draw_reserve(panels[2], view, at)
    if len(view.days) > 1:
        _draw_days(panels[-1], view)
    style.share_distance_axis(panels, at[-1], view.measures)


def _draw_heights(axes: Axes, at: np.ndarray, view: PowerplanView) -> None:
    unit_m = view.measures.m_per_height
    heights = np.array(view.along.heights_m) / unit_m
    rise = max(float(np.ptp(heights)), 20.0 / unit_m)
    floor = float(heights.min()) - 0.08 * rise
    axes.fill_between(at, heights, floor, color=palette.GROUND, linewidth=0)
    axes.plot(at, heights, color=palette.GROUND_EDGE, linewidth=1.1)
    axes.set_ylim(floor, float(heights.min()) + 1.15 * rise)


def _draw_powers(axes: Axes, view: PowerplanView, at: np.ndarray, per_letter: float) -> None:
    unit_m = view.measures.m_per_distance
    axes.plot(
        at, view.along.quickest_w, color=_QUICKEST, linewidth=0.9, drawstyle="steps-post", zorder=2
    )
    edges = [row.start_m / unit_m for row in view.rows] + [view.rows[-1].end_m / unit_m]
    powers = [row.power_w for row in view.rows]
    axes.step(edges, [*powers, powers[-1]], where="post", color=_PLAN, linewidth=2.2, zorder=4)
    top = 1.18 * max(max(powers), float(np.percentile(view.along.quickest_w, 99)))
    axes.set_ylim(0.0, top)
    if view.cp_w is not None:
        axes.axhline(view.cp_w, color=palette.INK, linewidth=style.HAIR_PT, zorder=1)
    for row in view.rows:
        text = f"{row.power_w:.0f}" if row.power_w > 0.0 else powerplan_words.COAST
        if (row.end_m - row.start_m) / unit_m >= per_letter * at[-1] * len(text):
            axes.text(
                0.5 * (row.start_m + row.end_m) / unit_m, row.power_w + 0.02 * top, text,
                ha="center", va="bottom", color=_PLAN, weight="bold", fontsize=style.SMALL_PT,
                zorder=5,
            )  # fmt: skip


def _power_labels(view: PowerplanView) -> list[tuple[str, float, str]]:
    """Name, power at the finish and colour of the lines of power."""
    labels = [("quickest", float(view.along.quickest_w[-1]), palette.QUIET)]
    if view.cp_w is not None:
        labels.append(("critical power", view.cp_w, palette.INK))
    return [*labels, ("plan", view.rows[-1].power_w, _PLAN)]


def _margin_labels(axes: Axes, labels: list[tuple[str, float, str]], top: float) -> None:
    """Names right of the curves, pushed apart where they would touch."""
    gap = 0.095 * top
    places: list[float] = []
    for _, y, _ in sorted(labels, key=lambda label: label[1]):
        places.append(max(y, places[-1] + gap) if places else max(y, 0.04 * top))
    for (text, _, colour), y in zip(
        sorted(labels, key=lambda label: label[1]), places, strict=True
    ):
        axes.annotate(
            text, (1.012, min(y, top)), xycoords=axes.get_yaxis_transform(), color=colour,
            va="center", fontsize=style.SMALL_PT, weight="bold", annotation_clip=False,
        )  # fmt: skip


def _draw_reserve(axes: Axes, view: PowerplanView, at: np.ndarray) -> None:
    left_kj = np.array(view.along.reserves_j) / 1000.0
    axes.fill_between(at, left_kj, 0.0, color=palette.blended(_RESERVE, palette.PAPER, 0.75))
    axes.plot(at, left_kj, color=_RESERVE, linewidth=style.CURVE_PT)
    axes.set_ylim(0.0, 1.05 * (view.full_j or 1.0) / 1000.0)


def _draw_days(axes: Axes, view: PowerplanView) -> None:
    top = 0.0
    for day, colour in zip(view.days, palette.BUILD_COLOURS, strict=False):
        at = np.array(day.curve_m) / view.measures.m_per_distance
        axes.plot(at, day.curve_w, color=colour, linewidth=1.3, drawstyle="steps-post")
        top = max(top, float(np.percentile(day.curve_w, 99)))
    axes.set_ylim(0.0, 1.15 * top)


def _day_labels(view: PowerplanView, most_letters: int = 17) -> list[tuple[str, float, str]]:
    """Name, power near the finish and colour of the quickest ride of each day."""
    return [
        (words.short_name(day.name, most_letters), float(np.mean(day.curve_w[-8:])), colour)
        for day, colour in zip(view.days, palette.BUILD_COLOURS, strict=False)
    ]


def draw_card(card: Card, size: str, measures: Measures = METRIC) -> Figure:
    """The card to carry, in one of the sizes of `CARD_SIZES_MM`.

    Parameters
    ----------
    card : Card
        Its rows set the size of the type: as large as they allow.
    size : str
        "stem", "pocket" or "page".
    measures : Measures
        Units of places and climbs.

    Returns
    -------
    Figure
        In millimetres true to size when printed at 100 %.
    """
    width_mm, height_mm = CARD_SIZES_MM[size]
    bound = (powerplan_words.CARD_BOUND,) if card.is_plain_mean else ()
    laps = f" · each of {card.n_laps} laps" if card.n_laps > 1 else ""
    foot = (*bound, *powerplan_words.CARD_CAUTIONS, f"{card.build} · {card.weather}{laps}")
    head_mm, foot_mm, edge_mm = 0.105 * height_mm, len(foot) * _FOOT_LINE_MM, 0.04 * width_mm
    row_mm = (height_mm - head_mm - foot_mm - edge_mm) / (len(card.rows) + 0.7)
    row_mm = min(row_mm, 0.16 * width_mm)
    big_pt = min(0.78 * row_mm, 0.125 * width_mm) * _PT_PER_MM
    small_pt = 0.52 * big_pt
    clock_pt = min(0.66 * big_pt, _fitting_pt([clock(r.end_s) for r in card.rows], 0.27 * width_mm))
    powers = [powerplan_words.power(row.power_w) for row in card.rows]
    power_pts = [min(big_pt, _fitting_pt([text, "000"], 0.235 * width_mm)) for text in powers]
    # “coast” is longer than a figure: it alone gets smaller type.
    ridden_pts = [power_pts[i] for i, row in enumerate(card.rows) if row.power_w > 0.0]
    figures_pt = min(ridden_pts, default=big_pt)
    climbs = [
        f"↑{measures.height_number(row.ascent_m)}" if row.ascent_m >= 5.0 else ""
        for row in card.rows
    ]
    head_small_pt = max(0.62 * small_pt, _FOOT_PT)
    climb_pt = min(head_small_pt, _fitting_pt([*climbs, "↑"], 0.14 * width_mm))
    places = [measures.distance_number(row.end_m) for row in card.rows]
    place_pt = min(0.72 * big_pt, _fitting_pt(places, 0.19 * width_mm))
    with style.house_style():
        figure = style.new_figure(width_mm / _MM_PER_IN, height_mm / _MM_PER_IN)

        def put(x_mm: float, y_mm: float, text: str, pt: float, **more: Any) -> None:
            figure.text(
                x_mm / width_mm,
                1.0 - y_mm / height_mm,
                text,
                fontsize=pt,
                va="center_baseline",
                **more,
            )

        head_pt = 0.042 * height_mm * _PT_PER_MM
        # A long name gets smaller type before it is cut.
        name_pt = float(np.clip(_fitting_pt([card.course], 0.5 * width_mm), 0.6 * head_pt, head_pt))
        name = style.fitted(
            figure, card.course, (width_mm - 2.5 * edge_mm) / _MM_PER_IN * 0.64,
            size_pt=name_pt, weight="bold",
        )  # fmt: skip
        put(edge_mm, 0.045 * height_mm, name, name_pt, weight="bold")
        put(width_mm - edge_mm, 0.045 * height_mm, clock(card.time_s), head_pt, weight="bold",
            ha="right")  # fmt: skip
        columns = (0.30, 0.66, 0.97)
        y = head_mm
        for x, text in zip(
            columns,
            (f"to {measures.place_word}  ↑ {measures.height_unit}", "watts", "clock"),
            strict=True,
        ):
            put(
                x * width_mm, y - 0.12 * row_mm, text, head_small_pt, ha="right",
                color=palette.QUIET,
            )  # fmt: skip
        y += 0.62 * row_mm
        for i, row in enumerate(card.rows):
            if i % 2 == 0:
                figure.add_artist(_stripe(y, row_mm, height_mm))
            put(0.22 * width_mm, y, places[i], place_pt, ha="right")
            put(0.235 * width_mm, y, climbs[i], climb_pt, color=palette.QUIET)
            power_pt = min(figures_pt, power_pts[i])
            put(0.66 * width_mm, y, powers[i], power_pt, weight="bold", ha="right")
            put(0.97 * width_mm, y, clock(row.end_s), clock_pt, ha="right")
            y += row_mm
        for i, text in enumerate(foot):
            y = height_mm - edge_mm - (len(foot) - 0.9 - i) * _FOOT_LINE_MM
            fitted = style.fitted(
                figure, text, (width_mm - 2 * edge_mm) / _MM_PER_IN, size_pt=_FOOT_PT
            )
            put(edge_mm, y, fitted, _FOOT_PT, color=palette.QUIET)
    return figure


def _fitting_pt(texts: list[str], room_mm: float) -> float:
    """Size of type in which the longest of some figures fits."""
    return room_mm * _PT_PER_MM / (0.6 * max(len(text) for text in texts))


def _stripe(y_mm: float, row_mm: float, height_mm: float) -> Rectangle:
    return Rectangle(
        (0.0, 1.0 - (y_mm + 0.5 * row_mm) / height_mm), 1.0, row_mm / height_mm,
        facecolor="#f1f0ea", edgecolor="none", zorder=-1,
    )  # fmt: skip


def card_bytes(figure: Figure, kind: str) -> bytes:
    """The card as a file: `kind` is "png" (300 dots an inch) or "pdf". Same card, same bytes."""
    stream = io.BytesIO()
    metadata = {"Software": None} if kind == "png" else {"CreationDate": None, "Creator": None}
    with style.house_style():
        figure.savefig(
            stream, format=kind, dpi=CARD_DPI, metadata=metadata, facecolor=palette.PAPER
        )
    return stream.getvalue()
