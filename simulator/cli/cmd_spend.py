"""``buildgap spend``: what a budget buys."""

from __future__ import annotations

from typing import Any

import click

from simulator.cli import shared

MAX_DRAWS = 100_000
MAX_BUDGET = 1e6


@click.command()
@click.option(
    "--build",
    "build_path",
    type=shared.ANY_PATH,
    required=True,
    metavar="FILE",
    help="File of the build as it stands now (TOML).",
)
@click.option(
    "--parts",
    "parts_path",
    type=shared.ANY_PATH,
    required=True,
    metavar="FILE",
    help="Catalogue of parts (TOML).",
)
@click.option(
    "--target",
    "target_path",
    type=shared.ANY_PATH,
    metavar="FILE",
    help="File of the better build; tells what share of the gap is closed.",
)
@click.option(
    "--plan",
    "plan_path",
    type=shared.ANY_PATH,
    metavar="FILE",
    help="Budgets and races with weights (TOML), instead of --budget and --course.",
)
@click.option(
    "--budget",
    "budgets",
    type=shared.Finite(0.0, MAX_BUDGET),
    multiple=True,
    metavar="SUM",
    help="Sum that may be spent; repeat it for several budgets.",
)
@click.option(
    "--course",
    "course_paths",
    type=shared.ANY_PATH,
    multiple=True,
    metavar="FILE|FOLDER",
    help="Track (GPX), course.toml or its folder; repeat it for several races.",
)
@shared.rider_option
@shared.weather_option
@shared.power_option
@shared.pacing_option
@shared.laps_option
@shared.tiles_option
@click.option(
    "--draws",
    "n_draws",
    type=shared.Whole(0, MAX_DRAWS),
    default=1000,
    show_default=True,
    metavar="N",
    help="Paired draws that tell how sure the gains are; 0 leaves that out.",
)
@shared.seed_option
@click.option(
    "--cluster",
    metavar="ADDRESS",
    help="Ride on a running Dask cluster, as tcp://host:8786 (extra `cluster`).",
)
@shared.units_option
@shared.out_option()
@shared.overwrite_option
@shared.quiet_option
@shared.json_option
def command(**wish: Any) -> None:
    """Find the parts that buy the most seconds for a budget.

    Rides every set of parts that goes together and fits the largest budget over every race, and
    names the best set for each budget: a shopping list, the seconds gained and how sure they
    are. Parts and measures that cost nothing are answered for as well.

    \b
    Examples:
      buildgap spend --build mine.toml --parts parts.toml --course race.gpx --budget 1500
      buildgap spend --build mine.toml --target dream.toml --parts parts.toml --plan spend.toml
    """  # noqa: D301
    from simulator.cli.buying import Wish, spend

    spend(Wish(**wish))
