"""The air of the day."""

from __future__ import annotations

from dataclasses import dataclass

from simulator.setup.uncertain import Uncertain


@dataclass(frozen=True, slots=True, kw_only=True)
class WindAt:
    """The forecast wind at one moment, `time_s` after the start."""

    time_s: float
    wind_mps: float
    wind_from_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather:
    """Air and wind of one race day.

    ``pressure_hpa`` is what a barometer shows at ``station_height_m`` or, where
    ``is_pressure_reduced``, that value reduced to sea level; temperature and humidity are at
    ``station_height_m``. From there temperature falls by 0.0065 K a metre up and pressure with it
    [ISO2533]. ``wind_mps`` is the forecast wind at 10 m over open ground, ``wind_from_deg`` the
    direction it blows from, clockwise from north. ``rider_height_m`` is where the wind is wanted.
    ``is_wet`` is the road. ``gust_mps`` is the strongest gust forecast; it changes no ride and
    enters the doubt of the wind (`with_gusts`). ``start_clock_s`` is the time of day of the start.
    ``winds`` is the wind over time, ascending, if it turns or grows during the race; its doubt is
    that of ``wind_mps`` and ``wind_from_deg``, which then hold the values at the start.
    """

    name: str
    temperature_degc: Uncertain
    pressure_hpa: Uncertain
    station_height_m: float
    humidity_pct: Uncertain
    wind_mps: Uncertain
    wind_from_deg: Uncertain
    rider_height_m: float
    is_wet: bool
    source: str
    winds: tuple[WindAt, ...] = ()
    gust_mps: float | None = None
    is_pressure_reduced: bool = False
    start_clock_s: float | None = None
