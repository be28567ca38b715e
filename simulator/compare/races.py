"""Several courses or weathers at once: the gap of every build in every race, and in all of them."""

from __future__ import annotations

import zlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from simulator.compare.gap import FloatArray
from simulator.compare.sure import Spread, spread_of
from simulator.course import Course
from simulator.pacing import Demand, Pacing, wanted_demand
from simulator.ride import draw_values, settle, simulate, simulate_many, uncertain_inputs
from simulator.setup import Build, Rider, RideSetup, Uncertain, Weather, with_gusts


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Race:
    """One course in one weather, with the power that is wanted there.

    ``weather_number`` is the same for all races in one weather: what is in doubt about it is in
    doubt for all of them alike.
    """

    name: str
    course: Course
    weather: Weather
    weather_number: int
    demand: Demand


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RaceGap:
    """One build in one race; ``gap_s`` > 0 means that it loses to the first build.

    ``spread`` is None where every input is exact or no draws are wanted.
    """

    time_s: float
    gap_s: float
    spread: Spread | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RaceTable:
    """Every build in every race.

    Attributes
    ----------
    races : tuple of Race
    rider : Rider
        The same in all of them.
    builds : tuple of Build
        The first one is compared with.
    first_times_s : tuple of float
        Of the first build, race by race.
    gaps : tuple of tuples of RaceGap
        ``gaps[i_race][i_build]``, without the first build.
    totals : tuple of RaceGap
        Over all races, one for each build but the first: times and gaps are sums; in each draw
        rider and builds are the same in all races.
    n_draws, seed : int
    """

    races: tuple[Race, ...]
    rider: Rider
    builds: tuple[Build, ...]
    first_times_s: tuple[float, ...]
    gaps: tuple[tuple[RaceGap, ...], ...]
    totals: tuple[RaceGap, ...]
    n_draws: int
    seed: int


def races_of(
    courses: Sequence[Course],
    weathers: Sequence[Weather],
    *,
    rider: Rider,
    pacing: Pacing | None = None,
    power_w: float | None = None,
) -> list[Race]:
    """Every course in every weather as a race, told apart by name.

    Parameters
    ----------
    courses, weathers : sequences
        Gusts widen the doubt of each wind over each course.
    rider : Rider
        Whose power is wanted.
    pacing : Pacing, optional
        Rules for it.
    power_w : float, optional
        Constant power in W instead of the rider's.
    """
    races = []
    for course in courses:
        for number, weather in enumerate(weathers):
            gusty = with_gusts(weather, distance_m=course.distance_m)
            demand = wanted_demand(
                course, rider=rider, weather=gusty, pacing=pacing, power_w=power_w
            )
            races.append(
                Race(
                    name=_name(course.name, weather.name, len(courses), len(weathers)),
                    course=course,
                    weather=gusty,
                    weather_number=number,
                    demand=demand,
                )
            )
    return _told_apart(races)


def _name(course: str, weather: str, n_courses: int, n_weathers: int) -> str:
    if n_weathers == 1:
        return course
    return weather if n_courses == 1 else f"{course}, {weather}"


def _told_apart(races: Sequence[Race]) -> list[Race]:
    """Races of one name get a number as well."""
    names = [race.name for race in races]
    seen: dict[str, int] = {}
    told = []
    for race in races:
        seen[race.name] = seen.get(race.name, 0) + 1
        many = names.count(race.name) > 1
        told.append(replace(race, name=f"{race.name} {seen[race.name]}") if many else race)
    return told


def race_table(
    races: Sequence[Race],
    *,
    rider: Rider,
    builds: Sequence[Build],
    n_draws: int = 2000,
    seed: int = 1,
    when_done: Callable[[], None] | None = None,
) -> RaceTable:
    """Ride all builds in all races.

    Parameters
    ----------
    races : sequence of Race
        Open pacing is settled on the first build, race by race.
    rider, builds : Rider, sequence of Build
        The same in all races.
    n_draws, seed : int
        For how sure the gaps are; 0 draws leave that out.
    when_done : callable, optional
        Called after each race.

    Returns
    -------
    RaceTable
        See there.

    Raises
    ------
    CannotFinish
        If a rider stops on the way.
    """
    times_s, drawn_s = [], []
    for race in races:
        setups = [RideSetup(rider=rider, build=build, weather=race.weather) for build in builds]
        demand = settle(course=race.course, setup=setups[0], demand=race.demand)
        times_s.append(
            [simulate(course=race.course, setup=setup, demand=demand).time_s for setup in setups]
        )
        drawn_s.append(_drawn_times_s(race, setups, demand, n_draws=n_draws, seed=seed))
        if when_done is not None:
            when_done()
    gaps = tuple(
        tuple(
            RaceGap(
                time_s=row[i],
                gap_s=row[i] - row[0],
                spread=None if drawn is None else spread_of(drawn[0], drawn[i]),
            )
            for i in range(1, len(builds))
        )
        for row, drawn in zip(times_s, drawn_s, strict=True)
    )
    known = [drawn for drawn in drawn_s if drawn is not None]
    all_s = np.sum(known, axis=0) if known else None
    sums_s = np.sum(times_s, axis=0)
    exact_s = [row for row, drawn in zip(times_s, drawn_s, strict=True) if drawn is None]
    # A race in which all is exact moves every draw alike.
    shift_s = np.sum(exact_s, axis=0) if exact_s else np.zeros(len(builds))
    return RaceTable(
        races=tuple(races),
        rider=rider,
        builds=tuple(builds),
        first_times_s=tuple(row[0] for row in times_s),
        gaps=gaps,
        totals=tuple(
            RaceGap(
                time_s=float(sums_s[i]),
                gap_s=float(sums_s[i] - sums_s[0]),
                spread=None
                if all_s is None
                else spread_of(all_s[0] + shift_s[0], all_s[i] + shift_s[i]),
            )
            for i in range(1, len(builds))
        ),
        n_draws=n_draws,
        seed=seed,
    )


def _drawn_times_s(
    race: Race, setups: Sequence[RideSetup], demand: Demand, *, n_draws: int, seed: int
) -> FloatArray | None:
    """Times of all builds in all draws, (n_builds, n_draws); None where all inputs are exact."""
    if n_draws < 2:
        return None

    def drawn(owner: str, inputs: list[tuple[str, Uncertain]]) -> dict[str, FloatArray]:
        # A stream for each input by its name: the same in every race.
        return {
            name: draw_values(
                name,
                quantity,
                np.random.default_rng(
                    [seed, zlib.crc32(f"{owner} {name}".encode())]
                ).standard_normal(n_draws),
            )
            for name, quantity in inputs
        }

    shared = drawn("rider", uncertain_inputs("rider", setups[0].rider))
    weather = uncertain_inputs("weather", race.weather)
    shared |= drawn(f"weather {race.weather_number}", weather)
    per_setup = [
        shared | drawn(f"build {i}", uncertain_inputs("build", setup.build))
        for i, setup in enumerate(setups)
    ]
    if not any(per_setup):
        return None
    for values, setup in zip(per_setup, setups, strict=True):
        if not values:
            values["build.mass_kg"] = np.full(n_draws, setup.build.mass_kg.value)
    return simulate_many(course=race.course, setups=setups, demand=demand, draws=per_setup)[:, :, 0]
