"""How many runs of which kind tell two builds apart: Fisher information of runs not yet ridden."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import combinations
from pathlib import Path

import numpy as np
from scipy.stats import norm

from simulator.course import Course
from simulator.errors import InputError
from simulator.fieldtest.infer import Problem, leg_jacobian, make_problem
from simulator.fieldtest.legride import leg_prediction
from simulator.fieldtest.legs import SPEED_SD_MPS, STOPWATCH_SD_S, Leg, RunReading
from simulator.fieldtest.ownfile import read_own
from simulator.fieldtest.parameters import figures_of_leg
from simulator.fieldtest.roads import RUN_UP_M, FloatArray, Road, cut_road, even_marks_m
from simulator.fieldtest.runplan_file import OptionEntry, RunPlanFile
from simulator.fieldtest.runup import run_up_speed_mps
from simulator.fieldtest.testday import (
    Meter,
    TestDay,
    TestedBuild,
    TestRun,
    measured_rider,
    road_of,
)
from simulator.fieldtest.testday_file import RunEntry
from simulator.setup import RideSetup, Uncertain, Weather, load_build, load_rider, load_weather
from simulator.units import fraction_from_pct, mps_from_kmh

POWER = 0.90
LEVEL = 0.05
NEEDED_SCORE = float(norm.ppf(1.0 - LEVEL / 2.0) + norm.ppf(POWER))
"""Difference over its standard error that is found nine times in ten at the 5 % level: 3.24
(textbook; the far tail is left out)."""

MOST_TIME_S = 9.0e3
MOST_COMBINED = 3
SHOWN_SETS = (1, 2, 4, 8)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A mix of kinds of run, each ridden equally often.

    ``sets`` are the numbers of A B B A sets looked at, ``cda_sds`` and ``crr_sds`` the expected
    standard errors of the differences after them. ``cda_runs`` and ``crr_runs`` are the runs of
    both builds together that find the stated difference nine times in ten, ``both_runs`` those
    that find both; None where not even the most would do.
    """

    options: tuple[str, ...]
    sets: tuple[int, ...]
    cda_sds: tuple[float, ...]
    crr_sds: tuple[float, ...]
    cda_runs: int | None
    crr_runs: int | None
    both_runs: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderBias:
    """What a steady drift does to the difference seen, in drift per run."""

    order: str
    bias: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OptionAnswer:
    """What one run of a kind feels on the first build, in s; of two ways the sum."""

    name: str
    kind: str
    time_s: float
    per_cda_s: float
    per_crr_s: float
    sd_s: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RunPlan:
    """All that `buildgap fieldtest runs` tells; ``plans`` by the fewest runs for both."""

    name: str
    first: str
    other: str
    cda_difference_m2: float
    crr_difference: float
    answers: tuple[OptionAnswer, ...]
    plans: tuple[Plan, ...]
    orders: tuple[OrderBias, ...]
    has_unpowered: bool


def plan_file(path: Path) -> RunPlan:
    """Read a plan's file and work it out.

    Raises
    ------
    InputError
        If a file is wrong.
    """
    written = read_own(path, RunPlanFile, "runs")
    folder = path.parent
    courses: dict[str, Course] = {}
    roads = {entry.name: road_of(entry, folder, courses, str(path)) for entry in written.road}
    for option in written.option:
        if option.road not in roads:
            raise InputError(
                file=str(path),
                place=f"option {option.name}",
                found=f'road "{option.road}" is not known here',
                expected="one of " + ", ".join(f'"{name}"' for name in roads),
            )
        pedalled = option.kind not in ("coast", "roll-down")
        missing = "power_w" if pedalled else "start_kmh"
        if option.kind == "free" or getattr(option, missing) is None:
            raise InputError(
                file=str(path),
                place=f"option {option.name}",
                found="a free ride" if option.kind == "free" else f"`{missing}` is missing",
                expected="a kind that can be planned" if option.kind == "free" else f"`{missing}`",
            )
    builds = tuple(
        TestedBuild(build=load_build(folder / f)) for f in (written.first, written.other)
    )
    rider = load_rider(folder / written.rider if written.rider else None)
    day = TestDay(
        name=written.name,
        file=str(path),
        folder=folder,
        rider=measured_rider(rider, written.position_factor),
        builds=builds,
        runs=(),
        meter=Meter(
            scale_sd=fraction_from_pct(written.meter.scale_sd_pct),
            fitting_sd=fraction_from_pct(written.meter.fitting_sd_pct),
            zero_sd_w=written.meter.zero_sd_w,
        ),
        wind_sd_mps=mps_from_kmh(written.wind_sd_kmh),
        scatter=fraction_from_pct(written.scatter_pct),
        mass_sd_kg=written.mass_sd_kg,
    )
    weather = load_weather(folder / written.weather if written.weather else None)
    legs = {
        (option.name, tested.name): _planned_legs(day, option, roads[option.road], tested, weather)
        for option in written.option
        for tested in builds
    }
    return make_plan(day, written, legs)


