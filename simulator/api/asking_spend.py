"""The question of what a budget buys; see ``asking``."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from simulator.api.given import AnyPath
from simulator.api.race_answers import SpendAnswer
from simulator.api.taken import (
    BuildLike,
    CourseLike,
    PacingLike,
    RiderLike,
    WeatherLike,
    build_of,
    course_of,
    listed,
    parts_of,
    refuse_draws,
    rider_of,
    settled,
    setup_of,
    weather_of,
)

if TYPE_CHECKING:
    from simulator.setup import Catalogue


def spend_budget(
    build: BuildLike,
    parts: Catalogue | AnyPath,
    courses: CourseLike | Sequence[CourseLike],
    budgets: float | Sequence[float],
    *,
    target: BuildLike | None = None,
    weights: Sequence[float] | None = None,
    rider: RiderLike = None,
    weather: WeatherLike = None,
    pacing: PacingLike = None,
    power_w: float | None = None,
    n_draws: int = 1000,
    seed: int = 1,
) -> SpendAnswer:
    """Find the parts that buy the most seconds for a budget.

    Parameters
    ----------
    build : Build or path
        As it stands now; what is in each slot now stands in the catalogue.
    parts : Catalogue or path
        What can be bought or done.
    courses : Course or path, or a sequence of them
        The races.
    budgets : float or sequence of float
        In the currency of the catalogue.
    target : Build or path, optional
        The better build; tells what share of the gap is closed.
    weights : sequence of float, optional
        How much each race counts; the same if left out.
    rider, weather, pacing, power_w
        As in `ride_build`, for all races.
    n_draws, seed : int
        As in `compare_builds`.

    Returns
    -------
    SpendAnswer
        ``gains_s`` and ``parts`` by budget; ``frontier_prices`` and ``frontier_gains_s`` (k,).

    Raises
    ------
    InputError
        If a file cannot be used.
    CannotFinish
        If a rider comes to a halt on the way, or if there are too many sets to ride.
    ValueError
        If a budget is below 0 or none is given, or if there is not one weight for each course.

    Notes
    -----
    Every set that fits is ridden, so the best one is exact (multiple-choice knapsack,
    [Martello1990], where nothing adds up); see docs/method.md.
    """
    from simulator.spend import Race, plan_spending

    sums, ridden = listed(budgets), [course_of(course) for course in listed(courses)]
    counts = [1.0] * len(ridden) if weights is None else list(weights)
    refuse_draws(n_draws)
    if not sums or not all(0.0 <= each < math.inf for each in sums):
        msg = f"budgets are sums of 0 or more, at least one, not {sums}"
        raise ValueError(msg)
    if not ridden or len(counts) != len(ridden):
        msg = f"a weight for each course, at least one: {len(counts)} for {len(ridden)} courses"
        raise ValueError(msg)
    now, who, air = build_of(build), rider_of(rider), weather_of(weather)
    setup = setup_of(now, who, air)
    races = [
        Race(
            name=course.name,
            course=course,
            rider=who,
            weather=air,
            demand=settled(course, setup, pacing, power_w),
            weight=weight,
        )
        for course, weight in zip(ridden, counts, strict=True)
    ]
    spending = plan_spending(
        build=now,
        catalogue=parts_of(parts),
        races=races,
        budgets=sums,
        target=None if target is None else build_of(target),
        n_draws=n_draws,
        seed=seed,
    )
    return SpendAnswer(spending=spending)
