"""What a rider can hold: whether W' lasts for the power wanted, and the highest constant power."""

from __future__ import annotations

import numpy as np

from simulator.errors import CannotFinish
from simulator.ride.prepare import FloatArray
from simulator.ride.rehearse import Rehearsal, Trial, rehearse

CUT_W = 0.5
"""Power wanted above what W' allows by less than this is within what a meter shows."""

CLOSE_W = 1.0e-3
MOST_W = 2500.0


def capacity_w(rehearsal: Rehearsal, reserves_j: FloatArray | float) -> FloatArray:
    """Most power that what is left of W' allows; ``inf`` where W' is not followed."""
    rider = rehearsal.setup.rider
    if rider.cp_w is None or rider.wprime_j is None:
        return np.full(np.shape(reserves_j), np.inf)
    return np.asarray(rider.cp_w + rehearsal.surge_w * np.asarray(reserves_j) / rider.wprime_j)


def cut_powers_w(
    rehearsal: Rehearsal, wanted_w: FloatArray, pedalled_w: FloatArray, node_reserves_j: FloatArray
) -> FloatArray:
    """By how much W' cuts the power wanted as each segment begins; 0 where not.

    Parameters
    ----------
    rehearsal : Rehearsal
        Of the rider.
    wanted_w, pedalled_w : (n,) arrays
        Power asked for on each segment (after habits of coasting) and power given.
    node_reserves_j : (n + 1,) array
        W' left at the nodes.

    Returns
    -------
    (n,) array
        W. Where the rider would not pedal anyway (a descent, a bend), nothing is cut.
    """
    pedals = pedalled_w > 0.5 * np.minimum(wanted_w, capacity_w(rehearsal, 0.0))
    over_w = wanted_w - capacity_w(rehearsal, node_reserves_j[:-1])
    return np.where(pedals, np.maximum(over_w, 0.0), 0.0)


def trial_cut_w(trial: Trial) -> float:
    """By how much W' cuts the power wanted in a trial, at worst; ``inf`` if the rider stops."""
    if not trial.is_finished:
        return float("inf")
    wanted_w = trial.wanted_w * trial.rehearsal.shares
    cut_w = cut_powers_w(trial.rehearsal, wanted_w, trial.powers_w, trial.node_reserves_j)
    return float(cut_w.max(initial=0.0))


def is_holdable(trial: Trial) -> bool:
    """Whether the rider reaches the finish and W' never cuts the power wanted."""
    return trial_cut_w(trial) <= CUT_W


def holdable_power_w(rehearsal: Rehearsal) -> float:
    """Highest constant power that W' lasts for, to a thousandth of a watt.

    Parameters
    ----------
    rehearsal : Rehearsal
        Of a rider whose critical power is stated.

    Returns
    -------
    float
        Power in W.

    Raises
    ------
    CannotFinish
        If the rider does not reach the finish at critical power.
    ValueError
        If the rider has no critical power.
    """
    rider = rehearsal.setup.rider
    if rider.cp_w is None or rider.wprime_j is None:
        msg = "a power that can be held needs a critical power"
        raise ValueError(msg)

    def holds(power_w: float) -> bool:
        return is_holdable(rehearse(rehearsal, np.full(rehearsal.course.n_segments, power_w)))

    low_w, high_w = rider.cp_w, min(MOST_W, rider.max_power_w or MOST_W)
    if not holds(low_w):
        msg = (
            f"On {rehearsal.course.name}, with {rehearsal.setup.build.name}, the rider does not "
            f"reach the finish at critical power ({low_w:.0f} W). Lower gears or less wind would "
            "let the ride go on."
        )
        raise CannotFinish(msg)
    while high_w - low_w > CLOSE_W:
        middle_w = 0.5 * (low_w + high_w)
        if holds(middle_w):
            low_w = middle_w
        else:
            high_w = middle_w
    return low_w
