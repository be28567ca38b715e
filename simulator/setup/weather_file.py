"""The file of a day's weather: its keys, their limits and meanings; file -> `Weather`."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, model_validator

from simulator.files import (
    StrictSchema,
    UncertainField,
    ValueWithSd,
    in_range,
    problem,
    read_toml,
)
from simulator.setup import defaults
from simulator.setup.uncertain import uncertain_of
from simulator.setup.weather import Weather, WindAt
from simulator.setup.written import source_text
from simulator.units import mps_from_kmh

# Highest and lowest pressure of a race day at sea level, and how fast each falls with height:
# loose bounds around the standard atmosphere [ISO2533] that catch a pressure which was reduced to
# sea level but is given for a high station.
_HIGH_HPA, _HIGH_FALL_HPA_PER_M = 1065.0, 0.090
_LOW_HPA, _LOW_FALL_HPA_PER_M = 930.0, 0.115


_COMPASS = (
    "n", "nne", "ne", "ene", "e", "ese", "se", "sse", "s", "ssw", "sw", "wsw", "w", "wnw", "nw",
    "nnw",
)  # fmt: skip


def _no_compass_point(written: object) -> object:
    """Tell the degrees to who writes a point of the compass ("W", "south-west", "northerly")."""
    bare = written.get("value") if isinstance(written, dict) else written
    if not isinstance(bare, str):
        return written
    word = re.sub(r"[\s_-]|erly|ern", "", bare.casefold())
    word = re.sub("north|east|south|west", lambda name: name[0][0], word)
    if word not in _COMPASS:
        return written
    raise problem(
        found=f'found the text "{bare.strip()[:30]}"',
        expected="degrees: north is 0, east 90, south 180, west 270",
        mend=f"write {360.0 / len(_COMPASS) * _COMPASS.index(word):g}",
    )


_CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)")

REDUCED = "reduced to sea level"
WINDY = "Windy day"
"""What a day with wind is called in a file without a name."""


class WindAtEntry(StrictSchema):
    """The wind at one time of day."""

    clock: str = Field(description='time of day, as in "12:30"')
    wind_kmh: Annotated[float, in_range(0.0, 120.0, why="10 m above open ground")] = Field(
        description="forecast wind 10 m above open ground, in km/h"
    )
    wind_from_deg: Annotated[
        float,
        in_range(0.0, 360.0, why="0 north, 90 east, 180 south, 270 west"),
        BeforeValidator(_no_compass_point),
    ] = Field(description="where the wind comes from, in degrees clockwise from north")

    @model_validator(mode="after")
    def _a_time(self) -> WindAtEntry:
        clock_s(self.clock, key="clock")
        return self


class WeatherFile(StrictSchema):
    """Keys of a weather file. Everything has a default."""

    name: str = Field(
        default="Calm standard day",
        min_length=1,
        max_length=60,
        description="what to call the day; a nameless one with wind is a “Windy day”",
    )
    temperature_degc: Annotated[UncertainField, in_range(-30.0, 55.0, why="°C")] = Field(
        default=ValueWithSd(value=defaults.TEMPERATURE_DEGC),
        description="air temperature at the station, in °C",
    )
    pressure_hpa: Annotated[UncertainField, in_range(400.0, 1090.0, why="hPa")] = Field(
        default=ValueWithSd(value=defaults.PRESSURE_HPA),
        description="air pressure, in hPa (the same as mbar)",
    )
    pressure_is: Literal["at the station", "reduced to sea level"] = Field(
        default=defaults.PRESSURE_IS,
        description="whether the pressure is what a barometer shows at `station_height_m`, or "
        "that reduced to sea level, as forecasts give it",
    )
    station_height_m: Annotated[float, in_range(-450.0, 6000.0)] = Field(
        default=defaults.STATION_HEIGHT_M,
        description="height above the sea for which temperature, humidity and pressure hold, in m",
    )
    humidity_pct: Annotated[UncertainField, in_range(0.0, 100.0, why="percent")] = Field(
        default=ValueWithSd(value=defaults.HUMIDITY_PCT),
        description="relative humidity, in percent",
    )
    wind_kmh: Annotated[UncertainField, in_range(0.0, 120.0, why="10 m above open ground")] = Field(
        default=ValueWithSd(value=defaults.WIND_KMH),
        description="forecast wind 10 m above open ground, in km/h",
    )
    wind_from_deg: Annotated[
        UncertainField,
        in_range(0.0, 360.0, why="0 north, 90 east, 180 south, 270 west"),
        BeforeValidator(_no_compass_point),
    ] = Field(
        default=ValueWithSd(value=defaults.WIND_FROM_DEG),
        description="where the wind comes from, in degrees clockwise from north",
    )
    gust_kmh: Annotated[float, in_range(0.0, 200.0, why="10 m above open ground")] | None = Field(
        default=None,
        description="strongest gust of the forecast, in km/h; it enters how sure a gap is, never "
        "a time",
    )
    start_clock: str | None = Field(
        default=None, description='time of day of the start, as in "10:30"; needed by `wind_at`'
    )
    wind_at: tuple[WindAtEntry, ...] = Field(
        default=(), max_length=200, description="the wind later on, one [[wind_at]] for each time"
    )
    rider_height_m: Annotated[float, in_range(0.5, 3.0)] = Field(
        default=defaults.RIDER_HEIGHT_M,
        description="height above the road at which the wind meets the rider, in m",
    )
    wet_road: bool = Field(default=False, description="whether the road is wet")
    source: str = Field(
        default="", max_length=400, description="where the figures come from, in a few words"
    )

    @model_validator(mode="after")
    def _agreed(self) -> WeatherFile:
        written = self.model_fields_set
        if self.wind_kmh.value > 0.0 and "wind_from_deg" not in written:
            raise problem(
                key="wind_kmh",
                found="the wind has no direction",
                expected="`wind_from_deg`, where it comes from",
                mend="add `wind_from_deg = 270` for a west wind",
            )
        is_reduced = self.pressure_is == REDUCED
        if "station_height_m" in written and "pressure_hpa" not in written and not is_reduced:
            raise problem(
                key="station_height_m",
                found="a height without its pressure",
                expected="`pressure_hpa`, as a barometer shows it at that height",
                mend=f'add it, or leave `station_height_m` out, or say `pressure_is = "{REDUCED}"`',
            )
        height_m = 0.0 if is_reduced else self.station_height_m
        low_hpa = _LOW_HPA - _LOW_FALL_HPA_PER_M * height_m
        high_hpa = _HIGH_HPA - _HIGH_FALL_HPA_PER_M * height_m
        if not low_hpa <= self.pressure_hpa.value <= high_hpa:
            raise problem(
                key="pressure_hpa",
                found=f"found {self.pressure_hpa.value:g} for a height of {height_m:g} m",
                expected=f"about {low_hpa:.0f} to {high_hpa:.0f}",
                mend="forecasts give the pressure reduced to sea level: say so with "
                f'`pressure_is = "{REDUCED}"`',
            )
        self._check_gusts()
        self._check_times()
        return self

    def _check_gusts(self) -> None:
        if self.gust_kmh is not None and self.gust_kmh < self.wind_kmh.value:
            raise problem(
                key="gust_kmh",
                found=f"found {self.gust_kmh:g}",
                expected=f"at least the mean wind, `wind_kmh` ({self.wind_kmh.value:g})",
            )

    def _check_times(self) -> None:
        start_s = None
        if self.start_clock is not None:
            start_s = clock_s(self.start_clock, key="start_clock")
        if not self.wind_at:
            return
        if start_s is None:
            raise problem(
                key="wind_at",
                found="times of day without that of the start",
                expected="`start_clock`",
                mend='add `start_clock = "10:30"`, above the first table',
            )
        if self.wind_kmh.value == 0.0 and self.wind_kmh.sd + self.wind_from_deg.sd > 0.0:
            raise problem(
                key="wind_kmh",
                found="a doubt about a wind that is calm at the start",
                expected="a wind above 0: the doubt grows and shrinks with the wind",
                mend="give the start a light wind, or leave the `sd` out",
            )
        last_s = start_s
        for number, entry in enumerate(self.wind_at):
            time_s = clock_s(entry.clock, key=f"wind_at.{number}.clock")
            if time_s <= last_s:
                raise problem(
                    key=f"wind_at.{number}.clock",
                    found=f"found {entry.clock}",
                    expected="a time later than the start and than the entry before it",
                    mend="the wind at the start is told by `wind_kmh` and `wind_from_deg`",
                )
            last_s = time_s


def clock_s(text: str, *, key: str) -> float:
    """Seconds since midnight of a time of day such as "9:05"; `key` is named in the complaint."""
    match = _CLOCK.fullmatch(text.strip())
    if match is None:
        raise problem(
            key=key, found=f'found "{text[:20]}"', expected='a time of day such as "10:30"'
        )
    return 3600.0 * int(match[1]) + 60.0 * int(match[2])


def load_weather(path: Path | None) -> Weather:
    """Read a weather file; without a file, the calm standard day.

    Parameters
    ----------
    path : Path or None
        A TOML file.

    Raises
    ------
    InputError
        If the file cannot be used; the message names line and key.
    """
    if path is None:
        return default_weather()
    return weather_of(read_toml(path, WeatherFile), fallback_source=f"file {path.name}")


def default_weather() -> Weather:
    """The day that is ridden when no file is given; all values in ``defaults.py``."""
    return weather_of(WeatherFile(source=defaults.SOURCE))


def weather_of(written: WeatherFile, *, fallback_source: str = "") -> Weather:
    """Turn checked keys into a `Weather`.

    Parameters
    ----------
    written : WeatherFile
        The keys.
    fallback_source : str
        Told as the source when the file names none.
    """
    return Weather(
        name=_name(written),
        temperature_degc=uncertain_of(written.temperature_degc),
        pressure_hpa=uncertain_of(written.pressure_hpa),
        station_height_m=written.station_height_m,
        humidity_pct=uncertain_of(written.humidity_pct),
        wind_mps=uncertain_of(written.wind_kmh, factor=mps_from_kmh(1.0)),
        wind_from_deg=uncertain_of(written.wind_from_deg),
        rider_height_m=written.rider_height_m,
        is_wet=written.wet_road,
        source=source_text(written, fallback_source),
        winds=_winds(written),
        gust_mps=None if written.gust_kmh is None else mps_from_kmh(written.gust_kmh),
        is_pressure_reduced=written.pressure_is == REDUCED,
        start_clock_s=(
            None if written.start_clock is None else clock_s(written.start_clock, key="start_clock")
        ),
    )


def _name(written: WeatherFile) -> str:
    """A day with wind is not called calm for want of a name."""
    is_windy = written.wind_kmh.value > 0.0 or bool(written.wind_at)
    return WINDY if is_windy and "name" not in written.model_fields_set else written.name


def _winds(written: WeatherFile) -> tuple[WindAt, ...]:
    """The wind over time since the start; empty where it stays as it is."""
    if not written.wind_at or written.start_clock is None:
        return ()
    start_s = clock_s(written.start_clock, key="start_clock")
    at_start = WindAt(
        time_s=0.0,
        wind_mps=mps_from_kmh(written.wind_kmh.value),
        wind_from_deg=written.wind_from_deg.value,
    )
    later = (
        WindAt(
            time_s=clock_s(entry.clock, key="clock") - start_s,
            wind_mps=mps_from_kmh(entry.wind_kmh),
            wind_from_deg=entry.wind_from_deg,
        )
        for entry in written.wind_at
    )
    return (at_start, *later)
