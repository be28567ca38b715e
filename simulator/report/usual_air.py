"""The usual wind of a month and hour, for a terminal."""

from __future__ import annotations

import calendar

from simulator.measures import METRIC, Measures
from simulator.report import words
from simulator.report.tables import Cell, Column, Table, TableRow
from simulator.report.terminal import WIDTH, plain, table_lines, wrapped
from simulator.setup import Uncertain, UsualHour

_SIDES = ("North", "North-east", "East", "South-east", "South", "South-west", "West", "North-west")
_STEADY = 0.8
_TURNING = 0.5


def usual_text(
    usual: UsualHour, *, encoding: str = "utf-8", width: int = WIDTH, measures: Measures = METRIC
) -> str:
    """The usual wind as lines of at most `width` columns."""
    month = calendar.month_name[usual.month]
    lines = wrapped(
        f"{usual.site}: {month} at {usual.hour}:00, local standard time (one hour behind the clock "
        f"in summer time), {usual.n_days} days.",
        width,
    )
    lines += ["", *table_lines("Usual", _means(usual, measures), (0, 1), width)]
    lines += table_lines("Wind from", _rose(usual, measures), (0, 1, 2), width)
    lines += wrapped(_steadiness(usual), width)
    return "".join(plain(line.rstrip(), encoding) + "\n" for line in lines)


def _means(usual: UsualHour, measures: Measures) -> Table:
    wind, side = usual.wind_mps, usual.wind_from_deg
    rows = [
        (
            f"Wind {measures.height(10.0)} above open ground",
            f"{measures.speed_number(wind.value)} ± {measures.speed(wind.sd)}",
        ),
        ("Wind from", f"{words.number(side.value)}° ± {words.number(side.sd)}°"),
        (
            "Temperature",
            f"{measures.temperature_number(usual.temperature_degc.value)} ± "
            f"{measures.warmth_number(usual.temperature_degc.sd)} {measures.temperature_unit}",
        ),
        ("Pressure at the station", _pair(usual.pressure_hpa, "hPa")),
        ("Humidity", _pair(usual.humidity_pct, "%")),
        ("Height of the station", measures.height(usual.station_height_m)),
    ]
    return Table(
        key="usual",
        caption="Means, and their spread from day to day",
        columns=(Column(label="", is_text=True), Column(label="")),
        rows=tuple(TableRow(cells=(Cell(text=a), Cell(text=b))) for a, b in rows),
    )


def _rose(usual: UsualHour, measures: Measures) -> Table:
    return Table(
        key="rose",
        caption="How often, and how strong",
        columns=(
            Column(label="", is_text=True),
            Column(label="Days"),
            Column(label="Mean"),
        ),
        rows=tuple(
            TableRow(
                cells=(
                    Cell(text=side),
                    Cell(text=words.percent(share)),
                    Cell(text=measures.speed(mean_mps, 0) if share else words.NOTHING),
                )
            )
            for side, share, mean_mps in zip(
                _SIDES, usual.sector_shares, usual.sector_means_mps, strict=True
            )
        ),
    )


def _steadiness(usual: UsualHour) -> str:
    if usual.steadiness >= _STEADY:
        return "The wind usually comes from the same side."
    if usual.steadiness >= _TURNING:
        return "The wind often comes from that side, but turns from day to day."
    return (
        "The wind comes from many sides: a ride against its mean direction is only one of many; "
        "look at how sure a gap is."
    )


def _pair(quantity: Uncertain, unit: str) -> str:
    return f"{words.number(quantity.value)} ± {words.number(quantity.sd)} {unit}"
