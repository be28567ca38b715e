"""A set of levels as ridden: its time, what its budget still allows, and how both answer."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from simulator.powerplan.climbdown import FloatArray
from simulator.powerplan.levels import Levels, edges_of, powers_on, slopes_by_level
from simulator.powerplan.problem import Problem
from simulator.powerplan.solve import mean_excess, mean_slopes
from simulator.ride import CUT_W, Trial, answers_of, capacity_w, rehearse, slopes_of, trial_cut_w

SCALE_W = 100.0
NEAR_ROOM = 1.0
"""In units of `SCALE_W`: limits of W′ that are nearer than this are followed."""


@dataclass(slots=True, eq=False)
class Look:
    """A set of levels as ridden; slopes are worked out when they are asked for.

    ``room`` is what the budget still allows, in units of `SCALE_W` (with W′: one entry a level, at
    the node ``worst`` where it is least).
    """

    problem: Problem
    levels: Levels
    trial: Trial
    room: FloatArray
    worst: NDArray[np.int64]
    _sides: list[FloatArray] = field(default_factory=list)

    @property
    def is_within(self) -> bool:
        """Whether W′ never cuts the power by what a meter shows; or whether the mean is kept."""
        if self.problem.budget.is_reserve:
            return trial_cut_w(self.trial) <= CUT_W
        return mean_excess(self.problem, self.trial) <= 0.0

    @property
    def slope(self) -> FloatArray:
        """Of the time by level (s per W) and by place of change (s per m); mean of both sides."""
        less, more = self.sides()
        return np.asarray(0.5 * (less[0] + more[0]))

    @property
    def room_slope(self) -> FloatArray:
        """Of each entry of ``room`` by the same; mean of both sides."""
        less, more = self.sides()
        return np.asarray(0.5 * (less[1:] + more[1:]))

    def sides(self) -> list[FloatArray]:
        """For less power and for more: slopes of the time in row 0, of ``room`` in the others.

        The two differ on a level at critical power, where W′ is spent faster than it is refilled.
        """
        if self._sides:
            return self._sides
        problem, trial, levels = self.problem, self.trial, self.levels
        answers = answers_of(trial)

        def chained(by_segment: FloatArray) -> FloatArray:
            return np.concatenate(slopes_by_level(problem.course, levels, by_segment))

        n = len(levels.powers_w)
        times = slopes_of(answers, time=1.0)
        if problem.budget.is_reserve:
            per_j = problem.rehearsal.surge_w / (problem.setup.rider.wprime_j or 1.0) / SCALE_W
            rooms = [np.zeros((n, 2 * n - 1)), np.zeros((n, 2 * n - 1))]
            # A limit that is far off does not bend the search: its slopes are left at zero.
            for k in np.flatnonzero(self.room < NEAR_ROOM):
                by_node = slopes_of(answers, reserve_nodes=self.worst[k : k + 1])
                for room, by_segment in zip(rooms, by_node, strict=True):
                    room[k] = per_j * chained(by_segment)
            for room in rooms:
                room[:, :n] -= np.eye(n) / SCALE_W
        else:
            rooms = [-chained(side)[None] for side in mean_slopes(problem, trial, answers)]
        self._sides = [
            np.concatenate([chained(time)[None], room])
            for time, room in zip(times, rooms, strict=True)
        ]
        return self._sides


def look_at(problem: Problem, levels: Levels) -> Look | None:
    """Ride a set of levels; None if the rider stops on the way."""
    trial = rehearse(problem.rehearsal, powers_on(problem.course, levels))
    if not trial.is_finished:
        return None
    if problem.budget.is_reserve:
        room, worst = _reserve_room(problem, levels, trial)
    else:
        room, worst = np.array([-mean_excess(problem, trial)]), np.zeros(1, dtype=np.int64)
    return Look(problem=problem, levels=levels, trial=trial, room=room, worst=worst)


def _reserve_room(
    problem: Problem, levels: Levels, trial: Trial
) -> tuple[FloatArray, NDArray[np.int64]]:
    """What W′ allows over the power wanted on each level, at the node where it is least."""
    course = problem.course
    edges_m, powers_w = edges_of(course, levels)
    ends = np.clip(np.searchsorted(course.node_distances_m, edges_m), 0, course.n_segments)
    most_w = capacity_w(problem.rehearsal, trial.node_reserves_j)
    n = len(levels.powers_w)
    room, worst = np.full(n, np.inf), np.zeros(n, dtype=np.int64)
    for j, power_w in enumerate(powers_w):
        i = int(ends[j] + np.argmin(most_w[ends[j] : ends[j + 1] + 1]))
        if most_w[i] - power_w < room[j % n]:
            room[j % n], worst[j % n] = most_w[i] - power_w, i
    return room / SCALE_W, worst
