"""Colours and SVG geometry of one ride, for its page and its picture; loads no matplotlib."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from simulator.report import charts, palette, words
from simulator.report.charts import WIDTH, Curve, Panel
from simulator.report.ride_view import PartRow, RideView

RIDE_COLOUR = palette.BUILD_COLOURS[0]
POWER_COLOUR = palette.BUILD_COLOURS[2]
RESERVE_COLOUR = palette.BUILD_COLOURS[3]
CEILING_COLOUR = palette.BUILD_COLOURS[1]

PART_COLOURS = {
    "climbing": palette.BUILD_COLOURS[4],
    "air": palette.BUILD_COLOURS[5],
    "rolling": palette.BUILD_COLOURS[2],
    "bearings": "#999999",
    "drivetrain": palette.BUILD_COLOURS[3],
    "braking": palette.BUILD_COLOURS[1],
    "kinetic": palette.BUILD_COLOURS[0],
    "drops": palette.BUILD_COLOURS[5],
    "standing": palette.BUILD_COLOURS[1],
    "tuck": palette.BUILD_COLOURS[2],
}
"""Of causes and positions ("climbing" is both), from the colour-blind-safe palette."""


def part_colour(part: PartRow) -> str:
    """Colour of a cause or position."""
    return PART_COLOURS[part.key]


@dataclass(frozen=True, slots=True, kw_only=True)
class BarPart:
    """A piece of a bar, in percent of its length; labelled inside where there is room."""

    label: str
    share_text: str
    width_pct: float
    colour: str


def bar_parts(rows: Sequence[PartRow]) -> tuple[BarPart, ...]:
    """The pieces of a bar that add up to its whole; what is below zero has no length."""
    shown = [row for row in rows if row.share > 0.0005]
    whole = sum(row.share for row in shown)
    return tuple(
        BarPart(
            label=row.label,
            share_text=words.percent(row.share),
            width_pct=round(100.0 * row.share / whole, 2),
            colour=part_colour(row),
        )
        for row in shown
    )


def ride_panels(view: RideView) -> tuple[Panel, ...]:
    """Profile, speed, power and, where it is followed, W′ over one distance axis."""
    series = view.series
    measures = view.measures
    at = np.array(series.distances_m) / view.course.distance_m * WIDTH
    speeds = np.array(series.speeds_mps) / measures.mps_per_speed
    powers = np.array(series.powers_w)
    speed_range = (0.0, 1.06 * float(speeds.max()))
    power_range = (0.0, max(1.1 * float(powers.max()), 1.0))
    # Power holds from a place to the next one: a staircase, each tread drawn by its two ends.
    tread_at, treads = _corners_only(np.repeat(at, 2)[1:], np.repeat(powers, 2)[:-1])
    panels = [
        charts.height_panel(view),
        Panel(
            key="speed",
            title="Speed",
            unit=measures.speed_unit,
            ticks=charts.y_ticks(speed_range, 4),
            curves=(
                *_ceiling_curves(at, _ceilings(view) / measures.mps_per_speed, speed_range),
                Curve(path=charts.line_path(at, speeds, speed_range), css="first"),
            ),
            marks_pct=tuple(100.0 * m / view.course.distance_m for m in view.corner_marks_m),
        ),
        Panel(
            key="power",
            title="Power",
            unit="W",
            ticks=charts.y_ticks(power_range, 3),
            curves=(
                Curve(path=charts.area_path(tread_at, treads, power_range, 0.0), css="power-area"),
                Curve(path=charts.line_path(tread_at, treads, power_range), css="power"),
            ),
        ),
    ]
    if series.reserve_shares is not None:
        shares = 100.0 * np.array(series.reserve_shares)
        limits = (0.0, 105.0)
        panels.append(
            Panel(
                key="reserve",
                title="W′ left",
                unit="%",
                ticks=charts.y_ticks(limits, 2),
                curves=(
                    Curve(path=charts.area_path(at, shares, limits, 0.0), css="reserve-area"),
                    Curve(path=charts.line_path(at, shares, limits), css="reserve"),
                ),
            )
        )
    return tuple(panels)


def _corners_only(at: np.ndarray, values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """A curve without the points that lie on a level between two others."""
    is_level = np.zeros(len(values), dtype=bool)
    is_level[1:-1] = (values[1:-1] == values[:-2]) & (values[1:-1] == values[2:])
    return at[~is_level], values[~is_level]


def _ceilings(view: RideView) -> np.ndarray:
    return np.array(view.series.ceilings_mps, dtype=np.float64)


def _ceiling_curves(
    at: np.ndarray, ceilings: np.ndarray, limits: tuple[float, float]
) -> tuple[Curve, ...]:
    """Pieces of the ceiling where there is one, cut off at the top of the panel."""
    is_shown = np.nan_to_num(ceilings, nan=np.inf) <= limits[1]
    edges = np.flatnonzero(np.diff(np.concatenate([[0], is_shown.astype(int), [0]])))
    return tuple(
        Curve(path=charts.line_path(at[a:b], ceilings[a:b], limits), css="ceiling")
        for a, b in edges.reshape(-1, 2).tolist()
        if b - a > 1
    )
