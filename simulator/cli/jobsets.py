"""Files for one job each, which ``buildgap new --for`` adds to the set that every job needs."""

from __future__ import annotations

import re
import shlex
from pathlib import Path
from typing import NamedTuple

from simulator.starters import starter_path

FIELDTEST = "fieldtest"
_HILL = "../../courses/steady-climb"
_HILL_FOLDER = "steady-climb"


class JobSet(NamedTuple):
    """Files of a job, what the README says about each, and the commands that use them."""

    contents: dict[str, bytes]
    rows: tuple[tuple[str, str], ...]
    commands: tuple[tuple[str, str], ...]


def job_set(job: str, folder: Path) -> JobSet:
    """What to add for a job: one of `JOBS`."""
    return JOBS[job](folder)


def _spend(folder: Path) -> JobSet:
    plan = _text("spend.toml").replace("../courses/three-hills", "course")
    first, *others = re.split(r"(?m)^(?=\[\[race\]\])", plan)[1:]
    head = plan.partition("[[race]]")[0]
    more = '# More races, each with its course; take the "#" away to use a line.\n'
    for other in others:
        course = re.sub(r"\.\./courses/", "", other)
        more += "\n" + "".join(
            f"# {line}\n" if line else "#\n" for line in course.rstrip().split("\n")
        )
    contents = {
        "parts.toml": starter_path("configs/parts.toml").read_bytes(),
        "spend.toml": f"{head}{first.rstrip()}\n\n{more}".encode(),
    }
    command = " ".join([
        "buildgap spend --build", _at(folder, "plover.toml"), "--target",
        _at(folder, "gannet.toml"), "--rider", _at(folder, "rider.toml"), "--parts",
        _at(folder, "parts.toml"), "--plan", _at(folder, "spend.toml"),
    ])  # fmt: skip
    rows = (
        ("parts.toml", "what could be bought or done, what it costs and changes"),
        ("spend.toml", "what may be spent, and for which races"),
    )
    return JobSet(contents, rows, (("Find what is worth buying", command),))


def _fieldtest(folder: Path) -> JobSet:
    names = ("testday.toml", "two-climbs.toml", "runs.toml", "plover-light.toml")
    contents = {
        f"{FIELDTEST}/{name}": _text(f"fieldtest/{name}")
        .replace(_HILL, _HILL_FOLDER)
        .replace("plover-plain.toml", "../plover.toml")
        .encode()
        for name in names
    }
    hill = starter_path(f"courses/{_HILL_FOLDER}")
    for name in ("course.toml", "track.gpx"):
        contents[f"{FIELDTEST}/{_HILL_FOLDER}/{name}"] = (hill / name).read_bytes()
    rows = (
        (f"{FIELDTEST}/testday.toml", "runs that were ridden: times or recordings"),
        (f"{FIELDTEST}/two-climbs.toml", "times of two builds on some stretches of road"),
        (f"{FIELDTEST}/runs.toml", "runs that could be ridden, to plan a test"),
        (f"{FIELDTEST}/plover-light.toml", "a build that these files name"),
        (f"{FIELDTEST}/{_HILL_FOLDER}/", "a course with gates that these files name"),
    )
    commands = tuple(
        (words, f"buildgap fieldtest {command} {_at(folder, f'{FIELDTEST}/{name}')}")
        for words, command, name in (
            ("Turn runs into drag and rolling figures", "infer", "testday.toml"),
            ("Judge observed times", "verdict", "two-climbs.toml"),
            ("Plan runs that tell two builds apart", "runs", "runs.toml"),
        )
    )
    return JobSet(contents, rows, commands)


def _bunch(folder: Path) -> JobSet:
    command = " ".join([
        "buildgap bunch --course", _at(folder, "course"), "--rider", _at(folder, "rider.toml"),
        "--build", _at(folder, "plover.toml"), "--build", _at(folder, "gannet.toml"),
        "--bunch", _at(folder, "bunch.toml"),
    ])  # fmt: skip
    return JobSet(
        {"bunch.toml": starter_path("configs/bunch.toml").read_bytes()},
        (("bunch.toml", "a bunch, and your place in it"),),
        (("See what it costs to stay in the bunch", command),),
    )


JOBS = {"spend": _spend, "fieldtest": _fieldtest, "bunch": _bunch}
"""Job -> what makes its files."""


def _text(name: str) -> str:
    return starter_path(f"configs/{name}").read_text(encoding="utf-8")


def _at(folder: Path, name: str) -> str:
    return shlex.quote((folder / name).as_posix())
