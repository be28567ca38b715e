"""What `compare` and `demo` share: ride, print, write."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from simulator.errors import InputError

if TYPE_CHECKING:
    from simulator.compare import Comparison
    from simulator.course import Course
    from simulator.pacing import Demand
    from simulator.setup import Build, RideSetup

PICTURES = ("gap", "plan", "causes")
FILES = (
    "index.html",
    *(f"{name}.{kind}" for name in PICTURES for kind in ("png", "svg")),
    "segments.csv",
    "comparison.json",
)
"""What is written for each pair of builds."""

LINEUP_FILES = ("index.html", "lineup.png", "lineup.svg", "lineup.json")
"""What is written besides where there are more than two builds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What the user asked for, but for the files to read."""

    power_w: float | None = None
    n_draws: int = 2000
    seed: int = 1
    out_path: Path | None = None
    overwrite: bool = False
    quiet: bool = False
    as_json: bool = False


def compare(
    *,
    course_path: Path,
    build_paths: Sequence[Path],
    rider_path: Path | None,
    weather_path: Path | None,
    pacing_path: Path | None = None,
    laps: int | None,
    tiles_path: Path | None,
    wish: Wish,
) -> None:
    """Ride all builds over a course, print the comparison and write its files.

    Raises
    ------
    InputError
        If a file is wrong, or if a result would replace one that exists.
    CannotFinish
        If a rider comes to a halt on the way.
    """
    from simulator.course import build_course
    from simulator.pacing import load_pacing, wanted_demand
    from simulator.setup import RideSetup, load_rider, load_weather, with_gusts

    builds = load_builds(build_paths)
    rider, weather = load_rider(rider_path), load_weather(weather_path)
    pacing = None if pacing_path is None else load_pacing(pacing_path)
    refuse_results(builds, wish)
    course = build_course(course_path, n_laps=laps, tiles_folder=tiles_path)
    weather = with_gusts(weather, distance_m=course.distance_m)
    first, *others = (RideSetup(rider=rider, build=build, weather=weather) for build in builds)
    demand = wanted_demand(
        course, rider=rider, weather=weather, pacing=pacing, power_w=wish.power_w
    )
    comparisons = _ride(course, first, others, demand, wish)
    if len(comparisons) == 1:
        show_pair(comparisons[0], wish)
    else:
        show_lineup(comparisons, wish)


def _ride(
    course: Course,
    first: RideSetup,
    others: Sequence[RideSetup],
    demand: Demand,
    wish: Wish,
) -> list[Comparison]:
    """Compare each build with the first one; with a bar in a terminal where there are many."""
    from simulator.compare import explain

    comparisons = []
    with _progress(others, wish) as setups:
        for other in setups:
            comparisons.append(
                explain(
                    course=course,
                    first=first,
                    other=other,
                    n_draws=wish.n_draws,
                    seed=wish.seed,
                    demand=demand,
                )
            )
    return comparisons


def _progress(
    others: Sequence[RideSetup], wish: Wish
) -> AbstractContextManager[Iterable[RideSetup]]:
    if wish.quiet or wish.as_json or not sys.stderr.isatty():
        return nullcontext(others)
    return click.progressbar(others, label="Riding", file=sys.stderr, show_pos=True)


def refuse_results(builds: Sequence[Build], wish: Wish) -> None:
    """Complain before the rides, not after them, about results that stand in the way."""
    from simulator.files import refuse_existing
    from simulator.report import folder_names

    if wish.out_path is None:
        return
    if wish.out_path.exists() and not wish.out_path.is_dir():
        raise InputError(
            file=str(wish.out_path),
            found="there is a file of this name",
            expected="a folder, or a name that is free",
            mend="choose another name for `--out`",
        )
    paths = [wish.out_path / name for name in FILES]
    if len(builds) > 2:
        paths = [wish.out_path / name for name in LINEUP_FILES]
        paths += [
            wish.out_path / folder / name
            for folder in folder_names([build.name for build in builds[1:]])
            for name in FILES
        ]
    refuse_existing(paths, overwrite=wish.overwrite)


def load_builds(paths: Sequence[Path]) -> list[Build]:
    """Read the builds; those of the same name get the name of their file as well."""
    from simulator.setup import load_build, numbered_apart

    if len(paths) < 2:
        raise InputError(
            file="--build",
            found=f"{len(paths)} build was given",
            expected="two or more",
            mend="repeat `--build FILE`; the others are compared with the first one",
        )
    builds = [load_build(path) for path in paths]
    names = [build.name for build in builds]
    named = [
        replace(build, name=f"{build.name} ({path.stem})") if names.count(build.name) > 1 else build
        for build, path in zip(builds, paths, strict=True)
    ]
    return numbered_apart(named)


def show_pair(comparison: Comparison, wish: Wish) -> None:
    """Print one comparison of two builds and write its files."""
    from simulator.files import write_files
    from simulator.report import (
        comparison_files,
        comparison_json,
        gap_text,
        make_gap_view,
        sentence_text,
    )

    view = make_gap_view(comparison)
    if wish.out_path is not None:
        write_files(wish.out_path, comparison_files(comparison), overwrite=wish.overwrite)
    encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
    if wish.as_json:
        click.echo(comparison_json(view), nl=False)
        return
    show = sentence_text if wish.quiet else gap_text
    click.echo(show(view, encoding=encoding), nl=False)
    if wish.out_path is not None and not wish.quiet:
        click.echo()
        tell_files(wish.out_path)


def tell_files(folder: Path) -> None:
    """Say where the results are, the page first."""
    from simulator.report import plain

    encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
    click.echo(plain(f"Page: {folder / 'index.html'}", encoding))
    click.echo(plain(f"Pictures, CSV and JSON: {folder}", encoding))


def show_lineup(comparisons: Sequence[Comparison], wish: Wish) -> None:
    """Print many builds against the first one and write all files, a folder a build."""
    from simulator.files import write_files
    from simulator.report import (
        folder_names,
        lineup_files,
        lineup_json,
        lineup_text,
        make_lineup_view,
    )

    folders = folder_names([c.gap.other.setup.build.name for c in comparisons])
    view = make_lineup_view(comparisons, folders=folders)
    if wish.out_path is not None:
        files = lineup_files(view, comparisons, folders)
        write_files(wish.out_path, files, overwrite=wish.overwrite)
    if wish.as_json:
        click.echo(lineup_json(view), nl=False)
        return
    encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
    click.echo(lineup_text(view, encoding=encoding, is_short=wish.quiet), nl=False)
    if wish.out_path is not None and not wish.quiet:
        click.echo()
        tell_files(wish.out_path)
