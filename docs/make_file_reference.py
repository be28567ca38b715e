"""Write docs/files.md, the reference of every kind of file, from the schemas.

Run from anywhere: ``python docs/make_file_reference.py``. A test holds the page to what this gives.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from file_keys import KINDS, FileKind, Key, tables_of

PAGE = Path(__file__).with_name("files.md")

HEAD = """\
# Files

*Made by `make docs` from the schemas that check the files. Do not edit.*

What people write is TOML: one small file a thing, text that any editor opens. Each kind has a
commented example in `configs/`; `buildgap new my-race` writes a set of them, and
`buildgap check FILE...` says in one sentence each what is wrong.

- **Keys end in their unit.** `mass_kg` is in kg, `wind_kmh` in km/h. Decimals have a point.
- **number ±** means that the number may carry its standard uncertainty:
  `crr = { value = 0.0042, sd = 0.0003 }`. A bare number is taken as exact, and the result says so.
- **None** under *default* means that nothing stands in for the key.
- An unknown key is an error that names the nearest known one.
- Names of files inside a file are relative to the folder of that file.
- A `[table]` is written once, a `[[table]]` as often as wanted.

| Kind | Used by | Example |
|---|---|---|
"""

TAIL = """\
## Other files that are read

| File | What is read |
|---|---|
| Track | GPX 1.0 or 1.1: positions and heights; times are not needed. |
| Recording | FIT, GPX with extensions, TCX, or CSV with the columns `time_s` or `time`, \
`lat_deg`, `lon_deg`, `height_m`, `distance_m`, `speed_mps` or `speed_kmh`, `power_w`, \
`cadence_rpm`, `temperature_degc`. Times are seconds, hours, minutes and seconds as in \
`1:02:03`, or a date and time as in `2026-05-17T09:00:00`. |
| Elevation tiles | HGT, bare or zipped, named after the south-west corner (`N44W036.hgt`), in one \
folder; 1 or 3 arc seconds. |
| Zones | GeoJSON FeatureCollection of polygons (RFC 7946), see below. |
| Typical year | EPW or TMY3, for `buildgap weather`. |

### Properties of a zone

| Property | Meaning |
|---|---|
| `shelter` | {shelters}; or a number from 0 (no wind felt) to 1 (open) |
| `roughness_m` | roughness length of the surroundings in m, at most {most_roughness:g}; rougher \
surroundings are told by `shelter` |
| `surface` | {surfaces} |
| `crr_factor`, `grip_factor` | rolling resistance and grip over those of smooth dry asphalt, \
instead of a surface |
| `name` | what to call it |

A later zone wins over an earlier one. The factors of the words are common practice, without a
source; a number of your own is better.

## Files that are written

Results go to the folder of `--out`: `index.html` (one page, no network), pictures as PNG and SVG,
JSON (`schema`, `version`, every number in SI units, each key explained under `about`) and CSV where
a table is useful. Nothing that exists is replaced unless `--overwrite` is given; a file appears
under its name only when it is complete.
"""


def page_text() -> str:
    """The whole page."""
    from simulator.course.zones import MAX_ROUGHNESS_M, SHELTERS, SURFACES

    kinds = [
        f"| [{kind.title}](#{kind.anchor}) | {kind.used_by} | `{kind.example}` |" for kind in KINDS
    ]
    shelters = ", ".join(f'`"{word}"` ({factor:g})' for word, factor in SHELTERS.items())
    surfaces = "; ".join(
        f'`"{word}"` (rolling × {crr:g}, grip × {grip:g})' for word, (crr, grip) in SURFACES.items()
    )
    return "\n".join(
        [
            HEAD + "\n".join(kinds),
            *(_section(kind) for kind in KINDS),
            TAIL.format(shelters=shelters, surfaces=surfaces, most_roughness=MAX_ROUGHNESS_M),
        ]
    )


def _section(kind: FileKind) -> str:
    lines = ["", f"## {kind.title}"]
    for title, what, keys in tables_of(kind.schema):
        if title:
            lines += ["", f"### {kind.title}: `{title}`"]
        lines += [
            "",
            what,
            "",
            "| Key | Written as | Unit | Default | Range | Meaning |",
            "|---|---|---|---|---|---|",
            *(_row(key) for key in keys),
        ]
    return "\n".join([*lines, ""])


def _row(key: Key) -> str:
    cells = (f"`{key.name}`", key.kind, key.unit, key.default, key.limits, key.meaning)
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


if __name__ == "__main__":
    PAGE.write_text(page_text(), encoding="utf-8")
