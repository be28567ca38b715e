"""The compare room: two rides over one course -> where, why and how sure the gap is.

May import ``ride`` and below. Start reading at ``explain.py``, then ``gap.py``.
"""

from simulator.compare.explain import Comparison, explain, explain_many
from simulator.compare.gap import Gap, measure_gap
from simulator.compare.laying import Stop
from simulator.compare.races import Race, RaceGap, RaceTable, race_table, races_of
from simulator.compare.review import Review, review
from simulator.compare.sure import Doubt, DoubtShare, Spread
from simulator.compare.suspects import Suspect
from simulator.compare.where import StretchGap
from simulator.compare.why import CauseGap
from simulator.compare.worth import StepWorth

__all__ = [
    "CauseGap",
    "Comparison",
    "Doubt",
    "DoubtShare",
    "Gap",
    "Race",
    "RaceGap",
    "RaceTable",
    "Review",
    "Spread",
    "StepWorth",
    "Stop",
    "StretchGap",
    "Suspect",
    "explain",
    "explain_many",
    "measure_gap",
    "race_table",
    "races_of",
    "review",
]
