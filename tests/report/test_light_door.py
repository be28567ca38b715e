"""The door of the report room is light; a table in the terminal needs no pictures."""

import json
import subprocess
import sys

import simulator.report as door

HEAVY = ["matplotlib", "jinja2", "PIL"]


def loaded_after(code):
    shown = f"{code}\nimport sys, json\nprint(json.dumps([m for m in {HEAVY} if m in sys.modules]))"
    done = subprocess.run(
        [sys.executable, "-c", shown], capture_output=True, text=True, timeout=60, check=True
    )
    return json.loads(done.stdout)


def test_import_of_the_door_and_of_the_terminal_loads_neither_pictures_nor_templates():
    assert loaded_after("import simulator.report") == []
    assert loaded_after("from simulator.report import gap_text, make_gap_view") == []


def test_everything_that_the_door_promises_is_there():
    assert set(door.__all__) == set(door._FILES)
    for name in door.__all__:
        assert getattr(door, name).__name__ == name
