"""Close a demand that only riding can close: W' spread over climbs, means to come out at."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from simulator.course import Course
from simulator.errors import CannotFinish
from simulator.pacing import Demand, Target, on_climbs
from simulator.ride.simulate import simulate
from simulator.setup import RideSetup

SETTLED_W = 1e-3
"""Means are met, and the climbing power is settled, to a thousandth of a watt."""

CLOSE_W = 0.1
"""A mean further from its target than this cannot be met."""

MOST_ROUNDS = 60


def settle(*, course: Course, setup: RideSetup, demand: Demand) -> Demand:
    """Ride until an open demand is met exactly.

    Parameters
    ----------
    course, setup : Course, RideSetup
        The ride on which it is to be met.
    demand : Demand
        Returned as it is when nothing in it is open.

    Returns
    -------
    Demand
        Closed: plain watts by segment.

    Raises
    ------
    CannotFinish
        If no scale of the rules meets the target on this course, or the rider cannot finish.
    """
    if demand.reserve_share is not None:
        demand = _spread_reserve(course, setup, demand, demand.reserve_share)
    if demand.target is not None:
        demand = _meet_target(course, setup, demand, demand.target)
    return demand


def _spread_reserve(course: Course, setup: RideSetup, demand: Demand, share: float) -> Demand:
    """One power on all climbs, such that they cost `share` of W' above critical power."""
    rider = setup.rider
    climbs = on_climbs(course)
    closed = replace(demand, reserve_share=None)
    if not climbs.any() or rider.cp_w is None or rider.wprime_j is None:
        return closed
    base_w = np.array(closed.powers_w)
    climb_w = rider.cp_w
    for _ in range(MOST_ROUNDS):
        powers_w = base_w.copy()
        powers_w[climbs] = climb_w
        closed = replace(closed, powers_w=powers_w)
        ride = simulate(course=course, setup=setup, demand=replace(closed, target=None))
        climbing_s = float(np.diff(ride.node_times_s)[climbs].sum())
        next_w = rider.cp_w + share * rider.wprime_j / climbing_s
        if abs(next_w - climb_w) < SETTLED_W:
            break
        climb_w = next_w
    return closed


def _meet_target(course: Course, setup: RideSetup, demand: Demand, target: Target) -> Demand:
    plain = replace(demand, target=None)

    def scaled(scale: float) -> Demand:
        return replace(
            plain,
            powers_w=plain.powers_w * scale,
            surge_w=plain.surge_w * scale,
            steady_w=None if plain.steady_w is None else plain.steady_w * scale,
        )

    wanted_w = target.mean_w if target.mean_w is not None else target.fourth_power_mean_w or 0.0

    def excess_w(scale: float) -> float:
        try:
            ride = simulate(course=course, setup=setup, demand=scaled(scale))
        except CannotFinish:
            # Too little to get home: less than any power that does.
            return -wanted_w
        mean_w = ride.fourth_power_mean_w if target.mean_w is None else ride.mean_power_w
        return mean_w - wanted_w

    from scipy.optimize import brentq

    low, high = _bracket(excess_w, course)
    scale = float(brentq(excess_w, low, high, xtol=1e-9))
    if abs(excess_w(scale)) > CLOSE_W:
        # The target is less than what gets home: a hair less power says where the ride ends.
        simulate(course=course, setup=setup, demand=scaled(0.999 * scale))
        raise _out_of_reach(course)
    return scaled(scale)


def _bracket(excess_w: Callable[[float], float], course: Course) -> tuple[float, float]:
    """Scales on both sides of the target, searched outward from 1."""
    low = high = 1.0
    for _ in range(12):
        if excess_w(low) <= 0.0:
            break
        low /= 1.4
    for _ in range(12):
        if excess_w(high) >= 0.0:
            return low, high
        high *= 1.4
    raise _out_of_reach(course)


def _out_of_reach(course: Course) -> CannotFinish:
    return CannotFinish(
        f"On {course.name} no power by these rules comes out at the target: coasting, corners or "
        "critical power hold it down. Lower the target or change the rules."
    )
