"""The bunch room: what it costs to stay in a mass-start race, on each build.

May import ``ride`` and below. Start reading at ``bunch.py`` (the race), then ``pace.py`` and
``recorded_pace.py`` (the bunch's speed), ``wheel.py`` (shelter and rubber band), ``surges.py``
(costs), ``endings.py`` (climbs, breaks, sprint) and ``bunch_rules.py`` (the keys of the file).
"""

from simulator.bunch.bunch import BuildInBunch, BunchRace, follow_bunch, pacemaker, ride_bunch
from simulator.bunch.bunch_rules import BunchFile, BunchRules, bunch_from_keys, load_bunch
from simulator.bunch.endings import ClimbLimit, Loss, SoloBreak, Sprint
from simulator.bunch.pace import Pace, pace_of_ride
from simulator.bunch.recorded_pace import pace_of_recording
from simulator.bunch.surges import CornerCost, LapCost, Surges
from simulator.bunch.wheel import LINE, PACK, Band, Shelter, drag_factor, place_of_factor

__all__ = [
    "LINE",
    "PACK",
    "Band",
    "BuildInBunch",
    "BunchFile",
    "BunchRace",
    "BunchRules",
    "ClimbLimit",
    "CornerCost",
    "LapCost",
    "Loss",
    "Pace",
    "Shelter",
    "SoloBreak",
    "Sprint",
    "Surges",
    "bunch_from_keys",
    "drag_factor",
    "follow_bunch",
    "load_bunch",
    "pace_of_recording",
    "pace_of_ride",
    "pacemaker",
    "place_of_factor",
    "ride_bunch",
]
