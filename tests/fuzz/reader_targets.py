"""One function a kind of file: feeds bytes to its reader, as the program would read a file.

Each takes the bytes and returns nothing. An `InputError` or `CannotFinish` is an answer; whatever
else comes out of it is a finding. Used by `fuzz_readers.py` (coverage-guided, minutes) and by the
tests of this folder (seconds).
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np

from simulator.course import build_course, read_track
from simulator.course.build import course_of_track
from simulator.course.settings import CourseFile, settings_of_gpx
from simulator.course.tiles import heights_from_tiles, tile_name
from simulator.course.zones import read_zones, stretches_of_zones
from simulator.errors import CannotFinish, InputError
from simulator.files import read_toml
from simulator.pacing import demand_of, load_pacing
from simulator.recordings import read_recording
from simulator.setup import (
    default_weather,
    load_build,
    load_parts,
    load_rider,
    load_weather,
    read_usual_hour,
)

ROOT = Path(__file__).parents[2]
TILE_BYTES = 2 * 1201 * 1201
MAX_BUILT_POINTS = 300
"""Longer tracks are read but not built: the builder's time would go into length, not into kinds."""


@cache
def folder() -> Path:
    """A folder of this process, with what files in it may name; removed by `forget_folder`."""
    here = Path(tempfile.mkdtemp(prefix="buildgap-fuzz-"))
    for path in (ROOT / "configs").glob("*.toml"):
        shutil.copy(path, here / path.name)
    (here / "in").mkdir()
    return here


def forget_folder() -> None:
    """Remove what `folder` made."""
    if folder.cache_info().currsize:
        shutil.rmtree(folder(), ignore_errors=True)
        folder.cache_clear()


def _file(data: bytes, name: str) -> Path:
    path = folder() / "in" / name
    path.write_bytes(data)
    return path


@cache
def small_course():
    """A lap of the shipped criterium, for what is laid over a course."""
    return build_course(ROOT / "courses" / "town-criterium", n_laps=1)


@cache
def small_track():
    """The track of `small_course`, as read."""
    return read_track(ROOT / "courses" / "town-criterium" / "track.gpx")


def gpx(data: bytes) -> None:
    """A track; a short one is made into a course as well."""
    track = read_track(_file(data, "track.gpx"))
    assert track.n_points >= 2
    assert np.isfinite(track.lats_deg).all()
    assert np.isfinite(track.lons_deg).all()
    if track.n_points <= MAX_BUILT_POINTS:
        course = course_of_track(track, settings_of_gpx(Path("track.gpx")), source="track.gpx")
        _check_course(course)


def _check_course(course) -> None:
    assert np.isfinite(course.grades).all()
    assert (course.lengths_m > 0.0).all()
    assert np.isfinite(course.node_heights_m).all()


def recording(data: bytes, name: str) -> None:
    """A recording of any kind; the kind is told by the content."""
    ride = read_recording(_file(data, name))
    assert ride.n_samples >= 2
    assert np.isfinite(ride.times_s).all()
    assert (np.diff(ride.times_s) > 0.0).all()


def tcx(data: bytes) -> None:
    """A recording as XML."""
    recording(data, "ride.tcx")


def fit(data: bytes) -> None:
    """A recording as FIT."""
    recording(data, "ride.fit")


def csv(data: bytes) -> None:
    """A recording as CSV."""
    recording(data, "ride.csv")


def geojson(data: bytes) -> None:
    """Zones, laid over a road."""
    zones = read_zones(_file(data, "zones.geojson"))
    course = small_course()
    stretches = stretches_of_zones(
        zones, course.node_lats_deg, course.node_lons_deg, course.node_distances_m
    )
    for stretch in stretches:
        assert stretch.end_m > stretch.start_m


def hgt(data: bytes) -> None:
    """A tile. The first byte says how it lies: bare, bare and filled up to its size, or zipped."""
    how, rest = (data[0] % 3, data[1:]) if data else (0, b"")
    tiles = folder() / "in" / "tiles"
    shutil.rmtree(tiles, ignore_errors=True)
    tiles.mkdir()
    name = tile_name(44.5, -35.5)
    if how == 1 and rest:
        rest = (rest * (TILE_BYTES // len(rest) + 1))[:TILE_BYTES]
    (tiles / (f"{name}.zip" if how == 2 else name)).write_bytes(rest)
    lats = np.array([44.0, 44.25, 44.999, 45.0])
    lons = np.array([-36.0, -35.7, -35.001, -35.0])
    found = heights_from_tiles(lats[:3], lons[:3], tiles).heights_m
    known = found[np.isfinite(found)]
    assert ((known > -500.0) & (known < 9000.0)).all()
    heights_from_tiles(lats, lons, tiles)  # its last place lies on the border of three others


def year(data: bytes) -> None:
    """A typical year, EPW or TMY3."""
    usual = read_usual_hour(_file(data, "year.epw"), month=6, hour=14)
    assert 0.0 <= usual.steadiness <= 1.0
    assert usual.wind_mps.value >= 0.0


def _course_toml(path: Path) -> None:
    settings = read_toml(path, CourseFile)
    _check_course(course_of_track(small_track(), settings, source="course.toml"))


def _pacing_toml(path: Path) -> None:
    demand_of(
        load_pacing(path),
        course=small_course(),
        rider=load_rider(ROOT / "configs" / "rider.toml"),
        weather=default_weather(),
    )


def _testday_toml(path: Path) -> None:
    from simulator.fieldtest import load_testday

    load_testday(path)


def _verdict_toml(path: Path) -> None:
    from simulator.fieldtest import VerdictFile

    read_toml(path, VerdictFile)


def _runplan_toml(path: Path) -> None:
    from simulator.fieldtest import RunPlanFile

    read_toml(path, RunPlanFile)


def _spend_toml(path: Path) -> None:
    from simulator.spend import load_plan

    load_plan(path)


def _bunch_toml(path: Path) -> None:
    from simulator.bunch import load_bunch

    load_bunch(path)


TOML_KINDS: dict[str, Callable[[Path], object]] = {
    "build": load_build,
    "rider": load_rider,
    "weather": load_weather,
    "pacing": _pacing_toml,
    "parts": load_parts,
    "course": _course_toml,
    "testday": _testday_toml,
    "verdict": _verdict_toml,
    "runplan": _runplan_toml,
    "spend": _spend_toml,
    "bunch": _bunch_toml,
}
"""Kind of a TOML file -> its reader; the first byte of a fuzz input chooses one."""


def toml(data: bytes) -> None:
    """A TOML file; the first byte says of which kind."""
    kinds = list(TOML_KINDS.values())
    kind = kinds[data[0] % len(kinds)] if data else kinds[0]
    kind(_file(data[1:], "in.toml"))


TARGETS: dict[str, Callable[[bytes], None]] = {
    "gpx": gpx,
    "tcx": tcx,
    "fit": fit,
    "csv": csv,
    "toml": toml,
    "geojson": geojson,
    "hgt": hgt,
    "year": year,
}


def answers(name: str, data: bytes) -> str:
    """Feed a reader; "" if it took the file, the message if it refused it.

    Raises
    ------
    Exception
        Whatever is neither: a finding.
    """
    try:
        TARGETS[name](data)
    except (InputError, CannotFinish) as answer:
        told = str(answer)
        assert told.strip(), "a refusal without a word"
        assert len(told) < 20_000, "a refusal that nobody reads"
        return told
    return ""
