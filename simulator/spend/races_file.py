"""The file of a plan: budgets and races with weights; file -> `Race` objects."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from pydantic import Field

from simulator.course import Course, build_course
from simulator.files import StrictSchema, in_range, read_toml
from simulator.pacing import Demand, Pacing, load_pacing, wanted_demand
from simulator.ride import settle
from simulator.setup import Build, Rider, RideSetup, Weather, load_weather
from simulator.spend.rerides import Race

MAX_BUDGET = 1e6
MAX_BUDGETS = 12
MAX_RACES = 30

FileName = Annotated[str, Field(min_length=1, max_length=400)]


class RaceEntry(StrictSchema):
    """One race of a plan."""

    course: FileName = Field(description="track, course.toml or course folder")
    name: Annotated[str, Field(min_length=1, max_length=60)] | None = Field(
        default=None, description="what to call the race"
    )
    weight: Annotated[float, in_range(0.0, 1000.0, open_low=True)] = Field(
        default=1.0, description="how much the race counts among the others"
    )
    weather: FileName | None = Field(default=None, description="file of the weather")
    pacing: FileName | None = Field(default=None, description="file of pacing rules")
    power_w: Annotated[float, in_range(20.0, 1000.0, why="steady power in watts")] | None = Field(
        default=None, description="steady power instead of the rider's, in W"
    )
    laps: Annotated[int, in_range(1, 200)] | None = Field(
        default=None, description="laps of a loop, instead of what the course says"
    )


class SpendFile(StrictSchema):
    """Keys of a plan's file."""

    budgets: Annotated[
        tuple[float, ...], in_range(0.0, MAX_BUDGET, why="in the currency of the catalogue")
    ] = Field(min_length=1, max_length=MAX_BUDGETS, description="sums that may be spent")
    race: Annotated[tuple[RaceEntry, ...], Field(min_length=1, max_length=MAX_RACES)] = Field(
        description="a table [[race]] for each race"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class RaceWish:
    """One race as it was asked for: paths and numbers, nothing read yet."""

    course: Path
    name: str | None = None
    weight: float = 1.0
    weather: Path | None = None
    pacing: Path | None = None
    power_w: float | None = None
    laps: int | None = None


def load_plan(path: Path) -> tuple[tuple[float, ...], tuple[RaceWish, ...]]:
    """Read the file of a plan.

    Parameters
    ----------
    path : Path
        A TOML file; the names of files in it are looked for from its folder.

    Returns
    -------
    tuple
        Budgets and races.

    Raises
    ------
    InputError
        If the file cannot be used; the message names line and key.
    """
    written = read_toml(path, SpendFile)

    def at(name: str | None) -> Path | None:
        return None if name is None else path.parent / name

    return written.budgets, tuple(
        RaceWish(
            course=path.parent / entry.course,
            name=entry.name,
            weight=entry.weight,
            weather=at(entry.weather),
            pacing=at(entry.pacing),
            power_w=entry.power_w,
            laps=entry.laps,
        )
        for entry in written.race
    )


def read_races(
    wishes: tuple[RaceWish, ...], *, rider: Rider, build: Build, tiles_path: Path | None = None
) -> tuple[Race, ...]:
    """Read the courses, weathers and pacings of some races.

    Parameters
    ----------
    wishes : tuple of RaceWish
        What was asked for.
    rider : Rider
        Rides all of them.
    build : Build
        On which pacing rules are settled, once, so that every set of parts rides to the same
        power by place.
    tiles_path : Path, optional
        Folder with elevation tiles, for tracks without heights.

    Raises
    ------
    InputError
        If a file cannot be used.
    CannotFinish
        If pacing rules cannot be met.
    """
    courses: dict[tuple[Path, int | None], Course] = {}
    races: list[Race] = []
    for wish in wishes:
        key = (wish.course, wish.laps)
        if key not in courses:
            courses[key] = build_course(wish.course, n_laps=wish.laps, tiles_folder=tiles_path)
        course, weather = courses[key], load_weather(wish.weather)
        pacing = None if wish.pacing is None else load_pacing(wish.pacing)
        name = wish.name or course.name
        n_same = sum(race.name == name for race in races)
        races.append(
            Race(
                name=f"{name} ({n_same + 1})" if n_same else name,
                course=course,
                rider=rider,
                weather=weather,
                demand=_demand(course, rider, build, weather, pacing, wish.power_w),
                weight=wish.weight,
            )
        )
    return tuple(races)


def _demand(
    course: Course,
    rider: Rider,
    build: Build,
    weather: Weather,
    pacing: Pacing | None,
    power_w: float | None,
) -> Demand:
    setup = RideSetup(rider=rider, build=build, weather=weather)
    demand = wanted_demand(course, rider=rider, weather=weather, pacing=pacing, power_w=power_w)
    return settle(course=course, setup=setup, demand=demand)
