"""The wheel to follow: shelter by place in the bunch, rotation, the rubber band out of corners."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from simulator.bunch.bunch_rules import BunchRules
from simulator.bunch.pace import Pace
from simulator.course import Corner, Course
from simulator.measures import Measures, Phrase, amount
from simulator.ride import Wheel

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelter:
    """Drag of a rider in one place of the bunch over that of the same rider alone."""

    place: float
    factor: float
    source: str


LINE = (
    Shelter(
        place=1.0,
        factor=0.97,
        source="front: 0.8 to 2.6 % less than alone [Blocken2013], 4 % [Fitton2018a]",
    ),
    Shelter(
        place=2.0,
        factor=0.62,
        source="second wheel: 0.62 close behind [Olds1998]; 42 % less [Fitton2018a]; 23 % to 27 % "
        "less of a static model [Blocken2013]",
    ),
    Shelter(
        place=3.0, factor=0.54, source="third wheel: 48 % less [Fitton2018a], loosened a little"
    ),
    Shelter(place=4.0, factor=0.52, source="fourth wheel: 47 % less [Fitton2018a]"),
    Shelter(
        place=9.0,
        factor=0.42,
        source="ninth wheel: up to 60 % less [VanDruenen2021], loosened a little",
    ),
)
"""One line. Behind the last place nothing more is gained."""

PACK = (
    *LINE[:4],
    Shelter(
        place=15.0,
        factor=0.30,
        source="inside a loose club bunch: common practice, no source; between line and peloton",
    ),
    Shelter(
        place=60.0,
        factor=0.10,
        source="middle and rear of a tight peloton of 121: 5 to 10 % of alone [Blocken2018]",
    ),
)
"""A wide bunch. Club bunches are looser than the riders on stands of a wind tunnel."""

TABLES = {"line": LINE, "pack": PACK}

LEAST_DIP = 0.03
"""Corners that slow the bunch by less than this share make no rubber band."""

MOST_CLOSING_MPS = 1.5
"""Nobody closes a gap faster than this over the wheel ahead: common practice, no source. What is
left of the gap stays open: the bunch is strung out."""

LEAST_WINDOW_S = 3.0
"""A straight with less time than this between bends has no rubber band of its own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """The rubber band at one corner.

    ``gap_m`` opens to the one whose speeds are given, and is closed from `exit_s` to `closed_s` on
    the bunch's clock; ``wheel_gap_m`` is the part of it to the wheel ahead.
    """

    name: str
    lap: int
    start_m: float
    exit_m: float
    closed_m: float
    in_mps: float
    corner_mps: float
    gap_m: float
    wheel_gap_m: float
    exit_s: float
    closed_s: float


