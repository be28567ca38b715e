"""What it costs each build to stay in the bunch."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import brentq

from simulator.bunch.bunch_rules import BunchRules
from simulator.bunch.endings import (
    ClimbLimit,
    Loss,
    SoloBreak,
    Sprint,
    climb_limits,
    loss_of,
    solo_breaks,
    sprint_of,
)
from simulator.bunch.pace import Pace, pace_of_ride
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
    Wheel,
    draw_values,
    follow,
    follow_draws,
    open_rehearsal,
    paired_draws,
    settle,
    simulate,
)
from simulator.setup import Rider, RideSetup, Uncertain, with_gusts

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
    loss: Loss | None
    chance_lost: float | None
    tie_place: float | None
    first_tie_place: float | None
    n_corners_too_fast: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BunchRace:
    """A race in the bunch, for several builds of one rider; the first is what others tie with.

    ``smoothing_w`` is the mean power that the first build would need with a recorded pace
    smoothed half as much, and twice; empty for a ridden one.
    """

    course: Course
    bunch: Pace
    rules: BunchRules
    factor: float
    smoothing_w: tuple[float, ...]
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
    ride = simulate(course=course, setup=reference, demand=demand)
    steady_w = demand.steady_w
    if steady_w is not None and abs(float(demand.powers_w.max()) - steady_w) > 0.5:
        steady_w = None  # a pacing's own powers, not a constant one that coasting alone lowers
    return follow_bunch(
        bunch=pace_of_ride(ride, steady_w=steady_w),
        setups=setups,
        rules=rules,
        n_draws=n_draws,
        seed=seed,
    )


def follow_bunch(
    *,
    bunch: Pace,
    setups: Sequence[RideSetup],
    rules: BunchRules,
    n_draws: int = 1000,
    seed: int = 1,
) -> BunchRace:
    """Follow the given speeds of a bunch with several builds.

    Parameters
    ----------
    bunch : Pace
        Of a ride or of a recording.
    setups, rules, n_draws, seed
        As in `ride_bunch`.

    Returns
    -------
    BunchRace
    """
    course = bunch.course
    wheel, bands = make_wheel(bunch, rules)
    chances: Sequence[float | None] = [None] * len(setups)
    if n_draws > 0 and setups[0].rider.cp_w is not None:
        chances = _chances(wheel, setups, rules, n_draws=n_draws, seed=seed)
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
                loss=loss_of(following, rules),
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
        smoothing_w=tuple(
            mean_needed_w(follow(make_wheel(other, rules)[0], setups[0], lost_m=rules.lost_m))
            for other in bunch.variants
        ),
        bands=bands,
        builds=tuple(builds),
        n_draws=n_draws,
        seed=seed,
    )


def _chances(
    wheel: Wheel, setups: Sequence[RideSetup], rules: BunchRules, *, n_draws: int, seed: int
) -> list[float]:
    """Share of paired draws in which each build loses contact.

    Drawn are all inputs with a stated uncertainty (the wind's widened by gusts), critical power by
    the form of the day and by how well it is known, and W' by how well that is known.
    """
    distance_m = wheel.course.distance_m
    weather = with_gusts(setups[0].weather, distance_m=distance_m)
    gusty = [replace(setup, weather=weather) for setup in setups]
    drawn = paired_draws(gusty, n_draws=n_draws, seed=seed)
    scores = np.random.default_rng([seed, FORM_SEED]).standard_normal((n_draws, 2))
    rider = setups[0].rider
    known = Uncertain(1.0, math.hypot(rules.form_sd, rider.cp_sd_w / (rider.cp_w or 1.0)))
    reserve = Uncertain(1.0, rider.wprime_sd_j / (rider.wprime_j or 1.0))
    lost = follow_draws(
        wheel,
        gusty,
        drawn.per_setup,
        lost_m=rules.lost_m,
        cp_factors=draw_values("rider.cp", known, scores[:, 0]),
        wprime_factors=draw_values("rider.wprime", reserve, scores[:, 1]),
    )
    return [float(row.mean()) for row in lost]


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
