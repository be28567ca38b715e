"""The ride room, the only one that calls ``physics``: course x setup x demand -> `Ride`.

May import ``physics``, ``course``, ``setup``, ``pacing`` and below. Start reading at
``simulate.py``.
"""

from simulator.ride.ride import ENERGY_CAUSES, Ride

__all__ = ["ENERGY_CAUSES", "Ride"]
