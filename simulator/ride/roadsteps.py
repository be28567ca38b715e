"""Course x rider x weather x demand -> the steps that the kernels ride."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from simulator.course import Course
from simulator.pacing import Demand
from simulator.physics.air import density_ratio, wind_factor
from simulator.physics.constants import STANDARD_GRAVITY_MPS2
from simulator.physics.params import N_STEP_FIELDS, STEP_FIELDS
from simulator.physics.step import lay_rows
from simulator.setup import Rider, RideSetup, Weather
from simulator.units import k_from_degc

FloatArray = NDArray[np.float64]

WET_CRR_FACTOR = 1.05
"""Rolling resistance on a wet road over a dry one: common practice, no source."""

STEP_STIFFNESS = 0.5
"""Step length times decay rate at which a segment is split, on a nominal rider. Against steps 100
times finer an hour differs by 2e-5 s, on these as on steps of a third of it."""

NOMINAL_MASS_KG = 90.0
NOMINAL_POWER_W = 150.0
NOMINAL_SPEED_MPS = 12.0
"""The rider for whom segments are split: slow on hills, so that most are split finely enough."""

TIGHT_RADIUS_M = 30.0
"""Corners tighter than this are taken without pedalling: common practice, no source."""

STANDING_FADE = 0.05
"""The rider gets out of the saddle over this share of power below and above the stated one."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Steps:
    """The course as the kernels see it.

    Attributes
    ----------
    rows : (n_steps, N_STEP_FIELDS) array
        One `physics.params.Step` a row. A segment is one step, or several equal ones where the
        ride is slow and steep.
    node_steps : (n_segments + 1,) array of int
        Index of the step that starts at each node of the course.
    """

    rows: FloatArray
    node_steps: NDArray[np.int64]


def steps_per_segment(course: Course) -> NDArray[np.int64]:
    """How many steps each segment takes, from its grade alone.

    The choice uses a nominal mass and power, not the rider's, so that rides which are compared,
    differentiated or optimised run on the same steps. The integrator still takes apart any step
    that turns out too stiff.
    """
    sines, _ = slope_sines(course.grades)
    hold_n = NOMINAL_MASS_KG * STANDARD_GRAVITY_MPS2 * (sines + 0.005)
    speeds_mps = np.full(course.n_segments, NOMINAL_SPEED_MPS)
    np.divide(NOMINAL_POWER_W, hold_n, out=speeds_mps, where=hold_n > 0.0)
    speeds_mps = np.minimum(speeds_mps, NOMINAL_SPEED_MPS)
    decay_per_m = NOMINAL_POWER_W / (NOMINAL_MASS_KG * speeds_mps**3)
    wanted = np.ceil(course.lengths_m * decay_per_m / STEP_STIFFNESS)
    return np.asarray(np.clip(wanted, 1, 50), dtype=np.int64)


