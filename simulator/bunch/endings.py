"""How a race may end for a rider: dropped on a climb, alone in front, or in the sprint."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from simulator.bunch.bunch_rules import BunchRules
from simulator.bunch.pace import Pace
from simulator.bunch.surges import mean_needed_w
from simulator.course import Course, Feature
from simulator.errors import CannotFinish
from simulator.ride import (
    Following,
    Wheel,
    capacity_w,
    follow,
    holdable_power_w,
    open_rehearsal,
    rehearse,
)
from simulator.setup import RideSetup

CLIMB_GRADE = 0.03
CLIMB_M = 300.0
FASTEST_FACTOR = 4.0
CLOSE_FACTOR = 1.0e-4
OPEN_SHARE = 0.1
"""A gap has opened where the rider is further behind than this share of losing contact."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClimbLimit:
    """A climb: the speed at which contact is lost, and the power that goes with it."""

    name: str
    lap: int
    length_m: float
    mean_grade: float
    bunch_mps: float
    limit_mps: float
    limit_w: float
    limit_w_per_kg: float
    reserve_at_foot_j: float
    is_dropped: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SoloBreak:
    """Alone from some laps out: ``lead_s`` > 0 at the finish means that it holds."""

    laps_out: int
    start_m: float
    power_w: float
    solo_s: float
    bunch_s: float
    lead_s: float
    reserve_j: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Sprint:
    """The last metres, all that W′ still allows, in the wind."""

    length_m: float
    time_s: float
    end_mps: float
    mean_w: float
    reserve_j: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Loss:
    """Contact lost: where, and what the rider could not give where the gap opened.

    From ``from_m`` on, over the moments in which it was too much, the wheel took ``needed_w`` on
    the mean and the rider gave ``given_w``: all that was possible. ``reserve_j`` is W′ at the loss,
    None where it is not followed.
    """

    at_m: float
    from_m: float
    needed_w: float
    given_w: float
    reserve_j: float | None


def loss_of(following: Following, rules: BunchRules) -> Loss | None:
    """Where and why contact is lost; None if it is held.

    W′ need not be empty for it: what a rider gives above critical power falls with what is left of
    W′, and a surge that is more than that opens a gap, in which there is less shelter.
    """
    if following.lost_at_m is None:
        return None
    course = following.wheel.course
    last = int(np.searchsorted(course.node_distances_m, following.lost_at_m - 1e-6))
    is_near = following.node_lags_m[: last + 1] <= OPEN_SHARE * rules.lost_m
    first = int(np.flatnonzero(is_near)[-1])
    gone = slice(first, max(last, first + 1))
    taken_s = np.diff(following.node_times_s)[gone]
    needed_w, given_w = following.needed_w[gone], following.given_w[gone]
    weights_s = np.where(needed_w > given_w, taken_s, 0.0)
    if weights_s.sum() <= 0.0:
        weights_s = taken_s
    return Loss(
        at_m=following.lost_at_m,
        from_m=float(course.node_distances_m[first]),
        needed_w=float(needed_w @ weights_s / weights_s.sum()),
        given_w=float(given_w @ weights_s / weights_s.sum()),
        reserve_j=None
        if following.setup.rider.wprime_j is None
        else float(following.node_reserves_j[last]),
    )


def cut_course(course: Course, first: int, last: int) -> Course:
    """The stretch of a course from node `first` to node `last`, as a course of one lap."""
    start_m = float(course.node_distances_m[first])
    node = {
        name: getattr(course, name)[first : last + 1]
        for name in ("node_heights_m", "node_easts_m", "node_norths_m", "node_lats_deg",
                     "node_lons_deg")
    }  # fmt: skip
    segment = {
        name: getattr(course, name)[first:last]
        for name in ("lengths_m", "grades", "headings_rad", "radii_m", "shelters", "roughnesses_m",
                     "crr_factors", "grip_factors")
    }  # fmt: skip
    distances_m = course.node_distances_m[first : last + 1] - start_m
    length_m = float(distances_m[-1])
    corners = tuple(
        replace(
            c,
            start_m=c.start_m - start_m,
            apex_m=c.apex_m - start_m,
            end_m=c.end_m - start_m,
            lap=1,
        )
        for c in course.corners
        if c.start_m >= start_m and c.end_m <= start_m + length_m
    )
    return replace(
        course,
        node_distances_m=distances_m,
        lap_starts_m=np.array([0.0, length_m]),
        is_closed=False,
        start="rolling",
        corners=corners,
        features=(),
        gates=(),
        restarts_m=tuple(r - start_m for r in course.restarts_m if 0.0 < r - start_m < length_m),
        **node,
        **segment,
    )


def _from(setup: RideSetup, bunch: Pace, first: int) -> RideSetup:
    """The setup with the clock of its wind at zero where the bunch passes a node."""
    gone_s = float(bunch.node_times_s[first])
    winds = tuple(replace(wind, time_s=wind.time_s - gone_s) for wind in setup.weather.winds)
    return replace(setup, weather=replace(setup.weather, winds=winds)) if winds else setup


