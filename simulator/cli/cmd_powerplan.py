"""``buildgap powerplan``: pacings side by side, the quickest plan, its card."""

from __future__ import annotations

from typing import Any

import click

from simulator.cli import shared

MAX_CHANGES = 15
"""A card holds sixteen stretches in type that is read on the road."""


def _inputs(function: shared.CommandFunction) -> shared.CommandFunction:
    """Course, build, rider, laps and tiles, which all subcommands read."""
    decorators = (
        shared.course_option(),
        click.option(
            "--build",
            "build_path",
            type=shared.ANY_PATH,
            required=True,
            metavar="FILE",
            help="File of the build (TOML).",
        ),
        shared.rider_option,
        shared.laps_option,
        shared.tiles_option,
    )
    for decorate in reversed(decorators):
        function = decorate(function)
    return function


def _budget(function: shared.CommandFunction) -> shared.CommandFunction:
    """What the plan may spend, and how many changes it may have."""
    decorators = (
        click.option(
            "--mean",
            "mean_w",
            type=shared.Finite(shared.MIN_POWER_W, shared.MAX_POWER_W),
            metavar="W",
            help="Keep to this plain mean power instead: a bound, as nothing limits hard efforts.",
        ),
        click.option(
            "--fourth-power-mean",
            "fourth_power_mean_w",
            type=shared.Finite(shared.MIN_POWER_W, shared.MAX_POWER_W),
            metavar="W",
            help="Keep to this fourth-power mean, which weighs hard efforts, instead of critical "
            "power and W′.",
        ),
        click.option(
            "--most",
            "most_w",
            type=shared.Finite(shared.MIN_POWER_W, 3000.0),
            metavar="W",
            help="Highest power of the plan, instead of the rider's.",
        ),
        click.option(
            "--changes",
            "most_changes",
            type=shared.Whole(0, MAX_CHANGES),
            default=10,
            show_default=True,
            metavar="N",
            help="Most changes of power on the way; on laps, on each lap. Coasting is not counted; "
            "with it a card holds 16 lines.",
        ),
    )
    for decorate in reversed(decorators):
        function = decorate(function)
    return function


@click.group()
def command() -> None:
    """Try pacings side by side; find the quickest plan; print its card.

    Critical power and W′ stand in the rider's file. Hard efforts are not for everybody: when in
    doubt about your health, see a doctor before you ride to a plan.

    \b
    Examples:
      buildgap powerplan try --course race.gpx --build mine.toml --rider me.toml --pacing easy.toml --pacing hard.toml
      buildgap powerplan solve --course race.gpx --build mine.toml --rider me.toml --out out/plan
      buildgap powerplan card --course race.gpx --build mine.toml --rider me.toml --changes 8 --out out/card
    """  # noqa: D301, E501


@command.command("try")
@_inputs
@shared.weather_option
@click.option(
    "--pacing",
    "pacing_paths",
    type=shared.ANY_PATH,
    multiple=True,
    required=True,
    metavar="FILE",
    help="File of a pacing (TOML); repeat it for each.",
)
@shared.units_option
@shared.out_option()
@shared.overwrite_option
@shared.quiet_option
@shared.json_option
def try_command(**wish: Any) -> None:
    """Ride several pacings and set them side by side.

    Time, mean power, fourth-power mean, W′ at its lowest, where each gains, whether the rider
    could do it at all, and what a day with 5 % less critical power does to it.

    \b
    Example:
      buildgap powerplan try --course race.gpx --build mine.toml --rider me.toml --pacing easy.toml
    """  # noqa: D301
    from simulator.cli.planning import try_side_by_side

    try_side_by_side(**wish)


@command.command()
@_inputs
@click.option(
    "--weather",
    "weather_paths",
    type=shared.ANY_PATH,
    multiple=True,
    metavar="FILE",
    help="File of the weather (TOML); repeat it for a table of several days.",
)
@_budget
@shared.units_option
@shared.out_option()
@shared.overwrite_option
@shared.quiet_option
@shared.json_option
def solve(**wish: Any) -> None:
    """Find the quickest power along a course, and a few steady levels near it.

    Writes the plan as a pacing file that `compare` and `ride` read, a page, a picture and the
    cards.

    \b
    Example:
      buildgap powerplan solve --course race.gpx --build mine.toml --rider me.toml --out out/plan
    """  # noqa: D301
    from simulator.cli.planning import solve_plan

    solve_plan(**wish)


@command.command()
@_inputs
@click.option(
    "--weather",
    "weather_paths",
    type=shared.ANY_PATH,
    multiple=True,
    metavar="FILE",
    help="File of the weather (TOML); without it a calm standard day.",
)
@_budget
@shared.units_option
@shared.out_option("out/card")
@shared.overwrite_option
@shared.quiet_option
def card(**wish: Any) -> None:
    """Make the card to carry: PNG and PDF in three sizes, and a page for the phone.

    \b
    Example:
      buildgap powerplan card --course race.gpx --build mine.toml --rider me.toml --changes 8
    """  # noqa: D301
    from simulator.cli.planning import write_cards

    write_cards(**wish)
