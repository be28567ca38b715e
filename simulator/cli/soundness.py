"""Whether a file of a known kind is sound, and what it holds, in one line."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from simulator.errors import CannotFinish, InputError
from simulator.measures import Measures, Phrase, amount

if TYPE_CHECKING:
    from simulator.files import StrictSchema

Worked = TypeVar("Worked")

_FEW = 2
"""Longer lists are told by their ends."""

TILE_NAME = re.compile(r"^([NS])(\d\d)([EW])(\d\d\d)\.hgt(\.zip)?$")
INSIDE = [0.025 + 0.05 * i for i in range(20)]
"""Places in a tile that are looked at, in degrees from its corner."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What a sound file holds, in one line, and what should be known about its data.

    Both are `Phrase`s where they hold quantities.
    """

    text: str
    findings: tuple[str, ...] = ()


def check_year(path: Path) -> Verdict:
    """A typical year."""
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


def check_build(path: Path) -> Verdict:
    """A build."""
    from simulator.setup import BuildFile, load_build

    build = load_build(path)
    return Verdict(
        text=Phrase(
            "build {name}: {mass}, CdA {cda} m², Crr {crr}",
            name=build.name,
            mass=amount(Measures.mass_as_written, build.mass_kg.value),
            cda=f"{build.cda_m2.value:g}",
            crr=f"{build.crr.value:g}",
        ),
        findings=_left_to_defaults(build.source, BuildFile),
    )


def check_rider(path: Path) -> Verdict:
    """A rider."""
    from simulator.setup import RiderFile, load_rider

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
        findings=_left_to_defaults(rider.source, RiderFile),
    )


def check_weather(path: Path) -> Verdict:
    """The weather of a day."""
    from simulator.setup import WeatherFile, load_weather

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
        findings=_left_to_defaults(day.source, WeatherFile),
    )


def check_pacing(path: Path) -> Verdict:
    """Pacing rules, and the recording that they replay."""
    from simulator.pacing import load_pacing

    pacing = load_pacing(path)
    n_rules = len(pacing.rules)
    return Verdict(text=f"pacing {pacing.name}: {n_rules} rule{'' if n_rules == 1 else 's'}")


def check_parts(path: Path) -> Verdict:
    """A catalogue of parts."""
    from simulator.setup import load_parts

    catalogue = load_parts(path)
    text = f"catalogue: {len(catalogue.parts)} parts for {len(catalogue.slots)} slots"
    return Verdict(text=text)


def check_spend(path: Path) -> Verdict:
    """Budgets and races, and the files that the races name."""
    from simulator.spend import load_plan

    budgets, races = load_plan(path)
    findings: list[str] = []
    for course in dict.fromkeys(race.course for race in races):
        findings += check_course(course, None).findings
    for weather in dict.fromkeys(race.weather for race in races if race.weather is not None):
        check_weather(weather)
    for pacing in dict.fromkeys(race.pacing for race in races if race.pacing is not None):
        check_pacing(pacing)
    count = f"{len(races)} race{'' if len(races) == 1 else 's'}"
    return Verdict(
        text=f"plan: budgets {', '.join(f'{b:g}' for b in budgets)}; {count}",
        findings=tuple(findings),
    )


def check_bunch(path: Path) -> Verdict:
    """A bunch."""
    from simulator.bunch import load_bunch

    rules = load_bunch(path)
    return Verdict(text=f"bunch {rules.name}: place {rules.place:g}")


def check_course(path: Path, tiles_path: Path | None) -> Verdict:
    """A track or a course folder, made into a course."""
    from simulator.course import build_course

    course = build_course(path, tiles_folder=tiles_path)
    laps = f" in {course.n_laps} laps" if course.n_laps > 1 else ""
    n_corners = len(course.corners)
    return Verdict(
        text=Phrase(
            "course {name}: {length}{laps}, {ascent} of climbing, {corners}",
            name=course.name,
            length=amount(Measures.distance, course.distance_m, 2),
            laps=laps,
            ascent=amount(Measures.height, course.ascent_m),
            corners=f"{n_corners} corner{'' if n_corners == 1 else 's'}",
        ),
        findings=tuple(
            Phrase(f"{finding.level}: {{text}}", text=finding.text) for finding in course.findings
        ),
    )


def check_testday(path: Path) -> Verdict:
    """A test day, the files it names, and its recordings."""
    from simulator.fieldtest import load_testday, repairs_told_once
    from simulator.recordings import read_recording

    day = load_testday(path)
    names = dict.fromkeys(run.written.recording for run in day.runs if run.written.recording)
    mended = {
        name: [repair.text for repair in read_recording(day.folder / name).repairs]
        for name in names
    }
    told = repairs_told_once(
        (run, mended[run.written.recording]) for run in day.runs if run.written.recording
    )
    names_of_builds = " and ".join(tested.name for tested in day.builds)
    return Verdict(
        text=f"test day {day.name}: {len(day.runs)} runs of {names_of_builds}",
        findings=tuple(Phrase("note: {text}", text=text) for text in told),
    )


def check_verdict(path: Path) -> Verdict:
    """Observed times of two builds: the files it names, and whether they can be judged."""
    from simulator.fieldtest import judge_file

    judged = _finished(path, lambda: judge_file(path))
    n_climbs = len(judged.climbs)
    return Verdict(
        text=f"verdict {judged.name}: times of {judged.first.name} and {judged.other.name} on "
        f"{n_climbs} stretch{'' if n_climbs == 1 else 'es'}"
    )


def check_runplan(path: Path) -> Verdict:
    """A plan of runs: the files it names, and whether it can be worked out."""
    from simulator.fieldtest import plan_file

    plan = _finished(path, lambda: plan_file(path))
    return Verdict(
        text=f"plan of runs {plan.name}: {len(plan.answers)} kinds of run for {plan.first} and "
        f"{plan.other}"
    )


def _finished(path: Path, work: Callable[[], Worked]) -> Worked:
    """The answer; a rider that comes to a halt is a fault of the file."""
    try:
        return work()
    except CannotFinish as halt:
        raise InputError(file=str(path), found=str(halt)) from None


def check_zones(path: Path) -> Verdict:
    """Zones as GeoJSON."""
    from simulator.course import read_zones

    zones = read_zones(path)
    told = [zone.name for zone in zones[:3]]
    names = ", ".join(told) + (" and more" if len(zones) > len(told) else "")
    count = f"{len(zones)} polygon{'' if len(zones) == 1 else 's'}"
    return Verdict(text=f"zones: {count}" + (f" ({names})" if names else ""))


def check_recording(path: Path) -> Verdict:
    """A recording of a ride: FIT, TCX or CSV, or GPX by name."""
    import numpy as np

    from simulator.recordings import read_recording

    ride = read_recording(path)
    has = ["power"] if ride.has_power else []
    has += ["positions"] if np.isfinite(ride.lats_deg).any() else []
    minutes = round(float(ride.times_s[-1]) / 60.0)
    return Verdict(
        text=f"recording ({ride.kind.upper()}): {ride.n_samples} samples in {minutes} min, with "
        + (" and ".join(has) or "neither power nor positions"),
        findings=tuple(Phrase("note: {text}", text=repair.text) for repair in ride.repairs),
    )


def check_tile(path: Path) -> Verdict:
    """An elevation tile; its name says where it lies."""
    import numpy as np

    from simulator.course import heights_from_tiles

    sides = TILE_NAME.match(path.name)
    if sides is None:
        raise InputError(
            file=str(path),
            found="the name of a tile must say where it lies",
            expected="its south-west corner, as in N44W036.hgt or N44W036.hgt.zip",
        )
    south = int(sides[2]) * (1 if sides[1] == "N" else -1)
    west = int(sides[4]) * (1 if sides[3] == "E" else -1)
    lats, lons = np.meshgrid(south + np.array(INSIDE), west + np.array(INSIDE))
    tile = heights_from_tiles(lats.ravel(), lons.ravel(), path.parent)
    known = tile.heights_m[np.isfinite(tile.heights_m)]
    if not known.size:
        return Verdict(text="elevation tile: no heights at all")
    return Verdict(
        text=Phrase(
            "elevation tile: from {low} to {high}, a post every {apart}",
            low=amount(Measures.height, float(known.min())),
            high=amount(Measures.height, float(known.max())),
            apart=amount(Measures.height, tile.post_spacing_m),
        ),
        findings=("doubt: parts of it are void",) if known.size < tile.heights_m.size else (),
    )


def _left_to_defaults(source: str, schema: type[StrictSchema]) -> tuple[str, ...]:
    """Keys that a file leaves out, with values as one writes them; a key ends in its unit."""
    _, _, keys = source.rpartition("defaults for ")
    fields = schema.model_fields
    # A source may say anything, these words as well.
    told = [key + _default_text(fields[key].default) for key in keys.split(", ") if key in fields]
    return (f"note: left to their defaults: {', '.join(told)}",) if told else ()


def _default_text(default: object) -> str:
    """A default as ``= 0.0044``; nothing for a table or what follows from other keys."""
    value = getattr(default, "value", default)
    match value:
        case bool():
            return f" = {str(value).lower()}"
        case int() | float():
            return f" = {value:g}"
        case str():
            return f' = "{value}"'
        case (first, *_, last):
            return f" = {first} to {last}" if len(value) > _FEW else f" = [{first}, {last}]"
    return ""
