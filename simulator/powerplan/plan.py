"""A plan that can be ridden: its stretches, its ride, and the pacing that replays it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from simulator.pacing import Coast, Pacing, Replay, demand_of
from simulator.powerplan.levels import Levels, lap_of, powers_on, rows_of
from simulator.powerplan.problem import Problem
from simulator.powerplan.solve import Solution
from simulator.ride import Ride, rehearse, simulate, trial_cut_w

STEP_SHARP_M = 0.5
"""Half the way over which a level gives way to the next one."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stretch:
    """One steady piece of a plan; ``end_s`` is the time since the start at its end.

    ``power_w`` is what to hold while pedalling, 0 where the rider coasts; ``mean_w`` is the mean of
    what was ridden, with the moments in which corners or a fast descent allow no pedalling.
    """

    number: int
    lap: int
    start_m: float
    end_m: float
    power_w: float
    mean_w: float
    time_s: float
    end_s: float
    ascent_m: float
    mean_grade: float
    reserve_j: float | None
    place: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """A plan that can be ridden, as the pacing file will be.

    ``loss_s`` is its time minus that of the quickest power; ``constant_s`` that of the best
    constant power. ``n_changes`` counts from one power to another, with coasting between them or
    not: that comes by itself.
    """

    solution: Solution
    levels: Levels
    pacing: Pacing
    ride: Ride
    stretches: tuple[Stretch, ...]
    n_changes: int
    loss_s: float
    constant_s: float
    cut_w: float

    @property
    def time_s(self) -> float:
        """Time of the plan."""
        return self.ride.time_s

    @property
    def saved_s(self) -> float:
        """Time saved against the best constant power."""
        return self.constant_s - self.ride.time_s


def plan_of(solution: Solution, levels: Levels, name: str) -> Plan:
    """Ride levels as their pacing file will be ridden, and tell them stretch by stretch."""
    problem = solution.problem
    course, setup = problem.course, problem.setup
    pacing = pacing_of(problem, levels, name)
    demand = demand_of(pacing, course=course, rider=setup.rider, weather=setup.weather)
    speed_mps = problem.rehearsal.start_speed_mps
    ride = simulate(course=course, setup=setup, demand=demand, start_speed_mps=speed_mps)
    edges_m, powers_w = rows_of(course, levels)
    works_j = np.concatenate([[0.0], np.cumsum(ride.powers_w * np.diff(ride.node_times_s))])
    starts_m, _ = lap_of(course)
    stretches = []
    for i, power_w in enumerate(powers_w):
        start_m, end_m = float(edges_m[i]), float(edges_m[i + 1])
        inside = (course.node_distances_m >= start_m) & (course.node_distances_m <= end_m)
        heights_m = course.node_heights_m[inside]
        start_s, end_s = ride.time_at_s(start_m), ride.time_at_s(end_m)
        ridden_j = float(np.diff(np.interp([start_m, end_m], course.node_distances_m, works_j))[0])
        reserve_j = None
        if ride.node_reserves_j is not None:
            reserve_j = float(np.interp(end_m, course.node_distances_m, ride.node_reserves_j))
        stretches.append(
            Stretch(
                number=i + 1,
                lap=int(np.searchsorted(starts_m, start_m + 1.0)),
                start_m=start_m,
                end_m=end_m,
                power_w=float(power_w),
                mean_w=ridden_j / (end_s - start_s),
                time_s=end_s - start_s,
                end_s=end_s,
                ascent_m=float(np.clip(np.diff(heights_m), 0.0, None).sum()),
                mean_grade=float((heights_m[-1] - heights_m[0]) / (end_m - start_m)),
                reserve_j=reserve_j,
                place=_place(problem, start_m, end_m),
            )
        )
    n_changes = int(np.count_nonzero(np.diff(powers_w[powers_w > 0.0])))
    trial = rehearse(problem.rehearsal, powers_on(course, levels))
    return Plan(
        solution=solution,
        levels=levels,
        pacing=pacing,
        ride=ride,
        stretches=tuple(stretches),
        n_changes=n_changes,
        loss_s=ride.time_s - solution.time_s,
        constant_s=solution.constant.time_s,
        cut_w=trial_cut_w(trial) if problem.budget.is_reserve else 0.0,
    )


def pacing_of(problem: Problem, levels: Levels, name: str) -> Pacing:
    """The plan as a pacing: power by distance, with a step at each change."""
    edges_m, powers_w = rows_of(problem.course, levels)
    inner = edges_m[1:-1]
    distances_m = np.concatenate(
        [edges_m[:1], np.ravel(np.column_stack([inner - STEP_SHARP_M, inner + STEP_SHARP_M])),
         edges_m[-1:]]
    )  # fmt: skip
    replay = Replay(distances_m=distances_m, powers_w=np.repeat(powers_w, 2), label="planned power")
    rider = problem.setup.rider
    # Recorded power holds its own coasting; a planned one needs the rider's habits.
    habits = Coast(above_mps=rider.coast_speed_mps, below_grade=rider.coast_grade)
    return Pacing(name=name, rules=(replay, habits))


def _place(problem: Problem, start_m: float, end_m: float) -> str:
    """Name of the climb, descent or flat that most of a stretch lies on; empty if none is."""
    best, most_m = "", 0.5 * (end_m - start_m)
    for feature in problem.course.features:
        shared_m = min(end_m, feature.end_m) - max(start_m, feature.start_m)
        if shared_m > most_m:
            best, most_m = feature.name, shared_m
    return best
