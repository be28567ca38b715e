"""What was given to a question, read where it is the path of a file."""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

from simulator.api import given
from simulator.api.given import AnyPath

if TYPE_CHECKING:
    from simulator.bunch import BunchRules
    from simulator.course import Course
    from simulator.pacing import Demand, Pacing
    from simulator.recordings import Recording
    from simulator.setup import Build, Catalogue, Rider, RideSetup, Weather

CourseLike: TypeAlias = "Course | AnyPath"
BuildLike: TypeAlias = "Build | AnyPath"
RiderLike: TypeAlias = "Rider | AnyPath | None"
WeatherLike: TypeAlias = "Weather | AnyPath | None"
PacingLike: TypeAlias = "Pacing | AnyPath | None"


def listed(one_or_more: Any) -> list[Any]:
    """What is in a list or tuple; anything else, text too, is one thing."""
    return list(one_or_more) if isinstance(one_or_more, list | tuple) else [one_or_more]


def refuse_draws(n_draws: int) -> None:
    """Complain about a number of draws that is none."""
    if n_draws < 0:
        msg = f"n_draws is 0 or more, not {n_draws}"
        raise ValueError(msg)


def refused(given: object, what: str) -> TypeError:
    """What to raise for a thing that is neither what is asked for nor the path of its file."""
    return TypeError(f"{what} or the path of its file is asked for, not {type(given).__name__}")


def course_of(course: CourseLike) -> Course:
    """The course, or the one at that path."""
    from simulator.course import Course

    found = given.load_course(course) if isinstance(course, str | os.PathLike) else course
    if not isinstance(found, Course):
        raise refused(found, "a course")
    return found


def build_of(build: BuildLike) -> Build:
    """The build, or the one in that file."""
    from simulator.setup import Build

    found = given.load_build(build) if isinstance(build, str | os.PathLike) else build
    if not isinstance(found, Build):
        raise refused(found, "a build")
    return found


def builds_apart(builds: Sequence[BuildLike]) -> list[Build]:
    """The builds, those of the same name with a number."""
    from simulator.setup import numbered_apart

    return numbered_apart([build_of(build) for build in builds])


def rider_of(rider: RiderLike) -> Rider:
    """The rider, the one in that file, or the default one."""
    from simulator.setup import Rider, default_rider

    if rider is None:
        return default_rider()
    found = given.load_rider(rider) if isinstance(rider, str | os.PathLike) else rider
    if not isinstance(found, Rider):
        raise refused(found, "a rider")
    return found


def weather_of(weather: WeatherLike) -> Weather:
    """The weather, the one in that file, or the calm standard day."""
    from simulator.setup import Weather, default_weather

    if weather is None:
        return default_weather()
    found = given.load_weather(weather) if isinstance(weather, str | os.PathLike) else weather
    if not isinstance(found, Weather):
        raise refused(found, "a weather")
    return found


def pacing_of(pacing: PacingLike) -> Pacing | None:
    """The pacing, the one in that file, or none."""
    from simulator.pacing import Pacing

    found = given.load_pacing(pacing) if isinstance(pacing, str | os.PathLike) else pacing
    if found is not None and not isinstance(found, Pacing):
        raise refused(found, "a pacing")
    return found


def parts_of(parts: Catalogue | AnyPath) -> Catalogue:
    """The catalogue, or the one in that file."""
    from simulator.setup import load_parts

    return load_parts(Path(parts)) if isinstance(parts, str | os.PathLike) else parts


def recording_of(recording: Recording | AnyPath) -> Recording:
    """The recording, or the one in that file."""
    from simulator.recordings import read_recording

    if isinstance(recording, str | os.PathLike):
        return read_recording(Path(recording))
    return recording


def bunch_of(bunch: BunchRules | AnyPath | None) -> BunchRules:
    """The bunch, the one in that file, or the default one."""
    from simulator.bunch import load_bunch

    if bunch is None:
        return load_bunch(None)
    return given.load_bunch(bunch) if isinstance(bunch, str | os.PathLike) else bunch


def setup_of(build: BuildLike, rider: Rider, weather: Weather) -> RideSetup:
    """Who rides what in which air."""
    from simulator.setup import RideSetup

    return RideSetup(rider=rider, build=build_of(build), weather=weather)


def settled(course: Course, setup: RideSetup, pacing: PacingLike, power_w: float | None) -> Demand:
    """The power wanted along the course, closed on this setup where riding alone can close it."""
    from simulator.pacing import wanted_demand
    from simulator.ride import settle

    if power_w is not None and not 0.0 < power_w < math.inf:
        msg = f"power_w is a power in W above 0, not {power_w}"
        raise ValueError(msg)
    demand = wanted_demand(
        course,
        rider=setup.rider,
        weather=setup.weather,
        pacing=pacing_of(pacing),
        power_w=power_w,
    )
    return settle(course=course, setup=setup, demand=demand)
