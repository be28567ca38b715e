"""``buildgap compare``: ride builds over a course and explain the gap between them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from simulator.cli import comparing, shared

MIN_DRAWS, MAX_DRAWS = 200, 1_000_000


class Draws(click.IntRange):
    """No draws, or enough of them: one in twenty of less than 200 says nothing about an end."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """Read the number or complain."""
        number = int(super().convert(value, param, ctx))
        if 0 < number < MIN_DRAWS:
            self.fail(f"{number} draws are too few; give 0, or {MIN_DRAWS} and more.", param, ctx)
        return number


@click.command()
@shared.course_option()
@shared.build_option
@shared.rider_option
@shared.weather_option
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
    help="Paired draws that tell how sure the gap is; 0 leaves that out.",
)
@shared.seed_option
@shared.out_option()
@shared.overwrite_option
@shared.quiet_option
@shared.json_option
def command(
    course_path: Path,
    build_paths: tuple[Path, ...],
    rider_path: Path | None,
    weather_path: Path | None,
    pacing_path: Path | None,
    power_w: float | None,
    laps: int | None,
    tiles_path: Path | None,
    n_draws: int,
    seed: int,
    out_path: Path | None,
    overwrite: bool,
    quiet: bool,
    as_json: bool,
) -> None:
    """Ride builds over a course and explain the gap between them.

    Every build is compared with the first one: same rider, same weather, same pacing. The gap is
    the time of a build minus the time of the first; positive means that it loses.

    \b
    Examples:
      buildgap compare --course race.gpx --build mine.toml --build dream.toml
      buildgap compare --course crit.gpx --laps 20 --build a.toml --build b.toml --out out/crit
    """  # noqa: D301
    comparing.compare(
        course_path=course_path,
        build_paths=build_paths,
        rider_path=rider_path,
        weather_path=weather_path,
        pacing_path=pacing_path,
        laps=laps,
        tiles_path=tiles_path,
        wish=comparing.Wish(
            power_w=power_w,
            n_draws=n_draws,
            seed=seed,
            out_path=out_path,
            overwrite=overwrite,
            quiet=quiet,
            as_json=as_json,
        ),
    )
