"""Roads between gates: cut out of a course, or even ones from length and grade."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.course import Course, course_from_arrays
from simulator.recordings import GateLine

FloatArray = NDArray[np.float64]

RUN_UP_M = 400.0
"""Ridden before the first gate where a run was already at its speed there. A difference in speed
fades over m / (rho CdA), about 220 m on the flat without pedalling and less uphill."""

EVEN_STEP_M = 10.0
_LEAST_SEGMENT_M = 0.5
_FIRST_M = 100.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Road:
    """A stretch of a course between two gates.

    ``course`` is the whole course, ``start_m`` and ``end_m`` the places of the gates on it.
    ``gates`` are the lines across the road where they were given as points, ``is_placed`` tells
    whether the course lies where it is ridden: an even road has no place but its gates.
    ``heights_from`` is one word for all roads whose heights, and errors of them, are the same.
    """

    name: str
    course: Course
    start_m: float
    end_m: float
    gates: tuple[GateLine, GateLine] | None = None
    is_placed: bool = True
    heights_from: str = ""

    @property
    def length_m(self) -> float:
        """From gate to gate, along the road surface."""
        return self.end_m - self.start_m

    @property
    def mean_grade(self) -> float:
        """Rise between the gates over the horizontal way."""
        course = self.course
        heights = np.interp(
            [self.start_m, self.end_m], course.node_distances_m, course.node_heights_m
        )
        rise = float(heights[1] - heights[0])
        return rise / float(np.sqrt(max(self.length_m**2 - rise**2, 1.0)))


def even_road(
    name: str,
    *,
    length_m: float,
    grade: float,
    heading_rad: float = 0.0,
    height_m: float = 0.0,
    shelter: float = 1.0,
    crr_factor: float = 1.0,
    gates: tuple[GateLine, GateLine] | None = None,
) -> Road:
    """A straight road of one grade; `gates` say where on earth it lies."""
    n = max(2, round(length_m / EVEN_STEP_M))
    course = course_from_arrays(
        name=name,
        lengths_m=np.full(n, length_m / n),
        grades=grade,
        headings_rad=heading_rad,
        shelters=shelter,
        crr_factors=crr_factor,
        start_height_m=height_m,
    )
    return Road(
        name=name,
        course=course,
        start_m=0.0,
        end_m=course.distance_m,
        gates=gates,
        is_placed=False,
        heights_from=name,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cut:
    """A piece of road as its own course.

    ``first`` is the node of the first gate, ``marks`` the nodes of the places asked for,
    ``places_m`` where each node lies from the road's first gate.
    """

    course: Course
    first: int
    marks: NDArray[np.int64]
    places_m: FloatArray


def cut_road(
    road: Road,
    marks_m: FloatArray,
    *,
    start_m: float | None = None,
    run_up_m: float = 0.0,
    back: bool = False,
) -> Cut:
    """Cut a piece of road that starts at a gate and ends at the last mark.

    Parameters
    ----------
    road : Road
        The road.
    marks_m : (k,) array
        Places at which times are wanted, in m from the start of the piece, ascending.
    start_m : float, optional
        Start of the piece in m from the road's first gate (the last one when ridden back);
        0 if left out.
    run_up_m : float
        Road before it: that of the course as far as it goes, before that an even one of the
        piece's first grade.
    back : bool
        Ridden the other way.

    Returns
    -------
    Cut
        Course with a node at every mark.
    """
    whole = road.course
    nodes_m, columns = whole.node_distances_m, _columns(whole)
    first_m, last_m = road.start_m, road.end_m
    heights_m = whole.node_heights_m
    if back:
        end_m = whole.distance_m
        nodes_m, heights_m = end_m - nodes_m[::-1], heights_m[::-1]
        columns = {name: values[::-1] for name, values in columns.items()}
        columns["grades"] = -columns["grades"]
        columns["headings_rad"] = columns["headings_rad"] + np.pi
        first_m, last_m = end_m - last_m, end_m - first_m
    zero_m = first_m + (start_m or 0.0)
    wanted_m = zero_m + np.concatenate(([0.0], np.asarray(marks_m, dtype=np.float64)))
    before_m = max(zero_m - run_up_m, 0.0)
    inner = _thinned(nodes_m[(nodes_m > before_m) & (nodes_m < wanted_m[-1])])
    nearest = np.abs(inner[:, None] - wanted_m[None, :]).min(axis=1) if len(inner) else inner
    places_m = np.unique(np.concatenate(([before_m], inner[nearest > _LEAST_SEGMENT_M], wanted_m)))
    picked: dict[str, Any] = dict(_means(columns, nodes_m, places_m))
    lengths_m = np.diff(places_m)
    height_m = float(np.interp(before_m, nodes_m, heights_m))
    missing_m = run_up_m - (zero_m - before_m)
    if missing_m > 1.0:
        n = max(1, round(missing_m / EVEN_STEP_M))
        early = places_m[:-1] < zero_m + _FIRST_M
        grade = float(np.average(picked["grades"][early], weights=lengths_m[early]))
        for name, values in picked.items():
            lead = np.full(n, grade if name == "grades" else values[0])
            if name == "radii_m":
                lead[:] = np.inf
            picked[name] = np.concatenate((lead, values))
        lengths_m = np.concatenate((np.full(n, missing_m / n), lengths_m))
        places_m = np.concatenate((before_m - missing_m + np.arange(n) * missing_m / n, places_m))
        height_m -= missing_m * grade / float(np.sqrt(1.0 + grade**2))
    at = np.searchsorted(places_m, wanted_m - 1e-9)
    course = course_from_arrays(
        name=road.name, lengths_m=lengths_m, start_height_m=height_m, **picked
    )
    return Cut(
        course=course, first=int(at[0]), marks=at[1:].astype(np.int64), places_m=places_m - first_m
    )


def _thinned(places_m: FloatArray) -> FloatArray:
    """Places at least `EVEN_STEP_M` apart: a fit rides each road hundreds of times."""
    if not len(places_m):
        return places_m
    cells = np.floor(places_m / EVEN_STEP_M)
    return np.asarray(places_m[np.concatenate(([True], np.diff(cells) > 0.0))])


def _means(
    columns: dict[str, FloatArray], nodes_m: FloatArray, places_m: FloatArray
) -> dict[str, FloatArray]:
    """Mean of each column between places, from its values between nodes."""
    lengths_m = np.diff(nodes_m)
    found = {}
    for name, values in columns.items():
        summed = 1.0 / values if name == "radii_m" else values
        if name == "headings_rad":
            summed = np.unwrap(summed)
        total = np.concatenate(([0.0], np.cumsum(summed * lengths_m)))
        means = np.diff(np.interp(places_m, nodes_m, total)) / np.diff(places_m)
        if name == "radii_m":
            with np.errstate(divide="ignore"):
                means = np.where(means > 1.0e-9, 1.0 / means, np.inf)
        found[name] = means
    return found


def _columns(course: Course) -> dict[str, FloatArray]:
    names = (
        "grades", "headings_rad", "radii_m", "shelters", "roughnesses_m", "crr_factors",
        "grip_factors",
    )  # fmt: skip
    return {name: np.asarray(getattr(course, name)) for name in names}


def gate_lines(road: Road, *, back: bool = False) -> list[GateLine]:
    """Lines across the road at its two gates, in the order ridden."""
    if road.gates is not None:
        if not back:
            return list(road.gates)
        return [
            replace(gate, heading_deg=(gate.heading_deg + 180.0) % 360.0)
            for gate in reversed(road.gates)
        ]
    course = road.course
    lines = []
    for number, place_m in enumerate((0.0, road.length_m), start=1):
        at_m = road.end_m - place_m if back else road.start_m + place_m
        i = int(
            np.clip(np.searchsorted(course.node_distances_m, at_m) - 1, 0, course.n_segments - 1)
        )
        lines.append(
            GateLine(
                name=f"{road.name}, gate {number}",
                lat_deg=float(np.interp(at_m, course.node_distances_m, course.node_lats_deg)),
                lon_deg=float(np.interp(at_m, course.node_distances_m, course.node_lons_deg)),
                heading_deg=float(np.degrees(course.headings_rad[i])) + (180.0 if back else 0.0),
            )
        )
    return lines


def even_marks_m(length_m: float, *, every_m: float, most: int) -> FloatArray:
    """Places of equal distance up to the end of a length."""
    n = int(np.clip(round(length_m / every_m), 1, most))
    return np.asarray(length_m * np.arange(1, n + 1) / n)


def road_points(road: Road) -> tuple[FloatArray, FloatArray] | tuple[None, None]:
    """Positions of the road between its gates, for telling who strays; None if not known."""
    if not road.is_placed:
        return None, None
    course = road.course
    inside = (course.node_distances_m >= road.start_m) & (course.node_distances_m <= road.end_m)
    return course.node_lats_deg[inside], course.node_lons_deg[inside]
