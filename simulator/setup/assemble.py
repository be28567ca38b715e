"""Rider, build and weather, put together for one ride."""

from __future__ import annotations

from dataclasses import dataclass

from simulator.setup.bike import Build
from simulator.setup.rider import Rider
from simulator.setup.weather import Weather


@dataclass(frozen=True, slots=True, kw_only=True)
class RideSetup:
    """Everything about a ride but the course and the pacing."""

    rider: Rider
    build: Build
    weather: Weather
