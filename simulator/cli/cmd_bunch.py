"""``buildgap bunch``: what it costs each build to stay in the bunch."""

from __future__ import annotations

from typing import Any

import click

from simulator.cli import shared

MAX_DRAWS = 100_000


@click.command()
@shared.course_option()
@shared.build_option
@shared.rider_option
@shared.weather_option
@shared.laps_option
@shared.tiles_option
@click.option(
    "--bunch",
    "bunch_path",
    type=shared.ANY_PATH,
    metavar="FILE",
    help="File of the bunch (TOML): place, shelter, turns; without it stated defaults.",
)
@click.option(
    "--place",
    type=shared.Finite(1.0, 200.0),
    metavar="N",
    help="Your place, counted from the front, instead of the file's.",
)
@click.option(
    "--pacing",
    "pacing_path",
    type=shared.ANY_PATH,
    metavar="FILE",
    help="Pacing of the reference rider, who sets the speed (TOML).",
)
@shared.power_option
@click.option(
    "--reference-build",
    "reference_build_path",
    type=shared.ANY_PATH,
    metavar="FILE",
    help="Build of the reference rider; the last build by default.",
)
@click.option(
    "--reference-rider",
    "reference_rider_path",
    type=shared.ANY_PATH,
    metavar="FILE",
    help="Who sets the speed; by default your rider without limits of W′.",
)
@click.option(
    "--recorded",
    "recording_path",
    type=shared.ANY_PATH,
    metavar="FILE",
    help="A race of this course as recorded (FIT, TCX, GPX or CSV): its speed is the bunch's.",
)
@click.option(
    "--draws",
    "n_draws",
    type=shared.Whole(0, MAX_DRAWS),
    default=1000,
    show_default=True,
    metavar="N",
    help="Paired draws for the chance of losing contact; 0 leaves that out.",
)
@shared.seed_option
@shared.units_option
@shared.out_option()
@shared.overwrite_option
@shared.quiet_option
@shared.json_option
def command(**wish: Any) -> None:
    """Say what it costs each build to stay in the bunch.

    The bunch rides at the speed of a reference rider alone in the wind, at --power or to a
    --pacing, or as recorded in a race (--recorded). You sit in a place of it on each build: power needed, surges out of the corners, W′
    lap by lap, the chance of losing contact, how many places the better bike is worth, the speed
    at which a climb drops you, a break alone, the sprint.

    \b
    Examples:
      buildgap bunch --course crit.gpx --laps 20 --build dream.toml --build mine.toml --rider me.toml --power 420
      buildgap bunch --course race.gpx --build mine.toml --rider me.toml --bunch bunch.toml --place 3
      buildgap bunch --course race.gpx --build mine.toml --rider me.toml --recorded race.fit
    """  # noqa: D301, E501
    from simulator.cli.bunching import race

    race(**wish)
