"""Several pacings side by side: what each costs, where it gains, whether the rider can do it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from simulator.course import Course, Feature
from simulator.errors import CannotFinish
from simulator.pacing import Demand, Pacing, constant_demand, demand_of
from simulator.ride import (
    CUT_W,
    Ride,
    cut_powers_w,
    holdable_power_w,
    open_rehearsal,
    settle,
    simulate,
)
from simulator.setup import RideSetup

WEAK_DAY = 0.95
"""Critical power on a weak day over that on a good one."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Attempt:
    """One pacing as ridden.

    Attributes
    ----------
    ride : Ride or None
        None if the rider does not reach the finish; `trouble` then says where.
    low_j, low_at_m : float or None
        Least W' of the ride and where; None where W' is not followed.
    cut_w : float or None
        By how much W' cut the power wanted, at worst; 0 if the rider could do all of it.
    weak_ride : Ride or None
        The same watts asked for on a day with critical power 5 % lower.
    weak_cut_w : float or None
        As `cut_w`, on that day.
    feature_times_s : tuple of float
        Time on each feature of the course.
    """

    name: str
    demand: Demand
    ride: Ride | None
    trouble: str
    low_j: float | None
    low_at_m: float | None
    cut_w: float | None
    weak_ride: Ride | None
    weak_cut_w: float | None
    feature_times_s: tuple[float, ...]

    @property
    def can_be_done(self) -> bool | None:
        """Whether the rider gets through without W' cutting the power; None if it is not known."""
        if self.ride is None:
            return False
        return None if self.cut_w is None else self.cut_w <= CUT_W

    @property
    def weak_loss_s(self) -> float | None:
        """Time lost to a weak day; None where it is not known."""
        if self.ride is None or self.weak_ride is None:
            return None
        return self.weak_ride.time_s - self.ride.time_s


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tryout:
    """Pacings side by side; the first one is what the others are measured against."""

    course: Course
    setup: RideSetup
    features: tuple[Feature, ...]
    attempts: tuple[Attempt, ...]


def try_pacings(
    *, course: Course, setup: RideSetup, pacings: Sequence[Pacing], with_best_constant: bool = True
) -> Tryout:
    """Ride one course to several pacings.

    Parameters
    ----------
    course, setup : Course, RideSetup
        Where; who, on what, in which weather.
    pacings : sequence of Pacing
        Open ones are settled on this setup.
    with_best_constant : bool
        Add the highest constant power that W' lasts for, where critical power is known.

    Returns
    -------
    Tryout
        In the order given, the constant power last.
    """
    attempts = []
    for pacing in pacings:
        try:
            demand = demand_of(pacing, course=course, rider=setup.rider, weather=setup.weather)
            demand = settle(course=course, setup=setup, demand=demand)
        except CannotFinish as trouble:
            attempts.append(_failed(pacing.name, demand, trouble.args[0]))
            continue
        attempts.append(_attempt(pacing.name, course, setup, demand))
    if with_best_constant and setup.rider.cp_w is not None:
        try:
            power_w = holdable_power_w(open_rehearsal(course=course, setup=setup))
        except CannotFinish as trouble:
            demand = constant_demand(course, setup.rider, power_w=setup.rider.cp_w)
            attempts.append(_failed("Constant power", demand, trouble.args[0]))
        else:
            demand = constant_demand(course, setup.rider, power_w=power_w)
            attempts.append(_attempt(f"Constant {power_w:.0f} W", course, setup, demand))
    return Tryout(course=course, setup=setup, features=course.features, attempts=tuple(attempts))


def _attempt(name: str, course: Course, setup: RideSetup, demand: Demand) -> Attempt:
    try:
        ride = simulate(course=course, setup=setup, demand=demand)
    except CannotFinish as trouble:
        return _failed(name, demand, trouble.args[0])
    low_j = low_at_m = cut_w = weak_cut_w = None
    weak_ride = None
    rider = setup.rider
    if rider.cp_w is not None and ride.node_reserves_j is not None:
        i_low = int(np.argmin(ride.node_reserves_j))
        low_j = float(ride.node_reserves_j[i_low])
        low_at_m = float(course.node_distances_m[i_low])
        cut_w = _cut_w(course, setup, demand, ride)
        weak = replace(setup, rider=replace(rider, cp_w=WEAK_DAY * rider.cp_w))
        try:
            weak_ride = simulate(course=course, setup=weak, demand=demand)
            weak_cut_w = _cut_w(course, weak, demand, weak_ride)
        except CannotFinish:
            weak_ride = None
    times_s = tuple(
        ride.time_at_s(feature.end_m) - ride.time_at_s(feature.start_m)
        for feature in course.features
    )
    return Attempt(
        name=name,
        demand=demand,
        ride=ride,
        trouble="",
        low_j=low_j,
        low_at_m=low_at_m,
        cut_w=cut_w,
        weak_ride=weak_ride,
        weak_cut_w=weak_cut_w,
        feature_times_s=times_s,
    )


def _cut_w(course: Course, setup: RideSetup, demand: Demand, ride: Ride) -> float:
    if ride.node_reserves_j is None:
        return 0.0
    rehearsal = open_rehearsal(course=course, setup=setup)
    cut_w = cut_powers_w(rehearsal, demand.powers_w, ride.powers_w, ride.node_reserves_j)
    return float(cut_w.max(initial=0.0))


def _failed(name: str, demand: Demand, trouble: str) -> Attempt:
    return Attempt(
        name=name,
        demand=demand,
        ride=None,
        trouble=trouble,
        low_j=None,
        low_at_m=None,
        cut_w=None,
        weak_ride=None,
        weak_cut_w=None,
        feature_times_s=(),
    )
