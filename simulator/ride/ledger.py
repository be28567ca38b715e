"""All that entered a ride, as named numbers: enough to recompute it with another program."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from simulator.pacing import Demand
from simulator.physics.constants import FADE_WIDTH_MPS
from simulator.physics.limits import fill_ceilings
from simulator.physics.params import STEP_FIELDS
from simulator.ride.prepare import FloatArray, ceiling_speeds_mps, nominal_rules
from simulator.ride.ride import Ride
from simulator.ride.roadsteps import prepare_steps, standing_shares
from simulator.setup import wind_table


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RideLedger:
    """What the integrator was given.

    Attributes
    ----------
    segment_of_step : (k,) array of int
        Segment of the course that each step lies on.
    steps : mapping of str to (k,) arrays
        The fields of `physics.params.Step`, by name. A segment is one step, or several equal ones.
    node_ceilings_mps : (k + 1,) array
        Highest speed at the start of each step and at the finish; ``inf`` where nothing limits.
        In between its square is linear in distance.
    rules : mapping of str to float
        The fields of `physics.params.Rules`, by name; the wind is that at the start.
    wind_times_s, winds_from_east_mps, winds_from_north_mps : (m,) arrays
        The wind over time; one entry where it stays.
    decline_after_s : float or None
        None where power does not decline.
    decline_per_log, surge_s : float
        See `physics.params.Changes`.
    start_speed_mps, start_reserve_j : float
        State at the start.
    """

    segment_of_step: FloatArray
    steps: Mapping[str, FloatArray]
    node_ceilings_mps: FloatArray
    rules: Mapping[str, float]
    wind_times_s: FloatArray
    winds_from_east_mps: FloatArray
    winds_from_north_mps: FloatArray
    decline_after_s: float | None
    decline_per_log: float
    surge_s: float
    start_speed_mps: float
    start_reserve_j: float


def ledger_of(ride: Ride, demand: Demand) -> RideLedger:
    """Collect what a ride was computed from.

    Parameters
    ----------
    ride : Ride
        As `simulate` returned it.
    demand : Demand
        The one that it was ridden with, settled.

    Returns
    -------
    RideLedger
        Arrays and scalars in SI.
    """
    steps = prepare_steps(ride.course, ride.setup, demand)
    wind_times_s, winds_mps = wind_table(ride.setup.weather)
    rules = nominal_rules(ride.setup, coast_mps=demand.coast_mps)
    ceilings = np.empty(len(steps.rows) + 1)
    fill_ceilings(steps.rows, rules, ceilings)
    counts = np.diff(steps.node_steps)
    return RideLedger(
        segment_of_step=np.repeat(np.arange(len(counts)), counts),
        steps={name: steps.rows[:, i].copy() for i, name in enumerate(STEP_FIELDS)},
        node_ceilings_mps=ceiling_speeds_mps(ceilings),
        rules=rules._asdict(),
        wind_times_s=wind_times_s,
        winds_from_east_mps=winds_mps[0],
        winds_from_north_mps=winds_mps[1],
        decline_after_s=ride.setup.rider.decline_after_s,
        decline_per_log=ride.setup.rider.decline_per_log,
        surge_s=demand.surge_s,
        start_speed_mps=float(ride.node_speeds_mps[0]),
        start_reserve_j=0.0 if ride.node_reserves_j is None else float(ride.node_reserves_j[0]),
    )


def sitting_times_s(ride: Ride, demand: Demand) -> dict[str, float]:
    """Time in each position.

    Parameters
    ----------
    ride, demand : Ride, Demand
        As in `ledger_of`.

    Returns
    -------
    dict of str to float
        Seconds by name: "drops" (hands in the drops), "climbing" (sitting up), "standing" (out of
        the saddle), "tuck". They add up to the ride's time. Where the rider is between two
        positions, the time is shared as the drag area is.
    """
    course, rider = ride.course, ride.setup.rider
    positions = rider.positions
    times_s = np.diff(ride.node_times_s)
    speeds_mps = 0.5 * (ride.node_speeds_mps[:-1] + ride.node_speeds_mps[1:])
    is_descent = course.grades <= positions.tuck_grade
    is_climb = (course.grades >= positions.climbing_grade) & ~is_descent
    about_mps = np.where(is_descent, positions.tuck_speed_mps, positions.climbing_speed_mps)
    # The fade with speed of `physics.forces.forces_at`; a test holds the two together.
    fast = np.clip((speeds_mps - about_mps) * (0.5 / FADE_WIDTH_MPS) + 0.5, 0.0, 1.0)
    standing = standing_shares(course, rider, demand)
    climbing = np.where(is_climb, 1.0 - fast, 0.0) * (1.0 - standing)
    tuck = np.where(is_descent, fast, 0.0) * (1.0 - standing)
    return {
        "drops": float((1.0 - standing - climbing - tuck) @ times_s),
        "climbing": float(climbing @ times_s),
        "standing": float(standing @ times_s),
        "tuck": float(tuck @ times_s),
    }
