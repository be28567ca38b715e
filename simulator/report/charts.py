"""The page's charts as small SVG geometry: paths, ticks and places in percent.

Curves are drawn in a 1000 × 100 box that the page stretches to any width; labels are text of
the page placed in percent, so that letters never stretch.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from simulator.measures import METRIC, Measures
from simulator.report import palette, words
from simulator.report.labels import (
    Label,
    band_labels,
    gap_labels,
    scale_bar_m,
    shown_bands,
    shown_marks_m,
)
from simulator.report.views import AlongCourse, DoubtView, GapView, PlanView
from simulator.report.wind_view import WindArrow, wind_arrows

WIDTH = 1000.0
HEIGHT = 100.0
_PLAN_SIZE = 400.0
_N_SHADES = 9
_LABEL_SIZES = (4, 6, 8, 10, 16)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """A labelled place on an axis, in percent from the left or from the top."""

    at_pct: float
    text: str
    is_minor: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """One line of a panel."""

    path: str
    css: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BandLabel:
    """A word over a stretch, in percent; the page hides it where its `size` class does not fit."""

    text: str
    left_pct: float
    width_pct: float
    size: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """One chart of the stack."""

    key: str
    title: str
    unit: str
    ticks: tuple[Tick, ...]
    curves: tuple[Curve, ...]
    labels: tuple[BandLabel, ...] = ()
    marks_pct: tuple[float, ...] = ()
    interval_pct: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Shade:
    """A stretch behind the curves, in percent of the width."""

    left_pct: float
    width_pct: float
    kind: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """A part of the plan in one colour."""

    points: str
    colour: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanChart:
    """The course from above; ``origin_m`` and ``scale`` take east and north to the drawing."""

    width: float
    height: float
    legs: tuple[Leg, ...]
    road: str
    start: tuple[float, float]
    east_m: float
    north_m: float
    per_m: float
    bar: float
    bar_text: str
    winds: tuple[WindArrow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One bar of the histogram, in the 1000 × 100 box."""

    x: float
    y: float
    width: float
    height: float
    is_other_ahead: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Histogram:
    """How the draws spread."""

    bars: tuple[Bar, ...]
    ticks: tuple[Tick, ...]
    low_pct: float
    high_pct: float
    zero_pct: float | None


def nice_ticks(low: float, high: float, n_wanted: int) -> list[float]:
    """Round numbers between two values, about as many as wanted."""
    if high <= low:
        return [low]
    rough = (high - low) / n_wanted
    power = 10.0 ** math.floor(math.log10(rough))
    step = min((f * power for f in (1.0, 2.0, 5.0, 10.0)), key=lambda s: abs(math.log(s / rough)))
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [i * step + 0.0 for i in range(first, last + 1)]


def height_panel(view: AlongCourse) -> Panel:
    """The profile of the course."""
    measures = view.measures
    heights = np.array(view.series.heights_m) / measures.m_per_height
    at = np.array(view.series.distances_m) / view.course.distance_m * WIDTH
    rise = max(float(np.ptp(heights)), 20.0 / measures.m_per_height)
    height_range = (float(heights.min()) - 0.05 * rise, float(heights.min()) + 1.35 * rise)
    return Panel(
        key="height",
        title="Height",
        unit=measures.height_unit,
        ticks=y_ticks(height_range, 3),
        curves=(
            Curve(path=area_path(at, heights, height_range, height_range[0]), css="ground"),
            Curve(path=line_path(at, heights, height_range), css="ground-edge"),
        ),
        labels=placed_labels(band_labels(view), view),
    )


