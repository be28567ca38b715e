"""``buildgap demo``: the main job on shipped files."""

from __future__ import annotations

from pathlib import Path

import click

from simulator.cli import comparing, shared
from simulator.measures import Measures


@click.command()
@shared.units_option
@shared.out_option("out/demo")
@shared.quiet_option
@shared.json_option
def command(measures: Measures, out_path: Path, quiet: bool, as_json: bool) -> None:
    """Ride two made-up builds over a shipped course: a first look.

    The affordable Plover against the top-tier Gannet, over a hill race on the made-up Isle of
    Varrow. Writes a page, pictures, CSV and JSON, and replaces those of an earlier demo.

    \b
    Example:
      buildgap demo --out out/demo
    """  # noqa: D301
    from simulator.starters import starter_path

    comparing.compare(
        course_paths=[starter_path("courses/three-hills")],
        build_paths=[starter_path("configs/gannet.toml"), starter_path("configs/plover.toml")],
        rider_path=starter_path("configs/rider.toml"),
        weather_paths=[starter_path("configs/weather.toml")],
        laps=None,
        tiles_path=None,
        wish=comparing.Wish(
            measures=measures, out_path=out_path, overwrite=True, quiet=quiet, as_json=as_json
        ),
    )
