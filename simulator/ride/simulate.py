"""Ride a course: one ride with every array, or many rides for their times."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from simulator.course import Course
from simulator.errors import CannotFinish
from simulator.measures import Amount, Measures, Phrase, amount
from simulator.pacing import Demand, constant_demand
from simulator.physics.abreast import BLOCK
from simulator.physics.batch import ride_block, ride_many
from simulator.physics.integrate import ride_steps
from simulator.physics.limits import fill_ceilings
from simulator.physics.params import FINISHED, STEP_FIELDS
from simulator.physics.step import N_SUMS, sum_by_segment
from simulator.ride.prepare import (
    Draws,
    FloatArray,
    ceiling_speeds_mps,
    nominal_rules,
    prepare_changes,
    rule_columns,
)
from simulator.ride.ride import Ride
from simulator.ride.roadsteps import Steps, prepare_steps
from simulator.setup import RideSetup, winds_mps
from simulator.units import mps_from_kmh

ROLLING_START_MPS = mps_from_kmh(25.0)
"""Speed at the line of a rolling start, the same for every build."""


def simulate(
    *,
    course: Course,
    setup: RideSetup,
    demand: Demand | None = None,
    start_speed_mps: float | None = None,
) -> Ride:
    """Ride a course once.

    Parameters
    ----------
    course : Course
        Where.
    setup : RideSetup
        Who, on what, in which weather; nominal values.
    demand : Demand, optional
        Power by segment, settled; the rider's constant power if not given.
    start_speed_mps : float, optional
        Speed at the start line in m/s; by default 0 from a standing start and
        `ROLLING_START_MPS` from a rolling one.

    Returns
    -------
    Ride
        Finished ride.

    Raises
    ------
    CannotFinish
        If the rider stops on the way; the message says where, why and at what power.
    """
    demand = demand or constant_demand(course, setup.rider)
    _refuse_open(demand)
    steps = prepare_steps(course, setup, demand)
    changes = prepare_changes(setup, demand)
    rules = nominal_rules(setup, changes=changes, coast_mps=demand.coast_mps)
    n_steps = len(steps.rows)
    ceilings = np.empty(n_steps + 1)
    fill_ceilings(steps.rows, rules, ceilings)
    us, times_s, reserves_j = np.empty(n_steps + 1), np.empty(n_steps + 1), np.empty(n_steps + 1)
    work_j = np.empty((n_steps, N_SUMS))
    outcome, i_step, gone_m = ride_steps(
        steps.rows,
        rules,
        changes,
        ceilings,
        start_speed_of(course, start_speed_mps) ** 2,
        setup.rider.wprime_j or 0.0,
        us,
        times_s,
        reserves_j,
        work_j,
    )
    if outcome != FINISHED:
        slides = ceilings[i_step : i_step + 2].min() < 0.0
        raise _stopped(
            course, setup, steps, i_step, gone_m, slides=slides, time_s=float(times_s[i_step])
        )

    energies_j = np.empty((N_SUMS, course.n_segments))
    sum_by_segment(work_j, steps.node_steps, energies_j)
    if n_steps > course.n_segments:
        at = steps.node_steps
        us, times_s, reserves_j, ceilings = us[at], times_s[at], reserves_j[at], ceilings[at]
    powers_w = energies_j[-1] / (times_s[1:] - times_s[:-1])
    # The last row, work at the pedals, makes room for what went into speed.
    energies_j[-1] = (us[1:] - us[:-1]) * (1.0 / rules.two_over_mass_per_kg)
    return Ride(
        course=course,
        setup=setup,
        node_times_s=times_s,
        node_speeds_mps=np.sqrt(us),
        powers_w=powers_w,
        energies_j=energies_j,
        ceilings_mps=ceiling_speeds_mps(ceilings),
        # An empty reserve may come out a rounding below 0.
        node_reserves_j=np.maximum(reserves_j, 0.0) if setup.rider.wprime_j is not None else None,
    )


def simulate_many(
    *,
    course: Course,
    setups: Sequence[RideSetup],
    demand: Demand | None = None,
    draws: Sequence[Draws] | None = None,
    marks: NDArray[np.int64] | None = None,
    start_speed_mps: float | None = None,
) -> FloatArray:
    """Ride a course many times, for the times only.

    Parameters
    ----------
    course : Course
        Where.
    setups : sequence of RideSetup
        Builds may differ; rider and weather must be the same objects throughout.
    demand : Demand, optional
        As in `simulate`.
    draws : sequence of Draws, optional
        One for each setup, all of one length n: values that replace nominal ones.
    marks : (n_marks,) array of int, optional
        Nodes of the course at which times are wanted, ascending; the finish by default.
    start_speed_mps : float, optional
        As in `simulate`.

    Returns
    -------
    (n_setups, n, n_marks) array
        Times in s; ``inf`` from the place on where a ride stops. ``n`` is 1 without draws.
    """
    first = setups[0]
    for setup in setups:
        if setup.rider is not first.rider or setup.weather is not first.weather:
            msg = "rides of one batch share their rider and weather"
            raise ValueError(msg)
    demand = demand or constant_demand(course, first.rider)
    _refuse_open(demand)
    steps = prepare_steps(course, first, demand)
    if marks is None:
        marks = np.array([course.n_segments])
    per_setup = draws if draws is not None else [None] * len(setups)
    changes = prepare_changes(first, demand)
    columns = np.concatenate(
        [
            rule_columns(s, d, changes=changes, coast_mps=demand.coast_mps)
            for s, d in zip(setups, per_setup, strict=True)
        ],
        axis=1,
    )
    n_rides = columns.shape[1]
    n_blocks = -(-n_rides // BLOCK)
    # Pad the last block with copies of its last ride: same work, results dropped.
    columns = np.pad(columns, ((0, 0), (0, n_blocks * BLOCK - n_rides)), mode="edge")
    lanes = np.ascontiguousarray(
        columns.reshape(len(columns), n_blocks, BLOCK).transpose(1, 0, 2)
    ).reshape(n_blocks, -1)
    u_start = np.full((n_blocks, BLOCK), start_speed_of(course, start_speed_mps) ** 2)
    reserve_start = np.full((n_blocks, BLOCK), first.rider.wprime_j or 0.0)
    mark_times_s = np.empty((n_blocks, len(marks), BLOCK))
    outcomes = np.empty((n_blocks, BLOCK), dtype=np.int64)
    i_marks = np.ascontiguousarray(steps.node_steps[marks])
    if n_blocks == 1:
        # Threads would only wait for each other, and burn the processor while they do.
        ride_block(
            steps.rows, lanes[0], changes, u_start[0], reserve_start[0], i_marks, mark_times_s[0],
            outcomes[0],
        )  # fmt: skip
    else:
        ride_many(
            steps.rows, lanes, changes, u_start, reserve_start, i_marks, mark_times_s, outcomes
        )
    times_s = mark_times_s.transpose(0, 2, 1).reshape(n_blocks * BLOCK, len(marks))[:n_rides]
    return times_s.reshape(len(setups), n_rides // len(setups), len(marks))


def _refuse_open(demand: Demand) -> None:
    if demand.is_open:
        msg = "an open demand must be settled before it is ridden"
        raise ValueError(msg)


def start_speed_of(course: Course, asked_mps: float | None) -> float:
    """Speed at the start line: as asked for, else as the course's kind of start has it."""
    if asked_mps is not None:
        return asked_mps
    return 0.0 if course.start == "standing" else ROLLING_START_MPS


