"""The type this room is about: a course as frozen arrays of segments.

Segments run in the direction of travel and are already unrolled over all laps. With ``n``
segments there are ``n + 1`` nodes; node ``i`` is the start of segment ``i``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_NODE_ARRAYS = (
    "node_distances_m",
    "node_heights_m",
    "node_easts_m",
    "node_norths_m",
    "node_lats_deg",
    "node_lons_deg",
)
_SEGMENT_ARRAYS = (
    "lengths_m",
    "grades",
    "headings_rad",
    "radii_m",
    "shelters",
    "roughnesses_m",
    "crr_factors",
    "grip_factors",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Corner:
    """One bend that can limit speed.

    Distances are along the whole ride (all laps), in metres. ``radius_m`` is the radius of the
    line ridden. ``turn_rad`` is the total change of heading, positive to the right.
    """

    number: int
    name: str
    start_m: float
    apex_m: float
    end_m: float
    radius_m: float
    turn_rad: float
    lap: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Feature:
    """One climb, descent or flat. Features follow each other without gap and cover the course."""

    kind: str  # "climb", "descent" or "flat"
    name: str
    start_m: float
    end_m: float
    mean_grade: float
    max_grade: float  # steepest 50 m, in the direction of the feature's kind
    ascent_m: float
    descent_m: float
    lap: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something about the data that the user should know; ``level`` is "note" or "doubt"."""

    level: str
    text: str
    distance_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate:
    """A line across the road where times are taken."""

    name: str
    distance_m: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, weakref_slot=True)
class Course:
    """Where one rides: geometry, heights and exposure by segment.

    Attributes
    ----------
    node_distances_m, node_heights_m, node_easts_m, node_norths_m : (n + 1,) arrays
        Distance along the road surface from the start, smoothed height above sea level, and
        position in a local plane whose origin is the first node.
    node_lats_deg, node_lons_deg : (n + 1,) arrays
        Position on WGS84.
    lengths_m : (n,) array
        Length along the road surface, > 0.
    grades : (n,) array
        Rise over horizontal run.
    headings_rad : (n,) array
        Direction of travel, clockwise from true north.
    radii_m : (n,) array
        Radius of the line ridden; ``inf`` on a straight.
    shelters : (n,) array
        Factor on the wind, 0 (none felt) to 1 (open).
    roughnesses_m : (n,) array
        Aerodynamic roughness length of the surroundings, at most 0.1 m (log law); rougher
        terrain is told by `shelters` instead.
    crr_factors, grip_factors : (n,) arrays
        Road surface, relative to smooth dry asphalt.
    lap_starts_m : (n_laps + 1,) array
        Distance at which each lap starts; the last entry is the finish.
    start : str
        ``"standing"`` or ``"rolling"``.
    restarts_m : tuple of float
        Distances at which the rider must stop and start again (a dead turn, a gate).
    height_source : str
        ``"track"``, ``"tiles"``, ``"track and tiles"`` or ``"made"``.
    gates : tuple of Gate
        Lines across the road where times are taken, in order.
    height_noise_m, height_reach_m : float
        Noise of the raw heights as used for smoothing: size and the distance over which one error
        lasts. 0 for made courses.
    position_noise_m : float
        Noise of the raw points across the road.
    """

    name: str
    node_distances_m: FloatArray
    node_heights_m: FloatArray
    node_easts_m: FloatArray
    node_norths_m: FloatArray
    node_lats_deg: FloatArray
    node_lons_deg: FloatArray
    lengths_m: FloatArray
    grades: FloatArray
    headings_rad: FloatArray
    radii_m: FloatArray
    shelters: FloatArray
    roughnesses_m: FloatArray
    crr_factors: FloatArray
    grip_factors: FloatArray
    lap_starts_m: FloatArray
    is_closed: bool
    start: str
    corners: tuple[Corner, ...]
    features: tuple[Feature, ...]
    findings: tuple[Finding, ...]
    height_source: str
    source: str
    gates: tuple[Gate, ...] = ()
    height_noise_m: float = 0.0
    height_reach_m: float = 0.0
    position_noise_m: float = 0.0

    restarts_m: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        n_segments = len(self.lengths_m)
        for names, size in ((_NODE_ARRAYS, n_segments + 1), (_SEGMENT_ARRAYS, n_segments)):
            for name in names:
                values = np.array(getattr(self, name), dtype=np.float64, order="C")
                if values.shape != (size,):
                    msg = f"{name} has shape {values.shape}, expected ({size},)"
                    raise ValueError(msg)
                values.flags.writeable = False
                object.__setattr__(self, name, values)
        lap_starts_m = np.array(self.lap_starts_m, dtype=np.float64)
        lap_starts_m.flags.writeable = False
        object.__setattr__(self, "lap_starts_m", lap_starts_m)

    def __repr__(self) -> str:
        laps = f" in {self.n_laps} laps" if self.n_laps > 1 else ""
        n_corners = len(self.corners)
        return (
            f"<Course {self.name}: {self.distance_m / 1000.0:.2f} km{laps}, {self.ascent_m:.0f} m "
            f"of climbing, {n_corners} corner{'' if n_corners == 1 else 's'}, "
            f"{self.n_segments} segments>"
        )

    @property
    def n_segments(self) -> int:
        """Number of segments."""
        return len(self.lengths_m)

    @property
    def n_laps(self) -> int:
        """Number of laps, 1 for a course ridden once."""
        return len(self.lap_starts_m) - 1

    @property
    def distance_m(self) -> float:
        """Length of the whole ride along the road, in metres."""
        return float(self.node_distances_m[-1])

    @property
    def ascent_m(self) -> float:
        """Sum of all rises of the smoothed heights, in metres."""
        rises = np.diff(self.node_heights_m)
        return float(rises[rises > 0.0].sum())
