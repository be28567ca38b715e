"""The setup room: who rides what in which weather.

May import ``errors``, ``units`` and ``files``. Start reading at ``bike.py`` (a build and the
cause that each of its fields belongs to), then ``assemble.py``.
"""

from simulator.setup.assemble import RideSetup
from simulator.setup.bike import CAUSE_OF_FIELD, LABEL_FIELDS, Build
from simulator.setup.rider import Positions, Rider
from simulator.setup.uncertain import Uncertain
from simulator.setup.weather import Weather

__all__ = [
    "CAUSE_OF_FIELD",
    "LABEL_FIELDS",
    "Build",
    "Positions",
    "RideSetup",
    "Rider",
    "Uncertain",
    "Weather",
]
