"""A test day as it is worked with: builds, roads, runs and how far instruments may be off."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from simulator.course import Course, build_course
from simulator.errors import InputError
from simulator.fieldtest.ownfile import read_own
from simulator.fieldtest.roads import Road, even_road
from simulator.fieldtest.testday_file import GateEntry, RoadEntry, RunEntry, TestDayFile
from simulator.recordings import GateLine, plane_m
from simulator.setup import (
    Build,
    Positions,
    Rider,
    Uncertain,
    Weather,
    load_build,
    load_rider,
    load_weather,
)
from simulator.units import fraction_from_pct, mps_from_kmh, rad_from_deg

MOST_OFF_COURSE_M = 50.0
"""A gate further than this from its course belongs to another road."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TestedBuild:
    """A build that was ridden; ``swap_of`` names the one it shares all but ``differs_in`` with."""

    __test__ = False

    build: Build
    swap_of: str | None = None
    differs_in: tuple[str, ...] = ("air", "rolling")
    declared: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """Name of the build."""
        return self.build.name


@dataclass(frozen=True, slots=True, kw_only=True)
class Meter:
    """Doubts about the power meter: shares of its reading, and watts for its zero."""

    scale_sd: float = 0.03
    fitting_sd: float = 0.01
    zero_sd_w: float = 2.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TestRun:
    """One run with everything noted about it.

    ``wind_group`` is the spell of wind that it shares with others; ``wind_mps`` and
    ``wind_from_deg`` are what was noted (at 10 m). ``number`` counts from 1 in the order ridden.
    """

    __test__ = False

    number: int
    written: RunEntry
    build: TestedBuild
    road: Road
    weather: Weather
    wind_group: str
    fitting: str
    zeroing: str

    @property
    def name(self) -> str:
        """How the run is called in tables."""
        back = ", back" if self.written.back else ""
        return f"{self.number} {self.build.name}, {self.written.kind}, {self.road.name}{back}"

    @property
    def is_powered(self) -> bool:
        """Whether the rider pedalled."""
        return self.written.kind not in ("coast", "roll-down")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TestDay:
    """All that was ridden and noted; the base of inference. ``folder`` is where files are."""

    __test__ = False

    name: str
    file: str
    folder: Path
    rider: Rider
    builds: tuple[TestedBuild, ...]
    runs: tuple[TestRun, ...]
    meter: Meter
    wind_sd_mps: float
    scatter: float
    mass_sd_kg: float
    rise_sd_m: float = 0.0


def load_testday(path: Path) -> TestDay:
    """Read a test day and the files it names.

    Parameters
    ----------
    path : Path
        A TOML file; names of files in it are relative to its folder.

    Raises
    ------
    InputError
        If a file is wrong, or a run names a build or road that is not there.
    """
    return testday_of(read_own(path, TestDayFile, "infer"), file=str(path), folder=path.parent)


def testday_of(written: TestDayFile, *, file: str, folder: Path) -> TestDay:
    """Turn checked keys into a `TestDay`."""
    rider = measured_rider(
        load_rider(folder / written.rider if written.rider else None), written.position_factor
    )
    weather = load_weather(folder / written.weather if written.weather else None)
    builds = {}
    for entry in written.build:
        tested = TestedBuild(
            build=load_build(folder / entry.file),
            swap_of=entry.swap_of,
            differs_in=entry.differs_in,
            declared=entry.declared,
        )
        builds[tested.name] = tested
    for tested in builds.values():
        if tested.swap_of is not None and tested.swap_of not in builds:
            raise _unknown(file, f"build {tested.name}, `swap_of`", tested.swap_of, builds)
    courses: dict[str, Course] = {}
    roads = {entry.name: road_of(entry, folder, courses, file) for entry in written.road}
    runs = []
    for number, run in enumerate(written.run, start=1):
        for key, known in (("build", builds), ("road", roads)):
            if getattr(run, key) not in known:
                raise _unknown(file, f"run {number}, key `{key}`", getattr(run, key), known)
        noted = run.wind_kmh is not None
        wind_kmh = run.wind_kmh if run.wind_kmh is not None else written.wind.wind_kmh
        from_deg = run.wind_from_deg if noted else written.wind.wind_from_deg
        runs.append(
            TestRun(
                number=number,
                written=run,
                build=builds[run.build],
                road=roads[run.road],
                weather=_weather(weather, run, wind_kmh, from_deg or 0.0),
                wind_group=run.wind or f"run {number}",
                fitting=run.fitting or f"on {run.build}",
                zeroing=f"{run.fitting or run.build} {run.meter_zero}".strip(),
            )
        )
    return TestDay(
        name=written.name,
        file=file,
        folder=folder,
        rider=rider,
        builds=tuple(builds.values()),
        runs=tuple(runs),
        meter=Meter(
            scale_sd=fraction_from_pct(written.meter.scale_sd_pct),
            fitting_sd=fraction_from_pct(written.meter.fitting_sd_pct),
            zero_sd_w=written.meter.zero_sd_w,
        ),
        wind_sd_mps=mps_from_kmh(written.wind.sd_kmh),
        scatter=fraction_from_pct(written.scatter_pct),
        mass_sd_kg=written.mass_sd_kg,
        rise_sd_m=written.rise_sd_m,
    )


