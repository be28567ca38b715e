"""The recordings room: ride recordings of any usual kind -> `Recording`, its gates and passes.

May import ``errors``, ``units`` and ``files``. Start reading at ``recording.py`` (the type), then
``readers.py`` (file -> samples), ``mending.py`` (what is repaired) and ``passes.py``.
"""

from simulator.recordings.gates import (
    Crossing,
    GateLine,
    crossing_of_distance,
    find_crossings,
)
from simulator.recordings.passes import Pass, find_passes
from simulator.recordings.readers import read_recording
from simulator.recordings.recording import Recording, Repair
from simulator.recordings.sphere import plane_m
from simulator.recordings.stretches import Stretch, clean_stretches

__all__ = [
    "Crossing",
    "GateLine",
    "Pass",
    "Recording",
    "Repair",
    "Stretch",
    "clean_stretches",
    "crossing_of_distance",
    "find_crossings",
    "find_passes",
    "plane_m",
    "read_recording",
]
