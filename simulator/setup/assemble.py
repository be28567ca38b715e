"""Rider, build and weather, put together for one ride."""

from __future__ import annotations

from dataclasses import dataclass

from simulator.setup.bike import Build
from simulator.setup.defaults import CAUTION_LEVELS, CautionLevel
from simulator.setup.rider import Rider
from simulator.setup.weather import Weather


@dataclass(frozen=True, slots=True, kw_only=True)
class RideSetup:
    """Everything about a ride but the course and the pacing."""

    rider: Rider
    build: Build
    weather: Weather


def caution_of(rider: Rider, build: Build) -> CautionLevel:
    """What of lean and braking is used on a build.

    Parameters
    ----------
    rider, build : Rider, Build
        The rider's own, unless the build names a level.
    """
    if build.caution is not None:
        return CAUTION_LEVELS[build.caution]
    return CautionLevel(
        lean_deg=rider.lean_deg, pedal_lean_deg=rider.pedal_lean_deg, braking_g=rider.braking_g
    )
