"""Every example in a help text is a command that runs, on files of the names it uses."""

import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import click
import pytest

from simulator.cli import main

ROOT = Path(__file__).parents[2]
CONFIGS, COURSES = ROOT / "configs", ROOT / "courses"


def commands():
    """Path of names -> click command, subcommands too."""
    context = click.Context(main.group)
    found = {(): main.group}
    for name in main.COMMANDS:
        command = main.group.get_command(context, name)
        found[(name,)] = command
        if isinstance(command, click.Group):
            found |= {(name, inner): each for inner, each in command.commands.items()}
    return found


ALL = commands()


def examples(command):
    text = command.help or ""
    behind = text.partition("Example")[2]
    return [line.strip() for line in behind.splitlines() if line.strip().startswith("buildgap ")]


EXAMPLES = sorted({line for command in ALL.values() for line in examples(command)})


@pytest.mark.parametrize("names", ALL, ids=lambda names: " ".join(names) or "buildgap")
def test_each_command_has_an_example_of_its_own(names):
    found = examples(ALL[names])
    assert found
    assert all(shlex.split(line)[1 : 1 + len(names)] == list(names) for line in found)


@pytest.mark.parametrize("line", EXAMPLES)
def test_examples_use_options_that_exist(line):
    words = shlex.split(line)[1:]
    names = tuple(words[:2]) if tuple(words[:2]) in ALL else tuple(words[:1])
    context = ALL[names].make_context(names[-1], words[len(names) :])
    assert context.params


@pytest.fixture(scope="module")
def desk(tmp_path_factory):
    """A folder with a file of each name that the examples use."""
    folder = tmp_path_factory.mktemp("desk")
    for words in (
        ["new", str(folder / "season"), "--for", "spend", "--for", "fieldtest", "--for", "bunch"],
    ):
        with pytest.raises(SystemExit) as left:
            main.run(words)
        assert left.value.code == 0
    for path in (folder / "season").iterdir():
        if path.suffix == ".toml" or path.name == "course":
            shutil.move(path, folder / path.name)
    for path in (folder / "season" / "fieldtest").iterdir():
        text = path.read_text(encoding="utf-8") if path.is_file() else ""
        if text:
            (folder / path.name).write_text(text.replace('"../', '"'), encoding="utf-8")
    shutil.copytree(folder / "season" / "fieldtest" / "steady-climb", folder / "steady-climb")
    copies = {
        "plover.toml": ("mine.toml", "a.toml"),
        "gannet.toml": ("dream.toml", "b.toml"),
        "rider.toml": ("me.toml",),
        "weather.toml": ("day.toml",),
        "pacing.toml": ("plan.toml", "easy.toml", "hard.toml"),
    }
    for name, others in copies.items():
        for other in others:
            shutil.copy(folder / name, folder / other)
    hill = COURSES / "steady-climb" / "track.gpx"
    for name in ("race.gpx", "a.gpx", "b.gpx"):
        shutil.copy(hill, folder / name)
    shutil.copy(COURSES / "town-criterium" / "track.gpx", folder / "crit.gpx")
    shutil.copytree(COURSES / "three-hills", folder / "courses" / "three-hills")
    shutil.copytree(COURSES / "tiles", folder / "courses" / "tiles")
    shutil.copy(ROOT / "tests" / "setup" / "data" / "june_afternoons.epw", folder / "harbour.epw")
    write_ride(hill, folder / "ride.fit", folder / "race.fit")
    return folder


def write_ride(track, *paths):
    """A ride up the hill at 5 m/s, as CSV under another name: content tells the kind."""
    places = re.findall(r'lat="([-\d.]+)" lon="([-\d.]+)"', track.read_text(encoding="utf-8"))
    rows = [f"{2 * i},{lat},{lon},{230 + i % 40}" for i, (lat, lon) in enumerate(places)]
    for path in paths:
        path.write_text("\n".join(["time_s,lat_deg,lon_deg,power_w", *rows]), encoding="utf-8")


@pytest.mark.slow
@pytest.mark.parametrize("line", EXAMPLES)
def test_examples_run(desk, line):
    done = subprocess.run(
        [sys.executable, "-m", "simulator", *shlex.split(line)[1:]],
        cwd=desk,
        capture_output=True,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        check=False,
    )
    if "exists already" in done.stderr:
        done = subprocess.run(
            [sys.executable, "-m", "simulator", *shlex.split(line)[1:], "--overwrite"],
            cwd=desk,
            capture_output=True,
            text=True,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            check=False,
        )
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip()
    assert done.stderr == ""
