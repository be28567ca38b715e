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

    ``pressure_hpa`` is what a barometer shows at ``station_height_m`` (not reduced to sea level
    unless that height is 0); temperature and humidity are at the same place. ``wind_mps`` is the
    forecast wind at 10 m over open ground, ``wind_from_deg`` the direction it blows from,
    clockwise from north. ``rider_height_m`` is where the wind is wanted. ``is_wet`` is the road.
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
