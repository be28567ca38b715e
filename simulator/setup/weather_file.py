"""The file of a day's weather: its keys, their limits and meanings; file -> `Weather`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from pydantic import Field, model_validator

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
from simulator.setup.weather import Weather
from simulator.setup.written import source_text
from simulator.units import mps_from_kmh

# Highest and lowest pressure of a race day at sea level, and how fast each falls with height:
# loose bounds around the standard atmosphere [ISO2533] that catch a pressure which was reduced to
# sea level but is given for a high station.
_HIGH_HPA, _HIGH_FALL_HPA_PER_M = 1065.0, 0.090
_LOW_HPA, _LOW_FALL_HPA_PER_M = 930.0, 0.115


class WeatherFile(StrictSchema):
    """Keys of a weather file. Everything has a default."""

    name: str = Field(
        default="Calm standard day",
        min_length=1,
        max_length=60,
        description="what to call the day",
    )
    temperature_degc: Annotated[UncertainField, in_range(-30.0, 55.0, why="°C")] = Field(
        default=ValueWithSd(value=defaults.TEMPERATURE_DEGC),
        description="air temperature at the station, in °C",
    )
    pressure_hpa: Annotated[UncertainField, in_range(400.0, 1090.0, why="hPa")] = Field(
        default=ValueWithSd(value=defaults.PRESSURE_HPA),
        description="air pressure at the station height, in hPa (the same as mbar)",
    )
    station_height_m: Annotated[float, in_range(-450.0, 6000.0)] = Field(
        default=defaults.STATION_HEIGHT_M,
        description="height above the sea for which the pressure holds, in m; 0 in most forecasts",
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
        UncertainField, in_range(0.0, 360.0, why="0 north, 90 east, 180 south, 270 west")
    ] = Field(
        default=ValueWithSd(value=defaults.WIND_FROM_DEG),
        description="where the wind comes from, in degrees clockwise from north",
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
        if "station_height_m" in written and "pressure_hpa" not in written:
            raise problem(
                key="station_height_m",
                found="a height without its pressure",
                expected="`pressure_hpa`, as a barometer shows it at that height",
                mend="add it, or leave `station_height_m` out",
            )
        height_m = self.station_height_m
        low_hpa = _LOW_HPA - _LOW_FALL_HPA_PER_M * height_m
        high_hpa = _HIGH_HPA - _HIGH_FALL_HPA_PER_M * height_m
        if not low_hpa <= self.pressure_hpa.value <= high_hpa:
            raise problem(
                key="pressure_hpa",
                found=f"found {self.pressure_hpa.value:g} for a height of {height_m:g} m",
                expected=f"about {low_hpa:.0f} to {high_hpa:.0f}",
                mend="a pressure reduced to sea level, as forecasts give it, has the height 0",
            )
        return self


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
    return weather_of(WeatherFile(source="defaults of buildgap"))


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
        name=written.name,
        temperature_degc=uncertain_of(written.temperature_degc),
        pressure_hpa=uncertain_of(written.pressure_hpa),
        station_height_m=written.station_height_m,
        humidity_pct=uncertain_of(written.humidity_pct),
        wind_mps=uncertain_of(written.wind_kmh, factor=mps_from_kmh(1.0)),
        wind_from_deg=uncertain_of(written.wind_from_deg),
        rider_height_m=written.rider_height_m,
        is_wet=written.wet_road,
        source=source_text(written, fallback_source),
    )
