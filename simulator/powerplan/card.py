"""What a card to carry holds, and the plan as a pacing file."""

from __future__ import annotations

import json
from dataclasses import dataclass

from simulator.pacing import Replay
from simulator.powerplan.plan import Plan
from simulator.powerplan.problem import Problem
from simulator.units import kmh_from_mps

MOST_ROWS = 16
"""Rows that a card can show in type that is read on the road."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CardRow:
    """One line of the card: from here to there, this power (0: coast), the clock at its end."""

    start_m: float
    end_m: float
    ascent_m: float
    power_w: float
    end_s: float
    place: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """The card: rows in order; of a plan by laps, one lap's rows with the clock of the first.

    ``is_plain_mean`` tells that nothing limits hard efforts.
    """

    course: str
    rider: str
    build: str
    weather: str
    distance_m: float
    ascent_m: float
    time_s: float
    n_laps: int
    rows: tuple[CardRow, ...]
    is_plain_mean: bool = False


def make_card(plan: Plan) -> Card:
    """Put a plan on a card.

    Parameters
    ----------
    plan : Plan
        With at most `MOST_ROWS` stretches on a lap.

    Returns
    -------
    Card
        Its rows are those of the first lap where the plan repeats.
    """
    course, setup = plan.ride.course, plan.ride.setup
    rows = tuple(
        CardRow(
            start_m=s.start_m,
            end_m=s.end_m,
            ascent_m=s.ascent_m,
            power_w=s.power_w,
            end_s=s.end_s,
            place=s.place,
        )
        for s in plan.stretches
        if s.lap == 1
    )
    return Card(
        course=course.name,
        rider=setup.rider.name,
        build=setup.build.name,
        weather=setup.weather.name,
        distance_m=course.distance_m,
        ascent_m=course.ascent_m,
        time_s=plan.time_s,
        n_laps=course.n_laps,
        rows=rows,
        is_plain_mean=plan.solution.problem.budget.mean_w is not None,
    )


def pacing_text(plan: Plan) -> str:
    """The plan as the text of a pacing file, as `compare` and `ride` read it.

    Parameters
    ----------
    plan : Plan
        Its changes of power become pairs of places a metre apart.

    Returns
    -------
    str
        TOML.
    """
    problem: Problem = plan.solution.problem
    setup = problem.setup
    replay = next(rule for rule in plan.pacing.rules if isinstance(rule, Replay))
    # Behind the finish nothing is ridden: rounded up, so that the last place covers it.
    distances = [f"{distance_m / 1000.0:.4f}" for distance_m in replay.distances_m]
    powers = [f"{power_w:g}" for power_w in replay.powers_w]
    about = (
        f"Planned for {problem.course.name}, {setup.rider.name} on {setup.build.name}, weather "
        f"{setup.weather.name}."
    )
    return "\n".join(
        [
            f"# {_one_line(about)}",
            f"# Predicted: {plan.time_s:.1f} s; {plan.saved_s:.1f} s quicker than the best constant"
            f" power, {plan.loss_s:.1f} s slower than the quickest power.",
            "# A hard effort: when in doubt about your health, see a doctor before you ride it.",
            "",
            f"name = {json.dumps(plan.pacing.name, ensure_ascii=False)}",
            "",
            "[[rule]]",
            'kind = "replay"',
            f"distance_km = [{', '.join(distances)}]",
            f"recorded_w = [{', '.join(powers)}]",
            "",
            "# The rider's own habits downhill and at speed.",
            "[[rule]]",
            'kind = "coast"',
            f"above_kmh = {kmh_from_mps(setup.rider.coast_speed_mps):.10g}",
            f"below_grade_pct = {100.0 * setup.rider.coast_grade:.10g}",
            "",
        ]
    )


def _one_line(text: str) -> str:
    return "".join(char if char.isprintable() else " " for char in text)
