"""Every set of parts re-ridden: sets -> figures of the build -> jobs -> times.

Nothing is added up but the figures of the build: each set rides each race as a whole, so that
parts help or hinder each other as they do on the road.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from simulator.course import Course
from simulator.errors import InputError
from simulator.pacing import Demand
from simulator.ride import YAW_NODES_DEG, simulate_many
from simulator.setup import (
    CHANGED_FIELDS,
    FIELD_LIMITS,
    GEAR_FIELDS,
    Build,
    Part,
    Rider,
    RideSetup,
    Weather,
    together,
    with_gears,
)
from simulator.spend.optimum import FloatArray
from simulator.spend.partsets import ChoiceArray, IntArray, Menu


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Race:
    """One race of the plan; ``weight`` says how much it counts among the others."""

    name: str
    course: Course
    rider: Rider
    weather: Weather
    demand: Demand
    weight: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RideJob:
    """Many rides of one race: builds with the same gears and wheel size, figures as arrays.

    ``values`` holds (n,) arrays by the names that ``ride.simulate_many`` takes.
    """

    i_race: int
    build: Build
    values: Mapping[str, FloatArray]

    def __len__(self) -> int:
        return len(next(iter(self.values.values())))


class Runner(Protocol):
    """Who rides the jobs: this machine or a cluster."""

    def times(self, jobs: Iterable[RideJob]) -> Iterator[FloatArray]:
        """Times in s of each job, in the order of the jobs."""
        ...


class ThisMachine:
    """Rides jobs here, on all cores."""

    def __init__(self, races: tuple[Race, ...]) -> None:
        self.races = races

    def times(self, jobs: Iterable[RideJob]) -> Iterator[FloatArray]:
        """Times in s of each job, in the order of the jobs."""
        for job in jobs:
            yield ride_job(self.races[job.i_race], job)


def ride_job(race: Race, job: RideJob) -> FloatArray:
    """Times in s of all rides of a job, ``inf`` where a ride stops on the way: (n,) array."""
    # Rides that share their grip share the work on corners when they stand side by side.
    grip = "build.grip_wet" if race.weather.is_wet else "build.grip_dry"
    order = np.argsort(job.values[grip], kind="stable")
    times_s = np.empty(len(order))
    times_s[order] = simulate_many(
        course=race.course,
        setups=[RideSetup(rider=race.rider, build=job.build, weather=race.weather)],
        demand=race.demand,
        draws=[{name: values[order] for name, values in job.values.items()}],
    )[0, :, 0]
    return times_s


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FigureTables:
    """What each option of each slot does to the figures of a build.

    Attributes
    ----------
    owned : mapping of str to tuple of (n_options,) arrays
        For each changed field and slot the value that an option brings, NaN where it brings none.
    changed : mapping of str to tuple of (n_options,) arrays
        For each changed field and slot what an option adds.
    areas_m2 : tuple of (n_options, 7) arrays
        For each slot what an option adds to the drag area at ``ride.YAW_NODES_DEG``.
    has_gears : tuple of bool
        Slots in which an option brings gears or a wheel size.
    """

    build: Build
    menu: Menu
    owned: Mapping[str, tuple[FloatArray, ...]]
    changed: Mapping[str, tuple[FloatArray, ...]]
    areas_m2: tuple[FloatArray, ...]
    has_gears: tuple[bool, ...]


def make_tables(build: Build, menu: Menu) -> FigureTables:
    """Lay out the parts of a menu for a build as it stands now."""
    slots = [
        [menu.catalogue.parts[number] if number >= 0 else None for number in options]
        for options in menu.parts
    ]

    def owned(part: Part | None, field: str) -> float:
        return dict(part.owns)[field].value if part and field in dict(part.owns) else np.nan

    def changed(part: Part | None, field: str) -> float:
        return dict(part.changes)[field].value if part and field in dict(part.changes) else 0.0

    return FigureTables(
        build=build,
        menu=menu,
        owned={
            field: tuple(np.array([owned(part, field) for part in slot]) for slot in slots)
            for field in CHANGED_FIELDS
        },
        changed={
            field: tuple(np.array([changed(part, field) for part in slot]) for slot in slots)
            for field in CHANGED_FIELDS
        },
        areas_m2=tuple(np.stack([area_changes_m2(part) for part in slot]) for slot in slots),
        has_gears=tuple(
            any(getattr(part, field, None) is not None for part in slot for field in GEAR_FIELDS)
            for slot in slots
        ),
    )


def area_changes_m2(part: Part | None) -> FloatArray:
    """Change of drag area at ``ride.YAW_NODES_DEG``, in m²: (7,) array."""
    if part is None:
        return np.zeros(len(YAW_NODES_DEG))
    return np.interp(YAW_NODES_DEG, part.yaw_degs, part.cda_changes_m2)


def figures_of(tables: FigureTables, choices: ChoiceArray) -> dict[str, FloatArray]:
    """Figures of the build with each set on it, by the names that rides take.

    Parameters
    ----------
    tables : FigureTables
        What options do.
    choices : (n, n_slots) array of int
        Sets.

    Returns
    -------
    dict of str to (n,) or (n, 7) arrays

    Raises
    ------
    InputError
        If a set brings a figure to where it means nothing.
    """
    figures = {}
    slots = range(tables.menu.n_slots)
    for field in CHANGED_FIELDS:
        own = np.full(len(choices), getattr(tables.build, field).value)
        for slot in slots:
            if not np.isnan(tables.owned[field][slot]).all():
                brought = tables.owned[field][slot][choices[:, slot]]
                own = np.where(np.isnan(brought), own, brought)
        changes = (tables.changed[field][slot] for slot in slots)
        figures[f"build.{field}"] = together(
            own, (table[choices[:, slot]] for slot, table in enumerate(changes) if table.any())
        )
    areas_m2 = together(
        np.zeros((len(choices), len(YAW_NODES_DEG))),
        (table[choices[:, slot]] for slot, table in enumerate(tables.areas_m2) if table.any()),
    )
    figures["build.cda_m2"] = np.full(len(choices), tables.build.cda_m2.value)
    _refuse_meaningless(tables, choices, figures, areas_m2)
    figures["build.area_changes_m2"] = areas_m2
    return figures


def least_areas_m2(build: Build, cda_m2: FloatArray, changes_m2: FloatArray) -> FloatArray:
    """Smallest drag area over yaw, in m²: straight on `cda_m2` (n,), changes (n, 7) or (7,)."""
    factors = np.interp(YAW_NODES_DEG, build.yaw_degs, build.cda_factors)
    return np.asarray((np.multiply.outer(cda_m2, factors) + changes_m2).min(axis=1))


def _refuse_meaningless(
    tables: FigureTables,
    choices: ChoiceArray,
    figures: Mapping[str, FloatArray],
    areas_m2: FloatArray,
) -> None:
    for field, (low, high) in FIELD_LIMITS.items():
        values = figures[f"build.{field}"]
        if field == "cda_m2":
            values = least_areas_m2(tables.build, values, areas_m2)
        wrong = np.flatnonzero((values < low) | (values > high))
        if len(wrong):
            row = int(wrong[0])
            parts = tables.menu.parts_of(tuple(choices[row].tolist()))
            names = ", ".join(part.name for part in parts) or "no part at all"
            raise InputError(
                file="the catalogue of parts",
                place=f"the set {names}",
                found=f"together they bring `{field}` of {tables.build.name} to {values[row]:.5g}",
                expected=f"a figure from {low:g} to {high:g}",
                mend="look for a change that is written as the figure itself, or in another unit",
            )


def gear_groups(tables: FigureTables, choices: ChoiceArray) -> list[tuple[Build, IntArray]]:
    """Sets grouped by the gears and wheel size that they ride: (build, rows) each."""
    slots = [slot for slot, has in enumerate(tables.has_gears) if has]
    if not slots:
        return [(tables.build, np.arange(len(choices)))]
    kinds, of_row = np.unique(choices[:, slots], axis=0, return_inverse=True)
    groups: dict[tuple[object, ...], tuple[Build, list[IntArray]]] = {}
    for i, kind in enumerate(kinds):
        numbers = [tables.menu.parts[s][option] for s, option in zip(slots, kind, strict=True)]
        parts = [tables.menu.catalogue.parts[number] for number in numbers if number >= 0]
        build = with_gears(tables.build, parts)
        key = tuple(getattr(build, field) for field in GEAR_FIELDS)
        rows = np.flatnonzero(of_row.ravel() == i)
        groups.setdefault(key, (build, []))[1].append(rows)
    return [(build, np.sort(np.concatenate(rows))) for build, rows in groups.values()]


def race_jobs(
    tables: FigureTables, choices: ChoiceArray, n_races: int
) -> list[tuple[RideJob, IntArray]]:
    """What must be ridden for some sets: jobs, each with the rows of the sets it is about."""
    figures = figures_of(tables, choices)
    return [
        (
            RideJob(
                i_race=i_race,
                build=build,
                values={name: values[rows] for name, values in figures.items()},
            ),
            rows,
        )
        for i_race in range(n_races)
        for build, rows in gear_groups(tables, choices)
    ]


def mean_s(races: tuple[Race, ...], times_s: FloatArray) -> FloatArray:
    """Weighted mean over the races of times in s: (n_races, ...) -> (...) array."""
    whole = sum(race.weight for race in races)
    # One race after the other: a product of matrices would round by the number of sets.
    return np.asarray(
        sum(race.weight / whole * times for race, times in zip(races, times_s, strict=True))
    )


def race_times_s(
    tables: FigureTables, runner: Runner, choices: ChoiceArray, n_races: int
) -> FloatArray:
    """Times of a few sets over all races, in s: (n_races, n_sets) array."""
    pairs = race_jobs(tables, choices, n_races)
    times_s = np.empty((n_races, len(choices)))
    ridden = runner.times(job for job, _ in pairs)
    for (job, rows), job_times_s in zip(pairs, ridden, strict=True):
        times_s[job.i_race, rows] = job_times_s
    return times_s
