"""The whole question at once: ride both, subtract, explain."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from simulator.compare.gap import FloatArray, Gap, measure_gap
from simulator.compare.sure import Doubt, doubt_of
from simulator.compare.where import StretchGap, corner_gaps, stretch_gaps
from simulator.compare.why import CauseGap, cause_gaps
from simulator.compare.windward import wind_stretches
from simulator.compare.worth import StepWorth, step_worths, tie_power_w
from simulator.course import Course
from simulator.pacing import Demand, constant_demand
from simulator.ride import settle, simulate
from simulator.setup import RideSetup


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Comparison:
    """A gap with its where, why and how sure.

    Attributes
    ----------
    stretches : tuple of StretchGap
        Climbs, descents and flats in order; their gaps sum to the total.
    corners : tuple of StretchGap
        Corners that limit a ride, inside the stretches.
    causes : tuple of CauseGap
        Largest first; their gaps sum to the total.
    matrix_s : (n_stretches, n_causes) array
        Gap by stretch and cause, in s; it sums to the total.
    doubt : Doubt or None
        None when every input is taken as exact.
    units : tuple of StepWorth
        What one step of mass, air, rolling or power buys the slower build.
    tie_power_w : float or None
        Watts that the slower build needs on top to tie.
    power_text : str
        The pacing, in words.
    winds : tuple of StretchGap
        Flats cut into pieces into, across and with the wind; empty on a calm day.
    """

    gap: Gap
    stretches: tuple[StretchGap, ...]
    corners: tuple[StretchGap, ...]
    causes: tuple[CauseGap, ...]
    matrix_s: FloatArray
    doubt: Doubt | None
    units: tuple[StepWorth, ...]
    tie_power_w: float | None
    power_text: str
    winds: tuple[StretchGap, ...] = ()


def explain(
    *,
    course: Course,
    first: RideSetup,
    other: RideSetup,
    n_draws: int = 2000,
    seed: int = 1,
    power_w: float | None = None,
    demand: Demand | None = None,
    other_demand: Demand | None = None,
) -> Comparison:
    """Ride two builds over a course and explain the gap between them.

    Parameters
    ----------
    course : Course
        Where.
    first, other : RideSetup
        With the same rider and weather objects; gaps are of `other` against `first`.
    n_draws, seed : int
        For how sure the gap is; 0 draws leave that out.
    power_w : float, optional
        Constant power in W instead of the rider's own.
    demand : Demand, optional
        Pacing instead of constant power.
    other_demand : Demand, optional
        Another pacing for `other`: then power is one of the causes.

    Returns
    -------
    Comparison
        See there.

    Raises
    ------
    CannotFinish
        If a rider stops on the way.
    ValueError
        If rider or weather differ.
    """
    (told,) = explain_many(
        course=course,
        first=first,
        others=[other],
        n_draws=n_draws,
        seed=seed,
        power_w=power_w,
        demand=demand,
        other_demand=other_demand,
    )
    return told


def explain_many(
    *,
    course: Course,
    first: RideSetup,
    others: Sequence[RideSetup],
    n_draws: int = 2000,
    seed: int = 1,
    power_w: float | None = None,
    demand: Demand | None = None,
    other_demand: Demand | None = None,
    when_done: Callable[[], None] | None = None,
) -> tuple[Comparison, ...]:
    """Compare many builds with the first one, whose rides are ridden once.

    Parameters
    ----------
    course, first, n_draws, seed, power_w, demand, other_demand
        As in `explain`.
    others : sequence of RideSetup
        With the rider and weather objects of the first.
    when_done : callable, optional
        Called twice for each comparison: when its draws are ridden, and when it is explained.

    Returns
    -------
    tuple of Comparison
        The same as `explain` gives for each of them.

    Raises
    ------
    CannotFinish
        If a rider stops on the way.
    ValueError
        If rider or weather differ.
    """
    if any(o.rider is not first.rider or o.weather is not first.weather for o in others):
        msg = "both setups must share their rider and weather"
        raise ValueError(msg)
    demand = demand or constant_demand(course, first.rider, power_w=power_w)
    # Open pacing is settled on the first build; the others ride the same watts at each place.
    demand = settle(course=course, setup=first, demand=demand)
    if other_demand is not None:
        other_demand = settle(course=course, setup=first, demand=other_demand)
    first_ride = simulate(course=course, setup=first, demand=demand)
    first_s = None
    told = []
    for other in others:
        ride = simulate(course=course, setup=other, demand=other_demand or demand)
        gap = measure_gap(first_ride, ride)
        doubt, first_s = doubt_of(
            gap, demand, n_draws=n_draws, seed=seed, first_s=first_s, other_demand=other_demand
        )
        if when_done is not None:
            when_done()
        told.append(_explained(gap, demand, other_demand, doubt))
        if when_done is not None:
            when_done()
    return tuple(told)


def _explained(
    gap: Gap, demand: Demand, other_demand: Demand | None, doubt: Doubt | None
) -> Comparison:
    stretches = stretch_gaps(gap)
    ends_m = [stretch.end_m for stretch in stretches] or [gap.first.course.distance_m]
    bounds_m = np.array([0.0, *ends_m])
    causes, matrix_s = cause_gaps(gap, demand, bounds_m, other_demand=other_demand)
    slower, its_demand = (gap.first, demand)
    if gap.total_s > 0.0:
        slower, its_demand = gap.other, other_demand or demand
    return Comparison(
        gap=gap,
        stretches=stretches,
        corners=corner_gaps(gap),
        causes=causes,
        matrix_s=matrix_s,
        doubt=doubt,
        units=step_worths(slower, its_demand),
        tie_power_w=tie_power_w(gap, its_demand) if gap.total_s != 0.0 else None,
        power_text=demand.text,
        winds=wind_stretches(gap),
    )
