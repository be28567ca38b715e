"""Typical-year weather files: the usual air of a month and hour, from EPW and TMY3.

Both hold one made-up year of hourly values that is typical of a place, with the wind 10 m above
open ground. Hours are those of the files: local standard time, without daylight saving.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from simulator.errors import InputError
from simulator.files import read_bytes
from simulator.setup.uncertain import Uncertain
from simulator.units import PA_PER_HPA, kmh_from_mps

FloatArray = NDArray[np.float64]

LEAST_DAYS = 10
"""Fewer days of a month than this tell no usual wind."""

N_SECTORS = 8
"""Directions of the table: north, north-east and so on."""

_EPW_HEADER_LINES = 8
_MOST_BYTES = 40_000_000
_KNOWN = "a typical-year weather file in EPW or TMY3 format"
_OTHER_KINDS = {
    "<gpx": "a GPX file, a track or recording",
    "<trainingcenterdatabase": "a TCX file, a recording",
    ".fit": "a FIT file, a recording",
    "wind_kmh": "a weather file for `--weather` already",
}
"""What stands in the first lines of files that are given by mistake."""

# Values that stand for "not measured".
_EPW_MISSING = {"t": 99.9, "rh": 999.0, "p": 999_999.0, "dir": 999.0, "wind": 999.0}
_TMY3_COLUMNS = {
    "t": "Dry-bulb (C)",
    "rh": "RHum (%)",
    "p": "Pressure (mbar)",
    "dir": "Wdir (degrees)",
    "wind": "Wspd (m/s)",
}
_EPW_COLUMNS = {"t": 6, "rh": 8, "p": 9, "dir": 20, "wind": 21}
_TMY3_MISSING = -9900.0


@dataclass(frozen=True, slots=True, kw_only=True)
class UsualHour:
    """The usual air of one hour of the day in one month.

    Attributes
    ----------
    site : str
        Name of the place in the file.
    month, hour : int
        1 to 12, and 0 to 23 local standard time.
    n_days : int
        Days that were averaged.
    wind_mps, wind_from_deg, temperature_degc, pressure_hpa, humidity_pct : Uncertain
        Mean and spread from day to day. The spread of the direction is such that the mean vector
        of draws is that of the days: root of -2 ln(R), R the mean vector over the mean speed
        [Mardia1972].
    steadiness : float
        R: 1 for a wind that always comes from one side, 0 for one that comes from everywhere.
    station_height_m : float
        Height of the station above the sea; the pressure is the one there.
    sector_shares, sector_means_mps : tuple of float
        How often, and how strong, the wind comes from N, NE, E and so on.
    """

    site: str
    month: int
    hour: int
    n_days: int
    wind_mps: Uncertain
    wind_from_deg: Uncertain
    temperature_degc: Uncertain
    pressure_hpa: Uncertain
    humidity_pct: Uncertain
    steadiness: float
    station_height_m: float
    sector_shares: tuple[float, ...]
    sector_means_mps: tuple[float, ...]


def is_typical_year(head: str) -> bool:
    """Whether the first lines of a file are those of an EPW or TMY3 file."""
    return head.startswith("LOCATION,") or _TMY3_COLUMNS["wind"] in head


def read_usual_hour(path: Path, *, month: int, hour: int) -> UsualHour:
    """Read the usual air of a month and hour.

    Parameters
    ----------
    path : Path
        EPW [EPW2015] or TMY3 [Wilcox2008].
    month, hour : int
        1 to 12; 0 to 23, local standard time.

    Raises
    ------
    InputError
        If the file is of another kind, damaged, or holds too few days of that month and hour.
    """
    lines = _text_of(path).split("\n")
    head = "\n".join(line[:2000] for line in lines[:3])
    if head.startswith("LOCATION,"):
        site, height_m, rows = _epw_rows(path, lines, month, hour)
    elif _TMY3_COLUMNS["wind"] in head:
        site, height_m, rows = _tmy3_rows(path, lines, month, hour)
    else:
        raise InputError(file=str(path), found=_other_kind(lines), expected=_KNOWN)
    if len(rows) < LEAST_DAYS:
        raise InputError(
            file=str(path),
            found=f"{len(rows)} usable days for month {month} at {hour}:00",
            expected=f"at least {LEAST_DAYS}",
            mend="choose another month or hour, or a file of a whole year",
        )
    table = np.array(rows)
    return _usual(table, site=site, height_m=height_m, month=month, hour=hour)


def _other_kind(lines: Sequence[str]) -> str:
    """What a file is that is no typical year."""
    head = "\n".join(line[:2000] for line in lines[:40]).casefold()
    for mark, told in _OTHER_KINDS.items():
        if mark in head[:14] if mark == ".fit" else mark in head:
            return f"this is {told}"
    return "its first lines are neither those of an EPW file nor those of a TMY3 file"


def _text_of(path: Path) -> str:
    """The file as text; only names of places can hold letters outside ASCII."""
    data = read_bytes(path, max_bytes=_MOST_BYTES, expected=_KNOWN)
    return data.decode("utf-8", errors="replace")


def _usual(table: FloatArray, *, site: str, height_m: float, month: int, hour: int) -> UsualHour:
    """Means and spreads of rows of (temperature, humidity, pressure, direction, wind)."""
    from_rad, winds_mps = np.radians(table[:, 3]), table[:, 4]
    mean_mps = float(winds_mps.mean())
    east = float((winds_mps * np.sin(from_rad)).mean())
    north = float((winds_mps * np.cos(from_rad)).mean())
    steadiness = min(math.hypot(east, north) / mean_mps, 1.0) if mean_mps > 0.0 else 0.0
    spread_rad = math.sqrt(max(-2.0 * math.log(max(steadiness, 1e-9)), 0.0))
    blowing = winds_mps > 0.0
    width_deg = 360.0 / N_SECTORS
    sectors = np.floor((table[:, 3] + 0.5 * width_deg) / width_deg).astype(int) % N_SECTORS
    counts = np.bincount(sectors[blowing], minlength=N_SECTORS)
    sums_mps = np.bincount(sectors[blowing], weights=winds_mps[blowing], minlength=N_SECTORS)
    return UsualHour(
        site=site,
        month=month,
        hour=hour,
        n_days=len(table),
        wind_mps=_spread(winds_mps),
        wind_from_deg=Uncertain(
            math.degrees(math.atan2(east, north)) % 360.0, min(math.degrees(spread_rad), 180.0)
        ),
        temperature_degc=_spread(table[:, 0]),
        humidity_pct=_spread(table[:, 1]),
        pressure_hpa=_spread(table[:, 2] / PA_PER_HPA),
        steadiness=steadiness,
        station_height_m=height_m,
        sector_shares=tuple((counts / len(table)).tolist()),
        sector_means_mps=tuple((sums_mps / np.maximum(counts, 1)).tolist()),
    )


def _spread(values: FloatArray) -> Uncertain:
    return Uncertain(float(values.mean()), float(values.std(ddof=1)))


def _epw_rows(
    path: Path, lines: Sequence[str], month: int, hour: int
) -> tuple[str, float, list[list[float]]]:
    place = _place(path, lines[0])
    height_m = _number(path, 1, place[9] if len(place) > 9 else "", "the height of the station")
    rows = []
    for number, line in enumerate(lines[_EPW_HEADER_LINES:], start=_EPW_HEADER_LINES + 1):
        cells = line.split(",")
        if len(cells) < 22:
            if line.strip():
                raise _damaged(path, number, f"{len(cells)} values", "22 or more")
            continue
        # Hours run from 1 to 24, each value at its end: 24 is midnight, here 0.
        at = (_number(path, number, cells[1], "month"), _number(path, number, cells[3], "hour"))
        if at[0] != month or at[1] % 24 != hour:
            continue
        values = {key: _measured(path, number, cells[i], key) for key, i in _EPW_COLUMNS.items()}
        if all(values[key] < _EPW_MISSING[key] for key in values):
            rows.append([values["t"], values["rh"], values["p"], values["dir"], values["wind"]])
    return place[1].strip() or "unknown place", height_m, rows


def _tmy3_rows(
    path: Path, lines: Sequence[str], month: int, hour: int
) -> tuple[str, float, list[list[float]]]:
    if len(lines) < 2:
        raise _damaged(path, 1, "one line", "a line of columns behind it")
    place = _place(path, lines[0])
    height_m = _number(path, 1, place[6] if len(place) > 6 else "", "the height of the station")
    names = [name.strip() for name in lines[1].split(",")]
    missing = [name for name in _TMY3_COLUMNS.values() if name not in names]
    if missing:
        raise _damaged(path, 2, f"no column `{missing[0]}`", "the columns of TMY3")
    columns = {key: names.index(name) for key, name in _TMY3_COLUMNS.items()}
    rows = []
    for number, line in enumerate(lines[2:], start=3):
        cells = line.split(",")
        if len(cells) <= max(columns.values()):
            if line.strip():
                raise _damaged(path, number, f"{len(cells)} values", f"{len(names)}")
            continue
        at_month = _number(path, number, cells[0].partition("/")[0], "month")
        at_hour = _number(path, number, cells[1].partition(":")[0], "hour")
        if at_month != month or at_hour % 24 != hour:
            continue
        values = {key: _measured(path, number, cells[i], key) for key, i in columns.items()}
        if all(value > _TMY3_MISSING for value in values.values()):
            pressure_pa = values["p"] * PA_PER_HPA
            rows.append([values["t"], values["rh"], pressure_pa, values["dir"], values["wind"]])
    return place[1].strip().strip('"') or "unknown place", height_m, rows


def _place(path: Path, line: str) -> list[str]:
    """The cells of the first line, which tells the place."""
    try:
        return next(csv.reader([line]), [])
    except csv.Error:
        raise _damaged(path, 1, "a cell that never ends", "the name of the place") from None


def _measured(path: Path, line: int, text: str, what: str) -> float:
    """A value, or NaN where the cell is empty: compared with anything, that is not there."""
    return _number(path, line, text, what) if text.strip() else math.nan


def _number(path: Path, line: int, text: str, what: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise _damaged(path, line, f'"{text[:20]}" for {what}', "a number")
    return value


def _damaged(path: Path, line: int, found: str, expected: str) -> InputError:
    return InputError(
        file=str(path), place=f"line {line}", found=f"found {found}", expected=expected
    )


def usual_weather_toml(usual: UsualHour) -> str:
    """The usual air as the text of a weather file.

    Parameters
    ----------
    usual : UsualHour
        As `read_usual_hour` returned it.

    Returns
    -------
    str
        TOML that `load_weather` reads; spreads become standard uncertainties.
    """
    site = "".join(c for c in usual.site if c.isprintable() and c not in '"\\')[:30]
    wind = Uncertain(kmh_from_mps(usual.wind_mps.value), kmh_from_mps(usual.wind_mps.sd))
    return f"""\
# The usual air of month {usual.month} at {usual.hour}:00, local standard time (no daylight saving),
# from a typical-year file: means over {usual.n_days} days, and their spread from day to day as
# standard uncertainty. One race day has one wind: put the forecast in when there is one.

name = "Usual day, {site}"

temperature_degc = {_pair(usual.temperature_degc, 1)}

# As a barometer shows it at the station.
pressure_hpa = {_pair(usual.pressure_hpa, 1)}
pressure_is = "at the station"
station_height_m = {usual.station_height_m:g}

humidity_pct = {_pair(usual.humidity_pct, 0)}

# The mean wind keeps to its direction to {100.0 * usual.steadiness:.0f} % (100: always from there).
wind_kmh = {_pair(wind, 1)}
wind_from_deg = {_pair(usual.wind_from_deg, 0)}

source = "typical-year file, {site}, month {usual.month}, {usual.hour}:00"
"""


def _pair(quantity: Uncertain, decimals: int) -> str:
    return f"{{ value = {quantity.value:.{decimals}f}, sd = {quantity.sd:.{decimals}f} }}"