def measured_rider(rider: Rider, position_factor: float | None) -> Rider:
    """A rider whose power is given by the meter: no limit of their own changes it.

    Parameters
    ----------
    rider : Rider
        Whose mass and habits hold.
    position_factor : float or None
        Drag of the one position that was held; None for the rider's own changes of position.
    """
    positions = rider.positions
    if position_factor is not None:
        positions = Positions(
            climbing_factor=position_factor,
            climbing_grade=-1.0,
            climbing_speed_mps=100.0,
            tuck_factor=position_factor,
            tuck_grade=-2.0,
            tuck_speed_mps=200.0,
        )
    power_w = rider.power_w if rider.power_w.value > 0.0 else Uncertain(200.0)
    return replace(
        rider,
        power_w=power_w,
        cp_w=None,
        wprime_j=None,
        max_power_w=None,
        cadence_low_rpm=1.0e-3,
        cadence_top_rpm=400.0,
        coast_speed_mps=60.0,
        start_force_n=2000.0,
        pedal_delay_s=0.0,
        decline_after_s=None,
        positions=positions,
    )


def _weather(weather: Weather, run: RunEntry, wind_kmh: float, from_deg: float) -> Weather:
    changes: dict[str, Any] = {}
    for key in ("temperature_degc", "pressure_hpa", "humidity_pct"):
        noted = getattr(run, key)
        if noted is not None:
            changes[key] = Uncertain(noted, getattr(weather, key).sd)
    noted_mps, forecast_mps = mps_from_kmh(wind_kmh), weather.wind_mps.value
    if weather.gust_mps is not None:
        # The gust belongs to the forecast's mean; what carries over is the ratio of the two.
        ratio = weather.gust_mps / forecast_mps if forecast_mps > 0.0 else 1.0
        changes["gust_mps"] = noted_mps * ratio
    return replace(
        weather,
        wind_mps=Uncertain(noted_mps),
        wind_from_deg=Uncertain(from_deg),
        winds=(),
        **changes,
    )


def road_of(entry: RoadEntry, folder: Path, courses: dict[str, Course], file: str) -> Road:
    """The road of an entry; courses read once are kept in `courses`."""
    points = (entry.first_gate, entry.last_gate)
    lines = [
        None if point is None else _gate_line(point, f"{entry.name}, gate {number}")
        for number, point in enumerate(points, start=1)
    ]
    first, last = lines
    gates = None if first is None or last is None else (first, last)
    if entry.length_m is not None:
        return even_road(
            entry.name,
            length_m=entry.length_m,
            grade=fraction_from_pct(entry.grade_pct),
            heading_rad=rad_from_deg(entry.heading_deg),
            height_m=entry.height_m,
            shelter=entry.shelter,
            crr_factor=entry.surface_factor,
            gates=gates,
        )
    key = entry.course or ""
    if key not in courses:
        courses[key] = build_course(folder / key)
    course = courses[key]
    places = [
        _place_m(course, gate, km, entry.name, file)
        if line is None
        else _nearest_m(course, line, file)
        for gate, km, line in zip(
            (entry.from_gate, entry.to_gate), (entry.from_km, entry.to_km), lines, strict=True
        )
    ]
    if not 0.0 <= places[0] < places[1] <= course.distance_m:
        raise InputError(
            file=file,
            place=f"road {entry.name}",
            found=f"gates at {places[0] / 1000.0:.2f} and {places[1] / 1000.0:.2f} km",
            expected=f"two places in order on {course.distance_m / 1000.0:.2f} km of course",
        )
    return Road(
        name=entry.name,
        course=course,
        start_m=places[0],
        end_m=places[1],
        gates=gates,
        heights_from=key,
    )


def _gate_line(point: GateEntry, name: str) -> GateLine:
    return GateLine(
        name=name,
        lat_deg=point.lat_deg,
        lon_deg=point.lon_deg,
        heading_deg=point.heading_deg,
        width_m=point.width_m,
    )


def _nearest_m(course: Course, gate: GateLine, file: str) -> float:
    """Where on a course a gate lies: its nearest node."""
    east_m, north_m = plane_m(
        course.node_lats_deg, course.node_lons_deg, lat0_deg=gate.lat_deg, lon0_deg=gate.lon_deg
    )
    off_m = np.hypot(east_m, north_m)
    i = int(np.argmin(off_m))
    if off_m[i] > MOST_OFF_COURSE_M:
        raise InputError(
            file=file,
            place=gate.name,
            found=f"a point {off_m[i]:.0f} m from the course",
            expected=f"one within {MOST_OFF_COURSE_M:.0f} m of it",
        )
    return float(course.node_distances_m[i])


def _place_m(course: Course, gate: str | None, km: float | None, road: str, file: str) -> float:
    if gate is None:
        return 1000.0 * (km or 0.0)
    found = [g.distance_m for g in course.gates if g.name == gate]
    if not found:
        raise _unknown(file, f"road {road}", gate, {g.name: g for g in course.gates})
    return found[0]


def _unknown(file: str, place: str, word: str, known: object) -> InputError:
    names = ", ".join(f'"{name}"' for name in known)  # type: ignore[attr-defined]
    return InputError(
        file=file,
        place=place,
        found=f'"{word}" is not known here',
        expected=f"one of {names}" if names else "a name that is declared in the file",
    )


def wind_vector_mps(weather: Weather) -> tuple[float, float]:
    """East and north part of the noted wind: a vector that points to where it comes from."""
    from_rad = np.radians(weather.wind_from_deg.value)
    speed = weather.wind_mps.value
    return float(speed * np.sin(from_rad)), float(speed * np.cos(from_rad))
