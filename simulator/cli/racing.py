"""What `compare` does with several courses or weathers: ride all, print, write."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from simulator.cli import comparing

if TYPE_CHECKING:
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
    from simulator.compare import race_table, races_of
    from simulator.course import build_course
    from simulator.report import make_races_view

    courses = []
    with comparing.progress(len(course_paths) * (1 + len(weathers)), wish) as step:
        for path in course_paths:
            courses.append(build_course(path, n_laps=laps, tiles_folder=tiles_path))
            step()
        races = races_of(courses, weathers, rider=rider, pacing=pacing, power_w=wish.power_w)
        table = race_table(
            races,
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