def slope_sines(grades: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Sines and cosines of the slope angles whose tangents are `grades`."""
    cosines = 1.0 / np.sqrt(1.0 + grades * grades)
    return grades * cosines, cosines


class _Laid(NamedTuple):
    """Steps, and all that they were laid out for beside the course."""

    rider: Rider
    weather: Weather
    powers_w: FloatArray
    surge_w: float
    steps: Steps


_LAST_LAID: WeakKeyDictionary[Course, _Laid] = WeakKeyDictionary()
"""What each course was laid out for last: builds that are compared ride the same steps again and
again, and laying them out takes longer than a ride."""


def prepare_steps(course: Course, setup: RideSetup, demand: Demand) -> Steps:
    """Lay out the course for a rider in a weather (the build does not enter).

    Parameters
    ----------
    course : Course
        Where.
    setup : RideSetup
        Its rider and weather are used.
    demand : Demand
        Power by segment.

    Returns
    -------
    Steps
        Rows in the order of ``physics.params.STEP_FIELDS``. They are shared by all who ask for the
        same: whoever writes into them takes a copy.
    """
    last = _LAST_LAID.get(course)
    if (
        last is not None
        and last.surge_w == demand.surge_w
        and last.rider == setup.rider
        and last.weather == setup.weather
        and np.array_equal(last.powers_w, demand.powers_w)
    ):
        return last.steps
    steps = _lay_out(course, setup, demand)
    _LAST_LAID[course] = _Laid(setup.rider, setup.weather, demand.powers_w, demand.surge_w, steps)
    return steps


def _lay_out(course: Course, setup: RideSetup, demand: Demand) -> Steps:
    rider, weather = setup.rider, setup.weather
    sines, cosines = slope_sines(course.grades)
    heights_m = 0.5 * (course.node_heights_m[:-1] + course.node_heights_m[1:])
    station_k = k_from_degc(weather.temperature_degc.value)
    factors = course.shelters * wind_factor(weather.rider_height_m, course.roughnesses_m)
    positions = rider.positions
    is_climb = course.grades >= positions.climbing_grade
    is_descent = course.grades <= positions.tuck_grade
    standing = standing_shares(course, rider, demand)
    sits, stands = 1.0 - standing, standing * (positions.standing_factor or 1.0)
    counts = steps_per_segment(course)
    columns = {
        "length_m": course.lengths_m / counts,
        "sin_slope": sines,
        "cos_slope": cosines,
        "density_ratio": density_ratio(station_k, heights_m - weather.station_height_m),
        "axis_east": np.sin(course.headings_rad) * factors,
        "axis_north": np.cos(course.headings_rad) * factors,
        "crr_factor": course.crr_factors * (WET_CRR_FACTOR if weather.is_wet else 1.0),
        "power_w": demand.powers_w * pedalled_shares(course, rider),
        "position_slow": sits * np.where(is_climb, positions.climbing_factor, 1.0) + stands,
        "position_fast": sits * np.where(is_descent, positions.tuck_factor, 1.0) + stands,
        "position_mps": np.where(
            is_descent, positions.tuck_speed_mps, positions.climbing_speed_mps
        ),
        "inverse_radius_per_m": 1.0 / course.radii_m,
        "grip_factor": course.grip_factors,
        "surge_w": demand.surge_w,
        "opens_surge": 0.0,
        "standstill": 0.0,
    }
    table = np.empty((N_STEP_FIELDS, course.n_segments))
    for column, name in zip(table, STEP_FIELDS, strict=True):
        column[:] = columns[name]
    rows = np.empty((counts.sum(), N_STEP_FIELDS))
    lay_rows(table, counts, rows)
    node_steps = np.concatenate([[0], np.cumsum(counts)])
    for field, places_m in (
        ("opens_surge", [corner.end_m for corner in course.corners]),
        ("standstill", course.restarts_m),
    ):
        i_segments = np.searchsorted(course.node_distances_m[:-1], places_m)
        i_steps = np.unique(node_steps[i_segments[i_segments < course.n_segments]])
        if field == "standstill" and len(i_steps):
            # Nobody gets from one stop to the next within a single step: those two are one.
            i_steps = i_steps[np.append(True, np.diff(i_steps) > 1)]
        rows[i_steps, STEP_FIELDS.index(field)] = 1.0
    return Steps(rows=rows, node_steps=node_steps)


def standing_shares(course: Course, rider: Rider, demand: Demand) -> FloatArray:
    """How far the rider is out of the saddle on each segment.

    Parameters
    ----------
    course, rider, demand : Course, Rider, Demand
        The wanted power decides, on grades of at least the climbing one.

    Returns
    -------
    (n,) array
        0 in the saddle, 1 out of it; it changes over `STANDING_FADE` to either side of the power,
        so that a watt more does not switch the whole drag area.
    """
    positions = rider.positions
    if positions.standing_power_w is None:
        return np.zeros(course.n_segments)
    excess = demand.powers_w / positions.standing_power_w - 1.0
    shares = np.clip(0.5 * excess / STANDING_FADE + 0.5, 0.0, 1.0)
    return np.where(course.grades >= positions.climbing_grade, shares, 0.0)


def pedalled_shares(course: Course, rider: Rider) -> FloatArray:
    """Share of each segment on which the rider pedals again behind a tight corner.

    Parameters
    ----------
    course : Course
        Its corners tighter than `TIGHT_RADIUS_M` count.
    rider : Rider
        Gives the delay and the lean; the delay is turned into a way at the speed of that lean,
        the same for every build.

    Returns
    -------
    (n,) array
        0 to 1; fractions where a way ends inside a segment.
    """
    shares = np.ones(course.n_segments)
    if rider.pedal_delay_s <= 0.0:
        return shares
    starts_m, ends_m = course.node_distances_m[:-1], course.node_distances_m[1:]
    for corner in course.corners:
        if corner.radius_m >= TIGHT_RADIUS_M:
            continue
        lateral_mps2 = STANDARD_GRAVITY_MPS2 * math.tan(math.radians(rider.lean_deg))
        way_m = rider.pedal_delay_s * math.sqrt(corner.radius_m * lateral_mps2)
        covered_m = np.minimum(ends_m, corner.end_m + way_m) - np.maximum(starts_m, corner.end_m)
        shares -= np.clip(covered_m, 0.0, None) / course.lengths_m
    return np.asarray(np.clip(shares, 0.0, 1.0))
