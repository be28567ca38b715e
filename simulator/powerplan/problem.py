"""What is asked: the least time over a course within what the rider has to spend."""

from __future__ import annotations

from dataclasses import dataclass

from simulator.course import Course
from simulator.errors import InputError
from simulator.ride import Rehearsal, open_rehearsal
from simulator.setup import RideSetup

MOST_OVER_CP = 2.5
"""Highest power of a plan over critical power for a rider who states no highest power: common
practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """What a plan may spend.

    Exactly one of two kinds. With ``mean_w`` or ``fourth_power_mean_w`` the ride's mean power over
    time, or its fourth-power mean, comes out at that figure; without them critical power and W′
    of the rider decide. ``most_w`` is never exceeded.
    """

    most_w: float
    mean_w: float | None = None
    fourth_power_mean_w: float | None = None

    @property
    def is_reserve(self) -> bool:
        """Whether critical power and W′ decide."""
        return self.mean_w is None and self.fourth_power_mean_w is None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Problem:
    """One course, one setup, one budget, laid out for many rides."""

    course: Course
    setup: RideSetup
    budget: Budget
    rehearsal: Rehearsal

    @property
    def feed_w(self) -> float:
        """Most power above critical power that a plan takes with W′ full."""
        rider = self.setup.rider
        if rider.cp_w is None:
            return 0.0
        return min(self.rehearsal.surge_w, self.budget.most_w - rider.cp_w)


def make_problem(
    *,
    course: Course,
    setup: RideSetup,
    mean_w: float | None = None,
    fourth_power_mean_w: float | None = None,
    most_w: float | None = None,
    start_speed_mps: float | None = None,
) -> Problem:
    """State the problem for a rider on a build.

    Parameters
    ----------
    course, setup : Course, RideSetup
        Where; who, on what, in which weather.
    mean_w, fourth_power_mean_w : float, optional
        A mean to keep to instead of critical power and W′.
    most_w : float, optional
        Highest power of the plan; the rider's highest, or 2.5 times critical power, if left out.
    start_speed_mps : float, optional
        As in ``ride.simulate``.

    Returns
    -------
    Problem

    Raises
    ------
    InputError
        If the rider states no critical power and no mean is given, or if the highest power leaves
        nothing to plan.
    """
    rider = setup.rider
    if mean_w is None and fourth_power_mean_w is None and rider.cp_w is None:
        raise InputError(
            file="--rider",
            found=f"{rider.name} has no critical power",
            expected="`cp_w` and `wprime_kj` in the rider's file",
            mend="add them, or plan for a mean that weighs hard efforts, with "
            "`--fourth-power-mean`",
        )
    base_w = mean_w or fourth_power_mean_w or rider.cp_w or 0.0
    if most_w is None:
        most_w = rider.max_power_w or MOST_OVER_CP * base_w
    if most_w <= base_w:
        raise InputError(
            file="--most",
            found=f"found {most_w:g}",
            expected=f"more than {base_w:g} W, what the plan is built on",
        )
    return Problem(
        course=course,
        setup=setup,
        budget=Budget(most_w=most_w, mean_w=mean_w, fourth_power_mean_w=fourth_power_mean_w),
        rehearsal=open_rehearsal(course=course, setup=setup, start_speed_mps=start_speed_mps),
    )
