"""The set of files that ``buildgap new`` writes, as a table of names and contents."""

from __future__ import annotations

import json
import re
import shlex
import tomllib
from collections.abc import Sequence
from pathlib import Path

from simulator.cli.jobsets import JobSet, job_set
from simulator.errors import InputError
from simulator.starters import starter_path

EXAMPLE_COURSE = "courses/town-criterium"
BUILDS = ("plover.toml", "gannet.toml")
PACING = "pacing.toml"
COURSE_FOLDER = "course"

_SHOWN_KEY = re.compile(r"(?m)^# (?:\[\[(\w+)\]\]|(\w+) =)")

_README = """\
# {name}

What is here, in the order in which you may want to change it:

| file | what it is |
|---|---|
| `plover.toml`, `gannet.toml` | two builds; put your own figures in, rename them as you like |
| `rider.toml` | you: mass, power, habits |
| `weather.toml` | wind and air of the day |
| `pacing.toml` | rules for the power along the course, if it shall not be constant |
| `course/` | {course} |
{rows}
Every key is explained beside it, and every key of rider and weather may be deleted: then a stated
default holds. A build needs four keys: `name`, `mass_kg`, `cda_m2`, `crr`. All figures in these
files are made up.

Check the files after changing them:

    {check}

Ride both builds and see where, why and by how much one loses:

    {compare}

Ride one of them to a plan, with splits, speeds and power along the course:

    {ride}
{jobs}
The results appear in `{out}`. A predicted speed is never advice to ride it.
"""


def start_files(
    folder: Path, track_path: Path | None, jobs: Sequence[str] = ()
) -> dict[str, bytes]:
    """Names, relative to the folder, and contents of a set of files to start from.

    Parameters
    ----------
    folder : Path
        Where they will stand; the commands in the README name it.
    track_path : Path or None
        The user's own track; None for a made-up course.
    jobs : sequence of str
        Jobs of `jobsets.JOBS` whose files are wanted as well.

    Returns
    -------
    dict
        Name to content.

    Raises
    ------
    InputError
        If the track cannot be used.
    """
    contents = {
        name: starter_path(f"configs/{name}").read_bytes()
        for name in ("rider.toml", "weather.toml", PACING, *BUILDS)
    }
    if track_path is None:
        example = starter_path(EXAMPLE_COURSE)
        for path in sorted(example.rglob("*")):
            if path.is_file() and not path.name.startswith("."):
                name = f"{COURSE_FOLDER}/{path.relative_to(example).as_posix()}"
                contents[name] = path.read_bytes()
        name = f"{COURSE_FOLDER}/course.toml"
        contents[name] = _with_more_keys(contents[name].decode("utf-8")).encode("utf-8")
        course = "a made-up course on a made-up island"
    else:
        contents.update(_own_course(track_path))
        course = "your track, and what else may be said about the course"
    sets = [job_set(job, folder) for job in dict.fromkeys(jobs)]
    for each in sets:
        contents.update(each.contents)
    contents["README.md"] = _readme(folder, course, sets).encode("utf-8")
    return contents


def track_notes(folder: Path, track_path: Path) -> tuple[str, ...]:
    """What should be known of a track before its course is ridden.

    Parameters
    ----------
    folder : Path
        Where the set of files stands; a command that mends something names it.
    track_path : Path
        The user's own track.

    Returns
    -------
    tuple of str
        Sentences, none for a track without fault.
    """
    from simulator.course import read_track

    track = read_track(track_path)
    notes = [f"{finding.level}: {finding.text}" for finding in track.findings]
    known_m = track.heights_m[track.heights_m == track.heights_m]
    if not known_m.any():  # none at all, or a planner's zeros
        course, tiles = (shlex.quote((folder / n).as_posix()) for n in (COURSE_FOLDER, "tiles"))
        notes.append(
            "doubt: the track has no heights; fetch elevation tiles with `buildgap course check "
            f'{course} --tiles {tiles} --download`, then write `tiles = "../tiles"` in course.toml'
        )
    return tuple(notes)


