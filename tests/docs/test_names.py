"""docs/names.md lists what the program shows, each name with where it comes from."""

import re
import sys
from pathlib import Path

from simulator.cli.main import COMMANDS

DOCS = Path(__file__).parents[2] / "docs"
sys.path.insert(0, str(DOCS))

import make_names  # noqa: E402
import name_origins  # noqa: E402
import names_found  # noqa: E402

PAGE = (DOCS / "names.md").read_text(encoding="utf-8")


def test_the_page_is_what_the_script_makes():
    assert make_names.page_text() == PAGE, "run `python docs/make_names.py`, read your new lines"


def test_every_command_and_what_is_below_it_is_found():
    assert set(COMMANDS) <= set(names_found.commands())
    assert "powerplan solve" in names_found.commands()
    assert "compare" in names_found.options()["--draws"]


def test_what_is_seen_on_a_page_and_in_a_terminal_is_found():
    """Names that a reader of the demo sees, looked up on the other side."""
    assert "Grade" in names_found.columns()
    assert "Where" in names_found.headings()
    assert "W′ left, kJ" in names_found.axes()
    assert names_found.colours()["BUILD_COLOURS 1"] == "#0072B2"  # Okabe and Ito's blue
    assert {"index.html", "ride.csv", "course.csv"} <= set(names_found.written_files())


def test_origins_that_are_told_are_used():
    """A word in the lists of origins that names nothing is a dead entry."""
    rows = "\n".join(PAGE.splitlines())
    dead = [word for word in name_origins.TRADE if f"trade: {word}, " not in rows]
    dead += [
        name
        for name, what in name_origins.STANDARD.items()
        if not re.search(rf"\| `?{re.escape(name)}`? \|.*\| standard: {re.escape(what)} \|", rows)
    ]
    assert dead == []
