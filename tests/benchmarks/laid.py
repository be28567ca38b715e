"""A ride laid out for the kernels, without what `simulate` does around them."""

import numpy as np

from simulator.pacing import constant_demand
from simulator.physics.integrate import ride_steps
from simulator.physics.limits import fill_ceilings
from simulator.physics.params import FINISHED
from simulator.physics.step import N_SUMS
from simulator.ride.prepare import nominal_rules, prepare_changes
from simulator.ride.roadsteps import prepare_steps

START_MPS = 7.0


class Laid:
    """A course laid out for the kernels, with room for their results."""

    def __init__(self, course, setup):
        demand = constant_demand(course, setup.rider)
        self.rows = prepare_steps(course, setup, demand).rows
        self.changes = prepare_changes(setup, demand)
        self.rules = nominal_rules(setup, changes=self.changes)
        n = len(self.rows)
        self.ceilings = np.empty(n + 1)
        self.us, self.times_s, self.reserves_j = np.empty((3, n + 1))
        self.work_j = np.zeros((n, N_SUMS))

    def ride(self):
        """Ride it; the time in s."""
        fill_ceilings(self.rows, self.rules, self.ceilings)
        outcome, _, _ = ride_steps(
            self.rows, self.rules, self.changes, self.ceilings, START_MPS**2, 0.0,
            self.us, self.times_s, self.reserves_j, self.work_j,
        )  # fmt: skip
        assert outcome == FINISHED
        return self.times_s[-1]
