"""What kind of file something is, told by its content, and whether it is sound."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from simulator.errors import InputError, InputErrors

if TYPE_CHECKING:
    from simulator.cli.soundness import Verdict

HEAD_BYTES = 512
_KNOWN = (
    "a build, rider, weather, pacing, parts, spend, bunch, field test or course file (TOML), a "
    "track (GPX), a course folder, zones (GeoJSON), a recording (FIT, TCX, CSV), an elevation tile "
    "or a typical year"
)
_CSV_HEAD = re.compile(
    r"(?:#[^\n]*\n)*[\w\s]*\b(?:time_s|time)\b[\w\s]*(?:[,;]|\t(?!\s*=))", re.IGNORECASE
)

_KEY = re.compile(r"key `(\w+)`")
"""A key of the file itself; one inside a table tells nothing of the kind."""

_GIVEN_AS = {
    "build": "a build, which goes with `--build`",
    "rider": "a rider, which goes with `--rider`",
    "weather": "a weather, which goes with `--weather`",
    "pacing": "a pacing, which goes with `--pacing`",
    "parts": "a catalogue of parts, which goes with `--parts`",
    "spend": "a plan of budgets and races, which goes with `--plan`",
    "bunch": "a bunch, which goes with `--bunch`",
    "course": "a course, which goes with `--course`",
}

KEYS: dict[str, set[str]] = {
    "spend": {"budgets", "race"},
    "bunch": {"place", "places", "factors", "spacing_m", "close_s", "lost_m", "turn_s"}
    | {"turn_every_s", "form_sd_pct", "break_laps", "sprint_m", "recorded_place"},
    "testday": {"run"},
    "verdict": {"climb", "believable"},
    "runplan": {"option", "most_runs"},
}
"""Keys that tell files whose rooms would load the kernels for every check if asked themselves."""


def check_file(path: Path, *, tiles_path: Path | None = None) -> Verdict:
    """Recognise a file by its content and check it as a whole.

    Parameters
    ----------
    path : Path
        File or folder.
    tiles_path : Path, optional
        Folder with elevation tiles, for tracks without heights.

    Raises
    ------
    InputError
        If it is of no known kind or not sound.
    """
    from simulator.cli import soundness

    match _kind_of(path):
        case "course":
            return soundness.check_course(path, tiles_path)
        case "recording":
            return soundness.check_recording(path)
        case "zones":
            return soundness.check_zones(path)
        case "tile":
            return soundness.check_tile(path)
        case "year":
            return soundness.check_year(path)
        case _:
            return _check_toml(path, tiles_path)


def _kind_of(path: Path) -> str:
    """What a file is by its first bytes: "course", "recording", "zones", "tile", "year", "toml"."""
    suffix = path.suffix.lower()
    if path.is_dir():
        return "course"
    try:
        with path.open("rb") as stream:
            head = stream.read(8 * HEAD_BYTES)
    except (OSError, ValueError):
        return "course" if suffix == ".gpx" else "toml"  # its reader says what is the matter
    if ".hgt" in (suffix, Path(path.stem).suffix.lower()):
        return "tile"
    if head[8:12] == b".FIT":
        return "recording"
    if head[:2] in (b"PK", b"\x1f\x8b"):
        raise _unknown(path, "a packed file", "unpack it first")
    return _kind_of_text(path, head)


def _kind_of_text(path: Path, head: bytes) -> str:
    for mark, encoding in ((b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be")):
        if head.startswith(mark):
            text = head[2 : 2 + len(head) // 4 * 2].decode(encoding, "ignore").lstrip()
            break
    else:
        if b"\x00" in head:
            raise _unknown(path, "a file that is not text", "")
        text = head.decode("utf-8-sig", "replace").lstrip()
    if text.startswith("<"):
        is_tcx = re.search(r"<(?:\w+:)?TrainingCenterDatabase\b", text, re.IGNORECASE)
        return "recording" if is_tcx else "course"
    if text.startswith(("{", "[{", "[]")) and path.suffix.lower() != ".toml":
        return "zones"
    if text.startswith("LOCATION,") or "Wspd (m/s)" in text:
        return "year"
    is_recording = path.suffix.lower() in ((".csv",) if text else (".csv", ".fit", ".tcx"))
    if is_recording or _CSV_HEAD.match(text):
        return "recording"
    return "course" if not text and path.suffix.lower() == ".gpx" else "toml"


def _unknown(path: Path, found: str, mend: str) -> InputError:
    return InputError(file=str(path), found=f"this is {found}", expected=_KNOWN, mend=mend)


def kind_hint(error: InputError) -> str:
    """A sentence on a TOML file whose wrong keys are those of another kind of file; or nothing."""
    from simulator.files import load_toml

    try:
        kinds = _toml_kinds()
        telling = _telling(set(load_toml(Path(error.file))), kinds)
    except (InputError, OSError, ValueError):
        return ""
    best = max(telling, key=lambda name: telling[name])
    if telling[best] == 0 or best not in _GIVEN_AS:
        return ""
    for problem in error.problems if isinstance(error, InputErrors) else (error,):
        key = _KEY.search(problem.place)
        is_known = key is not None and key[1] in kinds[best]
        if ("not known" in problem.found and is_known) or (
            "is missing" in problem.found and key is not None and not is_known
        ):
            return f"{error.file}: its keys are those of {_GIVEN_AS[best]}."
    return ""


def _toml_kinds() -> dict[str, set[str]]:
    """Every kind of TOML file and its keys."""
    from simulator.course import CourseFile
    from simulator.pacing import PacingFile
    from simulator.setup import BuildFile, PartsFile, RiderFile, WeatherFile

    return {
        "build": set(BuildFile.model_fields),
        "rider": set(RiderFile.model_fields),
        "weather": set(WeatherFile.model_fields),
        "pacing": set(PacingFile.model_fields),
        "parts": set(PartsFile.model_fields),
        **KEYS,
        "course": set(CourseFile.model_fields),
    }


def _telling(written: set[str], kinds: dict[str, set[str]]) -> dict[str, int]:
    """How many keys of a file belong to one kind alone."""
    return {
        name: len(written & keys - set().union(*(k for n, k in kinds.items() if n != name)))
        for name, keys in kinds.items()
    }


def _check_toml(path: Path, tiles_path: Path | None) -> Verdict:
    from simulator.cli import soundness
    from simulator.files import load_toml

    try:
        written = set(load_toml(path))
    except InputError as error:
        if "not valid TOML" in error.found and path.suffix.lower() != ".toml":
            raise _unknown(path, "a file of an unknown kind", "") from None
        raise
    telling = _telling(written, _toml_kinds())
    best = max(telling, key=lambda name: (telling[name], name in path.stem.casefold()))
    if telling[best] == 0 and best not in path.stem.casefold():
        some = ", ".join(f"`{name}`" for name in sorted(written)[:3])
        raise InputError(
            file=str(path),
            found=f"no key tells what this file is ({some})" if some else "the file has no keys",
            expected=_KNOWN,
            mend="`buildgap new FOLDER` writes an example of each, those of a job with `--for`",
        )
    if best == "course":
        return soundness.check_course(path, tiles_path)
    check: Callable[[Path], Verdict] = getattr(soundness, f"check_{best}")
    return check(path)
