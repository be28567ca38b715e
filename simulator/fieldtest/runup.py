"""The speed at which a run-up starts, so that the first gate is passed at a settled speed."""

from __future__ import annotations

import numpy as np

from simulator.fieldtest.roads import Cut, FloatArray
from simulator.pacing import Demand
from simulator.ride import simulate_many
from simulator.setup import RideSetup

FIRST_GUESS_MPS = 6.0
_ROUNDS = 2


def run_up_speed_mps(cut: Cut, setup: RideSetup, powers_w: FloatArray) -> float:
    """Speed to which the run-up brings a rider who holds this power.

    Parameters
    ----------
    cut : Cut
        A piece of road with its run-up.
    setup : RideSetup
        Rider, build and weather as stated.
    powers_w : (n_segments,) array
        Power by segment.

    Returns
    -------
    float
        m/s. What a first guess leaves of its error at the gate is a few percent (see
        `RUN_UP_M`), so a second ride from there leaves nothing that a watch shows. The first
        guess where there is no run-up or the rider does not get through it.
    """
    speed_mps = FIRST_GUESS_MPS
    if cut.first == 0:
        return speed_mps
    for _ in range(_ROUNDS):
        times_s = simulate_many(
            course=cut.course,
            setups=[setup],
            demand=Demand(powers_w=powers_w, text="run-up"),
            marks=np.array([cut.first - 1, cut.first]),
            start_speed_mps=speed_mps,
        )[0, 0]
        if not np.isfinite(times_s).all():
            return FIRST_GUESS_MPS
        speed_mps = float(cut.course.lengths_m[cut.first - 1] / (times_s[1] - times_s[0]))
    return speed_mps
