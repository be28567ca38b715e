"""The forecast wind at any time after the start."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simulator.setup.weather import Weather, WindAt

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
    at_s, table_mps = wind_table(weather)
    return np.interp(times_s, at_s, table_mps[0]), np.interp(times_s, at_s, table_mps[1])


def wind_table(weather: Weather) -> tuple[FloatArray, FloatArray]:
    """The forecasts of a weather as components; between them both change evenly.

    Parameters
    ----------
    weather : Weather
        Its wind over time, or the one at the start alone.

    Returns
    -------
    tuple
        (k,) array of times since the start in s, and (2, k) array of the wind from the east and
        from the north in m/s.
    """
    winds = weather.winds or (
        WindAt(
            time_s=0.0,
            wind_mps=weather.wind_mps.value,
            wind_from_deg=weather.wind_from_deg.value,
        ),
    )
    from_rad = np.radians([wind.wind_from_deg for wind in winds])
    speeds_mps = np.array([wind.wind_mps for wind in winds])
    return (
        np.array([wind.time_s for wind in winds]),
        np.ascontiguousarray(speeds_mps * [np.sin(from_rad), np.cos(from_rad)]),
    )
