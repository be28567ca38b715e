"""Builds, riders and weathers from keys instead of files: the same keys, the same checks."""

from __future__ import annotations

from collections.abc import Mapping

from simulator.files import check_keys
from simulator.setup.bike import Build
from simulator.setup.build_file import BuildFile, build_of
from simulator.setup.rider import Rider
from simulator.setup.rider_file import RiderFile, rider_of
from simulator.setup.uncertain import Uncertain
from simulator.setup.weather import Weather
from simulator.setup.weather_file import WeatherFile, weather_of

MADE = "given in Python"


def build_from_keys(keys: Mapping[str, object]) -> Build:
    """A build from the keys of its file; see `load_build`."""
    return build_of(check_keys(_written(keys), BuildFile, file="build"), fallback_source=MADE)


def rider_from_keys(keys: Mapping[str, object]) -> Rider:
    """A rider from the keys of its file; see `load_rider`."""
    return rider_of(check_keys(_written(keys), RiderFile, file="rider"), fallback_source=MADE)


def weather_from_keys(keys: Mapping[str, object]) -> Weather:
    """A weather from the keys of its file; see `load_weather`."""
    return weather_of(check_keys(_written(keys), WeatherFile, file="weather"), fallback_source=MADE)


def _written(keys: Mapping[str, object]) -> dict[str, object]:
    """Keys as a file would hold them."""
    return {
        key: {"value": value.value, "sd": value.sd} if isinstance(value, Uncertain) else value
        for key, value in keys.items()
    }
