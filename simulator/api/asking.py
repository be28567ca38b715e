"""The questions, each a function: ride, compare, spend, fieldtest; tactics stand beside it.

Thin: every one lays out what was given and calls the room of its name. Where a course, build,
rider, weather or pacing is asked for, the path of its file does as well.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from simulator.api.answers import GapAnswer, LineupAnswer, RideAnswer
from simulator.api.fieldtest_answers import FitAnswer, RunsAnswer, VerdictAnswer
from simulator.api.given import AnyPath
from simulator.api.race_answers import SpendAnswer
from simulator.api.taken import (
    BuildLike,
    CourseLike,
    PacingLike,
    RiderLike,
    WeatherLike,
    build_of,
    builds_apart,
    course_of,
    listed,
    parts_of,
    rider_of,
    settled,
    setup_of,
    weather_of,
)

if TYPE_CHECKING:
    from simulator.setup import Catalogue


def ride_build(
    course: CourseLike,
    build: BuildLike,
    *,
    rider: RiderLike = None,
    weather: WeatherLike = None,
    pacing: PacingLike = None,
    power_w: float | None = None,
) -> RideAnswer:
    """Ride one build over a course.

    Parameters
    ----------
    course : Course or path
        Where.
    build : Build or path
        On what.
    rider : Rider or path, optional
        Who; a stated default rider if left out.
    weather : Weather or path, optional
        In which air; a calm standard day if left out.
    pacing : Pacing or path, optional
        Rules for the power; constant power if left out.
    power_w : float, optional
        Steady power in W instead of the rider's.

    Returns
    -------
    RideAnswer
        ``time_s``; ``distances_m``, ``times_s``, ``speeds_mps`` (n + 1,); ``powers_w`` (n,);
        ``energies_j`` by cause.

    Raises
    ------
    InputError
        If a file cannot be used.
    CannotFinish
        If the rider comes to a halt on the way.

    Notes
    -----
    The force balance of [Martin1998] with the additions of docs/method.md.

    Examples
    --------
    >>> import numpy as np
    >>> from simulator import make_build, make_course, make_rider
    >>> wall = make_course(lengths_m=np.full(400, 5.0), grades=0.08)
    >>> light = make_build(name="Light", mass_kg=7.0, cda_m2=0.33, crr=0.004)
    >>> up = ride_build(wall, light, rider=make_rider(mass_kg=65.0, kit_kg=3.0), power_w=250.0)
    >>> up.speeds_mps.shape
    (401,)
    >>> bool(sum(up.energies_j.values()) - up.mean_power_w * up.time_s < 1.0)
    True
    """
    from simulator.ride import simulate

    where, setup = course_of(course), setup_of(build, rider_of(rider), weather_of(weather))
    demand = settled(where, setup, pacing, power_w)
    return RideAnswer(ride=simulate(course=where, setup=setup, demand=demand), demand=demand)


def compare_builds(
    course: CourseLike,
    first: BuildLike,
    other: BuildLike,
    *,
    rider: RiderLike = None,
    weather: WeatherLike = None,
    pacing: PacingLike = None,
    power_w: float | None = None,
    n_draws: int = 2000,
    seed: int = 1,
) -> GapAnswer:
    """Ride two builds over a course and explain the gap between them.

    Parameters
    ----------
    course, rider, weather, pacing, power_w
        As in `ride_build`.
    first, other : Build or path
        The gap is the time of `other` minus the time of `first`: positive means it loses.
    n_draws : int
        Paired draws that tell how sure the gap is; 0 leaves that out.
    seed : int
        Start of the draws: same seed, same answer.

    Returns
    -------
    GapAnswer
        ``gap_s``; ``gaps_s`` along the course (n + 1,); ``causes_s`` by cause; ``stretches``;
        ``draws_s`` (n_draws,); ``interval_s``.

    Raises
    ------
    InputError
        If a file cannot be used.
    CannotFinish
        If a rider comes to a halt on the way.

    Notes
    -----
    Causes are split as in [Shapley1953], exactly; see docs/method.md.

    Examples
    --------
    >>> import numpy as np
    >>> from simulator import make_build, make_course
    >>> hill = make_course(lengths_m=np.full(600, 5.0), grades=0.05)
    >>> mine = {"name": "Mine", "mass_kg": 8.6, "cda_m2": 0.32, "crr": 0.0045}
    >>> dream = {"name": "Dream", "mass_kg": 7.0, "cda_m2": 0.30, "crr": 0.0035}
    >>> gap = compare_builds(hill, make_build(**dream), make_build(**mine), n_draws=0)
    >>> gap.gap_s > 0.0, sorted(gap.causes_s)
    (True, ['air', 'mass', 'rolling'])
    """
    line_up = compare_many(
        course,
        [first, other],
        rider=rider,
        weather=weather,
        pacing=pacing,
        power_w=power_w,
        n_draws=n_draws,
        seed=seed,
    )
    return line_up.gaps[0]


def compare_many(
    course: CourseLike,
    builds: Sequence[BuildLike],
    *,
    rider: RiderLike = None,
    weather: WeatherLike = None,
    pacing: PacingLike = None,
    power_w: float | None = None,
    n_draws: int = 2000,
    seed: int = 1,
) -> LineupAnswer:
    """Compare several builds with the first one.

    Parameters
    ----------
    builds : sequence of Build or path
        Two or more; the others are compared with the first.
    course, rider, weather, pacing, power_w, n_draws, seed
        As in `compare_builds`.

    Returns
    -------
    LineupAnswer
        ``gaps_s`` by name; ``gaps``, each a `GapAnswer`.

    Raises
    ------
    InputError
        If a file cannot be used.
    CannotFinish
        If a rider comes to a halt on the way.
    ValueError
        If there are fewer than two builds.
    """
    if len(builds) < 2:
        msg = f"two builds or more are compared, {len(builds)} given"
        raise ValueError(msg)
    from simulator.compare import explain
    from simulator.setup import with_gusts

    where, who = course_of(course), rider_of(rider)
    air = with_gusts(weather_of(weather), distance_m=where.distance_m)
    setups = [setup_of(build, who, air) for build in builds_apart(builds)]
    demand = settled(where, setups[0], pacing, power_w)
    return LineupAnswer(
        gaps=tuple(
            GapAnswer(
                comparison=explain(
                    course=where,
                    first=setups[0],
                    other=other,
                    n_draws=n_draws,
                    seed=seed,
                    demand=demand,
                )
            )
            for other in setups[1:]
        )
    )


def spend_budget(
    build: BuildLike,
    parts: Catalogue | AnyPath,
    courses: CourseLike | Sequence[CourseLike],
    budgets: float | Sequence[float],
    *,
    target: BuildLike | None = None,
    weights: Sequence[float] | None = None,
    rider: RiderLike = None,
    weather: WeatherLike = None,
    pacing: PacingLike = None,
    power_w: float | None = None,
    n_draws: int = 1000,
    seed: int = 1,
) -> SpendAnswer:
    """Find the parts that buy the most seconds for a budget.

    Parameters
    ----------
    build : Build or path
        As it stands now; what is in each slot now stands in the catalogue.
    parts : Catalogue or path
        What can be bought or done.
    courses : Course or path, or a sequence of them
        The races.
    budgets : float or sequence of float
        In the currency of the catalogue.
    target : Build or path, optional
        The better build; tells what share of the gap is closed.
    weights : sequence of float, optional
        How much each race counts; the same if left out.
    rider, weather, pacing, power_w
        As in `ride_build`, for all races.
    n_draws, seed : int
        As in `compare_builds`.

    Returns
    -------
    SpendAnswer
        ``gains_s`` and ``parts`` by budget; ``frontier_prices`` and ``frontier_gains_s`` (k,).

    Raises
    ------
    InputError
        If a file cannot be used.
    CannotFinish
        If a rider comes to a halt on the way, or if there are too many sets to ride.

    Notes
    -----
    Every set that fits is ridden, so the best one is exact (multiple-choice knapsack,
    [Martello1990], where nothing adds up); see docs/method.md.
    """
    from simulator.spend import Race, plan_spending

    now, who, air = build_of(build), rider_of(rider), weather_of(weather)
    setup = setup_of(now, who, air)
    ridden = [course_of(course) for course in listed(courses)]
    counts = [1.0] * len(ridden) if weights is None else list(weights)
    races = [
        Race(
            name=course.name,
            course=course,
            rider=who,
            weather=air,
            demand=settled(course, setup, pacing, power_w),
            weight=weight,
        )
        for course, weight in zip(ridden, counts, strict=True)
    ]
    spending = plan_spending(
        build=now,
        catalogue=parts_of(parts),
        races=races,
        budgets=listed(budgets),
        target=None if target is None else build_of(target),
        n_draws=n_draws,
        seed=seed,
    )
    return SpendAnswer(spending=spending)


def infer_fieldtest(path: AnyPath) -> FitAnswer:
    """Fit CdA and Crr of each build to all runs of a test day.

    Parameters
    ----------
    path : str or path
        File of the test day (TOML): builds, roads, runs; see docs/fieldtest.md.

    Returns
    -------
    FitAnswer
        ``cda_m2`` and ``crr`` by build, each a value with its standard uncertainty; ``builds``
        ready for `compare_builds`; the fit with its covariance under ``outcome.fit``.

    Raises
    ------
    InputError
        If a file cannot be used.
    CannotFinish
        If the fit does not settle.
    """
    from simulator.fieldtest import infer_day, load_testday

    return FitAnswer(outcome=infer_day(load_testday(Path(path))))


def judge_fieldtest(path: AnyPath) -> VerdictAnswer:
    """Say whether observed times are what the builds' differences predict.

    Parameters
    ----------
    path : str or path
        File that names two builds and the times of each on some stretches (TOML).

    Returns
    -------
    VerdictAnswer
        ``is_expected``; ``observed_s`` and ``predicted_s`` (n_stretches,).

    Raises
    ------
    InputError
        If a file cannot be used.
    CannotFinish
        If a build comes to a halt at the power stated.
    """
    from simulator.fieldtest import judge_file

    return VerdictAnswer(verdict=judge_file(Path(path)))


def plan_runs(path: AnyPath) -> RunsAnswer:
    """Say how many runs of which kind tell two builds apart.

    Parameters
    ----------
    path : str or path
        File that names two builds and the kinds of run that can be ridden (TOML).

    Returns
    -------
    RunsAnswer
        ``runs_for_cda``, ``runs_for_crr`` and ``runs_for_both`` by mix of kinds.

    Raises
    ------
    InputError
        If a file cannot be used.
    """
    from simulator.fieldtest import plan_file

    return RunsAnswer(plan=plan_file(Path(path)))