def stack_panels(view: GapView) -> tuple[Panel, Panel, Panel]:
    """Profile, speed and gap over one distance axis."""
    series = view.series
    per_mps = 1.0 / view.measures.mps_per_speed
    firsts, others = np.array(series.first_mps) * per_mps, np.array(series.other_mps) * per_mps
    gaps = np.array(series.gaps_s)
    speed_range = (0.0, 1.06 * float(max(firsts.max(), others.max())))
    low, high = min(float(gaps.min()), 0.0), max(float(gaps.max()), 0.0)
    if view.doubt is not None:
        low, high = min(low, view.doubt.low_s), max(high, view.doubt.high_s)
    room = max(high - low, 0.2)
    gap_range = (low - 0.06 * room, high + 0.22 * room)
    at = np.array(series.distances_m) / view.course.distance_m * WIDTH
    interval = None
    if view.doubt is not None:
        interval = (_down(view.doubt.high_s, gap_range), _down(view.doubt.low_s, gap_range))
    return (
        height_panel(view),
        Panel(
            key="speed",
            title="Speed",
            unit=view.measures.speed_unit,
            ticks=y_ticks(speed_range, 4),
            curves=(
                Curve(path=line_path(at, firsts, speed_range), css="first"),
                Curve(path=line_path(at, others, speed_range), css="other"),
            ),
            marks_pct=tuple(100.0 * m / view.course.distance_m for m in shown_marks_m(view)),
        ),
        Panel(
            key="gap",
            title="Gap",
            unit=f"s{words.minus_is_ahead(low, room)}",
            ticks=y_ticks(gap_range, 4),
            curves=(
                Curve(path=area_path(at, gaps, gap_range, 0.0), css="gap-area"),
                Curve(path=line_path(at, np.zeros_like(gaps), gap_range), css="first"),
                Curve(path=line_path(at, gaps, gap_range), css="gap-line"),
            ),
            labels=placed_labels(gap_labels(view), view),
            interval_pct=interval,
        ),
    )


def distance_ticks(view: AlongCourse) -> tuple[Tick, ...]:
    """Distances under the stack; every other one is minor and goes on a phone."""
    total = view.course.distance_m / view.measures.m_per_distance
    return tuple(
        Tick(at_pct=100.0 * at / total, text=f"{at:g}", is_minor=i % 2 == 1)
        for i, at in enumerate(nice_ticks(0.0, total, 10))
    )


def cursor_data(view: AlongCourse) -> dict[str, object]:
    """What the cursor of every page reads: places, heights, stretches, laps and units as shown."""
    measures = view.measures
    heights = [h / measures.m_per_height for h in view.series.heights_m]
    return {
        "km": [round(m / measures.m_per_distance, 3) for m in view.series.distances_m],
        "height": [round(h) if abs(h) >= 100 else round(h, 1) for h in heights],
        "bands": [
            [b.name, b.start_m / measures.m_per_distance, b.end_m / measures.m_per_distance]
            for b in view.bands
        ],
        "laps": [m / measures.m_per_distance for m in view.lap_starts_m],
        "units": {
            "place": measures.place_word,
            "distance": measures.distance_word,
            "height": measures.height_unit,
            "heights": measures.heights_word,
            "speeds": measures.speed_words,
        },
    }


def shades(view: AlongCourse) -> tuple[Shade, ...]:
    """Climbs and descents behind all panels."""
    total_m = view.course.distance_m
    return tuple(
        Shade(
            left_pct=100.0 * band.start_m / total_m,
            width_pct=100.0 * (band.end_m - band.start_m) / total_m,
            kind=band.kind,
        )
        for band in shown_bands(view)
    )


def plan_chart(plan: PlanView, measures: Measures = METRIC) -> PlanChart:
    """The course from above in a box whose longer side is 400."""
    easts, norths = np.array(plan.easts_m), np.array(plan.norths_m)
    size_m = max(float(np.ptp(easts)), float(np.ptp(norths)), 1.0)
    margin = 26.0
    per_m = (_PLAN_SIZE - 2.0 * margin) / size_m
    width = max(float(np.ptp(easts)) * per_m + 2.0 * margin, 0.6 * _PLAN_SIZE)
    height = max(float(np.ptp(norths)) * per_m + 2.0 * margin, 0.25 * _PLAN_SIZE)
    east_m = float(easts.min()) - (width / per_m - float(np.ptp(easts))) / 2.0
    north_m = float(norths.max()) + (height / per_m - float(np.ptp(norths))) / 2.0
    x, y = (easts - east_m) * per_m, (north_m - norths) * per_m
    bar_m = scale_bar_m(width / per_m, measures)
    return PlanChart(
        width=round(width, 1),
        height=round(height, 1),
        legs=_legs(x, y, plan),
        road=_points(x, y),
        start=(round(float(x[0]), 1), round(float(y[0]), 1)),
        east_m=east_m,
        north_m=north_m,
        per_m=per_m,
        bar=round(bar_m * per_m / width * 100.0, 2),
        bar_text=measures.length(bar_m),
        winds=wind_arrows(plan, measures),
    )


