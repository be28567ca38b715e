"""``buildgap compare``: ride builds over a course and explain the gap between them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from simulator.cli import comparing, shared
from simulator.measures import Measures

MIN_DRAWS, MAX_DRAWS = 200, 1_000_000


class Draws(shared.Whole):
    """No draws, or enough of them: one in twenty of less than 200 says nothing about an end."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """Read the number or complain."""
        number = int(super().convert(value, param, ctx))
        if 0 < number < MIN_DRAWS:
            self.fail(f"{number} draws are too few; give 0, or {MIN_DRAWS} and more.", param, ctx)
        return number


@click.command()
@click.option(
    "--course",
    "course_paths",
    type=shared.ANY_PATH,
    multiple=True,
    required=True,
    metavar="FILE|FOLDER",
    help="Track (GPX), course.toml, or the folder it stands in; repeat it for several races.",
)
@shared.build_option
@shared.rider_option
@click.option(
    "--weather",
    "weather_paths",
    type=shared.ANY_PATH,
    multiple=True,
    metavar="FILE",
    help="File of the weather (TOML); repeat it for several days; without it a calm standard day.",
)
@click.option(
    "--recorded",
    "recorded_path",
    type=shared.ANY_PATH,
    metavar="RIDE",
    help="Your own ride of the course (FIT, GPX, TCX, CSV) on the first build, with power.",
)
@shared.pacing_option
@shared.power_option
@shared.laps_option
@shared.tiles_option
@click.option(
    "--draws",
    "n_draws",
    type=Draws(0, MAX_DRAWS),
    default=2000,
    show_default=True,
    metavar="N",
    help="Paired draws that tell how sure the gap is, 200 or more; 0 leaves that out.",
)
@shared.seed_option
@shared.units_option
@shared.out_option()
@shared.overwrite_option
@shared.quiet_option
@shared.json_option
def command(
    course_paths: tuple[Path, ...],
    build_paths: tuple[Path, ...],
    rider_path: Path | None,
    weather_paths: tuple[Path, ...],
    recorded_path: Path | None,
    pacing_path: Path | None,
    power_w: float | None,
    laps: int | None,
    tiles_path: Path | None,
    n_draws: int,
    seed: int,
    measures: Measures,
    out_path: Path | None,
    overwrite: bool,
    quiet: bool,
    as_json: bool,
) -> None:
    """Ride builds over a course and explain the gap between them.

    Every build is compared with the first one: same rider, same weather, same pacing. The gap is
    the time of a build minus the time of the first; positive means that it loses.

    Several courses or weathers give a table of every build in every race, and in all of them.

    With `--recorded`, a ride of yours lies beside the predicted one at the same power: where they
    part, and what to doubt. One build is enough for that.

    \b
    Examples:
      buildgap compare --course race.gpx --build mine.toml --build dream.toml
      buildgap compare --course crit.gpx --laps 20 --build a.toml --build b.toml --out out/crit
      buildgap compare --course a.gpx --course b.gpx --build mine.toml --build dream.toml
      buildgap compare --course race.gpx --build mine.toml --weather day.toml --recorded ride.fit
    """  # noqa: D301
    comparing.compare(
        course_paths=course_paths,
        build_paths=build_paths,
        rider_path=rider_path,
        weather_paths=weather_paths,
        recorded_path=recorded_path,
        pacing_path=pacing_path,
        laps=laps,
        tiles_path=tiles_path,
        wish=comparing.Wish(
            power_w=power_w,
            n_draws=n_draws,
            seed=seed,
            measures=measures,
            out_path=out_path,
            overwrite=overwrite,
            quiet=quiet,
            as_json=as_json,
        ),
    )
