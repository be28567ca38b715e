"""The pacing room: rules for power along a course. Rules only; no physics, no rides.

May import ``course``, ``setup``, ``recordings`` and below. Start reading at ``rules.py`` (what a
rider can decide), then ``demand.py`` (rules laid over a course) and ``pacing_file.py`` (the keys).
"""

from simulator.pacing.demand import Demand, constant_demand, demand_of, on_climbs, wanted_demand
from simulator.pacing.pacing_file import PacingFile, load_pacing, pacing_from_keys
from simulator.pacing.replay import LaidRecording, laid_powers_w, lay_on_course
from simulator.pacing.rules import (
    ByGrade,
    ByWind,
    Coast,
    Constant,
    EvenReserve,
    Limits,
    OnFeature,
    Pacing,
    Replay,
    ReplayRecording,
    Surge,
    Target,
)

__all__ = [
    "ByGrade",
    "ByWind",
    "Coast",
    "Constant",
    "Demand",
    "EvenReserve",
    "LaidRecording",
    "Limits",
    "OnFeature",
    "Pacing",
    "PacingFile",
    "Replay",
    "ReplayRecording",
    "Surge",
    "Target",
    "constant_demand",
    "demand_of",
    "laid_powers_w",
    "lay_on_course",
    "load_pacing",
    "on_climbs",
    "pacing_from_keys",
    "wanted_demand",
]
