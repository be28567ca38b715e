"""The ride room, the only one that calls ``physics``: course x setup x demand -> `Ride`.

May import ``physics``, ``course``, ``setup``, ``pacing`` and below. Start reading at
``simulate.py``.
"""

from simulator.ride.draws import PairedDraws, draw_values, paired_draws, uncertain_inputs
from simulator.ride.given_speeds import Following, Wheel, follow, follow_draws
from simulator.ride.holdable import (
    CUT_W,
    capacity_w,
    cut_powers_w,
    holdable_power_w,
    is_holdable,
    trial_cut_w,
)
from simulator.ride.ledger import RideLedger, ledger_of, sitting_times_s
from simulator.ride.prepare import YAW_NODES_DEG, Draws
from simulator.ride.rehearse import (
    Answers,
    Rehearsal,
    Trial,
    answers_of,
    open_rehearsal,
    rehearse,
    slopes_of,
)
from simulator.ride.ride import ENERGY_CAUSES, Ride
from simulator.ride.settle import settle
from simulator.ride.simulate import simulate, simulate_many

__all__ = [
    "CUT_W",
    "ENERGY_CAUSES",
    "YAW_NODES_DEG",
    "Answers",
    "Draws",
    "Following",
    "PairedDraws",
    "Rehearsal",
    "Ride",
    "RideLedger",
    "Trial",
    "Wheel",
    "answers_of",
    "capacity_w",
    "cut_powers_w",
    "draw_values",
    "follow",
    "follow_draws",
    "holdable_power_w",
    "is_holdable",
    "ledger_of",
    "open_rehearsal",
    "paired_draws",
    "rehearse",
    "settle",
    "simulate",
    "simulate_many",
    "sitting_times_s",
    "slopes_of",
    "trial_cut_w",
    "uncertain_inputs",
]