def _own_course(track_path: Path) -> dict[str, bytes]:
    from simulator.course import read_track

    if track_path.is_dir():
        raise InputError(
            file=str(track_path), found="this is a folder", expected="a track file (GPX)"
        )
    track = read_track(track_path)  # complains about what is no track
    template = starter_path("configs/course.toml").read_text(encoding="utf-8")
    name = "".join(char for char in track_path.stem if char.isprintable() and char not in '"\\')
    text = re.sub(r"(?m)^name = .*$", lambda _: f'name = "{name or "My course"}"', template)
    return {
        f"{COURSE_FOLDER}/course.toml": text.encode("utf-8"),
        f"{COURSE_FOLDER}/track.gpx": track_path.read_bytes(),
        f"{COURSE_FOLDER}/zones.geojson": _example_zone(
            float(track.lats_deg[0]), float(track.lons_deg[0])
        ),
    }


def _example_zone(lat_deg: float, lon_deg: float) -> bytes:
    """A square at the start with nothing in it but open wind: something to draw over."""
    d = 0.001  # about 100 m
    ring = [
        [round(lon_deg + east, 5), round(lat_deg + north, 5)]
        for east, north in ((-d, -d), (d, -d), (d, d), (-d, d), (-d, -d))
    ]
    zone = {
        "type": "Feature",
        "properties": {"name": "Example: draw your own", "shelter": "open", "surface": "smooth"},
        "geometry": {"type": "Polygon", "coordinates": [ring]},
    }
    document = {"type": "FeatureCollection", "features": [zone]}
    return (json.dumps(document, indent=1) + "\n").encode("utf-8")


def _with_more_keys(text: str) -> str:
    """A course file with the commented keys of the template that it does not use yet."""
    template = starter_path("configs/course.toml").read_text(encoding="utf-8")
    used = set(tomllib.loads(text))
    keys: list[str] = []
    tables: list[str] = []
    for paragraph in template.split("\n\n"):
        match = _SHOWN_KEY.search(paragraph)
        if match and (match[1] or match[2]) not in used:
            (tables if match[1] else keys).append(paragraph)
    own = text.rstrip().split("\n\n")
    # In TOML, keys of the course itself must stand above the first table.
    n_above = next((i for i, each in enumerate(own) if re.search(r"(?m)^\[", each)), len(own))
    head = '# What else may be said; take the "#" away to use a line.'
    parts = [*own[:n_above], head, *keys, *own[n_above:], *tables]
    return "\n\n".join(parts).rstrip() + "\n"


def _readme(folder: Path, course: str, sets: Sequence[JobSet]) -> str:
    def at(name: str) -> str:
        return shlex.quote((folder / name).as_posix())

    options = [f"--course {at(COURSE_FOLDER)}", f"--rider {at('rider.toml')}"]
    options += [f"--build {at(name)}" for name in reversed(BUILDS)]  # the dream first, as in docs
    options += [f"--weather {at('weather.toml')}", f"--out {at('out')}"]
    ride = [f"--course {at(COURSE_FOLDER)}", f"--rider {at('rider.toml')}"]
    ride += [f"--build {at(BUILDS[0])}", f"--weather {at('weather.toml')}"]
    ride += [f"--pacing {at(PACING)}"]
    rows = [f"| `{name}` | {what} |\n" for each in sets for name, what in each.rows]
    jobs = [f"\n{words}:\n\n    {call}\n" for each in sets for words, call in each.commands]
    names = ["rider.toml", "weather.toml", PACING, *BUILDS, COURSE_FOLDER]
    names += [name for each in sets for name, _ in each.rows]
    return _README.format(
        name=folder.resolve().name or "A race",
        course=course,
        check="buildgap check " + " ".join(at(name) for name in names),
        compare="buildgap compare " + " ".join(options),
        ride="buildgap ride " + " ".join(ride),
        rows="".join(rows),
        jobs="".join(jobs),
        out=(folder / "out").as_posix(),
    )
