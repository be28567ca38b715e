"""How the subcommands of ``course`` are told which course to read, and how."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator.cli.shared import ANY_PATH, laps_option, tiles_option

if TYPE_CHECKING:
    from simulator.course import Course


def course_arguments(function: Callable[..., Any]) -> Callable[..., Any]:
    """The course and how to read it, given to the command as `path` and `options`."""
    decorators = (
        click.argument("path", type=ANY_PATH, metavar="FILE|FOLDER"),
        laps_option,
        click.option("--reverse", is_flag=True, help="Ride it the other way."),
        click.option(
            "--heights",
            type=click.Choice(["auto", "track", "tiles"]),
            default="auto",
            show_default=True,
            help="Where heights come from.",
        ),
        tiles_option,
        click.option(
            "--download",
            is_flag=True,
            help="Fetch missing elevation tiles into the --tiles folder.",
        ),
    )
    for decorate in reversed(decorators):  # so that help lists them in this order
        function = decorate(function)
    return function


def read_course(path: Path, options: dict[str, Any]) -> Course:
    """Build the course that the options describe."""
    from simulator.course import build_course

    return build_course(
        path,
        n_laps=options["laps"],
        reverse=options["reverse"],
        heights=options["heights"],
        tiles_folder=options["tiles_path"],
        allow_download=options["download"],
    )
