"""The forecast wind at any time after the start."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simulator.setup.weather import Weather

FloatArray = NDArray[np.float64]


def winds_mps(weather: Weather, times_s: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Forecast wind at some times after the start.

    Parameters
    ----------
    weather : Weather
        Its wind at the start, or its wind over time.
    times_s : (n,) array
        Times since the start.

    Returns
    -------
    tuple of (n,) arrays
        Wind from the east and from the north in m/s. Between two forecasts both change evenly, as
        in the ride.
    """
    if not weather.winds:
        speeds = np.full(len(times_s), weather.wind_mps.value)
        from_rad = np.full(len(times_s), np.radians(weather.wind_from_deg.value))
        return speeds * np.sin(from_rad), speeds * np.cos(from_rad)
    at_s = [wind.time_s for wind in weather.winds]
    speeds = np.array([wind.wind_mps for wind in weather.winds])
    from_rad = np.radians([wind.wind_from_deg for wind in weather.winds])
    return (
        np.interp(times_s, at_s, speeds * np.sin(from_rad)),
        np.interp(times_s, at_s, speeds * np.cos(from_rad)),
    )
