"""What the subcommands of `powerplan` do: read, plan, print, write."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator.cli.shared import say
from simulator.errors import InputError

if TYPE_CHECKING:
    from simulator.course import Course
    from simulator.measures import Measures
    from simulator.powerplan import Day
    from simulator.setup import RideSetup, Weather

CARD_NAMES = ("card-stem", "card-pocket", "card-page")
CARD_FILES = (*(f"{name}.{kind}" for name in CARD_NAMES for kind in ("png", "pdf")), "card.html")
PLAN_FILES = ("index.html", "plan.png", "plan.svg", "plan.toml", "plan.json")
TRY_FILES = ("index.html", "tryout.json")


def try_side_by_side(
    *,
    course_path: Path,
    build_path: Path,
    rider_path: Path | None,
    weather_path: Path | None,
    pacing_paths: Sequence[Path],
    laps: int | None,
    tiles_path: Path | None,
    measures: Measures,
    out_path: Path | None,
    overwrite: bool,
    quiet: bool,
    as_json: bool,
) -> None:
    """Ride several pacings over one course and set them side by side."""
    from simulator.files import write_files
    from simulator.pacing import load_pacing
    from simulator.powerplan import try_pacings
    from simulator.report import make_tryout_view, tryout_files, tryout_json, tryout_text

    pacings = [load_pacing(path) for path in pacing_paths]
    _refuse(out_path, TRY_FILES, overwrite=overwrite)
    course, setup, _ = _read(
        course_path,
        build_path,
        rider_path,
        [weather_path] if weather_path else [],
        laps,
        tiles_path,
    )
    view = make_tryout_view(try_pacings(course=course, setup=setup, pacings=pacings), measures)
    if out_path is not None:
        write_files(out_path, tryout_files(view), overwrite=overwrite)
    if as_json:
        click.echo(tryout_json(view), nl=False)
        return
    click.echo(tryout_text(view, encoding=_encoding(), is_short=quiet), nl=False)
    _tell(out_path, "index.html", quiet=quiet)


def solve_plan(
    *,
    measures: Measures,
    out_path: Path | None,
    overwrite: bool,
    quiet: bool,
    as_json: bool,
    **asked: Any,
) -> None:
    """Find the quickest plan, print it and write its files."""
    from simulator.files import write_files
    from simulator.report import (
        make_powerplan_view,
        powerplan_files,
        powerplan_json,
        powerplan_text,
    )

    _refuse(out_path, (*PLAN_FILES, *CARD_FILES), overwrite=overwrite)
    days = _plan(asked, quiet=quiet or as_json)
    view = make_powerplan_view(days, measures)
    if out_path is not None:
        write_files(out_path, powerplan_files(days, measures), overwrite=overwrite)
    if as_json:
        click.echo(powerplan_json(view), nl=False)
        return
    click.echo(powerplan_text(view, encoding=_encoding(), is_short=quiet), nl=False)
    _tell(out_path, "index.html", quiet=quiet)
    if out_path is not None and not quiet:
        say(f"Pacing file for compare and ride: {out_path / 'plan.toml'}")
        _tell_cards(out_path, measures)


def write_cards(
    *, measures: Measures, out_path: Path, overwrite: bool, quiet: bool, **asked: Any
) -> None:
    """Make the cards of a plan."""
    from simulator.files import write_files
    from simulator.powerplan import pacing_text
    from simulator.report import card_files, make_powerplan_view, powerplan_text

    _refuse(out_path, (*CARD_FILES, "plan.toml"), overwrite=overwrite)
    days = _plan(asked, quiet=quiet)
    plan = days[0].plan
    files = {"plan.toml": pacing_text(plan).encode("utf-8"), **card_files(plan, measures)}
    write_files(out_path, files, overwrite=overwrite)
    if not quiet:
        view = make_powerplan_view(days, measures)
        click.echo(powerplan_text(view, encoding=_encoding(), is_short=True))
        _tell_cards(out_path, measures)


def _tell_cards(folder: Path, measures: Measures) -> None:
    from simulator.report import CARD_SIZES_MM

    sizes = ", ".join(f"{name} {measures.paper(*mm)}" for name, mm in CARD_SIZES_MM.items())
    say(f"Cards as PDF and PNG ({sizes};")
    say(f"print at 100 %): {folder}")
    say(f"For the phone: {folder / 'card.html'}")


def _plan(asked: dict[str, Any], *, quiet: bool) -> tuple[Day, ...]:
    from simulator.powerplan import plan_days

    if asked["mean_w"] is not None and asked["fourth_power_mean_w"] is not None:
        raise InputError(
            file="--mean",
            found="`--fourth-power-mean` was given too",
            expected="one of them",
        )
    course, setup, weathers = _read(
        asked["course_path"],
        asked["build_path"],
        asked["rider_path"],
        asked["weather_paths"],
        asked["laps"],
        asked["tiles_path"],
    )
    is_watched = not quiet and sys.stderr.isatty()
    return plan_days(
        course=course,
        setup=setup,
        weathers=weathers,
        most_changes=asked["most_changes"],
        mean_w=asked["mean_w"],
        fourth_power_mean_w=asked["fourth_power_mean_w"],
        most_w=asked["most_w"],
        name=f"Plan for {course.name}"[:60],
        on_day=lambda name: say(f"Planning for {name} ...", err=True) if is_watched else None,
    )


def _read(
    course_path: Path,
    build_path: Path,
    rider_path: Path | None,
    weather_paths: Sequence[Path],
    laps: int | None,
    tiles_path: Path | None,
) -> tuple[Course, RideSetup, list[Weather]]:
    from simulator.course import build_course
    from simulator.setup import RideSetup, default_weather, load_build, load_rider, load_weather

    build, rider = load_build(build_path), load_rider(rider_path)
    weathers = [load_weather(path) for path in weather_paths] or [default_weather()]
    course = build_course(course_path, n_laps=laps, tiles_folder=tiles_path)
    return course, RideSetup(rider=rider, build=build, weather=weathers[0]), weathers


def _refuse(out_path: Path | None, names: Sequence[str], *, overwrite: bool) -> None:
    """Complain before the work, not after it, about results that stand in the way."""
    from simulator.files import refuse_existing

    if out_path is None:
        return
    if out_path.exists() and not out_path.is_dir():
        raise InputError(
            file=str(out_path),
            found="there is a file of this name",
            expected="a folder, or a name that is free",
            mend="choose another name for `--out`",
        )
    refuse_existing([out_path / name for name in names], overwrite=overwrite)


def _tell(out_path: Path | None, page: str, *, quiet: bool) -> None:
    if out_path is not None and not quiet:
        click.echo()
        say(f"Page: {out_path / page}")


def _encoding() -> str:
    return getattr(sys.stdout, "encoding", None) or "utf-8"
