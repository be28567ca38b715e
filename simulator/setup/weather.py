"""The air of the day."""

from __future__ import annotations

from dataclasses import dataclass

from simulator.setup.uncertain import Uncertain


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather:
    """Air and wind of one race day.

    ``pressure_hpa`` is what a barometer shows at ``station_height_m`` (not reduced to sea level
    unless that height is 0); temperature and humidity are at the same place. ``wind_mps`` is the
    forecast wind at 10 m over open ground, ``wind_from_deg`` the direction it blows from,
    clockwise from north. ``rider_height_m`` is where the wind is wanted. ``is_wet`` is the road.
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
