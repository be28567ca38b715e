"""Write docs/names.md: every name and colour that a user meets, and where it comes from.

Run from anywhere: ``python docs/make_names.py``. A test holds the page to what this gives.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import names_found
from file_keys import KINDS, keys_of
from name_origins import origin_of

PAGE = Path(__file__).with_name("names.md")

HEAD = """\
# Names and looks

*Made by `make docs` from the commands, schemas, tables, pictures and pages. Do not edit; the
origins stand in `docs/name_origins.py`.*

Every name that a user meets, with where it comes from: **trade** is a word that racers, mechanics
and papers use; **standard** one of an open standard or of common practice; **own** plain words
chosen here. No name, colour, layout or wording is taken from an existing program for this job; a
trademarked measure of effort is never used (the mean of power to the fourth is called what it is).

## Rules for a new name

1. Say what it is in plain words, as two racers would.
2. A quantity ends in its unit.
3. Would somebody who uses one certain program say "that is theirs"? Then take another word.
4. Run `make docs` and read the line that the new name gets.

## Words looked at twice

| Word | Why |
|---|---|
| segment | In files for programs only: one row a piece of road of some metres. What people read \
are climbs, descents, flats and corners. |
| gap | What the board of a race shows between two riders. |
| 4th W, fourth-power mean | What it is: the fourth root of the mean fourth power, unsmoothed. \
Protected names of its like are not used. |
| W′, critical power | Physiology; the balance is called "W′ left". |
| powerplan | A plan of power, in plain words; "pace" alone is what every stop-watch has. |
| replay | Plain English for riding recorded power again. |
| recorded | One word for a ride that was recorded, in every command. |
| roll-down, coast | Words of papers on drag measured on the road. |
| bunch, wheel, turn, place | Words of the road. |
| verdict, suspect, doubt | Plain English. |

## Looks

- Builds are told apart by the colours of Okabe and Ito (Color Universal Design, 2008), which are
  free to use and safe for the common kinds of colour blindness; the first build is always the first
  colour, and each line carries its name.
- Everything else is ink on paper in greys, with two pale bands for climbs and descents.
- Pictures stack what belongs to one road on one distance axis. Pages are one column of text, tables
  and pictures, without a dashboard, a map or a logo.
- Figures are set in the fonts that come with the drawing library, pages in the reader's own.
"""


def page_text() -> str:
    """The whole page."""
    keys: dict[str, list[str]] = {}
    for kind in KINDS:
        for key in keys_of(kind.schema):
            where = keys.setdefault(key.name, [])
            if kind.title not in where:
                where.append(kind.title)
    commands = names_found.commands()
    return "\n".join(
        [
            HEAD,
            "## Colours\n",
            "| Name | Colour |\n|---|---|",
            *(f"| {name} | `{colour}` |" for name, colour in names_found.colours().items()),
            "\n## Commands\n",
            "| Command | What it does | Origin |\n|---|---|---|",
            *(
                f"| `{name}` | {command.get_short_help_str(200)} | {origin_of(name)} |"
                for name, command in commands.items()
            ),
            _listed("Options", names_found.options(), code=True),
            _listed("Keys of files", dict(sorted(keys.items())), code=True),
            _listed("Columns of tables", names_found.columns()),
            _listed("Captions of tables", names_found.captions()),
            _listed("Axes of pictures", names_found.axes()),
            _listed("Headings of pages", names_found.headings()),
            _listed("Keys of JSON files, top level", names_found.json_keys(), code=True),
            _listed("Files that are written", names_found.written_files(), code=True),
            "",
        ]
    )


def _listed(title: str, names: dict[str, list[str]], *, code: bool = False) -> str:
    def shown(name: str) -> str:
        return f"`{name}`" if code else name.replace("|", "\\|")

    return "\n".join(
        [
            f"\n## {title}\n",
            "| Name | Where | Origin |\n|---|---|---|",
            *(
                f"| {shown(name)} | {_where(where)} | {origin_of(name)} |"
                for name, where in names.items()
            ),
        ]
    )


def _where(places: Iterable[str]) -> str:
    return ", ".join(dict.fromkeys(places))


if __name__ == "__main__":
    PAGE.write_text(page_text(), encoding="utf-8")
