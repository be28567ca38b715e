"""What following costs: means, surges over critical power, laps, corners."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from simulator.bunch.wheel import Band
from simulator.ride import Following

LEAST_SURGE_S = 2.0
"""Shorter stretches above critical power are no surges, shorter lulls do not end one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Surges:
    """Surges over critical power on a ride."""

    count: int
    mean_s: float
    mean_over_w: float
    longest_s: float
    work_over_j: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LapCost:
    """One lap: what it needs, and W′ at its lowest."""

    lap: int
    time_s: float
    mean_w: float
    fourth_power_mean_w: float
    low_j: float | None
    is_held: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CornerCost:
    """One corner, all laps together: gap to close, power out of it, work to get up to speed."""

    name: str
    n_times: int
    gap_m: float
    peak_w: float
    surge_w: float
    surge_s: float
    speed_up_j: float


def mean_needed_w(following: Following) -> float:
    """Mean over time of the power that holding the wheel needs."""
    taken_s = np.diff(following.node_times_s)
    return float(following.needed_w @ taken_s / taken_s.sum())


def fourth_power_mean_needed_w(following: Following) -> float:
    """Fourth root of the time mean of its fourth power, unsmoothed."""
    taken_s = np.diff(following.node_times_s)
    return float((following.needed_w**4 @ taken_s / taken_s.sum()) ** 0.25)


def surges_of(following: Following) -> Surges:
    """Surges over critical power; none where it is not stated."""
    cp_w = following.setup.rider.cp_w
    if cp_w is None:
        return Surges(count=0, mean_s=0.0, mean_over_w=0.0, longest_s=0.0, work_over_j=0.0)
    times_s = following.node_times_s
    spans: list[list[float]] = []
    for i in np.flatnonzero(following.needed_w > cp_w):
        start_s, end_s = float(times_s[i]), float(times_s[i + 1])
        if spans and start_s - spans[-1][1] < LEAST_SURGE_S:
            spans[-1][1] = end_s
        else:
            spans.append([start_s, end_s])
    kept = [(a, b) for a, b in spans if b - a >= LEAST_SURGE_S]
    over_j = np.maximum(following.needed_w - cp_w, 0.0) * np.diff(times_s)
    if not kept:
        return Surges(
            count=0, mean_s=0.0, mean_over_w=0.0, longest_s=0.0, work_over_j=float(over_j.sum())
        )
    lengths_s = [b - a for a, b in kept]
    inside = np.zeros(len(over_j), dtype=bool)
    for a, b in kept:
        inside |= (times_s[:-1] >= a) & (times_s[1:] <= b)
    return Surges(
        count=len(kept),
        mean_s=float(np.mean(lengths_s)),
        mean_over_w=float(over_j[inside].sum() / sum(lengths_s)),
        longest_s=max(lengths_s),
        work_over_j=float(over_j.sum()),
    )


def lap_costs(following: Following) -> tuple[LapCost, ...]:
    """Lap by lap."""
    course = following.wheel.course
    nodes = np.searchsorted(course.node_distances_m, course.lap_starts_m - 1e-6)
    nodes[-1] = course.n_segments
    has_reserve = following.setup.rider.wprime_j is not None
    laps = []
    for lap, (a, b) in enumerate(pairwise(nodes), start=1):
        taken_s = np.diff(following.node_times_s[a : b + 1])
        needed_w = following.needed_w[a:b]
        lost_at_m = following.lost_at_m
        laps.append(
            LapCost(
                lap=lap,
                time_s=float(taken_s.sum()),
                mean_w=float(needed_w @ taken_s / taken_s.sum()),
                fourth_power_mean_w=float((needed_w**4 @ taken_s / taken_s.sum()) ** 0.25),
                low_j=float(following.node_reserves_j[a : b + 1].min()) if has_reserve else None,
                is_held=lost_at_m is None or lost_at_m >= course.node_distances_m[b],
            )
        )
    return tuple(laps)


def corner_costs(following: Following, bands: Sequence[Band]) -> tuple[CornerCost, ...]:
    """Corners that slow the bunch, dearest first; the same corner of all laps together."""
    nodes_m = following.wheel.course.node_distances_m
    setup = following.setup
    build = setup.build
    mass_kg = setup.rider.mass_kg.value + setup.rider.kit_kg.value + build.mass_kg.value
    mass_kg += build.wheel_inertia_kgm2.value / build.wheel_radius_m**2
    taken_s = np.diff(following.node_times_s)
    # Kinetic energy gained on each segment, as work at the pedals; at most what they do there.
    faster_j = 0.5 * mass_kg * np.diff(np.square(following.wheel.node_speeds_mps))
    faster_j = faster_j / build.drivetrain_efficiency.value
    speeding_j = np.clip(faster_j, 0.0, following.needed_w * taken_s)
    named: dict[str, list[Band]] = {}
    for band in bands:
        named.setdefault(band.name, []).append(band)
    costs = []
    for name, group in named.items():
        speed_up_j, peak_w, work_j, seconds = 0.0, 0.0, 0.0, 0.0
        for band in group:
            inside = (nodes_m[:-1] >= band.exit_m - 1e-6) & (nodes_m[1:] <= band.closed_m + 1e-6)
            if not inside.any():
                continue
            joules = float(following.needed_w[inside] @ taken_s[inside])
            work_j += joules
            seconds += float(taken_s[inside].sum())
            speed_up_j += float(speeding_j[inside].sum())
            peak_w = max(peak_w, float(following.needed_w[inside].max()))
        costs.append(
            CornerCost(
                name=name,
                n_times=len(group),
                gap_m=float(np.mean([band.gap_m for band in group])),
                peak_w=peak_w,
                surge_w=work_j / seconds if seconds > 0.0 else 0.0,
                surge_s=seconds / len(group),
                speed_up_j=speed_up_j,
            )
        )
    return tuple(sorted(costs, key=lambda cost: -cost.speed_up_j))
