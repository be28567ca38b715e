"""``buildgap new``: write a commented set of files to start from."""

from __future__ import annotations

from pathlib import Path

import click

from simulator.cli.shared import ANY_PATH, overwrite_option, say


@click.command()
@click.argument("folder", type=ANY_PATH, metavar="FOLDER")
@click.option(
    "--from",
    "track_path",
    type=ANY_PATH,
    metavar="FILE",
    help="Your own track (GPX); it is copied into the folder. Without it, a made-up course.",
)
@click.option(
    "--for",
    "jobs",
    type=click.Choice(["spend", "fieldtest", "bunch"]),
    multiple=True,
    help="Files for this job as well; repeat it for several.",
)
@overwrite_option
def command(folder: Path, track_path: Path | None, jobs: tuple[str, ...], overwrite: bool) -> None:
    """Write a commented set of files to start from.

    FOLDER gets a rider, two builds, the weather, a pacing, a course with zones and a README that
    says the next command; --for adds a catalogue of parts and a plan for spend, test days for
    fieldtest, a bunch. Every key is explained beside it. Nothing that exists is replaced unasked.

    \b
    Examples:
      buildgap new my-race --from race.gpx
      buildgap new my-season --for spend --for fieldtest --for bunch
    """  # noqa: D301
    from simulator.cli.startset import start_files, track_notes
    from simulator.files import refuse_existing, write_bytes

    contents = start_files(folder, track_path, jobs)
    refuse_existing([folder / name for name in contents], overwrite=overwrite)
    for name, content in contents.items():
        write_bytes(folder / name, content, overwrite=overwrite)
    for name in contents:
        say(f"wrote {folder / name}")
    for note in track_notes(folder, track_path) if track_path else ():
        say(note)
    say(f"next: read {folder / 'README.md'}")
