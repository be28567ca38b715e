"""The speed that a bunch rides at: from a rider who sets it, or from a recorded race."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.course import Corner, Course
from simulator.ride import Ride

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Dip:
    """A corner that slows the bunch: nodes where it begins to slow and where it is slowest."""

    corner: Corner
    i_in: int
    i_low: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pace:
    """Speeds along a course, and who rode them.

    Attributes
    ----------
    node_times_s, node_speeds_mps : (n + 1,) arrays
        Clock and speed at each node.
    dips : tuple of Dip
        In order.
    place : float or None
        Place in the bunch at which these speeds were ridden: 1 for the rider who sets them; None
        for one's own place, as in a recording of one's own race.
    source : str
        In words, as in "bunch as recorded in race.fit".
    remarks : tuple of str
        What was done with a recording; sentences.
    smoothed_s : float
        Seconds over which a recording was smoothed; 0 for a ride.
    variants : tuple of Pace
        The same recording smoothed half and twice as much: what it does is a doubt.
    """

    course: Course
    node_times_s: FloatArray
    node_speeds_mps: FloatArray
    dips: tuple[Dip, ...]
    place: float | None
    source: str
    remarks: tuple[str, ...] = ()
    smoothed_s: float = 0.0
    variants: tuple[Pace, ...] = ()

    @property
    def time_s(self) -> float:
        """From start to finish."""
        return float(self.node_times_s[-1])

    @property
    def mean_speed_mps(self) -> float:
        """Distance over time."""
        return self.course.distance_m / self.time_s

    def time_at_s(self, distance_m: float) -> float:
        """Time at a distance along the course, linear between nodes."""
        return float(np.interp(distance_m, self.course.node_distances_m, self.node_times_s))


def pace_of_ride(ride: Ride, *, steady_w: float | None = None) -> Pace:
    """The pace of a rider alone in the wind, who rides at the front.

    Parameters
    ----------
    ride : Ride
        Of the one who sets the speed.
    steady_w : float, optional
        Power that was asked for throughout, told beside the mean that it came to.

    Returns
    -------
    Pace
    """
    at_limit = ride.node_speeds_mps >= 0.995 * ride.ceilings_mps
    return Pace(
        course=ride.course,
        node_times_s=ride.node_times_s,
        node_speeds_mps=ride.node_speeds_mps,
        dips=_dips(ride.course, ride.node_speeds_mps, at_limit),
        place=1.0,
        source=f"bunch at the pace of {ride.setup.rider.name} alone on {ride.setup.build.name} "
        f"{_effort(ride.mean_power_w, steady_w)}",
    )


def _effort(mean_w: float, steady_w: float | None) -> str:
    if steady_w is None:
        return f"at a mean of {mean_w:.0f} W"
    if abs(mean_w - steady_w) < 0.5:
        return f"at {steady_w:.0f} W"
    return f"at {steady_w:.0f} W, with coasting a mean of {mean_w:.0f} W"


def recorded_dips(course: Course, speeds_mps: FloatArray) -> tuple[Dip, ...]:
    """Corners at which recorded speeds fall: each node from which speed falls to a corner's least.

    Where it falls for another reason as well (a crest, a rider in the way), that cannot be told.
    """
    falls = np.append(np.diff(speeds_mps) < 0.0, False)
    marks = np.zeros(len(speeds_mps), dtype=bool)
    for corner in course.corners:
        i = _lowest(course, corner, speeds_mps)
        marks[i] = True
        while i > 0 and falls[i - 1]:
            i -= 1
            marks[i] = True
    return _dips(course, speeds_mps, marks)


def _lowest(course: Course, corner: Corner, speeds_mps: FloatArray) -> int:
    nodes_m = course.node_distances_m
    first, last = np.searchsorted(nodes_m, [corner.start_m - 1.0, corner.end_m + 1.0])
    first, last = int(min(first, len(nodes_m) - 1)), int(max(last, first + 1))
    return first + int(np.argmin(speeds_mps[first:last]))


def _dips(course: Course, speeds_mps: FloatArray, marks: NDArray[np.bool_]) -> tuple[Dip, ...]:
    """Corners at which `marks` holds, with the nodes where slowing begins and speed is least.

    Corners that one slowing leads into make one dip, named after the slowest.
    """
    dips: list[Dip] = []
    for corner in course.corners:
        i_low = i_in = _lowest(course, corner, speeds_mps)
        nodes_m = course.node_distances_m
        inside = (nodes_m >= corner.start_m - 1.0) & (nodes_m <= corner.end_m + 1.0)
        if not marks[inside].any() or speeds_mps[i_low] <= 0.0:
            continue
        while i_in > 0 and marks[i_in - 1]:
            i_in -= 1
        if dips and i_in <= dips[-1].i_low:
            if speeds_mps[i_low] < speeds_mps[dips[-1].i_low]:
                dips[-1] = Dip(corner=corner, i_in=dips[-1].i_in, i_low=i_low)
            continue
        dips.append(Dip(corner=corner, i_in=i_in, i_low=i_low))
    return tuple(dips)
