"""The powerplan room: what power, where: pacings side by side, and the plan that is quickest.

May import ``ride`` and below. Start reading at ``problem.py`` (what is asked), then ``solve.py``
(the quickest power along the road), ``simplify.py`` (a few steady levels), ``tryout.py`` (pacings
side by side) and ``card.py``.
"""

from simulator.powerplan.card import MOST_ROWS, Card, CardRow, make_card, pacing_text
from simulator.powerplan.plan import Plan, Stretch
from simulator.powerplan.problem import Budget, Problem, make_problem
from simulator.powerplan.simplify import simplify
from simulator.powerplan.solve import Solution, solve
from simulator.powerplan.tryout import WEAK_DAY, Attempt, Tryout, try_pacings
from simulator.powerplan.weathers import Day, plan_days

__all__ = [
    "MOST_ROWS",
    "WEAK_DAY",
    "Attempt",
    "Budget",
    "Card",
    "CardRow",
    "Day",
    "Plan",
    "Problem",
    "Solution",
    "Stretch",
    "Tryout",
    "make_card",
    "make_problem",
    "pacing_text",
    "plan_days",
    "simplify",
    "solve",
    "try_pacings",
]
