"""What it costs each build to stay in the bunch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import brentq

from simulator.bunch.bunch_rules import BunchRules
from simulator.bunch.endings import (
    ClimbLimit,
    SoloBreak,
    Sprint,
    climb_limits,
    solo_breaks,
    sprint_of,
)
from simulator.bunch.surges import (
    CornerCost,
    LapCost,
    Surges,
    corner_costs,
    fourth_power_mean_needed_w,
    lap_costs,
    mean_needed_w,
    surges_of,
)
from simulator.bunch.wheel import Band, drag_factor, make_wheel, place_of_factor, with_factor
from simulator.course import Course
from simulator.pacing import Demand, constant_demand
from simulator.ride import (
    Following,
    Ride,
    follow,
    follow_draws,
    open_rehearsal,
    paired_draws,
    settle,
    simulate,
)
from simulator.setup import Rider, RideSetup

FORM_SEED = 9001
FASTER_THAN_OWN = 1.02
"""A bunch faster than this over what a build's grip allows in a bend is told."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BuildInBunch:
    """One build in the bunch.

    Attributes
    ----------
    mean_w, fourth_power_mean_w, work_j : float
        Of the power that holding the wheel needs, whether the rider can give it or not.
    chance_lost : float or None
        Share of the paired draws in which contact is lost; None without draws or critical power.
    tie_place : float or None
        Place in which this build needs the mean power that the first one needs in its own; None
        where no place is so sheltered.
    first_tie_place : float or None
        Place in which the first build needs the mean power that this one needs in its own.
    n_corners_too_fast : int
        Corners that the bunch takes faster than this build's grip and the rider's lean allow.
    """

    setup: RideSetup
    following: Following
    mean_w: float
    fourth_power_mean_w: float
    work_j: float
    surges: Surges
    laps: tuple[LapCost, ...]
    corners: tuple[CornerCost, ...]
    climbs: tuple[ClimbLimit, ...]
    breaks: tuple[SoloBreak, ...]
    sprint: Sprint | None
    chance_lost: float | None
    tie_place: float | None
    first_tie_place: float | None
    n_corners_too_fast: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BunchRace:
    """A race in the bunch, for several builds of one rider; the first is what others tie with."""

    course: Course
    bunch: Ride
    rules: BunchRules
    factor: float
    bands: tuple[Band, ...]
    builds: tuple[BuildInBunch, ...]
    n_draws: int
    seed: int


def pacemaker(rider: Rider) -> Rider:
    """Who sets the speed: W′ does not end a pace that several riders keep up in turn."""
    return replace(rider, cp_w=None, wprime_j=None, max_power_w=None)


def ride_bunch(
    *,
    course: Course,
    setups: Sequence[RideSetup],
    reference: RideSetup,
    demand: Demand | None,
    rules: BunchRules,
    n_draws: int = 1000,
    seed: int = 1,
) -> BunchRace:
    """Ride a mass-start race with several builds.

    Parameters
    ----------
    course : Course
        Where.
    setups : sequence of RideSetup
        The rider on each build, same rider and weather.
    reference : RideSetup
        Who sets the speed, alone in the wind; same weather.
    demand : Demand or None
        How hard they ride; the reference rider's constant power if None.
    rules : BunchRules
        Place and habits of the bunch.
    n_draws, seed : int
        Paired draws for the chance of losing contact; 0 leaves that out.

    Returns
    -------
    BunchRace

    Raises
    ------
    CannotFinish
        If the reference rider does not reach the finish.
    """
    demand = demand or constant_demand(course, reference.rider)
    demand = settle(course=course, setup=reference, demand=demand)
    bunch = simulate(course=course, setup=reference, demand=demand)
    wheel, bands = make_wheel(bunch, rules)
    chances: list[float | None] = [None] * len(setups)
    if n_draws > 0 and setups[0].rider.cp_w is not None:
        drawn = paired_draws(setups, n_draws=n_draws, seed=seed)
        scores = np.random.default_rng([seed, FORM_SEED]).standard_normal(n_draws)
        forms = np.exp(rules.form_sd * scores)
        lost = follow_draws(wheel, setups, drawn.per_setup, lost_m=rules.lost_m, forms=forms)
        chances = [float(row.mean()) for row in lost]
    followings = [follow(wheel, setup, lost_m=rules.lost_m) for setup in setups]
    first_mean_w = mean_needed_w(followings[0])
    builds = []
    for setup, following, chance in zip(setups, followings, chances, strict=True):
        builds.append(
            BuildInBunch(
                setup=setup,
                following=following,
                mean_w=mean_needed_w(following),
                fourth_power_mean_w=fourth_power_mean_needed_w(following),
                work_j=mean_needed_w(following) * float(following.node_times_s[-1]),
                surges=surges_of(following),
                laps=lap_costs(following),
                corners=corner_costs(following, bands),
                climbs=climb_limits(following, bunch, rules),
                breaks=solo_breaks(following, bunch, rules),
                sprint=sprint_of(following, bunch, rules),
                chance_lost=chance,
                tie_place=_tying_place(following, rules, first_mean_w),
                first_tie_place=_tying_place(followings[0], rules, mean_needed_w(following)),
                n_corners_too_fast=_too_fast(following, bands),
            )
        )
    return BunchRace(
        course=course,
        bunch=bunch,
        rules=rules,
        factor=drag_factor(rules, rules.place),
        bands=bands,
        builds=tuple(builds),
        n_draws=n_draws,
        seed=seed,
    )


def _tying_place(following: Following, rules: BunchRules, mean_w: float) -> float | None:
    """Place in which a build needs a mean power, its surges left as they are."""

    def excess_w(factor: float) -> float:
        wheel = with_factor(following.wheel, rules, factor)
        return mean_needed_w(follow(wheel, following.setup, lost_m=rules.lost_m)) - mean_w

    low, high = 0.0, 1.5
    if excess_w(low) > 0.0 or excess_w(high) < 0.0:
        return None
    return place_of_factor(rules, float(brentq(excess_w, low, high, xtol=1e-6)))


def _too_fast(following: Following, bands: Sequence[Band]) -> int:
    """Corners that the bunch rides faster than this build may."""
    course = following.wheel.course
    own_mps = open_rehearsal(course=course, setup=following.setup).ceilings_mps
    count = 0
    for band in bands:
        i = np.searchsorted(course.node_distances_m, [band.start_m, band.exit_m])
        inside = slice(int(i[0]), int(i[1]) + 1)
        if band.corner_mps > FASTER_THAN_OWN * float(own_mps[inside].min()):
            count += 1
    return count