def _stopped(
    course: Course,
    setup: RideSetup,
    steps: Steps,
    i_step: int,
    gone_m: float,
    *,
    slides: bool,
    time_s: float,
) -> CannotFinish:
    i_segment = int(np.searchsorted(steps.node_steps, i_step, side="right")) - 1
    done_m = (i_step - steps.node_steps[i_segment]) * steps.rows[i_step, 0] + gone_m
    place = amount(Measures.place, float(course.node_distances_m[i_segment] + done_m), 2)
    step = dict(zip(STEP_FIELDS, steps.rows[i_step], strict=True))
    grade_pct = round(float(course.grades[i_segment]) * 100.0, 1) + 0.0  # no "-0.0"
    named: dict[str, Amount | str] = {
        "course": course.name,
        "build": setup.build.name,
        "place": place,
    }
    if slides:
        grip = steps.rows[i_step : i_step + 2, STEP_FIELDS.index("grip_factor")].min() * (
            setup.build.grip_wet.value if setup.weather.is_wet else setup.build.grip_dry.value
        )
        text = Phrase(
            "On {course}, with {build}, the rider cannot pass {place} upright: the grade there is "
            "{grade} % and a grip of {grip} leaves nothing for the bend. More grip, or other "
            "heights if the grade is wrong, would let the ride go on.",
            **named,
            grade=f"{grade_pct:.1f}",
            grip=f"{grip:.2f}",
        )
        return CannotFinish(text)
    east_mps, north_mps = winds_mps(setup.weather, np.array([time_s]))
    headwind_mps = (east_mps * step["axis_east"] + north_mps * step["axis_north"]).item()
    text = Phrase(
        "On {course}, with {build}, the rider cannot pass {place} at {power} W: the grade there "
        "is {grade} % and the head wind {wind}. More power, lower gears or less wind would let "
        "the ride go on.",
        **named,
        power=f"{step['power_w']:.0f}",
        grade=f"{grade_pct:.1f}",
        wind=amount(Measures.speed, float(headwind_mps), 0),
    )
    return CannotFinish(text)
