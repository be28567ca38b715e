# For type checkers: the API, whose names the package itself looks up when they are first used.
from simulator.api import *  # noqa: F403

__version__: str