def make_plan(
    day: TestDay, written: RunPlanFile, legs: dict[tuple[str, str], tuple[Leg, ...]]
) -> RunPlan:
    """Work out all mixes of up to three kinds of run."""
    names = [option.name for option in written.option]
    first, other = day.builds
    information = _Information.of(day, legs)
    differences = (
        other.build.cda_m2.value - first.build.cda_m2.value,
        other.build.crr.value - first.build.crr.value,
    )
    plans = [
        _plan(mix, information, differences, written.most_runs)
        for size in range(1, min(MOST_COMBINED, len(names)) + 1)
        for mix in combinations(names, size)
    ]
    never = 10**9
    plans.sort(
        key=lambda plan: (
            plan.both_runs or never,
            (plan.cda_runs or never) + (plan.crr_runs or never),
            len(plan.options),
        )
    )
    return RunPlan(
        name=day.name,
        first=first.name,
        other=other.name,
        cda_difference_m2=differences[0],
        crr_difference=differences[1],
        answers=tuple(
            _answer(day, option, legs[option.name, first.name]) for option in written.option
        ),
        plans=tuple(plans),
        orders=tuple(OrderBias(order=o, bias=drift_bias(o)) for o in ("ABBA", "ABAB", "AABB")),
        has_unpowered=any(option.kind in ("coast", "roll-down") for option in written.option),
    )


def drift_bias(order: str) -> float:
    """Mean position of the B runs minus that of the A runs: what a drift of 1 a run adds to B - A.

    Zero for A B B A, whatever the drift, as long as it is steady.
    """
    places = np.arange(len(order))
    is_b = np.array([letter == "B" for letter in order])
    return float(places[is_b].mean() - places[~is_b].mean())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Information:
    """Information of one run of each option and build, and what is known beforehand.

    Unknowns of a run alone (its wind, its start speed) are taken out of each run's information
    first, so that runs of one kind simply add up.
    """

    problem: Problem
    shared: list[int]
    before: FloatArray
    per_run: dict[tuple[str, str], FloatArray]

    @classmethod
    def of(cls, day: TestDay, legs: dict[tuple[str, str], tuple[Leg, ...]]) -> _Information:
        readings = tuple(RunReading(run=pair[0].run, legs=pair) for pair in legs.values())
        problem = make_problem(day, readings)
        own = ("wind_east", "wind_north", "start")
        shared = [i for i, p in enumerate(problem.parameters) if p.role not in own]
        alone = [i for i, p in enumerate(problem.parameters) if p.role in own]
        named = {(p.role, p.owner): p.before for p in problem.parameters}
        for tested in day.builds:
            named["cda", tested.name] = tested.build.cda_m2.value
            named["crr", tested.name] = tested.build.crr.value
        sds = problem.before_sds
        per_run = {}
        for key, pair in legs.items():
            rows = []
            for leg in pair:
                _, jacobian = leg_jacobian(problem, leg, named)
                root = np.linalg.cholesky(leg.covariance(day.scatter))
                rows.append(np.linalg.solve(root, jacobian * sds))
            slopes = np.vstack(rows)
            own_slopes = slopes[:, alone]
            spread = np.eye(len(slopes)) + own_slopes @ own_slopes.T
            per_run[key] = slopes[:, shared].T @ np.linalg.solve(spread, slopes[:, shared])
        return cls(problem=problem, shared=shared, before=np.eye(len(shared)), per_run=per_run)

    def sds(self, mix: tuple[str, ...], n_each: int) -> tuple[float, float]:
        """Standard errors of the differences in CdA and Crr after n runs of each kind and build."""
        day = self.problem.day
        total = self.before.copy()
        for name in mix:
            for tested in day.builds:
                total += n_each * self.per_run[name, tested.name]
        scales = self.problem.before_sds[self.shared]
        covariance = np.linalg.inv(total) * np.outer(scales, scales)
        found = []
        for role in ("cda", "crr"):
            weights = np.zeros(len(self.shared))
            for tested, sign in zip(day.builds, (-1.0, 1.0), strict=True):
                i = next(
                    k
                    for k, p in enumerate(self.problem.parameters)
                    if (p.role, p.owner) == (role, tested.name)
                )
                weights[self.shared.index(i)] = sign
            found.append(math.sqrt(float(weights @ covariance @ weights)))
        return found[0], found[1]


