"""What `ride` does: read, ride, print, write."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from simulator.errors import InputError
from simulator.measures import Measures

if TYPE_CHECKING:
    from simulator.pacing import Demand
    from simulator.ride import Ride

RIDE_FILES = ("index.html", "ride.png", "ride.svg", "ride.json", "ride.csv")
"""What is written for one ride."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RideWish:
    """What the user asked for, but for the files to read."""

    power_w: float | None
    split_m: float | None
    measures: Measures
    out_path: Path | None
    overwrite: bool
    quiet: bool
    as_json: bool
    as_csv: bool


def ride_once(
    *,
    course_path: Path,
    build_paths: tuple[Path, ...],
    rider_path: Path | None,
    weather_path: Path | None,
    pacing_path: Path | None,
    laps: int | None,
    tiles_path: Path | None,
    wish: RideWish,
) -> None:
    """Ride one build over a course, print the ride and write its files.

    Raises
    ------
    InputError
        If a file is wrong, or if a result would replace one that exists.
    CannotFinish
        If the rider comes to a halt on the way.
    """
    from simulator.course import build_course
    from simulator.pacing import load_pacing, wanted_demand
    from simulator.ride import settle, simulate
    from simulator.setup import RideSetup, load_build, load_rider, load_weather

    _refuse(build_paths, wish)
    setup = RideSetup(
        rider=load_rider(rider_path),
        build=load_build(build_paths[0]),
        weather=load_weather(weather_path),
    )
    pacing = None if pacing_path is None else load_pacing(pacing_path)
    course = build_course(course_path, n_laps=laps, tiles_folder=tiles_path)
    demand = wanted_demand(
        course, rider=setup.rider, weather=setup.weather, pacing=pacing, power_w=wish.power_w
    )
    demand = settle(course=course, setup=setup, demand=demand)
    _show(simulate(course=course, setup=setup, demand=demand), demand, wish)


def _refuse(build_paths: tuple[Path, ...], wish: RideWish) -> None:
    """Complain before the ride about what could not be done after it."""
    from simulator.files import refuse_existing

    if len(build_paths) > 1:
        raise InputError(
            file="--build",
            found=f"{len(build_paths)} builds were given",
            expected="one",
            mend="`buildgap compare` rides several and explains the gap",
        )
    if wish.as_json and wish.as_csv:
        raise InputError(
            file="--csv",
            found="`--json` was given too",
            expected="one of them",
            mend="`--out FOLDER` writes both",
        )
    if wish.out_path is not None:
        if wish.out_path.exists() and not wish.out_path.is_dir():
            raise InputError(
                file=str(wish.out_path),
                found="there is a file of this name",
                expected="a folder, or a name that is free",
                mend="choose another name for `--out`",
            )
        refuse_existing((wish.out_path / name for name in RIDE_FILES), overwrite=wish.overwrite)


def _show(ride: Ride, demand: Demand, wish: RideWish) -> None:
    from simulator.cli.comparing import tell_files
    from simulator.files import write_files
    from simulator.report import (
        make_ride_view,
        ride_csv,
        ride_files,
        ride_json,
        ride_text,
        short_ride_text,
    )

    view = make_ride_view(ride, demand, split_m=wish.split_m, measures=wish.measures)
    if wish.out_path is not None:
        files = ride_files(ride, demand, split_m=wish.split_m, measures=wish.measures)
        write_files(wish.out_path, files, overwrite=wish.overwrite)
    if wish.as_json:
        click.echo(ride_json(view, ride, demand), nl=False)
        return
    if wish.as_csv:
        click.echo(ride_csv(ride, demand), nl=False)
        return
    encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
    show = short_ride_text if wish.quiet else ride_text
    click.echo(show(view, encoding=encoding), nl=False)
    if wish.out_path is not None and not wish.quiet:
        click.echo()
        tell_files(wish.out_path)
