"""The ride room, the only one that calls ``physics``: course x setup x demand -> `Ride`.

May import ``physics``, ``course``, ``setup``, ``pacing`` and below. Start reading at
``simulate.py``.
"""

from simulator.ride.draws import PairedDraws, draw_values, paired_draws, uncertain_inputs
from simulator.ride.ledger import RideLedger, ledger_of, sitting_times_s
from simulator.ride.prepare import YAW_NODES_DEG, Draws
from simulator.ride.ride import ENERGY_CAUSES, Ride
from simulator.ride.settle import settle
from simulator.ride.simulate import simulate, simulate_many

__all__ = [
    "ENERGY_CAUSES",
    "YAW_NODES_DEG",
    "Draws",
    "PairedDraws",
    "Ride",
    "RideLedger",
    "draw_values",
    "ledger_of",
    "paired_draws",
    "settle",
    "simulate",
    "simulate_many",
    "sitting_times_s",
    "uncertain_inputs",
]
