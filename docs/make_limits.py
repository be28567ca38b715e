"""Write the table of docs/limits.md: how much an assumption matters on the shipped courses.

Run from anywhere: ``python docs/make_limits.py``. A slow test holds the page to what this gives.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from simulator import (
    compare_builds,
    example_path,
    load_course,
    load_weather,
    make_build,
    make_rider,
)
from simulator.course import Course
from simulator.setup import Build, Rider, Weather

PAGE = Path(__file__).with_name("limits.md")
COURSES = ("three-hills", "town-criterium")

BEGIN, END = "<!-- ridden -->\n\n", "\n\n<!-- end -->"


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One assumption, changed."""

    what: str
    course: Callable[[Course], Course] = lambda course: course
    build: Callable[[Build], Build] = lambda build: build
    rider_keys: tuple[tuple[str, object], ...] = ()
    weather: Callable[[Weather], Weather] = lambda weather: weather


def _tighter(course: Course) -> Course:
    radii_m = np.where(course.radii_m < 60.0, course.radii_m / 1.4, course.radii_m)
    return replace(course, radii_m=radii_m)


def _less_grip(build: Build) -> Build:
    grip = replace(build.grip_dry, value=build.grip_dry.value - 0.1)
    return replace(build, grip_dry=grip)


CHANGES = (
    Change(what="Corners below 60 m tighter by a factor 1.4", course=_tighter),
    Change(what="Grip 0.1 less", build=_less_grip),
    Change(what="Rider careful in corners instead of steady", rider_keys=(("caution", "careful"),)),
    Change(what="Rider bold in corners instead of steady", rider_keys=(("caution", "bold"),)),
    Change(
        what="Shelter 0.2 more everywhere (0.8 of the wind is felt in the open)",
        course=lambda c: replace(c, shelters=np.clip(c.shelters - 0.2, 0.0, 1.0)),
    ),
    Change(
        what="Rolling resistance 20 % higher, as on a worn road",
        course=lambda c: replace(c, crr_factors=1.2 * c.crr_factors),
    ),
    Change(
        what="Wind 2 km/h stronger",
        weather=lambda w: replace(w, wind_mps=replace(w.wind_mps, value=w.wind_mps.value + 0.5556)),
    ),
    Change(
        what="Pressure 10 hPa lower",
        weather=lambda w: replace(
            w, pressure_hpa=replace(w.pressure_hpa, value=w.pressure_hpa.value - 10.0)
        ),
    ),
    Change(what="Coasting above 45 km/h instead of 55", rider_keys=(("coast_speed_kmh", 45.0),)),
    Change(what="Hands in the drops throughout", rider_keys=(("positions", {}),)),
)


def page_text() -> str:
    """The whole page, its table made anew."""
    before, _, rest = PAGE.read_text(encoding="utf-8").partition(BEGIN)
    _, _, after = rest.partition(END)
    return before + BEGIN + "\n".join(_table()) + END + after


def _table() -> list[str]:
    heads = [f"{_course(name).name}: time, gap" for name in COURSES]
    base = [_ridden(name, None) for name in COURSES]
    lines = [
        "| What is changed | " + " | ".join(heads) + " |",
        "|---|" + "---|" * len(COURSES),
        "| nothing | " + " | ".join(f"{time_s:.0f} s, {gap_s:.1f} s" for time_s, gap_s in base),
    ]
    for change in CHANGES:
        cells = []
        for name, (time_s, gap_s) in zip(COURSES, base, strict=True):
            changed_s, changed_gap_s = _ridden(name, change)
            cells.append(f"{_signed(changed_s - time_s)} s, {_signed(changed_gap_s - gap_s)} s")
        lines.append(f"| {change.what} | " + " | ".join(cells) + " |")
    lines[2] += " |"
    return lines


def _course(name: str) -> Course:
    return load_course(example_path(f"courses/{name}"))


def _build(name: str) -> Build:
    keys = tomllib.loads(example_path(f"configs/{name}.toml").read_text(encoding="utf-8"))
    return make_build(**keys)


def _rider(keys: tuple[tuple[str, object], ...]) -> Rider:
    written = tomllib.loads(example_path("configs/rider.toml").read_text(encoding="utf-8"))
    for key, value in keys:
        written[key] = value
    if written["positions"] == {}:
        written["positions"] = {"climbing_factor": 1.0, "tuck_factor": 1.0}
    return make_rider(**written)


def _ridden(name: str, change: Change | None) -> tuple[float, float]:
    change = change or Change(what="")
    gap = compare_builds(
        change.course(_course(name)),
        change.build(_build("gannet")),
        change.build(_build("plover")),
        rider=_rider(change.rider_keys),
        weather=change.weather(load_weather(example_path("configs/weather.toml"))),
        n_draws=0,
    )
    return gap.first.time_s, gap.gap_s


def _signed(seconds: float) -> str:
    text = f"{seconds:+.1f}".replace("-", "−")
    return "0.0" if text in ("+0.0", "−0.0") else text


if __name__ == "__main__":
    PAGE.write_text(page_text(), encoding="utf-8")
