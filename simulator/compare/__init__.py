"""The compare room: two rides over one course -> where, why and how sure the gap is.

May import ``ride`` and below. Start reading at ``gap.py``.
"""

from simulator.compare.gap import Gap, measure_gap
from simulator.compare.sure import Doubt, DoubtShare
from simulator.compare.where import StretchGap
from simulator.compare.why import CauseGap

__all__ = ["CauseGap", "Doubt", "DoubtShare", "Gap", "StretchGap", "measure_gap"]