def _plan(
    mix: tuple[str, ...],
    information: _Information,
    differences: tuple[float, float],
    most_runs: int,
) -> Plan:
    """Sets of A B B A: two runs of each build and kind in each."""
    needs: list[int | None] = [None, None]
    for n_sets in range(1, max(1, most_runs // (2 * len(mix))) + 1):
        sds = information.sds(mix, 2 * n_sets)
        for k in (0, 1):
            if needs[k] is None and abs(differences[k]) >= NEEDED_SCORE * sds[k]:
                needs[k] = 4 * n_sets * len(mix)
        if None not in needs:
            break
    shown = [information.sds(mix, 2 * n) for n in SHOWN_SETS]
    both = None if None in needs else max(n for n in needs if n is not None)
    return Plan(
        options=mix,
        sets=SHOWN_SETS,
        cda_sds=tuple(s[0] for s in shown),
        crr_sds=tuple(s[1] for s in shown),
        cda_runs=needs[0],
        crr_runs=needs[1],
        both_runs=both,
    )


def _planned_legs(
    day: TestDay, option: OptionEntry, road: Road, tested: TestedBuild, weather: Weather
) -> tuple[Leg, ...]:
    """The run as it is to be expected, one way or both ways in the same wind."""
    directions = (False, True) if option.out_and_back else (False,)
    legs = [_planned_leg(day, option, road, tested, weather, back=back) for back in directions]
    return tuple(legs)


def _planned_leg(
    day: TestDay,
    option: OptionEntry,
    road: Road,
    tested: TestedBuild,
    weather: Weather,
    *,
    back: bool,
) -> Leg:
    pedalled = option.kind not in ("coast", "roll-down")
    run = TestRun(
        number=1,
        written=RunEntry(
            build=tested.name,
            kind=option.kind,
            road=road.name,
            back=back,
            time_s=1.0,
            power_w=option.power_w,
            start_kmh=option.start_kmh,
        ),
        build=tested,
        road=road,
        weather=weather,
        wind_group=f"{option.name} {tested.name}",
        fitting=f"on {tested.name}",
        zeroing=f"on {tested.name}",
    )
    start = None
    if option.start_kmh is not None:
        start = Uncertain(
            mps_from_kmh(option.start_kmh.value),
            mps_from_kmh(option.start_kmh.sd) or SPEED_SD_MPS,
        )
    marks_m = even_marks_m(road.length_m, every_m=100.0, most=1 if pedalled else 8)
    cut = cut_road(road, marks_m, run_up_m=RUN_UP_M if start is None else 0.0, back=back)
    powers_w = np.full(cut.course.n_segments, (option.power_w or 0.0) if pedalled else 0.0)
    setup = RideSetup(rider=day.rider, build=tested.build, weather=weather)
    leg = Leg(
        name=f"{option.name} {tested.name}{' back' if back else ''}",
        run=run,
        cut=cut,
        powers_w=powers_w,
        times_s=np.full(len(marks_m), 1.0),
        stop_m=None,
        start=start,
        timing_sd_s=option.timing_sd_s or STOPWATCH_SD_S,
        run_up_mps=run_up_speed_mps(cut, setup, powers_w),
    )
    times_s = leg_prediction(day, leg, figures_of_leg(day, leg, {}))
    if times_s[-1] > MOST_TIME_S:
        raise InputError(
            file=day.file,
            place=f"option {option.name}",
            found=f"{tested.name} does not reach the last gate",
            expected="a road, power and speed with which it does",
        )
    return replace(leg, times_s=times_s)


def _answer(day: TestDay, option: OptionEntry, pair: tuple[Leg, ...]) -> OptionAnswer:
    reading = RunReading(run=pair[0].run, legs=pair)
    problem = make_problem(day, (reading,))
    named = {(p.role, p.owner): p.before for p in problem.parameters}
    build = pair[0].run.build
    named["cda", build.name] = build.build.cda_m2.value
    named["crr", build.name] = build.build.crr.value
    found = [leg_jacobian(problem, leg, named) for leg in pair]
    slopes = np.sum([jacobian[-1] for _, jacobian in found], axis=0)
    roles = [p.role for p in problem.parameters]
    return OptionAnswer(
        name=option.name,
        kind=option.kind,
        time_s=float(sum(predicted[-1] for predicted, _ in found)),
        per_cda_s=float(slopes[roles.index("cda")]),
        per_crr_s=float(slopes[roles.index("crr")]),
        sd_s=math.sqrt(sum(float(leg.covariance(day.scatter)[-1, -1]) for leg in pair)),
    )
