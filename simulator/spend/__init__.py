"""The spend room: a catalogue, races and budgets -> the set of parts that gains most.

May import ``ride`` and below. Start reading at ``question.py``, then ``partsets.py`` (what may be
bought together), ``rerides.py`` (how a set becomes a ride) and ``optimum.py`` (what is kept).
"""

from simulator.spend.chances import GainDoubt
from simulator.spend.question import plan_spending
from simulator.spend.rerides import Race
from simulator.spend.spending import (
    BudgetAnswer,
    PartLoss,
    PartSet,
    RaceTimes,
    Rival,
    SinglePart,
    Spending,
)

__all__ = [
    "BudgetAnswer",
    "GainDoubt",
    "PartLoss",
    "PartSet",
    "Race",
    "RaceTimes",
    "Rival",
    "SinglePart",
    "Spending",
    "plan_spending",
]
