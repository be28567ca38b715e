"""What kind of file something is, told by its content, and whether it is sound."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from simulator.errors import InputError

HEAD_BYTES = 512
_KNOWN = (
    "a build, rider, weather, pacing, parts, spend, bunch or course file (TOML), a track (GPX) "
    "or a course folder"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What a sound file holds, in one line, and what should be known about its data."""

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
    from simulator.units import kmh_from_mps

    noon = read_usual_hour(path, month=6, hour=14)
    return Verdict(
        text=f"typical-year weather file of {noon.site}: in June at 14:00 usually "
        f"{kmh_from_mps(noon.wind_mps.value):.3g} km/h from {noon.wind_from_deg.value:.0f}°; "
        "`buildgap weather` shows other months and hours"
    )


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
        text=f"build {build.name}: {build.mass_kg.value:g} kg, CdA {build.cda_m2.value:g} m², "
        f"Crr {build.crr.value:g}",
        findings=_left_to_defaults(build.source),
    )


def _check_rider(path: Path) -> Verdict:
    from simulator.setup import load_rider

    rider = load_rider(path)
    carried_kg = rider.kit_kg.value + rider.bottles_kg.value
    return Verdict(
        text=f"rider {rider.name}: {rider.mass_kg.value:g} kg and {carried_kg:g} kg carried, "
        f"{rider.power_w.value:g} W",
        findings=_left_to_defaults(rider.source),
    )


def _check_weather(path: Path) -> Verdict:
    from simulator.setup import load_weather
    from simulator.units import kmh_from_mps

    day = load_weather(path)
    wind_kmh = kmh_from_mps(day.wind_mps.value)
    wind = f"wind {wind_kmh:.3g} km/h from {day.wind_from_deg.value:g}°" if wind_kmh else "no wind"
    return Verdict(
        text=f"weather {day.name}: {day.temperature_degc.value:g} °C, "
        f"{day.pressure_hpa.value:g} hPa, {wind}, road {'wet' if day.is_wet else 'dry'}",
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
        text=f"course {course.name}: {course.distance_m / 1000:.2f} km{laps}, "
        f"{course.ascent_m:.0f} m of climbing, {len(course.corners)} corners",
        findings=tuple(f"{finding.level}: {finding.text}" for finding in course.findings),
    )


def _left_to_defaults(source: str) -> tuple[str, ...]:
    _, mark, keys = source.rpartition("defaults for ")
    return (f"note: left to their defaults: {keys}",) if mark else ()
