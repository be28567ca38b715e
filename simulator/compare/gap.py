"""The type this room is about: what one build loses to another on the same course."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.ride import Ride

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Gap:
    """Time of `other` minus time of `first`, in all and along the course.

    Sign everywhere: > 0 means that `other` loses.

    Attributes
    ----------
    node_gaps_s : (n + 1,) array
        Gap at each node of the course.
    """

    first: Ride
    other: Ride
    node_gaps_s: FloatArray

    @property
    def total_s(self) -> float:
        """Gap at the finish."""
        return float(self.node_gaps_s[-1])

    def between_s(self, start_m: float, end_m: float) -> float:
        """Gap that arises between two distances, linear between nodes."""
        course = self.first.course
        at = np.interp([start_m, end_m], course.node_distances_m, self.node_gaps_s)
        return float(at[1] - at[0])


def measure_gap(first: Ride, other: Ride) -> Gap:
    """Subtract two rides over the same course.

    Raises
    ------
    ValueError
        If the rides are not over the same course object.
    """
    if first.course is not other.course:
        msg = "both rides must be over the same course"
        raise ValueError(msg)
    node_gaps_s = other.node_times_s - first.node_times_s
    node_gaps_s.flags.writeable = False
    return Gap(first=first, other=other, node_gaps_s=node_gaps_s)
