"""``buildgap weather``: the usual wind of a month and hour, and a weather file of it."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from simulator.cli.shared import ANY_PATH, Whole, overwrite_option, say, units_option
from simulator.measures import Measures


@click.command()
@click.argument("path", type=ANY_PATH, metavar="FILE")
@click.option(
    "--month",
    type=Whole(1, 12),
    required=True,
    metavar="M",
    help="Month of the race, 1 to 12.",
)
@click.option(
    "--hour",
    type=Whole(0, 23),
    required=True,
    metavar="H",
    help="Hour of the day, 0 to 23, local standard time (no daylight saving).",
)
@click.option(
    "--out",
    "out_path",
    type=ANY_PATH,
    metavar="FILE",
    help="Weather file (TOML) to write, for --weather.",
)
@units_option
@overwrite_option
def command(
    path: Path,
    month: int,
    hour: int,
    out_path: Path | None,
    measures: Measures,
    overwrite: bool,
) -> None:
    """Show the usual wind of a month and hour.

    FILE is a typical-year weather file in EPW or TMY3 format, as building and solar planners use
    them. Shown are the mean wind, its spread from day to day and where it comes from; --out writes
    it all as a weather file, for a race too far off for a forecast.

    \b
    Example:
      buildgap weather harbour.epw --month 6 --hour 14 --out june.toml
    """  # noqa: D301
    from simulator.files import refuse_existing, write_text
    from simulator.report import usual_text
    from simulator.setup import read_usual_hour, usual_weather_toml

    if out_path is not None:
        refuse_existing([out_path], overwrite=overwrite)
    usual = read_usual_hour(path, month=month, hour=hour)
    encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
    click.echo(usual_text(usual, encoding=encoding, measures=measures), nl=False)
    if out_path is not None:
        write_text(out_path, usual_weather_toml(usual), overwrite=overwrite)
        say(f"\nwrote {out_path}")
