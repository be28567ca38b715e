"""The type this room is about: one finished ride as frozen arrays. Data only, no physics."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.course import Course
from simulator.setup import RideSetup

FloatArray = NDArray[np.float64]

ENERGY_CAUSES = (
    "climbing",
    "air",
    "rolling",
    "bearings",
    "drivetrain",
    "braking",
    "kinetic",
)
"""Rows of `Ride.energies_j`. Work at the pedals is their sum; climbing and kinetic have a sign."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ride:
    """A ride over every segment of a course, from start to finish.

    The arrays are taken over, not copied, and cannot be written to any more.

    Attributes
    ----------
    node_times_s : (n + 1,) array
        Time since the start at each node.
    node_speeds_mps : (n + 1,) array
        Speed at each node.
    powers_w : (n,) array
        Mean power at the pedals on each segment.
    energies_j : (7, n) array
        Energy by cause (rows: `ENERGY_CAUSES`) on each segment.
    ceilings_mps : (n + 1,) array
        Speed that corners and braking for them allow at each node; ``inf`` where nothing limits.
    node_reserves_j : (n + 1,) array or None
        W' left at each node; None when the rider has no critical power stated.
    """

    course: Course
    setup: RideSetup
    node_times_s: FloatArray
    node_speeds_mps: FloatArray
    powers_w: FloatArray
    energies_j: FloatArray
    ceilings_mps: FloatArray
    node_reserves_j: FloatArray | None

    def __post_init__(self) -> None:
        n_segments = self.course.n_segments
        shapes = {
            "node_times_s": (n_segments + 1,),
            "node_speeds_mps": (n_segments + 1,),
            "powers_w": (n_segments,),
            "energies_j": (len(ENERGY_CAUSES), n_segments),
            "ceilings_mps": (n_segments + 1,),
        }
        if self.node_reserves_j is not None:
            shapes["node_reserves_j"] = (n_segments + 1,)
        for name, shape in shapes.items():
            values = np.ascontiguousarray(getattr(self, name), dtype=np.float64)
            if values.shape != shape:
                msg = f"{name} has shape {values.shape}, expected {shape}"
                raise ValueError(msg)
            values.flags.writeable = False
            object.__setattr__(self, name, values)

    def __repr__(self) -> str:
        return f"<Ride of {self.setup.build.name} over {self.course.name}: {self.time_s:.1f} s>"

    @property
    def time_s(self) -> float:
        """Time from start to finish."""
        return float(self.node_times_s[-1])

    @property
    def mean_speed_mps(self) -> float:
        """Distance over time."""
        return self.course.distance_m / self.time_s

    @property
    def mean_power_w(self) -> float:
        """Mean power at the pedals over time."""
        return self.work_j / self.time_s

    @property
    def fourth_power_mean_w(self) -> float:
        """Fourth root of the time mean of the fourth power of the segments, unsmoothed."""
        fourth = self.powers_w**4 @ np.diff(self.node_times_s) / self.time_s
        return float(fourth**0.25)

    @property
    def work_j(self) -> float:
        """Work at the pedals."""
        return float(self.powers_w @ np.diff(self.node_times_s))

    def time_at_s(self, distance_m: float) -> float:
        """Time at a distance along the course, linear between nodes."""
        return float(np.interp(distance_m, self.course.node_distances_m, self.node_times_s))
