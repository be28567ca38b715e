"""Conversions between SI (inside, everywhere) and what people read and write (the edge).

Nothing else in the package converts units; how a quantity is worded when it is shown stands in
``measures.py``.
"""

from __future__ import annotations

import math

MPS_PER_KMH = 1.0 / 3.6
PA_PER_HPA = 100.0
ZERO_DEGC_K = 273.15

# Exact by the international yard and pound agreement of 1959.
M_PER_FT = 0.3048
M_PER_MI = 5280.0 * M_PER_FT
M_PER_IN = M_PER_FT / 12.0
KG_PER_LB = 0.45359237
# A pound-force (standard gravity 9.80665 m/s²) on a square inch.
BAR_PER_PSI = KG_PER_LB * 9.80665 / M_PER_IN**2 / 1.0e5
MPS_PER_MPH = M_PER_MI / 3600.0
DEGC_PER_DEGF = 5.0 / 9.0
FREEZING_DEGF = 32.0


def kmh_from_mps(speed_mps: float) -> float:
    """Speed in km/h from m/s."""
    return speed_mps / MPS_PER_KMH


def mps_from_kmh(speed_kmh: float) -> float:
    """Speed in m/s from km/h."""
    return speed_kmh * MPS_PER_KMH


def k_from_degc(temperature_degc: float) -> float:
    """Temperature in kelvin from degrees Celsius."""
    return temperature_degc + ZERO_DEGC_K


def rad_from_deg(angle_deg: float) -> float:
    """Angle in radians from degrees."""
    return math.radians(angle_deg)


def fraction_from_pct(share_pct: float) -> float:
    """A share or grade as a fraction from percent."""
    return share_pct / 100.0


def j_from_kj(energy_kj: float) -> float:
    """Energy in joules from kilojoules."""
    return energy_kj * 1000.0


def s_from_h(time_h: float) -> float:
    """A duration in seconds from hours."""
    return time_h * 3600.0


def duration(time_s: float) -> str:
    """A duration in a sentence: ``45 s``, from a minute on as a clock."""
    return clock(time_s) if time_s >= 59.5 else f"{time_s:.0f} s"


def clock(time_s: float) -> str:
    """A duration as people read it: ``4:05`` for minutes, ``1:02:33`` for hours.

    Rounds to the nearest second; a negative duration keeps its sign in front.
    """
    total = round(abs(time_s))
    sign = "-" if time_s < 0 and total else ""
    hours, rest = divmod(total, 3600)
    minutes, seconds = divmod(rest, 60)
    if hours:
        return f"{sign}{hours}:{minutes:02d}:{seconds:02d}"
    return f"{sign}{minutes}:{seconds:02d}"
