"""The door of the report room is light; a table in the terminal needs no pictures."""

import importlib
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
        # The thing itself, not a module that happens to share its name; a constant has no name.
        home = importlib.import_module(f"simulator.report.{door._FILES[name]}")
        assert getattr(door, name) is getattr(home, name)
        assert name.isupper() or getattr(door, name).__name__ == name
