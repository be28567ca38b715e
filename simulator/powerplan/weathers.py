"""The quickest plan in several weathers: what each allows, what a plan for another one costs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from simulator.course import Course
from simulator.errors import CannotFinish
from simulator.pacing import demand_of
from simulator.powerplan.plan import Plan, plan_of
from simulator.powerplan.problem import make_problem
from simulator.powerplan.simplify import simplify
from simulator.powerplan.solve import Solution, solve
from simulator.ride import simulate
from simulator.setup import RideSetup, Weather


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Day:
    """One weather: the quickest power, the plan for it, and the first day's plan ridden in it.

    ``first_plan_s`` is None where the first day's plan does not reach the finish;
    ``first_plan_short_w`` is by how much W′ cuts it on this day, at worst.
    """

    weather: Weather
    solution: Solution
    plan: Plan
    first_plan_s: float | None
    first_plan_short_w: float


def plan_days(
    *,
    course: Course,
    setup: RideSetup,
    weathers: Sequence[Weather],
    most_changes: int,
    mean_w: float | None = None,
    fourth_power_mean_w: float | None = None,
    most_w: float | None = None,
    name: str = "Plan",
    on_day: Callable[[str], None] = lambda _: None,
) -> tuple[Day, ...]:
    """Plan a course for each of several weathers.

    Parameters
    ----------
    course, setup : Course, RideSetup
        Where; who, on what.
    weathers : sequence of Weather
        The first one's plan is also ridden in the others.
    most_changes, mean_w, fourth_power_mean_w, most_w, name
        As in `simplify` and `make_problem`.
    on_day : callable
        Told the name of each weather as its plan begins.

    Returns
    -------
    tuple of Day
        In the order given.
    """
    days: list[Day] = []
    for weather in weathers:
        on_day(weather.name)
        there = replace(setup, weather=weather)
        problem = make_problem(
            course=course,
            setup=there,
            mean_w=mean_w,
            fourth_power_mean_w=fourth_power_mean_w,
            most_w=most_w,
        )
        try:
            solution = solve(problem)
        except CannotFinish as trouble:
            if len(weathers) == 1:
                raise
            msg = f"In the weather {weather.name}: {trouble.args[0]} Leave this one out."
            raise CannotFinish(msg) from trouble
        plan = simplify(
            solution,
            most_changes=most_changes,
            name=name,
            known=[day.plan.levels for day in days],
        )
        first_plan_s: float | None = plan.time_s
        short_w = 0.0
        if days:
            demand = demand_of(
                days[0].plan.pacing, course=course, rider=setup.rider, weather=weather
            )
            try:
                first_plan_s = simulate(course=course, setup=there, demand=demand).time_s
                short_w = plan_of(solution, days[0].plan.levels, name).cut_w
            except CannotFinish:
                first_plan_s = None
        days.append(
            Day(
                weather=weather,
                solution=solution,
                plan=plan,
                first_plan_s=first_plan_s,
                first_plan_short_w=short_w,
            )
        )
    return tuple(days)
