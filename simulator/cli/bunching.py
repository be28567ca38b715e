"""What `bunch` does: read, ride, print, write."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

import click

from simulator.cli.shared import say
from simulator.errors import InputError
from simulator.measures import Measures

FILES = ("index.html", "bunch.png", "bunch.svg", "bunch.json")


def race(
    *,
    course_path: Path,
    build_paths: Sequence[Path],
    rider_path: Path | None,
    weather_path: Path | None,
    laps: int | None,
    tiles_path: Path | None,
    bunch_path: Path | None,
    place: float | None,
    pacing_path: Path | None,
    power_w: float | None,
    reference_build_path: Path | None,
    reference_rider_path: Path | None,
    recording_path: Path | None,
    n_draws: int,
    seed: int,
    measures: Measures,
    out_path: Path | None,
    overwrite: bool,
    quiet: bool,
    as_json: bool,
) -> None:
    """Ride a mass-start race with each build, print it and write its files."""
    from simulator.bunch import (
        follow_bunch,
        load_bunch,
        pace_of_recording,
        pacemaker,
        ride_bunch,
    )
    from simulator.course import build_course
    from simulator.files import refuse_existing, write_files
    from simulator.pacing import constant_demand, demand_of, load_pacing
    from simulator.recordings import read_recording
    from simulator.report import bunch_files, bunch_json, bunch_text, make_bunch_view
    from simulator.setup import RideSetup, load_build, load_rider, load_weather, numbered_apart

    if pacing_path is not None and power_w is not None:
        raise InputError(file="--power", found="`--pacing` was given too", expected="one of them")
    setters = {
        "--power": power_w,
        "--pacing": pacing_path,
        "--reference-build": reference_build_path,
        "--reference-rider": reference_rider_path,
    }
    for option, given in setters.items():
        if recording_path is not None and given is not None:
            raise InputError(
                file="--recorded",
                found=f"`{option}` was given too",
                expected="one of them: the recording holds the bunch's speed",
            )
    builds = [load_build(path) for path in build_paths]
    rider, weather = load_rider(rider_path), load_weather(weather_path)
    rules = load_bunch(bunch_path, place=place)
    pacing = None if pacing_path is None else load_pacing(pacing_path)
    reference_build = (
        builds[-1] if reference_build_path is None else load_build(reference_build_path)
    )
    reference_rider = pacemaker(
        rider if reference_rider_path is None else load_rider(reference_rider_path)
    )
    recording = None if recording_path is None else read_recording(recording_path)
    if out_path is not None:
        refuse_existing([out_path / name for name in FILES], overwrite=overwrite)
    course = build_course(course_path, n_laps=laps, tiles_folder=tiles_path)
    setups = [RideSetup(rider=rider, build=b, weather=weather) for b in numbered_apart(builds)]
    if recording is not None:
        bunch = pace_of_recording(recording, course, place=rules.recorded_place)
        ridden = follow_bunch(bunch=bunch, setups=setups, rules=rules, n_draws=n_draws, seed=seed)
    else:
        if pacing is None:
            demand = constant_demand(course, reference_rider, power_w=power_w)
        else:
            demand = demand_of(pacing, course=course, rider=reference_rider, weather=weather)
        ridden = ride_bunch(
            course=course,
            setups=setups,
            reference=RideSetup(rider=reference_rider, build=reference_build, weather=weather),
            demand=demand,
            rules=rules,
            n_draws=n_draws,
            seed=seed,
        )
    view = make_bunch_view(ridden, measures)
    if out_path is not None:
        write_files(out_path, bunch_files(view), overwrite=overwrite)
    if as_json:
        click.echo(bunch_json(view), nl=False)
        return
    encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
    click.echo(bunch_text(view, encoding=encoding, is_short=quiet), nl=False)
    if out_path is not None and not quiet:
        click.echo()
        say(f"Page: {out_path / 'index.html'}")