def table_of(rules: BunchRules) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Places and factors that the rules use: their own, or a published table."""
    if rules.places is not None and rules.factors is not None:
        return rules.places, rules.factors
    table = TABLES[rules.shelter]
    return tuple(s.place for s in table), tuple(s.factor for s in table)


def drag_factor(rules: BunchRules, place: float) -> float:
    """Factor on drag at a place, counted from the front; straight between the places known."""
    places, factors = table_of(rules)
    return float(np.interp(place, places, factors))


def place_of_factor(rules: BunchRules, factor: float) -> float | None:
    """Place at which the drag factor is this; None if no place is so sheltered, or so exposed."""
    places, factors = table_of(rules)
    order = np.argsort(factors)
    sorted_factors = np.asarray(factors)[order]
    if not sorted_factors[0] <= factor <= sorted_factors[-1]:
        return None
    return float(np.interp(factor, sorted_factors, np.asarray(places)[order]))


def bands_of(bunch: Pace, rules: BunchRules) -> tuple[Band, ...]:
    """The rubber band at every corner that slows the bunch.

    Riders close up to the same distance d from wheel to wheel at any speed, and each passes the
    corner at its speed v_c. So the one behind k others loses k d (1/v_c - 1/v) before the corner,
    and behind it has k d (v/v_c - 1) to close (kinematics, derived here).

    Parameters
    ----------
    bunch : Pace
        The speeds of the bunch, and the place at which they are ridden.
    rules : BunchRules
        Place, distance from wheel to wheel, seconds to close a gap.

    Returns
    -------
    tuple of Band
        In order; none for the rider at the front.
    """
    course, speeds = bunch.course, bunch.node_speeds_mps
    nodes_m, times_s = course.node_distances_m, bunch.node_times_s
    # In a recording of one's own place all that is ridden already.
    behind = 0.0 if bunch.place is None else rules.place - bunch.place
    bands: list[Band] = []
    for j, dip in enumerate(bunch.dips):
        corner, i_in, i_low = dip.corner, dip.i_in, dip.i_low
        i_next = bunch.dips[j + 1].i_in if j + 1 < len(bunch.dips) else course.n_segments
        exit_m = max(corner.end_m, float(nodes_m[i_low]))
        exit_s = bunch.time_at_s(exit_m)
        # Half of the way to the next corner is for closing, half for easing off before it.
        window_s = min(rules.close_s, 0.5 * (float(times_s[i_next]) - exit_s))
        i_closed = int(np.searchsorted(times_s, exit_s + window_s))
        fast_mps = min(speeds[i_in], speeds[i_low : i_closed + 1].max())
        corner_mps = float(speeds[i_low])
        if window_s < LEAST_WINDOW_S or fast_mps / corner_mps - 1.0 < LEAST_DIP:
            continue
        wheel_gap_m = rules.spacing_m * (fast_mps / corner_mps - 1.0)
        most = 0.5 * MOST_CLOSING_MPS * window_s / wheel_gap_m
        riders = float(np.clip(behind, -most, most))
        strung_out = riders / behind if behind > 0.0 else min(most, 1.0)
        bands.append(
            Band(
                name=_name_of(corner, course),
                lap=corner.lap,
                start_m=float(nodes_m[i_in]),
                exit_m=exit_m,
                closed_m=float(np.interp(exit_s + window_s, times_s, nodes_m)),
                in_mps=float(fast_mps),
                corner_mps=corner_mps,
                gap_m=riders * wheel_gap_m,
                wheel_gap_m=strung_out * wheel_gap_m,
                exit_s=exit_s,
                closed_s=exit_s + window_s,
            )
        )
    return tuple(bands)


def _name_of(corner: Corner, course: Course) -> str:
    """Name of a corner with its place on the lap: names like "right corner" come back."""
    start_m = float(course.lap_starts_m[corner.lap - 1])
    place = amount(Measures.place, corner.apex_m - start_m, 2)
    return Phrase("{corner}, {place}", corner=corner.name, place=place)


def make_wheel(bunch: Pace, rules: BunchRules) -> tuple[Wheel, tuple[Band, ...]]:
    """Speeds and shelter of one place in the bunch.

    Parameters
    ----------
    bunch : Pace
        The speeds of the bunch, and the place at which they are ridden.
    rules : BunchRules
        Place, shelter, rotation.

    Returns
    -------
    tuple
        The wheel to follow, and the rubber bands in it.
    """
    course = bunch.course
    times_s = bunch.node_times_s
    middles_s = 0.5 * (times_s[:-1] + times_s[1:])
    factors = np.full(course.n_segments, drag_factor(rules, rules.place))
    speeds = bunch.node_speeds_mps.copy()
    gaps = np.zeros(course.n_segments)
    bands = bands_of(bunch, rules) if rules.place > 1.0 else ()
    for band in bands:
        span_s = band.closed_s - band.exit_s
        if span_s <= 0.0:
            continue
        into = (times_s - band.exit_s) / span_s
        speeds += np.where(
            (into > 0.0) & (into < 1.0), 2.0 * band.gap_m / span_s * np.sin(np.pi * into) ** 2, 0.0
        )
        # Before the corner the same way is lost by easing off where the bunch still rides on.
        before_s = float(np.interp(band.start_m, course.node_distances_m, times_s))
        into = (times_s - (before_s - span_s)) / span_s
        lost = 2.0 * band.gap_m / span_s * np.sin(np.pi * into) ** 2
        lost = np.minimum(lost, 0.4 * bunch.node_speeds_mps)
        speeds -= np.where((into > 0.0) & (into < 1.0), lost, 0.0)
        # The wheel ahead is further off by one rider's part of the gap.
        share = np.clip((middles_s - band.exit_s) / span_s, 0.0, 1.0)
        own_m = band.wheel_gap_m * (1.0 - share)
        gaps = np.where((share > 0.0) & (share < 1.0), np.maximum(gaps, own_m), gaps)
    if rules.turn_s > 0.0:
        in_front = np.mod(middles_s, rules.turn_every_s) < rules.turn_s
        factors = np.where(in_front, drag_factor(rules, 1.0), factors)
        gaps = np.where(in_front, 0.0, gaps)
    wheel = Wheel(course=course, node_speeds_mps=speeds, factors=factors, gaps_m=gaps)
    return wheel, bands


def with_factor(wheel: Wheel, rules: BunchRules, factor: float) -> Wheel:
    """The same wheel with another shelter where the rider is not at the front."""
    own = drag_factor(rules, rules.place)
    return replace(wheel, factors=np.where(wheel.factors == own, factor, wheel.factors))
