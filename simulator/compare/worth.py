"""What one step of mass, air, rolling or power is worth on this course."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simulator.compare.gap import Gap
from simulator.measures import Measures, Phrase, amount
from simulator.pacing import Demand
from simulator.ride import Draws, Ride, simulate_many

STEPS = (
    ("mass", "build.mass_kg", -1.0, Phrase("{mass} less", mass=amount(Measures.mass, 1.0, 0))),
    ("air", "build.cda_m2", -0.010, "0.010 m² less CdA"),
    ("rolling", "build.crr", -0.0005, "0.0005 less Crr"),
    ("power", "rider.power_w", 10.0, "10 W more"),
)
"""Cause, input, change, and the change in words."""

_FAN = 32

SLOPE_SHARE = 1.0e-3
"""Local slopes come from a central difference of this share of a step."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StepWorth:
    """What one step buys the slower build here.

    ``change_s`` is the change of its time by a full re-ride (negative: faster);
    ``slope_change_s`` the same by the local derivative, so that the bend shows.
    """

    label: str
    step: str
    change_s: float
    slope_change_s: float


def step_worths(ride: Ride, demand: Demand) -> tuple[StepWorth, ...]:
    """Re-ride a setup with each of `STEPS` in turn."""
    # A step of the steady power that is ridden, told as one of the rider's power, which scales it.
    per_watt = _rider_watts_per_watt(ride, demand)
    nominals = {
        "build.mass_kg": ride.setup.build.mass_kg.value,
        "build.cda_m2": ride.setup.build.cda_m2.value,
        "build.crr": ride.setup.build.crr.value,
        "rider.power_w": ride.setup.rider.power_w.value,
    }
    scales = dict.fromkeys(nominals, 1.0) | {"rider.power_w": per_watt}
    steps = [(cause, name, change * scales[name], text) for cause, name, change, text in STEPS]
    usable = [step for step in steps if nominals[step[1]] + step[2] > 0.0 < nominals[step[1]]]
    n_rides = 3 * len(usable)
    draws = {name: np.full(n_rides, nominal) for name, nominal in nominals.items()}
    for i, (_, name, change, _) in enumerate(usable):
        draws[name][3 * i] += change
        draws[name][3 * i + 1] += change * SLOPE_SHARE
        draws[name][3 * i + 2] -= change * SLOPE_SHARE
    times_s = _times_s(ride, demand, draws)
    return tuple(
        StepWorth(
            label=cause,
            step=words,
            change_s=float(times_s[3 * i] - ride.time_s),
            slope_change_s=float((times_s[3 * i + 1] - times_s[3 * i + 2]) / (2.0 * SLOPE_SHARE)),
        )
        for i, (cause, _, _, words) in enumerate(usable)
        if np.isfinite(times_s[3 * i : 3 * i + 3]).all()
    )


def tie_power_w(gap: Gap, demand: Demand) -> float | None:
    """How much more power, at the same pacing, the slower build needs to tie.

    Returns
    -------
    float or None
        Watts on top of the steady power ridden; None where no power up to three times it would do.

    Notes
    -----
    Time falls with power, so the crossing is bracketed by a fan of rides that narrows each round.
    """
    slower, faster = (gap.other, gap.first) if gap.total_s > 0.0 else (gap.first, gap.other)
    nominal_w = slower.setup.rider.power_w.value
    if nominal_w <= 0.0:
        return None
    # Most gaps are small: dense beside what is ridden, up to three times as much.
    fan_w = nominal_w * (1.0 + 2.0 * np.linspace(0.0, 1.0, _FAN) ** 3)
    for _ in range(2):
        times_s = _times_s(slower, demand, {"rider.power_w": fan_w})
        ahead = np.flatnonzero(times_s <= faster.time_s)
        if len(ahead) == 0:
            return None
        i = max(int(ahead[0]), 1)
        low_w, high_w = float(fan_w[i - 1]), float(fan_w[i])
        low_s, high_s = float(times_s[i - 1]), float(times_s[i])
        fan_w = np.linspace(low_w, high_w, _FAN)
    # Within a thirtieth of a thirtieth the time is a straight line.
    share = (low_s - faster.time_s) / (low_s - high_s) if np.isfinite(low_s - high_s) else 1.0
    extra_w = low_w + share * (high_w - low_w) - nominal_w
    return extra_w / _rider_watts_per_watt(slower, demand)


def _rider_watts_per_watt(ride: Ride, demand: Demand) -> float:
    """Change of the rider's power, which scales a demand, for a watt of its steady power."""
    if not demand.steady_w:
        return 1.0
    return ride.setup.rider.power_w.value / demand.steady_w


def _times_s(
    ride: Ride, demand: Demand, draws: Draws
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return simulate_many(
        course=ride.course,
        setups=[ride.setup],
        demand=demand,
        draws=[draws],
        start_speed_mps=float(ride.node_speeds_mps[0]),
    )[0, :, 0]
