"""``buildgap ride``: ride one build over a course and show the ride."""

from __future__ import annotations

from pathlib import Path

import click

from simulator.cli import riding, shared
from simulator.measures import Measures

MIN_SPLIT = 0.1
MAX_SPLIT = 100.0


@click.command()
@shared.course_option()
@shared.one_build_option
@shared.rider_option
@shared.weather_option
@shared.pacing_option
@shared.power_option
@shared.laps_option
@shared.tiles_option
@click.option(
    "--split",
    "split",
    type=shared.Finite(MIN_SPLIT, MAX_SPLIT),
    metavar="N",
    help="Length of the splits in km, in miles with --units imperial; without it a round one that "
    "makes at most 20.",
)
@shared.units_option
@shared.out_option()
@shared.overwrite_option
@shared.quiet_option
@shared.json_option
@click.option(
    "--csv", "as_csv", is_flag=True, help="Print every segment as CSV, with all inputs above it."
)
def command(
    course_path: Path,
    build_paths: tuple[Path, ...],
    rider_path: Path | None,
    weather_path: Path | None,
    pacing_path: Path | None,
    power_w: float | None,
    laps: int | None,
    tiles_path: Path | None,
    split: float | None,
    measures: Measures,
    out_path: Path | None,
    overwrite: bool,
    quiet: bool,
    as_json: bool,
    as_csv: bool,
) -> None:
    """Ride one build over a course and show the ride.

    Shows splits, laps, corners, positions, and where the work went. JSON and CSV hold every array
    and every number that entered, with units, so that the ride can be recomputed elsewhere.

    \b
    Examples:
      buildgap ride --course race.gpx --build mine.toml
      buildgap ride --course crit.gpx --laps 20 --build mine.toml --pacing plan.toml --out out/crit
    """  # noqa: D301
    riding.ride_once(
        course_path=course_path,
        build_paths=build_paths,
        rider_path=rider_path,
        weather_path=weather_path,
        pacing_path=pacing_path,
        laps=laps,
        tiles_path=tiles_path,
        wish=riding.RideWish(
            power_w=power_w,
            split_m=None if split is None else split * measures.m_per_distance,
            measures=measures,
            out_path=out_path,
            overwrite=overwrite,
            quiet=quiet,
            as_json=as_json,
            as_csv=as_csv,
        ),
    )
