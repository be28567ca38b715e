"""The spend room: a catalogue, races and budgets -> the set of parts that gains most.

May import ``ride`` and below. Start reading at ``question.py``, then ``partsets.py`` (what may be
bought together), ``rerides.py`` (how a set becomes a ride) and ``optimum.py`` (what is kept).
"""

from simulator.spend.chances import LEAST_S, GainDoubt
from simulator.spend.cluster import DaskCluster
from simulator.spend.question import Progress, plan_spending
from simulator.spend.races_file import RaceWish, SpendFile, load_plan, read_races
from simulator.spend.rerides import Race
from simulator.spend.spending import (
    BudgetAnswer,
    PartLoss,
    PartSet,
    RaceTimes,
    Rival,
    SinglePart,
    Spending,
    SureGain,
)

__all__ = [
    "LEAST_S",
    "BudgetAnswer",
    "DaskCluster",
    "GainDoubt",
    "PartLoss",
    "PartSet",
    "Progress",
    "Race",
    "RaceTimes",
    "RaceWish",
    "Rival",
    "SinglePart",
    "SpendFile",
    "Spending",
    "SureGain",
    "load_plan",
    "plan_spending",
    "read_races",
]
