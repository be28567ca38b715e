"""The questions, each a function: ride and compare; others stand in files beside this one.

Thin: every one lays out what was given and calls the room of its name. Where a course, build,
rider, weather or pacing is asked for, the path of its file does as well.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from simulator.api.answers import GapAnswer, RideAnswer
from simulator.api.compare_answers import LineupAnswer, RacesAnswer, ReviewAnswer
from simulator.api.given import AnyPath
from simulator.api.taken import (
    BuildLike,
    CourseLike,
    PacingLike,
    RiderLike,
    WeatherLike,
    builds_apart,
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
    from simulator.recordings import Recording


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
    from simulator.compare import explain_many
    from simulator.setup import with_gusts

    _refuse_one(builds)
    refuse_draws(n_draws)
    where, who = course_of(course), rider_of(rider)
    air = with_gusts(weather_of(weather), distance_m=where.distance_m)
    first, *others = (setup_of(build, who, air) for build in builds_apart(builds))
    comparisons = explain_many(
        course=where,
        first=first,
        others=others,
        n_draws=n_draws,
        seed=seed,
        demand=settled(where, first, pacing, power_w),
    )
    return LineupAnswer(gaps=tuple(GapAnswer(comparison=each) for each in comparisons))


def compare_races(
    courses: CourseLike | Sequence[CourseLike],
    builds: Sequence[BuildLike],
    *,
    rider: RiderLike = None,
    weathers: WeatherLike | Sequence[WeatherLike] = None,
    pacing: PacingLike = None,
    power_w: float | None = None,
    n_draws: int = 2000,
    seed: int = 1,
) -> RacesAnswer:
    """Compare builds with the first one in several races, and in all of them together.

    Parameters
    ----------
    courses : Course or path, or a sequence of them
        Where.
    builds : sequence of Build or path
        Two or more; the others are compared with the first.
    weathers : Weather or path, or a sequence of them
        Every course is ridden in every weather.
    rider, pacing, power_w, n_draws, seed
        As in `compare_builds`.

    Returns
    -------
    RacesAnswer
        ``races`` and ``builds`` by name; ``gaps_s`` (n_races, n_builds); ``totals_s``.

    Raises
    ------
    InputError
        If a file cannot be used.
    CannotFinish
        If a rider comes to a halt on the way.
    ValueError
        If there are fewer than two builds.
    """
    from simulator.compare import race_table, races_of

    _refuse_one(builds)
    refuse_draws(n_draws)
    who = rider_of(rider)
    races = races_of(
        [course_of(course) for course in listed(courses)],
        [weather_of(weather) for weather in listed(weathers)],
        rider=who,
        pacing=pacing_of(pacing),
        power_w=power_w,
    )
    return RacesAnswer(
        table=race_table(races, rider=who, builds=builds_apart(builds), n_draws=n_draws, seed=seed)
    )


def review_ride(
    course: CourseLike,
    build: BuildLike,
    recording: Recording | AnyPath,
    *,
    rider: RiderLike = None,
    weather: WeatherLike = None,
) -> ReviewAnswer:
    """Lay a recorded ride of a course beside the predicted one at the same power.

    Parameters
    ----------
    recording : Recording or path
        With power (FIT, GPX with extensions, TCX or CSV).
    course, build, rider, weather
        As in `ride_build`: as the ride was ridden, as far as known.

    Returns
    -------
    ReviewAnswer
        ``gap_s``; ``gaps_s`` along the course (n + 1,); ``suspects``, the likeliest first.

    Raises
    ------
    InputError
        If a file cannot be used, or the recording has no power or covers less than half of the
        course.
    CannotFinish
        If the model stalls at the recorded power.
    """
    from simulator.compare import review
    from simulator.setup import with_gusts

    where = course_of(course)
    air = with_gusts(weather_of(weather), distance_m=where.distance_m)
    setup = setup_of(build, rider_of(rider), air)
    return ReviewAnswer(review=review(course=where, setup=setup, recording=recording_of(recording)))


def _refuse_one(builds: Sequence[BuildLike]) -> None:
    if len(builds) < 2:
        msg = f"two builds or more are compared, {len(builds)} given"
        raise ValueError(msg)