def climb_limits(following: Following, bunch: Pace, rules: BunchRules) -> tuple[ClimbLimit, ...]:
    """For each climb, how fast the bunch may ride before this rider is dropped on it.

    The bunch's speeds on the climb are scaled; the rider starts at the foot with what W' is left
    there (full where contact was lost before).
    """
    if following.setup.rider.cp_w is None:
        return ()
    course = following.wheel.course
    climbs = [
        f
        for f in course.features
        if f.kind == "climb" and f.mean_grade >= CLIMB_GRADE and f.end_m - f.start_m >= CLIMB_M
    ]
    limits = []
    seen: set[str] = set()
    for climb in climbs:
        if climb.name in seen:
            continue  # the same climb on a later lap
        seen.add(climb.name)
        limits.append(_climb_limit(following, bunch, rules, climb))
    return tuple(limits)


def _climb_limit(
    following: Following, bunch: Pace, rules: BunchRules, climb: Feature
) -> ClimbLimit:
    course = following.wheel.course
    nodes_m = course.node_distances_m
    first, last = (int(np.searchsorted(nodes_m, m - 1e-6)) for m in (climb.start_m, climb.end_m))
    setup, rider = following.setup, following.setup.rider
    part = cut_course(course, first, last)
    is_gone = following.lost_at_m is not None and following.lost_at_m <= climb.start_m
    reserve_j = (rider.wprime_j or 0.0) if is_gone else float(following.node_reserves_j[first])

    def ridden(factor: float) -> Following:
        wheel = Wheel(
            course=part,
            node_speeds_mps=bunch.node_speeds_mps[first : last + 1] * factor,
            factors=following.wheel.factors[first:last],
            gaps_m=np.zeros(last - first),
            start_s=float(bunch.node_times_s[first]),
        )
        return follow(wheel, setup, lost_m=rules.lost_m, start_reserve_j=reserve_j)

    low, high = 0.1, FASTEST_FACTOR
    while high - low > CLOSE_FACTOR:
        middle = 0.5 * (low + high)
        if ridden(middle).lost_at_m is None:
            low = middle
        else:
            high = middle
    at_limit = ridden(low)
    length_m = float(nodes_m[last] - nodes_m[first])
    power_w = mean_needed_w(at_limit)
    return ClimbLimit(
        name=climb.name,
        lap=climb.lap,
        length_m=length_m,
        mean_grade=climb.mean_grade,
        bunch_mps=length_m / float(bunch.node_times_s[last] - bunch.node_times_s[first]),
        limit_mps=length_m / float(at_limit.node_times_s[-1]),
        limit_w=power_w,
        limit_w_per_kg=power_w / rider.mass_kg.value,
        reserve_at_foot_j=reserve_j,
        is_dropped=low < 1.0,
    )


def solo_breaks(following: Following, bunch: Pace, rules: BunchRules) -> tuple[SoloBreak, ...]:
    """Alone to the finish from some laps out, at the highest constant power that W' lasts for."""
    if following.setup.rider.cp_w is None:
        return ()
    course = following.wheel.course
    breaks = []
    for laps_out in sorted(set(rules.break_laps)):
        if laps_out >= course.n_laps and not (course.n_laps == 1 and laps_out == 1):
            continue
        start_m = float(course.lap_starts_m[-1 - laps_out]) if course.n_laps > 1 else 0.0
        if course.n_laps == 1:
            # A course without laps: from half way.
            start_m = 0.5 * course.distance_m
        if following.lost_at_m is not None and following.lost_at_m <= start_m:
            continue
        first = int(np.searchsorted(course.node_distances_m, start_m - 1e-6))
        reserve_j = float(following.node_reserves_j[first])
        rehearsal = open_rehearsal(
            course=cut_course(course, first, course.n_segments),
            setup=_from(following.setup, bunch, first),
            start_speed_mps=float(bunch.node_speeds_mps[first]),
            start_reserve_j=reserve_j,
        )
        try:
            power_w = holdable_power_w(rehearsal)
        except CannotFinish:
            continue
        solo = rehearse(rehearsal, np.full(rehearsal.course.n_segments, power_w))
        bunch_s = float(bunch.node_times_s[-1] - bunch.node_times_s[first])
        breaks.append(
            SoloBreak(
                laps_out=laps_out,
                start_m=start_m,
                power_w=power_w,
                solo_s=solo.time_s,
                bunch_s=bunch_s,
                lead_s=bunch_s - solo.time_s,
                reserve_j=reserve_j,
            )
        )
    return tuple(breaks)


def sprint_of(following: Following, bunch: Pace, rules: BunchRules) -> Sprint | None:
    """The final metres with all that is left; None if contact was lost before."""
    rider = following.setup.rider
    course = following.wheel.course
    start_m = max(course.distance_m - rules.sprint_m, 0.0)
    if rider.cp_w is None or following.lost_at_m is not None:
        return None
    first = int(np.searchsorted(course.node_distances_m, start_m - 1e-6))
    reserve_j = float(following.node_reserves_j[first])
    rehearsal = open_rehearsal(
        course=cut_course(course, first, course.n_segments),
        setup=_from(following.setup, bunch, first),
        start_speed_mps=float(bunch.node_speeds_mps[first]),
        start_reserve_j=reserve_j,
    )
    n_segments = rehearsal.course.n_segments
    all_out_w = float(capacity_w(rehearsal, rider.wprime_j or 0.0)) - rider.cp_w
    trial = rehearse(rehearsal, np.full(n_segments, rider.cp_w), np.full(n_segments, all_out_w))
    return Sprint(
        length_m=rehearsal.course.distance_m,
        time_s=trial.time_s,
        end_mps=float(trial.node_speeds_mps[-1]),
        mean_w=trial.mean_power_w,
        reserve_j=reserve_j,
    )
