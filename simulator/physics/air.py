"""Air density, wind with height, and the drag area's bend over yaw.

Plain numpy, on floats or arrays: worked out once a ride, before the kernels run.
"""

from __future__ import annotations

import numpy as np

from simulator.physics.constants import (
    DRY_AIR_GAS_CONSTANT,
    LAPSE_RATE_K_PER_M,
    STANDARD_GRAVITY_MPS2,
    VAPOUR_MASS_DEFICIT,
    YAW_NODES_DEG,
)


def vapour_pressure_pa(temperature_k):
    """Saturation pressure of water vapour over water.

    Parameters
    ----------
    temperature_k : float
        Temperature in K.

    Returns
    -------
    float
        Pressure in Pa.

    Notes
    -----
    Magnus form 611.2 exp(17.62 t / (243.12 + t)), t in °C [WMO2018]. Valid for -45 to 60 °C.
    """
    t_degc = temperature_k - 273.15
    return 611.2 * np.exp(17.62 * t_degc / (243.12 + t_degc))


def air_density_kgm3(temperature_k, pressure_pa, humidity):
    """Density of moist air.

    Parameters
    ----------
    temperature_k, pressure_pa : float
        Temperature in K and absolute pressure in Pa.
    humidity : float
        Relative humidity, 0 to 1.

    Returns
    -------
    float
        Density in kg/m³.

    Notes
    -----
    Ideal gases, rho = p / (R T) (1 - 0.378 e / p); 0.03 to 0.04 % below the CIPM-2007 formula
    [Picard2008], which is ample here.
    """
    vapour_pa = humidity * vapour_pressure_pa(temperature_k)
    dry = pressure_pa / (DRY_AIR_GAS_CONSTANT * temperature_k)
    return dry * (1.0 - VAPOUR_MASS_DEFICIT * vapour_pa / pressure_pa)


def pressure_at_pa(pressure_pa, temperature_k, rise_m):
    """Pressure at a height above a station, with the standard fall of temperature.

    Parameters
    ----------
    pressure_pa, temperature_k : float
        At the station, in Pa and K.
    rise_m : float
        Height above the station in m (negative below it).

    Returns
    -------
    float
        Pressure in Pa.

    Notes
    -----
    p = p0 (1 - L h / T0)^(g / (R L)) with L = 0.0065 K/m [ISO2533].
    """
    exponent = STANDARD_GRAVITY_MPS2 / (DRY_AIR_GAS_CONSTANT * LAPSE_RATE_K_PER_M)
    return pressure_pa * (1.0 - LAPSE_RATE_K_PER_M * rise_m / temperature_k) ** exponent


def station_pressure_pa(sea_level_pa, temperature_k, station_height_m):
    """Pressure at a station from the one that was reduced to sea level.

    Parameters
    ----------
    sea_level_pa : float
        Reduced pressure, in Pa.
    temperature_k : float
        Temperature at the station, in K.
    station_height_m : float
        Height of the station above the sea, in m.

    Returns
    -------
    float
        Pressure at the station, in Pa.

    Notes
    -----
    `pressure_at_pa` from sea level up, with the air below the station at the temperature that the
    standard fall gives from the station down [ISO2533]. Services that reduce with the standard
    atmosphere's own temperature instead differ by a few hPa at 1000 m, 0.1 % of a ride's time.
    """
    sea_level_k = temperature_k + LAPSE_RATE_K_PER_M * station_height_m
    return pressure_at_pa(sea_level_pa, sea_level_k, station_height_m)


def density_ratio(temperature_k, rise_m):
    """Air density at a height above a station over that at the station.

    Parameters
    ----------
    temperature_k : float
        At the station, in K.
    rise_m : float
        Height above the station in m.

    Returns
    -------
    float
        Ratio of densities.

    Notes
    -----
    Pressure and temperature as in `pressure_at_pa`; the share of vapour in the air is taken as
    the same at both heights (well mixed), so it cancels.
    """
    relative_k = 1.0 - LAPSE_RATE_K_PER_M * rise_m / temperature_k
    return pressure_at_pa(1.0, temperature_k, rise_m) / relative_k


def wind_factor(height_m, roughness_m):
    """Wind at a height over the forecast wind at 10 m above the same ground.

    Parameters
    ----------
    height_m : float
        Height above ground in m, well above the roughness.
    roughness_m : float
        Roughness length in m, at most 0.1 (open country).

    Returns
    -------
    float
        Factor below 1.

    Notes
    -----
    Logarithmic law ln(z / z0) / ln(10 / z0) for neutral air [Wieringa1992].
    """
    return np.log(height_m / roughness_m) / np.log(10.0 / roughness_m)


_SIN2_NODES = np.sin(np.radians(np.array(YAW_NODES_DEG))) ** 2
_SIN2_GAPS = np.diff(_SIN2_NODES)


def bends_over_yaw(areas_m2):
    """Turn drag areas at the yaw nodes into the base and bends that `forces` sums.

    Parameters
    ----------
    areas_m2 : (..., 7) array
        Drag area in m² at each angle of ``constants.YAW_NODES_DEG``.

    Returns
    -------
    (..., 7) array
        Base (m²), then the change of slope (m² per unit of squared sine) at 0, 5, 10, 15, 20 and
        30 degrees, such that area = base + bend_0 x + sum of bend_a max(x, x_a), x = sin² yaw.
    """
    areas_m2 = np.asarray(areas_m2, dtype=np.float64)
    slopes = (areas_m2[..., 1:] - areas_m2[..., :-1]) / _SIN2_GAPS
    base_and_bends = np.empty_like(areas_m2)
    bends = base_and_bends[..., 1:]
    bends[..., 0] = slopes[..., 0]
    bends[..., 1:] = slopes[..., 1:] - slopes[..., :-1]
    base_and_bends[..., 0] = areas_m2[..., 0] - (bends * _SIN2_NODES[:-1]).sum(axis=-1)
    return base_and_bends
