"""What kind of file something is, told by its content, and whether it is sound."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from simulator.errors import InputError
from simulator.measures import Measures, Phrase, amount

HEAD_BYTES = 512
_KNOWN = (
    "a build, rider, weather, pacing, parts, spend, bunch or course file (TOML), a track (GPX) "
    "or a course folder"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What a sound file holds, in one line, and what should be known about its data.

    Both are `Phrase`s where they hold quantities.
    """

    text: str
    findings: tuple[str, ...] = ()


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
    if path.is_dir() or _looks_like_a_track(path):
        return _check_course(path, tiles_path)
    if _looks_like_a_year(path):
        return _check_year(path)
    return _check_toml(path, tiles_path)


def _looks_like_a_track(path: Path) -> bool:
    """Whether the file is XML; refuses what is neither XML nor text."""
    try:
        with path.open("rb") as stream:
            head = stream.read(HEAD_BYTES)
    except (OSError, ValueError):
        return path.suffix.lower() == ".gpx"  # its reader says what is the matter
    if head[8:12] == b".FIT":
        raise _unknown(path, "a FIT recording", "export the ride as GPX")
    if head[:2] in (b"PK", b"\x1f\x8b"):
        raise _unknown(path, "a packed file", "unpack it first")
    for mark, encoding in ((b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be")):
        if head.startswith(mark):
            return head[2 : 2 + HEAD_BYTES // 4 * 2].decode(encoding, "ignore").lstrip()[:1] == "<"
    if b"\x00" in head:
        raise _unknown(path, "a file that is not text", "")
    start = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    if start[:1] == b"{":
        raise _unknown(path, "a JSON file", "zones are checked with the course they belong to")
    return start[:1] == b"<" or (not start and path.suffix.lower() == ".gpx")


def _looks_like_a_year(path: Path) -> bool:
    """Whether the file begins like a typical-year weather file."""
    from simulator.setup import is_typical_year

    try:
        with path.open("rb") as stream:
            return is_typical_year(stream.read(8 * HEAD_BYTES).decode("utf-8", errors="replace"))
    except (OSError, ValueError):
        return False


def _check_year(path: Path) -> Verdict:
    from simulator.setup import read_usual_hour

    noon = read_usual_hour(path, month=6, hour=14)
    text = Phrase(
        "typical-year weather file of {site}: in June at 14:00 usually {wind} from {side}°; "
        "`buildgap weather` shows other months and hours",
        site=noon.site,
        wind=amount(Measures.speed_as_written, noon.wind_mps.value),
        side=f"{noon.wind_from_deg.value:.0f}",
    )
    return Verdict(text=text)


def _unknown(path: Path, found: str, mend: str) -> InputError:
    return InputError(file=str(path), found=f"this is {found}", expected=_KNOWN, mend=mend)


def _check_toml(path: Path, tiles_path: Path | None) -> Verdict:
    from simulator.course import CourseFile
    from simulator.files import load_toml
    from simulator.pacing import PacingFile
    from simulator.setup import BuildFile, PartsFile, RiderFile, WeatherFile

    kinds: dict[str, tuple[set[str], Callable[[], Verdict]]] = {
        "build": (set(BuildFile.model_fields), lambda: _check_build(path)),
        "rider": (set(RiderFile.model_fields), lambda: _check_rider(path)),
        "weather": (set(WeatherFile.model_fields), lambda: _check_weather(path)),
        "pacing": (set(PacingFile.model_fields), lambda: _check_pacing(path)),
        "parts": (set(PartsFile.model_fields), lambda: _check_parts(path)),
        # Not by their schemas: the rooms that read these would load the kernels for every check.
        "spend": ({"budgets", "race"}, lambda: _check_spend(path)),
        "bunch": (
            {"place", "places", "factors", "spacing_m", "close_s", "lost_m", "turn_s"}
            | {"turn_every_s", "form_sd_pct", "break_laps", "sprint_m"},
            lambda: _check_bunch(path),
        ),
        "course": (set(CourseFile.model_fields), lambda: _check_course(path, tiles_path)),
    }
    try:
        written = set(load_toml(path))
    except InputError as error:
        if "not valid TOML" in error.found and path.suffix.lower() != ".toml":
            raise _unknown(path, "a file of an unknown kind", "") from None
        raise
    telling = {
        name: len(written & keys - set().union(*(k for n, (k, _) in kinds.items() if n != name)))
        for name, (keys, _) in kinds.items()
    }
    best = max(telling, key=lambda name: (telling[name], name in path.stem.casefold()))
    if telling[best] == 0 and best not in path.stem.casefold():
        some = ", ".join(f"`{name}`" for name in sorted(written)[:3])
        raise InputError(
            file=str(path),
            found=f"no key tells what this file is ({some})" if some else "the file has no keys",
            expected=_KNOWN,
            mend="`buildgap new FOLDER` writes an example of each",
        )
    return kinds[best][1]()


def _check_build(path: Path) -> Verdict:
    from simulator.setup import load_build

    build = load_build(path)
    return Verdict(
        text=Phrase(
            "build {name}: {mass}, CdA {cda} m², Crr {crr}",
            name=build.name,
            mass=amount(Measures.mass_as_written, build.mass_kg.value),
            cda=f"{build.cda_m2.value:g}",
            crr=f"{build.crr.value:g}",
        ),
        findings=_left_to_defaults(build.source),
    )


def _check_rider(path: Path) -> Verdict:
    from simulator.setup import load_rider

    rider = load_rider(path)
    carried_kg = rider.kit_kg.value + rider.bottles_kg.value
    return Verdict(
        text=Phrase(
            "rider {name}: {mass} and {carried} carried, {power} W",
            name=rider.name,
            mass=amount(Measures.mass_as_written, rider.mass_kg.value),
            carried=amount(Measures.mass_as_written, carried_kg),
            power=f"{rider.power_w.value:g}",
        ),
        findings=_left_to_defaults(rider.source),
    )


def _check_weather(path: Path) -> Verdict:
    from simulator.setup import load_weather

    day = load_weather(path)
    wind = Phrase(
        "wind {speed} from {side}°",
        speed=amount(Measures.speed_as_written, day.wind_mps.value),
        side=f"{day.wind_from_deg.value:g}",
    )
    return Verdict(
        text=Phrase(
            "weather {name}: {temperature}, {pressure} hPa, {wind}, road {road}",
            name=day.name,
            temperature=amount(Measures.temperature_as_written, day.temperature_degc.value),
            pressure=f"{day.pressure_hpa.value:g}",
            wind=wind if day.wind_mps.value else "no wind",
            road="wet" if day.is_wet else "dry",
        ),
        findings=_left_to_defaults(day.source),
    )


def _check_pacing(path: Path) -> Verdict:
    from simulator.pacing import load_pacing

    pacing = load_pacing(path)
    n_rules = len(pacing.rules)
    return Verdict(text=f"pacing {pacing.name}: {n_rules} rule{'' if n_rules == 1 else 's'}")


def _check_parts(path: Path) -> Verdict:
    from simulator.setup import load_parts

    catalogue = load_parts(path)
    text = f"catalogue: {len(catalogue.parts)} parts for {len(catalogue.slots)} slots"
    return Verdict(text=text)


def _check_spend(path: Path) -> Verdict:
    from simulator.spend import load_plan

    budgets, races = load_plan(path)
    return Verdict(text=f"plan: budgets {', '.join(f'{b:g}' for b in budgets)}; {len(races)} races")


def _check_bunch(path: Path) -> Verdict:
    from simulator.bunch import load_bunch

    rules = load_bunch(path)
    return Verdict(text=f"bunch {rules.name}: place {rules.place:g}")


def _check_course(path: Path, tiles_path: Path | None) -> Verdict:
    from simulator.course import build_course

    course = build_course(path, tiles_folder=tiles_path)
    laps = f" in {course.n_laps} laps" if course.n_laps > 1 else ""
    return Verdict(
        text=Phrase(
            "course {name}: {length}{laps}, {ascent} of climbing, {n} corners",
            name=course.name,
            length=amount(Measures.distance, course.distance_m, 2),
            laps=laps,
            ascent=amount(Measures.height, course.ascent_m),
            n=str(len(course.corners)),
        ),
        findings=tuple(
            Phrase(f"{finding.level}: {{text}}", text=finding.text) for finding in course.findings
        ),
    )


def _left_to_defaults(source: str) -> tuple[str, ...]:
    _, mark, keys = source.rpartition("defaults for ")
    return (f"note: left to their defaults: {keys}",) if mark else ()