def histogram(doubt: DoubtView) -> Histogram:
    """How the draws of the gap spread, with zero in sight when it is near."""
    low, high = doubt.edges_s[0], doubt.edges_s[-1]
    if low > 0.0 and low < high - low:
        low = -0.04 * high
    if high < 0.0 and -high < high - low:
        high = -0.04 * low
    room = max(high - low, 1e-9)
    most = max(doubt.counts)
    bars = []
    for i, n in enumerate(doubt.counts):
        left, right = doubt.edges_s[i], doubt.edges_s[i + 1]
        bars.append(
            Bar(
                x=round(WIDTH * (left - low) / room, 2),
                y=round(HEIGHT * (1.0 - n / most), 2),
                width=round(WIDTH * (right - left) / room, 2),
                height=round(HEIGHT * n / most, 2),
                is_other_ahead=(left + right) / 2.0 < 0.0,
            )
        )

    def pct(value: float) -> float:
        return round(100.0 * (value - low) / room, 2)

    ticks = nice_ticks(low, high, 6)
    decimals = max(0, -math.floor(math.log10(ticks[1] - ticks[0]))) if len(ticks) > 1 else 1
    return Histogram(
        bars=tuple(bars),
        ticks=tuple(Tick(at_pct=pct(t), text=words.signed(t, decimals)) for t in ticks),
        low_pct=pct(doubt.low_s),
        high_pct=pct(doubt.high_s),
        zero_pct=pct(0.0) if low <= 0.0 <= high else None,
    )


def _down(value: float, limits: tuple[float, float]) -> float:
    """Place of a value in percent from the top."""
    return round(100.0 * (limits[1] - value) / (limits[1] - limits[0]), 2)


def y_ticks(limits: tuple[float, float], n_wanted: int) -> tuple[Tick, ...]:
    """Round numbers up a panel."""
    values = nice_ticks(*limits, n_wanted)
    step = values[1] - values[0] if len(values) > 1 else 1.0
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    return tuple(
        Tick(at_pct=_down(value, limits), text=words.number(value, decimals)) for value in values
    )


def placed_labels(labels: Sequence[Label], view: AlongCourse) -> tuple[BandLabel, ...]:
    """Words over stretches, in percent of the width."""
    total_m = view.course.distance_m
    return tuple(
        BandLabel(
            text=label.text,
            left_pct=round(100.0 * label.start_m / total_m, 2),
            width_pct=round(100.0 * (label.end_m - label.start_m) / total_m, 2),
            size=_label_size(label.text),
        )
        for label in labels
    )


def _label_size(text: str) -> int:
    """Class of width by the longest word: a label may break between words."""
    letters = max(map(len, text.split(" ")))
    return next((i for i, most in enumerate(_LABEL_SIZES) if letters <= most), len(_LABEL_SIZES))


def _points(x: np.ndarray, y: np.ndarray) -> str:
    return " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x, y, strict=True))


def line_path(at: np.ndarray, values: np.ndarray, limits: tuple[float, float]) -> str:
    """SVG path of a curve; `at` runs from 0 to `WIDTH`."""
    y = HEIGHT * (limits[1] - values) / (limits[1] - limits[0])
    return "M" + "L".join(f"{a:.1f} {b:.2f}" for a, b in zip(at, y, strict=True))


def area_path(at: np.ndarray, values: np.ndarray, limits: tuple[float, float], floor: float) -> str:
    """SVG path of the area between a curve and a level."""
    base = HEIGHT * (limits[1] - floor) / (limits[1] - limits[0])
    return f"{line_path(at, values, limits)}L{at[-1]:.1f} {base:.2f}L{at[0]:.1f} {base:.2f}Z"


def _legs(x: np.ndarray, y: np.ndarray, plan: PlanView) -> tuple[Leg, ...]:
    """Neighbouring legs of the same shade joined to one line."""
    scale = plan.scale_s_per_km
    shade = [
        round(_N_SHADES * max(-1.0, min(1.0, rate / scale))) if scale > 0.0 else 0
        for rate in plan.rates_s_per_km
    ]
    legs, start = [], 0
    for i in range(1, len(shade) + 1):
        if i == len(shade) or shade[i] != shade[start]:
            part = slice(start, i + 1)
            legs.append(
                Leg(
                    points=_points(x[part], y[part]),
                    colour=palette.loss_colour(float(shade[start]), float(_N_SHADES)),
                )
            )
            start = i
    return tuple(legs)
