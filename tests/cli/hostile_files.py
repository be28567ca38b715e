"""A whole set of files whose every free text is hostile, and every command that reads it."""

import re
from pathlib import Path

from simulator.cli.startset import start_files
from simulator.starters import starter_path

EVIL = "=,=1;@a</title></script><evil>\"'../"
"""A formula to a spreadsheet, markup to a page, a way out to a folder."""
STEER = "\x1b[31m\u202e"
"""Letters that steer a terminal."""

TEXT_KEYS = (
    "name|now|note|source|currency|why|tyres|clothing|fitting|swapped|meter_zero|wind|slot|road"
    "|build|from_gate|to_gate|swap_of"
)
LIST_KEYS = "provides|needs|excludes|slots|bike_provides"


def _toml(text):
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def hostile_toml(text):
    """The same file with `EVIL` before each text that people may choose freely."""

    def spoil(match):
        return f"{match[1]} = {_toml(EVIL + match[2])}"

    def spoil_list(match):
        words = re.findall(r'"([^"]*)"', match[2])
        return f"{match[1]} = [{', '.join(_toml(EVIL + word) for word in words)}]"

    text = re.sub(rf'(?m)^({TEXT_KEYS}) = "([^"]*)"', spoil, text)
    return re.sub(rf"(?m)^({LIST_KEYS}) = \[(.*)\]$", spoil_list, text)


def hostile_set(folder):
    """Write rider, builds, weather, pacing, parts, plan, course, test days, bunch."""
    contents = start_files(folder, None, ("spend", "fieldtest", "bunch"))
    hill = starter_path("courses/steady-climb")
    for name in ("course.toml", "track.gpx"):
        contents[f"course/{name}"] = (hill / name).read_bytes()
    for name, data in contents.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        if name.endswith(".toml"):
            text = hostile_toml(data.decode("utf-8"))
            if name.startswith("course/"):
                text = "name = " + _toml(EVIL + STEER.encode("unicode_escape").decode()) + "\n"
                text = text.replace("\\\\x1b", "\\u001b").replace("\\\\u202e", "\\u202e")
                text += 'track = "track.gpx"\nzones = "zones.geojson"\n[[label]]\nat_km = 1.0\n'
                text += f"name = {_toml(EVIL)}\n[[corner]]\nat_km = 0.9\nradius_m = 30\n"
                text += f"name = {_toml(EVIL)}\n[[fix]]\nfrom_km = 2.0\nto_km = 2.1\n"
                text += f"why = {_toml(EVIL)}\n[[restart]]\nat_km = 2.5\nwhy = {_toml(EVIL)}\n"
                text += f"[[gate]]\nat_km = 3\nname = {_toml(EVIL)}\n"
            data = text.encode("utf-8")
        elif name.endswith(".gpx"):
            evil = EVIL.replace("<", "&lt;")
            data = re.sub(r"<name>.*?</name>", f"<name>{evil}</name>", data.decode()).encode()
        elif name.endswith(".geojson"):
            evil = EVIL.replace('"', '\\"')
            data = re.sub(r'"name": "[^"]*"', f'"name": "{evil}"', data.decode()).encode()
        path.write_bytes(data)
    return folder


def commands(folder, out):
    """Name of a job -> words behind ``buildgap``; results of each go to a folder of its own."""

    def at(name):
        return str(Path(folder) / name)

    course = ["--course", at("course")]
    rider = ["--rider", at("rider.toml")]
    air = ["--weather", at("weather.toml")]
    one = ["--build", at("plover.toml")]
    both = [*one, "--build", at("gannet.toml")]
    plan = [*course, *one, *rider]
    made = {
        "compare": ["compare", *course, *both, *rider, *air, "--draws", "200"],
        "three": ["compare", *course, *both, "--build", at("fieldtest/plover-light.toml"),
                  "--draws", "200"],
        "races": ["compare", *course, "--course", at("fieldtest/steady-climb"), *both],
        "ride": ["ride", *course, *one, *rider, *air, "--pacing", at("pacing.toml")],
        "spend": ["spend", *one, "--target", at("gannet.toml"), *rider, "--parts",
                  at("parts.toml"), "--budget", "300", *course, "--draws", "50"],
        "infer": ["fieldtest", "infer", at("fieldtest/testday.toml")],
        "verdict": ["fieldtest", "verdict", at("fieldtest/two-climbs.toml")],
        "runs": ["fieldtest", "runs", at("fieldtest/runs.toml")],
        "try": ["powerplan", "try", *plan, "--pacing", at("pacing.toml")],
        "solve": ["powerplan", "solve", *plan, "--changes", "2"],
        "card": ["powerplan", "card", *plan, "--changes", "2"],
        "bunch": ["bunch", *course, *both, *rider, "--bunch", at("bunch.toml")],
        "export": ["course", "export", at("course")],
    }  # fmt: skip
    return {name: [*words, "--out", str(Path(out) / name)] for name, words in made.items()}
