"""Ride a leg with given figures: what would have been measured, and its slopes.

All parameters of a test day are named here once, with how each one enters a ride.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from simulator.fieldtest.legs import Leg
from simulator.fieldtest.roads import FloatArray
from simulator.fieldtest.testday import TestDay
from simulator.pacing import Demand
from simulator.ride import simulate_many
from simulator.setup import RideSetup

STEPS = {
    "cda": 0.002,
    "crr": 1.0e-4,
    "bike_kg": 0.2,
    "rider_kg": 0.2,
    "wind_east": 0.3,
    "wind_north": 0.3,
    "factor": 0.004,
    "zero": 1.0,
    "start": 0.05,
}
"""Kind of a leg's parameter -> half the step of the central difference, in its unit."""

SLOW_MPS = 1.5
"""Where a roll to a stop is looked at last: slower, a ride is hard to time between nodes."""

_SPACING = 4

_ONE_SIDED = ("zero",)
"""This changes the course's power, so each variant is a batch of its own; the bend over one step
is a few thousandths of the slope."""

BENT = ("wind_east", "wind_north", "start")
"""What each run has anew and in which times bend: a wind that is not known slows on average, since
drag grows with its square. Left out, that would look like drag of the bike."""

HOPELESS_S = 1.0e4
"""Told for a ride that does not reach the last gate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LegFigures:
    """What a leg's ride depends on, each in SI.

    ``factor`` is what the meter shows over true power, ``zero`` what it shows too much in W,
    ``start`` the speed at the first gate.
    """

    cda: float
    crr: float
    bike_kg: float
    rider_kg: float
    wind_east: float
    wind_north: float
    factor: float
    zero: float
    start: float


def leg_prediction(day: TestDay, leg: Leg, figures: LegFigures) -> FloatArray:
    """What would have been measured on a leg: times at its marks in s, or the stop in m."""
    return np.asarray(_ride(day, leg, [figures])[0])


def leg_slopes(
    day: TestDay, leg: Leg, figures: LegFigures, wanted: tuple[str, ...]
) -> tuple[FloatArray, dict[str, FloatArray], dict[str, FloatArray]]:
    """Prediction of a leg, its derivative to each wanted figure, and the bends that matter.

    Parameters
    ----------
    day : TestDay
    leg : Leg
    figures : LegFigures
        Where.
    wanted : tuple of str
        Names of fields of `LegFigures`.

    Returns
    -------
    (k,) array, dict of (k,) arrays, dict of (k,) arrays
        Differences (central but for `_ONE_SIDED`); the ride is smooth in all of them. Second
        derivatives for those of `BENT` that are wanted.
    """
    variants = [figures]

    def place(**steps: float) -> int:
        changed = {name: getattr(figures, name) + step for name, step in steps.items()}
        variants.append(replace(figures, **changed))
        return len(variants) - 1

    ups, downs = {}, {}
    for name in wanted:
        ups[name] = place(**{name: STEPS[name]})
        downs[name] = 0 if name in _ONE_SIDED else place(**{name: -STEPS[name]})
    found = _ride(day, leg, variants)
    slopes = {
        name: (found[ups[name]] - found[downs[name]])
        / (STEPS[name] * (1.0 if name in _ONE_SIDED else 2.0))
        for name in wanted
    }
    bends = {
        name: (found[ups[name]] - 2.0 * found[0] + found[downs[name]]) / STEPS[name] ** 2
        for name in wanted
        if name in BENT
    }
    return found[0], slopes, bends


def _ride(day: TestDay, leg: Leg, variants: list[LegFigures]) -> FloatArray:
    """Predictions for variants of the figures; rides that share power and start go together."""
    groups: dict[tuple[float, float], list[int]] = {}
    for i, figures in enumerate(variants):
        groups.setdefault((figures.zero, figures.start), []).append(i)
    marks = leg.cut.marks
    if leg.stop_m is not None:
        marks = np.arange(leg.cut.course.n_segments + 1, dtype=np.int64)
    times = np.empty((len(variants), 1 + len(marks)))
    for (zero_w, start_mps), members in groups.items():
        times[members] = _times_s(
            day, leg, zero_w, start_mps, [variants[i] for i in members], marks
        )
    if leg.stop_m is None:
        with np.errstate(invalid="ignore"):
            since_gate = times[:, 1:] - times[:, :1]
        return np.where(np.isfinite(since_gate), since_gate, HOPELESS_S)
    return _stops_m(leg, times[:, 1:])[:, None]


def _times_s(
    day: TestDay,
    leg: Leg,
    zero_w: float,
    start_mps: float,
    variants: list[LegFigures],
    marks: NDArray[np.int64],
) -> FloatArray:
    rider, build = day.rider, leg.run.build.build
    setup = RideSetup(rider=rider, build=build, weather=leg.run.weather)
    is_pedalled = leg.powers_w > 0.0
    powers_w = np.where(is_pedalled, np.maximum(leg.powers_w - zero_w, 0.0), 0.0)
    columns: Mapping[str, FloatArray] = {
        name: np.array([getattr(v, name) for v in variants], dtype=np.float64)
        for name in ("cda", "crr", "bike_kg", "rider_kg", "wind_east", "wind_north", "factor")
    }
    draws = {
        "build.cda_m2": columns["cda"],
        "build.crr": columns["crr"],
        "build.mass_kg": columns["bike_kg"],
        "rider.mass_kg": columns["rider_kg"],
        "weather.wind_mps": np.hypot(columns["wind_east"], columns["wind_north"]),
        "weather.wind_from_deg": np.degrees(
            np.arctan2(columns["wind_east"], columns["wind_north"])
        ),
        "rider.power_w": rider.power_w.value / columns["factor"],
    }
    found = simulate_many(
        course=leg.cut.course,
        setups=[setup],
        demand=Demand(powers_w=powers_w, text="as recorded"),
        draws=[draws],
        marks=np.concatenate(([leg.cut.first], marks)),
        start_speed_mps=start_mps,
    )
    return np.asarray(found[0])


def _stops_m(leg: Leg, times_s: FloatArray) -> FloatArray:
    """Where rides that run out of speed come to rest, in m from the first gate.

    On an even grade v² falls towards its rest value as exp(-b s) (closed form of a coast-down);
    three places of equal distance just above `SLOW_MPS` give b and where v² reaches 0. The same
    three places serve all rides. On a grade that changes just there the answer is off.
    """
    course = leg.cut.course
    places = course.node_distances_m - course.node_distances_m[leg.cut.first]
    middles, lengths = 0.5 * (places[1:] + places[:-1]), course.lengths_m
    with np.errstate(invalid="ignore", divide="ignore"):
        squared = (lengths / np.diff(times_s, axis=1)) ** 2
    base = np.nan_to_num(squared[0], nan=0.0, posinf=0.0)
    fast = np.flatnonzero(base > SLOW_MPS**2)
    i_last = max(int(fast[-1]) if len(fast) else 0, 2 * _SPACING)
    at = [i_last - 2 * _SPACING, i_last - _SPACING, i_last]
    spacing_m = 0.5 * (middles[at[2]] - middles[at[0]])
    first, second, third = (squared[:, i] for i in at)
    with np.errstate(invalid="ignore", divide="ignore"):
        fall = second - third
        ratio = np.clip(fall / (first - second), 1.0e-3, 1.0 - 1.0e-6)
        left = 1.0 - third * (1.0 - ratio) / (fall * ratio)
        stops = middles[i_last] + spacing_m * np.log(left) / np.log(ratio)
    never = ~np.isfinite(stops) | (fall <= 0.0)
    return np.asarray(np.where(never, 2.0 * places[-1], stops))
