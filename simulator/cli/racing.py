"""What `compare` does with several courses or weathers: ride all, print, write."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from simulator.cli import comparing

if TYPE_CHECKING:
    from simulator.compare import Race
    from simulator.pacing import Pacing
    from simulator.report import RacesView
    from simulator.setup import Build, Rider, Weather


def race(
    *,
    course_paths: Sequence[Path],
    weathers: Sequence[Weather],
    builds: Sequence[Build],
    rider: Rider,
    pacing: Pacing | None,
    laps: int | None,
    tiles_path: Path | None,
    wish: comparing.Wish,
) -> None:
    """Ride all builds over all courses in all weathers, print the table and write its files.

    Raises
    ------
    InputError
        If a file is wrong.
    CannotFinish
        If a rider comes to a halt on the way.
    """
    from simulator.compare import Race, race_table
    from simulator.course import build_course
    from simulator.pacing import wanted_demand
    from simulator.report import make_races_view
    from simulator.setup import with_gusts

    races = []
    with comparing.progress(len(course_paths) * (1 + len(weathers)), wish) as step:
        for path in course_paths:
            course = build_course(path, n_laps=laps, tiles_folder=tiles_path)
            for number, weather in enumerate(weathers):
                gusty = with_gusts(weather, distance_m=course.distance_m)
                races.append(
                    Race(
                        name=_name(course.name, weather.name, len(course_paths), len(weathers)),
                        course=course,
                        weather=gusty,
                        weather_number=number,
                        demand=wanted_demand(
                            course,
                            rider=rider,
                            weather=gusty,
                            pacing=pacing,
                            power_w=wish.power_w,
                        ),
                    )
                )
            step()
        table = race_table(
            _told_apart(races),
            rider=rider,
            builds=builds,
            n_draws=wish.n_draws,
            seed=wish.seed,
            when_done=step,
        )
    _show(make_races_view(table, wish.measures), wish)


def _show(view: RacesView, wish: comparing.Wish) -> None:
    from simulator.files import write_files
    from simulator.report import races_json, races_text

    if wish.out_path is not None:
        from simulator.report import races_files

        write_files(wish.out_path, races_files(view), overwrite=wish.overwrite)
    if wish.as_json:
        click.echo(races_json(view), nl=False)
        return
    text = races_text(view, encoding=comparing.encoding_of_stdout(), is_short=wish.quiet)
    click.echo(text, nl=False)
    if wish.out_path is not None and not wish.quiet:
        click.echo()
        comparing.tell_files(wish.out_path)


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
