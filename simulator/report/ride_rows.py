"""Splits, stretches, laps and corners of one ride, as rows to show."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from simulator.course import Corner
from simulator.measures import METRIC, Measures
from simulator.pacing import Demand
from simulator.report import words
from simulator.ride import ENERGY_CAUSES, Ride, ledger_of
from simulator.setup import top_speed_mps

_MOST_SPLITS = 20
_AT_CEILING = 0.995


@dataclass(frozen=True, slots=True, kw_only=True)
class SplitRow:
    """A split, stretch or lap: where it is and how it went.

    ``reserve_share`` is W′ left at its end over the full one; None where it is not followed.
    """

    kind: str
    name: str
    start_m: float
    end_m: float
    time_s: float
    clock_s: float
    mean_speed_mps: float
    top_speed_mps: float
    mean_power_w: float
    mean_grade: float
    ascent_m: float
    descent_m: float
    reserve_share: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CornerPass:
    """A corner that holds the ride up: from braking to its lowest speed."""

    name: str
    apex_m: float
    radius_m: float
    lowest_mps: float
    braking_j: float


def split_rows(
    ride: Ride, length_m: float | None, measures: Measures = METRIC
) -> tuple[SplitRow, ...]:
    """Splits of one length, the last one shorter; by default a round one that makes at most 20."""
    end_m = ride.course.distance_m
    length_m = length_m or _split_length_m(end_m, measures)
    marks_m = [*np.arange(0.0, end_m - 0.05 * length_m, length_m).tolist(), end_m]
    units = length_m / measures.m_per_distance
    decimals = 0 if abs(units - round(units)) < 1e-9 else 1
    return tuple(
        stretch_row(
            ride,
            "split",
            measures.distance_number(stop_m, decimals if stop_m < end_m else 1),
            start_m,
            stop_m,
        )
        for start_m, stop_m in pairwise(marks_m)
    )


def _split_length_m(distance_m: float, measures: Measures) -> float:
    round_m = measures.splits_m
    return next((m for m in round_m if distance_m / m <= _MOST_SPLITS), round_m[-1])


def lap_rows_of(ride: Ride) -> tuple[SplitRow, ...]:
    """Lap by lap; empty for a course ridden once."""
    course = ride.course
    if course.n_laps < 2:
        return ()
    bounds_m = course.lap_starts_m.tolist()
    return tuple(
        stretch_row(ride, "lap", f"Lap {i + 1}", start_m, end_m)
        for i, (start_m, end_m) in enumerate(pairwise(bounds_m))
    )


def stretch_row(ride: Ride, kind: str, name: str, start_m: float, end_m: float) -> SplitRow:
    """How the ride went between two places."""
    course = ride.course
    nodes_m = course.node_distances_m
    ends_m = np.array([start_m, end_m])
    works_j = np.concatenate([[0.0], np.cumsum(ride.powers_w * np.diff(ride.node_times_s))])
    steps_m = np.diff(course.node_heights_m)
    rises_m = np.concatenate([[0.0], np.cumsum(np.maximum(steps_m, 0.0))])
    from_s, to_s = np.interp(ends_m, nodes_m, ride.node_times_s)
    work_j = float(np.diff(np.interp(ends_m, nodes_m, works_j))[0])
    ascent_m = float(np.diff(np.interp(ends_m, nodes_m, rises_m))[0])
    climbed_m = float(np.diff(np.interp(ends_m, nodes_m, course.node_heights_m))[0])
    inside = (nodes_m >= start_m) & (nodes_m <= end_m)
    at_ends_mps = np.interp(ends_m, nodes_m, ride.node_speeds_mps)
    top_mps = max(float(at_ends_mps.max()), float(ride.node_speeds_mps[inside].max(initial=0.0)))
    reserve = None
    if ride.node_reserves_j is not None and ride.setup.rider.wprime_j:
        left_j = float(np.interp(end_m, nodes_m, ride.node_reserves_j))
        reserve = left_j / ride.setup.rider.wprime_j
    return SplitRow(
        kind=kind,
        name=name,
        start_m=start_m,
        end_m=end_m,
        time_s=float(to_s - from_s),
        clock_s=float(to_s),
        mean_speed_mps=(end_m - start_m) / float(to_s - from_s),
        top_speed_mps=top_mps,
        mean_power_w=work_j / float(to_s - from_s),
        mean_grade=climbed_m / (end_m - start_m),
        ascent_m=ascent_m,
        descent_m=ascent_m - climbed_m,
        reserve_share=reserve,
    )


def is_limiting(ride: Ride, corner: Corner) -> bool:
    """Whether the ride touches the ceiling of this corner or the braking for it."""
    nodes_m = ride.course.node_distances_m
    inside = (nodes_m >= corner.start_m) & (nodes_m <= corner.end_m)
    ceilings = ride.ceilings_mps[inside]
    return bool((ride.node_speeds_mps[inside] >= _AT_CEILING * ceilings).any())


def corner_passes(ride: Ride) -> tuple[CornerPass, ...]:
    """Corners that limit the ride; of a course with laps those of the last one, ridden at speed."""
    course = ride.course
    nodes_m = course.node_distances_m
    braking_j = ride.energies_j[ENERGY_CAUSES.index("braking")]
    rows = []
    before_m = 0.0
    for corner in course.corners:
        from_m, before_m = before_m, corner.end_m
        if corner.lap != course.n_laps or not is_limiting(ride, corner):
            continue
        inside = (nodes_m >= corner.start_m) & (nodes_m <= corner.end_m)
        ahead = (nodes_m[:-1] >= from_m) & (nodes_m[1:] <= corner.end_m)
        rows.append(
            CornerPass(
                name=words.capital(corner.name),
                apex_m=corner.apex_m,
                radius_m=corner.radius_m,
                lowest_mps=float(ride.node_speeds_mps[inside].min()),
                braking_j=float(braking_j[ahead].sum()),
            )
        )
    return tuple(rows)


@dataclass(frozen=True, slots=True, kw_only=True)
class FadeRow:
    """Where power fades with speed, from one speed to the other, and for how long it does."""

    from_mps: float
    to_mps: float
    time_s: float
    is_habit: bool  # the rider's coasting speed; else the highest gear


def fade_row(ride: Ride, demand: Demand) -> FadeRow:
    """How far the rider's coasting speed, or the highest gear, held the power down.

    Parameters
    ----------
    ride, demand : Ride, Demand
        The ride, and the settled demand that it was ridden with.
    """
    rules = ledger_of(ride, demand).rules
    to_mps = rules["spin_mps"]
    from_mps = to_mps - 1.0 / rules["inverse_spin_width_s_per_m"]
    speeds_mps = 0.5 * (ride.node_speeds_mps[:-1] + ride.node_speeds_mps[1:])
    rider = ride.setup.rider
    return FadeRow(
        from_mps=from_mps,
        to_mps=to_mps,
        time_s=float(np.diff(ride.node_times_s)[speeds_mps > from_mps].sum()),
        is_habit=to_mps < top_speed_mps(ride.setup.build, rider.cadence_top_rpm),
    )
