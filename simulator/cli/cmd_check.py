"""``buildgap check``: say whether files are sound, and what to mend."""

from __future__ import annotations

from pathlib import Path

import click

from simulator.cli.shared import ANY_PATH, quiet_option, say, tiles_option, units_option
from simulator.errors import InputError, InputErrors
from simulator.measures import Measures


@click.command()
@click.argument("paths", nargs=-1, required=True, type=ANY_PATH, metavar="FILE...")
@tiles_option
@units_option
@quiet_option
def command(
    paths: tuple[Path, ...], tiles_path: Path | None, measures: Measures, quiet: bool
) -> None:
    """Say whether files are sound, and what to mend.

    What a file is, is told by its content: TOML files of every kind, a track (GPX), a folder with
    a course.toml, zones (GeoJSON), a recording (FIT, TCX, CSV), an elevation tile (HGT), a typical
    year (EPW, TMY3). A sound file gets one line; a wrong one gets a sentence for each thing to
    mend, and the exit code is 2. Files that a file names are read as well.

    \b
    Example:
      buildgap check mine.toml dream.toml rider.toml race.gpx
    """  # noqa: D301
    from simulator.cli.filekinds import check_file

    problems: list[InputError] = []
    for path in paths:
        try:
            verdict = check_file(path, tiles_path=tiles_path)
        except InputErrors as errors:
            problems.extend(errors.problems)
        except InputError as error:
            problems.append(error)
        else:
            say(f"{path}: sound; {measures.said(verdict.text)}")
            for finding in () if quiet else verdict.findings:
                say(f"  {measures.said(finding)}")
    if problems:
        raise problems[0] if len(problems) == 1 else InputErrors(problems)
