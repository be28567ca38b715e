"""Gusts: they change no ride, but the mean wind of one ride is less sure in gusty air."""

from __future__ import annotations

import math
from dataclasses import replace

from simulator.setup.uncertain import Uncertain
from simulator.setup.weather import Weather

PEAK_FACTOR = 3.0
"""Standard deviations by which the strongest 3 s gust of ten minutes stands above the mean: about
3 in [Wieringa1973], from memory."""

GUST_LENGTH_M = 68.0
"""Length of the eddies 10 m above open ground: L = 300 m (z / 200 m)^a with
a = 0.67 + 0.05 ln(z0 / 1 m), z0 = 0.03 m [EN1991, annex B], from memory."""


def turbulence_mps(mean_mps: float, gust_mps: float) -> float:
    """Standard deviation of the wind along its direction, from mean and gust.

    Parameters
    ----------
    mean_mps, gust_mps : float
        Mean wind and strongest gust of the forecast, both at 10 m.

    Returns
    -------
    float
        m/s; divided by the mean it is the turbulence intensity.

    Notes
    -----
    Gust factor 1 + g I with peak factor g and turbulence intensity I [Wieringa1973].
    """
    return max(gust_mps - mean_mps, 0.0) / PEAK_FACTOR


def ride_wind_sd_mps(turbulence: float, distance_m: float) -> float:
    """Standard deviation of the wind's mean over a ride, from turbulence alone.

    Parameters
    ----------
    turbulence : float
        Standard deviation of the wind at one moment, m/s.
    distance_m : float
        Length of the ride.

    Returns
    -------
    float
        m/s, at most `turbulence`.

    Notes
    -----
    The mean over a stretch much longer than the eddies has the variance s² 2 L / D
    [Lumley1964]; the rider passes through the eddies much faster than they change, so that D is
    the way ridden, whatever the speed.
    """
    return turbulence * math.sqrt(min(2.0 * GUST_LENGTH_M / distance_m, 1.0))


def with_gusts(weather: Weather, *, distance_m: float) -> Weather:
    """The same weather, its wind's doubt widened by what gusts do to the mean over one ride.

    Parameters
    ----------
    weather : Weather
        With or without a gust.
    distance_m : float
        Length of the ride.

    Returns
    -------
    Weather
        The very same object without a gust; else a copy whose ``wind_mps.sd`` is the root of the
        sum of squares of the forecast's doubt and `ride_wind_sd_mps`.
    """
    if weather.gust_mps is None:
        return weather
    wind = weather.wind_mps
    turbulence = turbulence_mps(wind.value, weather.gust_mps)
    sd = math.hypot(wind.sd, ride_wind_sd_mps(turbulence, distance_m))
    return replace(weather, wind_mps=Uncertain(wind.value, sd))
