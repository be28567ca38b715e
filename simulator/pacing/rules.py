"""Pacing rules as data: what a rider decides before the start."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.recordings import Recording


@dataclass(frozen=True, slots=True, kw_only=True)
class Constant:
    """Start from this power everywhere."""

    power_w: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ByGrade:
    """More uphill, less downhill: watts for each unit of grade beyond two thresholds.

    ``per_grade_above_w`` is added per unit of grade above ``above_grade``; ``per_grade_below_w``
    is taken off per unit of grade below ``below_grade``.
    """

    above_grade: float
    per_grade_above_w: float
    below_grade: float
    per_grade_below_w: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ByWind:
    """More into the wind: watts for each m/s of forecast head wind (negative with a tail wind)."""

    per_mps_w: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OnFeature:
    """Another power on some climbs, descents or flats.

    ``feature`` is a kind ("climb", "descent", "flat") or the name of one. One of the three holds:
    a power, watts to add, or a factor.
    """

    feature: str
    power_w: float | None = None
    add_w: float | None = None
    factor: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Surge:
    """Watts on top for some seconds out of every corner."""

    add_w: float
    for_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """A lid and a floor on the power wanted by place (surges come on top)."""

    floor_w: float
    cap_w: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Coast:
    """Stop pedalling above a speed or where the road falls more steeply, instead of the rider's."""

    above_mps: float | None = None
    below_grade: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class EvenReserve:
    """Spend a share of W' evenly over the time on all climbs: one power above CP on each."""

    share: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Replay:
    """Replay recorded power by distance along the course, before any other rule adds to it."""

    distances_m: NDArray[np.float64]
    powers_w: NDArray[np.float64]
    label: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReplayRecording:
    """Replay a recorded ride place by place, before any other rule adds to it."""

    recording: Recording


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """Scale the powers so that the ride comes out at a mean, or at a fourth-power mean."""

    mean_w: float | None = None
    fourth_power_mean_w: float | None = None


Rule = (
    Constant
    | ByGrade
    | ByWind
    | OnFeature
    | Surge
    | Limits
    | Coast
    | EvenReserve
    | Replay
    | ReplayRecording
    | Target
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pacing:
    """Rules in the order in which they are applied."""

    name: str
    rules: tuple[Rule, ...]
    source: str = ""
