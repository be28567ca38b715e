"""The questions of race day: pacings, the quickest power, the bunch; see ``asking``."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from simulator.api.given import AnyPath
from simulator.api.race_answers import BunchAnswer, PlanAnswer, TryoutAnswer
from simulator.api.taken import (
    BuildLike,
    CourseLike,
    PacingLike,
    RiderLike,
    WeatherLike,
    build_of,
    builds_apart,
    bunch_of,
    course_of,
    listed,
    pacing_of,
    recording_of,
    refuse_draws,
    rider_of,
    settled,
    setup_of,
    weather_of,
)

if TYPE_CHECKING:
    from simulator.bunch import BunchRules
    from simulator.pacing import Pacing
    from simulator.recordings import Recording


def try_pacings(
    course: CourseLike,
    build: BuildLike,
    pacings: Sequence[Pacing | AnyPath],
    *,
    rider: RiderLike = None,
    weather: WeatherLike = None,
) -> TryoutAnswer:
    """Ride several pacings and set them side by side.

    Parameters
    ----------
    pacings : sequence of Pacing or path
        One or more.
    course, build, rider, weather
        As in `ride_build`; with a critical power, the best constant power is added.

    Returns
    -------
    TryoutAnswer
        ``times_s`` by name.

    Raises
    ------
    InputError
        If a file cannot be used, or a pacing needs what rider or course do not have.
    ValueError
        If there is no pacing.
    """
    from simulator.powerplan import try_pacings

    if not pacings:
        msg = "no pacing is given; one or more are tried"
        raise ValueError(msg)
    return TryoutAnswer(
        tryout=try_pacings(
            course=course_of(course),
            setup=setup_of(build, rider_of(rider), weather_of(weather)),
            pacings=[each for each in map(pacing_of, pacings) if each is not None],
        )
    )


def solve_powerplan(
    course: CourseLike,
    build: BuildLike,
    *,
    rider: RiderLike,
    weather: WeatherLike | Sequence[WeatherLike] = None,
    changes: int = 10,
    mean_w: float | None = None,
    fourth_power_mean_w: float | None = None,
    most_w: float | None = None,
) -> PlanAnswer:
    """Find the quickest power along a course, and a few steady levels near it.

    Parameters
    ----------
    course, build, rider
        As in `ride_build`; without `mean_w` and `fourth_power_mean_w` the rider needs a critical
        power and W′.
    weather : Weather or path, or a sequence of them
        The plan is made for the first; the others tell what it costs on another day.
    changes : int
        Most changes of power on the way; on laps, on each lap.
    mean_w, fourth_power_mean_w : float, optional
        Keep to this mean in W instead of critical power and W′.
    most_w : float, optional
        Highest power in W instead of the rider's.

    Returns
    -------
    PlanAnswer
        ``time_s``, ``saved_s``; ``powers_w`` (n,); ``pacing`` for `ride_build`.

    Raises
    ------
    InputError
        If a file cannot be used, or there is nothing to keep to.
    CannotFinish
        If the rider comes to a halt on the way.
    ValueError
        If both means are given, or a negative number of changes.
    """
    from simulator.powerplan import plan_days

    if mean_w is not None and fourth_power_mean_w is not None:
        msg = "mean_w and fourth_power_mean_w are given; one of them is meant"
        raise ValueError(msg)
    if changes < 0:
        msg = f"changes is 0 or more, not {changes}"
        raise ValueError(msg)
    where = course_of(course)
    weathers = [weather_of(each) for each in listed(weather)]
    days = plan_days(
        course=where,
        setup=setup_of(build, rider_of(rider), weathers[0]),
        weathers=weathers,
        most_changes=changes,
        mean_w=mean_w,
        fourth_power_mean_w=fourth_power_mean_w,
        most_w=most_w,
        name=f"Plan for {where.name}"[:60],
    )
    return PlanAnswer(days=days)


def ride_bunch(
    course: CourseLike,
    builds: BuildLike | Sequence[BuildLike],
    *,
    rider: RiderLike = None,
    weather: WeatherLike = None,
    bunch: BunchRules | AnyPath | None = None,
    pacing: PacingLike = None,
    power_w: float | None = None,
    reference_build: BuildLike | None = None,
    reference_rider: RiderLike = None,
    recording: Recording | AnyPath | None = None,
    n_draws: int = 1000,
    seed: int = 1,
) -> BunchAnswer:
    """Say what it costs each build to stay in the bunch.

    Parameters
    ----------
    course, rider, weather
        As in `ride_build`.
    builds : Build or path, or a sequence of them
        What you may sit on; the first is what the others tie with.
    bunch : BunchRules or path, optional
        Place, shelter, turns; stated defaults if left out.
    pacing, power_w
        How hard the reference rider rides, alone in the wind.
    reference_build : Build or path, optional
        On what; the last build if left out.
    reference_rider : Rider or path, optional
        Who; your rider without limits of W′ if left out.
    recording : Recording or path, optional
        A recorded bunch that sets the speed, instead of a reference rider.
    n_draws, seed : int
        As in `compare_builds`, for the chance of losing contact.

    Returns
    -------
    BunchAnswer
        ``mean_w`` and ``chance_lost`` by build; ``needed_w(name)`` (n,).

    Raises
    ------
    InputError
        If a file cannot be used.
    CannotFinish
        If the reference rider does not reach the finish.
    ValueError
        If both a recording and a reference rider set the speed, or no build is given.

    Notes
    -----
    Shelter by place after [Blocken2013] and [Blocken2018]; see docs/method.md.
    """
    from simulator.bunch import follow_bunch, pace_of_recording, pacemaker, ride_bunch

    where, who, air = course_of(course), rider_of(rider), weather_of(weather)
    ridden = [build_of(each) for each in listed(builds)]
    refuse_draws(n_draws)
    if not ridden:
        msg = "no build is given; one or more are ridden"
        raise ValueError(msg)
    setups = [setup_of(build, who, air) for build in builds_apart(ridden)]
    rules = bunch_of(bunch)
    if recording is not None:
        if any(x is not None for x in (pacing, power_w, reference_build, reference_rider)):
            msg = "a recording sets the speed of the bunch; no power, pacing or reference beside it"
            raise ValueError(msg)
        pace = pace_of_recording(recording_of(recording), where, place=rules.recorded_place)
        race = follow_bunch(bunch=pace, setups=setups, rules=rules, n_draws=n_draws, seed=seed)
        return BunchAnswer(race=race)
    reference = setup_of(
        ridden[-1] if reference_build is None else reference_build,
        pacemaker(who if reference_rider is None else rider_of(reference_rider)),
        air,
    )
    race = ride_bunch(
        course=where,
        setups=setups,
        reference=reference,
        demand=settled(where, reference, pacing, power_w),
        rules=rules,
        n_draws=n_draws,
        seed=seed,
    )
    return BunchAnswer(race=race)
