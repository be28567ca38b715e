"""The compare room: two rides over one course -> where, why and how sure the gap is.

May import ``ride`` and below. Start reading at ``explain.py``, then ``gap.py``.
"""

from simulator.compare.explain import Comparison, explain
from simulator.compare.gap import Gap, measure_gap
from simulator.compare.laying import Stop
from simulator.compare.recorded import Review, review
from simulator.compare.sure import Doubt, DoubtShare
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
    "Review",
    "StepWorth",
    "Stop",
    "StretchGap",
    "Suspect",
    "explain",
    "measure_gap",
    "review",
]
