"""The pacing room: rules for power along a course. Rules only; no physics, no rides.

May import ``course``, ``setup`` and below. Start reading at ``demand.py``.
"""

from simulator.pacing.demand import Demand, constant_demand

__all__ = ["Demand", "constant_demand"]
