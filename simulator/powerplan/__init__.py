"""The powerplan room: what power, where: pacings side by side, and the plan that is quickest.

May import ``ride`` and below. Start reading at ``problem.py`` (what is asked), then ``solve.py``
(the quickest power along the road).
"""

from simulator.powerplan.problem import Budget, Problem, make_problem
from simulator.powerplan.solve import Solution, solve

__all__ = ["Budget", "Problem", "Solution", "make_problem", "solve"]
