"""``buildgap course``: what a track becomes; check it, draw it, write it out."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from simulator.cli.course_reading import course_arguments, read_course
from simulator.cli.shared import (
    ANY_PATH,
    Finite,
    json_option,
    overwrite_option,
    say,
    units_option,
)
from simulator.measures import Measures


@click.group()
def command() -> None:
    """Show what a track becomes: length, climbs, corners, findings.

    \b
    Examples:
      buildgap course check race.gpx
      buildgap course draw courses/three-hills --out three-hills.png
      buildgap course export race.gpx --out out/race
    """  # noqa: D301


@command.command()
@course_arguments
@click.option("--all-corners", is_flag=True, help="List every corner, not only the tightest.")
@units_option
@json_option
def check(path: Path, all_corners: bool, measures: Measures, as_json: bool, **options: Any) -> None:
    """Say how far a course can be trusted, and where to look.

    \b
    Example:
      buildgap course check race.gpx
    """  # noqa: D301
    from simulator.report import course_json, course_text, make_course_view

    view = make_course_view(read_course(path, options), measures=measures)
    if as_json:
        say(course_json(view))
    else:
        encoding = sys.stdout.encoding or "utf-8"
        click.echo(course_text(view, encoding=encoding, all_corners=all_corners), nl=False)


@command.command()
@course_arguments
@click.option("--out", "out_path", type=ANY_PATH, required=True, metavar="FILE", help="PNG or SVG.")
@click.option(
    "--wind-from",
    "wind_from_deg",
    type=Finite(0.0, 360.0),
    metavar="DEG",
    help="Where the wind blows from, to draw its arrow.",
)
@units_option
@overwrite_option
def draw(
    path: Path,
    out_path: Path,
    wind_from_deg: float | None,
    measures: Measures,
    overwrite: bool,
    **options: Any,
) -> None:
    """Draw plan and profile of a course.

    \b
    Example:
      buildgap course draw courses/three-hills --out three-hills.png
    """  # noqa: D301
    from simulator.errors import InputError
    from simulator.files import refuse_existing, write_bytes
    from simulator.report import draw_course, make_course_view, picture_bytes

    kind = out_path.suffix.lower().removeprefix(".")
    if kind not in ("png", "svg"):
        raise InputError(
            file="--out", found=str(out_path), expected="a name that ends in .png or .svg"
        )
    refuse_existing([out_path], overwrite=overwrite)
    view = make_course_view(
        read_course(path, options), wind_from_deg=wind_from_deg, measures=measures
    )
    write_bytes(out_path, picture_bytes(draw_course(view), kind), overwrite=overwrite)
    say(f"wrote {out_path}")


@command.command()
@course_arguments
@click.option("--out", "out_path", type=ANY_PATH, required=True, metavar="FOLDER", help="Folder.")
@overwrite_option
def export(path: Path, out_path: Path, overwrite: bool, **options: Any) -> None:
    """Write the smooth course as GPX and its segments as CSV.

    \b
    Example:
      buildgap course export race.gpx --out out/race
    """  # noqa: D301
    from simulator.course import course_csv, course_gpx
    from simulator.files import refuse_existing, write_text

    files = [out_path / "course.gpx", out_path / "course.csv"]
    refuse_existing(files, overwrite=overwrite)
    course = read_course(path, options)
    for file, text in zip(files, (course_gpx(course), course_csv(course)), strict=True):
        write_text(file, text, overwrite=overwrite)
        say(f"wrote {file}")
