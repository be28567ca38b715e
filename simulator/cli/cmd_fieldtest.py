"""``buildgap fieldtest``: what recorded runs say about builds."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from simulator.cli import shared


@click.group()
def command() -> None:
    """Turn recorded runs into drag and rolling figures, and judge them.

    Roll-downs only where nobody else is; on open roads the rules of the road come first.

    \b
    Examples:
      buildgap fieldtest infer testday.toml --out out/test
      buildgap fieldtest verdict two-climbs.toml
      buildgap fieldtest runs runs.toml
    """  # noqa: D301


@command.command()
@click.argument("path", type=shared.ANY_PATH, metavar="TESTDAY")
@shared.units_option
@shared.out_option()
@shared.overwrite_option
@shared.quiet_option
@shared.json_option
def infer(path: Path, **shown: Any) -> None:
    """Fit CdA and Crr of each build to all runs of a test day.

    TESTDAY names builds, roads and runs: times alone, or recordings (FIT, GPX, TCX, CSV). With
    --out, each build is written as a file with values and uncertainties, ready for compare.

    \b
    Example:
      buildgap fieldtest infer testday.toml --out out/test
    """  # noqa: D301
    from simulator.cli import fieldtesting

    fieldtesting.infer(path, fieldtesting.Shown(**shown))


@command.command()
@click.argument("path", type=shared.ANY_PATH, metavar="FILE")
@shared.units_option
@shared.out_option()
@shared.overwrite_option
@shared.quiet_option
@shared.json_option
def verdict(path: Path, **shown: Any) -> None:
    """Say whether observed times are what the builds' differences predict.

    FILE names two builds and the times of each on some stretches; no recordings are needed. If
    the gap is not to be expected, explanations are ranked by how large each would have to be.

    \b
    Example:
      buildgap fieldtest verdict two-climbs.toml
    """  # noqa: D301
    from simulator.cli import fieldtesting

    fieldtesting.verdict(path, fieldtesting.Shown(**shown))


@command.command()
@click.argument("path", type=shared.ANY_PATH, metavar="FILE")
@shared.units_option
@shared.out_option()
@shared.overwrite_option
@shared.quiet_option
@shared.json_option
def runs(path: Path, **shown: Any) -> None:
    """Say how many runs of which kind tell two builds apart.

    FILE names two builds and the kinds of run that can be ridden, with their scatter.

    \b
    Example:
      buildgap fieldtest runs runs.toml
    """  # noqa: D301
    from simulator.cli import fieldtesting

    fieldtesting.runs(path, fieldtesting.Shown(**shown))
