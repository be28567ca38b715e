"""The usual wind of a month and hour, for a terminal."""

from __future__ import annotations

import calendar

from simulator.report import words
from simulator.report.tables import Cell, Column, Table, TableRow
from simulator.report.terminal import WIDTH, plain, table_lines, wrapped
from simulator.setup import Uncertain, UsualHour

_SIDES = ("North", "North-east", "East", "South-east", "South", "South-west", "West", "North-west")
_STEADY = 0.8
_TURNING = 0.5


def usual_text(usual: UsualHour, *, encoding: str = "utf-8", width: int = WIDTH) -> str:
    """The usual wind as lines of at most `width` columns."""
    month = calendar.month_name[usual.month]
    lines = wrapped(
        f"{usual.site}: {month} at {usual.hour}:00, local standard time (one hour behind the clock "
        f"in summer time), {usual.n_days} days.",
        width,
    )
    lines += ["", *table_lines("Usual", _means(usual), (0, 1), width)]
    lines += table_lines("Wind from", _rose(usual), (0, 1, 2), width)
    lines += wrapped(_steadiness(usual), width)
    return "".join(plain(line.rstrip(), encoding) + "\n" for line in lines)


def _means(usual: UsualHour) -> Table:
    wind, side = usual.wind_mps, usual.wind_from_deg
    rows = [
        ("Wind 10 m above open ground", _kmh_pair(wind)),
        ("Wind from", f"{words.number(side.value)}° ± {words.number(side.sd)}°"),
        ("Temperature", _pair(usual.temperature_degc, "°C")),
        ("Pressure at the station", _pair(usual.pressure_hpa, "hPa")),
        ("Humidity", _pair(usual.humidity_pct, "%")),
        ("Height of the station", f"{words.number(usual.station_height_m)} m"),
    ]
    return Table(
        key="usual",
        caption="Means, and their spread from day to day",
        columns=(Column(label="", is_text=True), Column(label="")),
        rows=tuple(TableRow(cells=(Cell(text=a), Cell(text=b))) for a, b in rows),
    )


def _rose(usual: UsualHour) -> Table:
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
                    Cell(text=words.kmh(mean_mps, 0) if share else words.NOTHING),
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


def _kmh_pair(speed_mps: Uncertain) -> str:
    value = words.kmh(speed_mps.value, 1).removesuffix(" km/h")
    return f"{value} ± {words.kmh(speed_mps.sd, 1)}"
