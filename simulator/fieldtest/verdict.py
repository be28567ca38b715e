"""Whether an observed gap is what the known differences predict, and what else would explain it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy.stats import chi2 as chi2_law
from scipy.stats import norm

from simulator.course import Course
from simulator.fieldtest.ownfile import read_own
from simulator.fieldtest.steady import Answer, Steady, answer_of, predicted_gap, steady_on
from simulator.fieldtest.testday import measured_rider, road_of
from simulator.fieldtest.verdict_file import ClimbEntry, VerdictFile
from simulator.setup import Build, Uncertain, load_build, load_rider, load_weather
from simulator.units import fraction_from_pct, mps_from_kmh

KINDS = ("mass", "air", "rolling", "power", "wind", "one run")
CONSTANT_KINDS = ("mass", "air", "rolling", "power")
"""Errors that stay the same from climb to climb, so that two climbs must need the same."""

NINE_IN_TEN = float(norm.ppf(0.95))
BELIEVABLE_SD = NINE_IN_TEN
STRETCH_SD = float(norm.ppf(0.995))
"""Up to here (in standard deviations of what may well happen) an error is a stretch, no more."""

AGREE_LEVEL = 0.05
DISAGREE = "the climbs disagree"
"""Told instead of a belief where one size cannot hold for all climbs."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClimbGap:
    """Observed and predicted gap on one stretch (other minus first, s).

    ``observed`` carries the scatter of the runs behind it, ``predicted`` the doubt of the
    builds' figures. ``score`` is their difference over both; ``chance`` that of one at least as
    large if nothing else is going on.
    """

    name: str
    length_m: float
    grade: float
    n_first: int
    n_other: int
    first_s: float
    other_s: float
    scatter_s: float
    observed: Uncertain
    predicted: Uncertain

    @property
    def unexplained_s(self) -> float:
        """Observed minus predicted."""
        return self.observed.value - self.predicted.value

    @property
    def sd_s(self) -> float:
        """Doubt about it."""
        return math.hypot(self.observed.sd, self.predicted.sd)

    @property
    def score(self) -> float:
        """It over its doubt."""
        return self.unexplained_s / self.sd_s

    @property
    def chance(self) -> float:
        """Chance of a score at least as large either way."""
        return float(2.0 * norm.sf(abs(self.score)))

    @property
    def is_expected(self) -> bool:
        """Whether the gap is one of the nine in ten to be expected."""
        return abs(self.score) <= NINE_IN_TEN


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """How large an error must be on one climb to explain its gap; infinite if none would.

    In kg, m², 1, percent of power, m/s of head wind, or s of one run; ``low`` to ``high`` holds
    nine in ten, from the scatter of the runs and the doubt of the builds' figures.
    """

    climb: str
    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """One kind of error.

    ``usual`` is its standard deviation as it may well happen; ``size`` the one that suits all
    climbs best (for `wind` and `one run` the largest needed); ``times_usual`` that over
    ``usual``. ``misfit`` is what it leaves unexplained (chi²) with what it costs to believe;
    ``agree_chance`` the chance that the climbs differ as much as they do if one size holds for
    all, None where it need not.
    """

    kind: str
    usual: float
    size: float
    size_sd: float
    times_usual: float
    belief: str
    misfit: float
    needs: tuple[Need, ...]
    agree_chance: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class NextRun:
    """What one more run of each build on one climb would tell apart.

    ``expected`` is (explanation, gap in s) for each that is compared.
    """

    climb: str
    expected: tuple[tuple[str, float], ...]
    sd_s: float
    apart_sd: float
    n_pairs: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Verdict:
    """All that `buildgap fieldtest verdict` tells; explanations by how far one must stretch."""

    name: str
    first: Build
    other: Build
    climbs: tuple[ClimbGap, ...]
    explanations: tuple[Explanation, ...]
    next_run: NextRun | None
    scatter: float

    @property
    def is_expected(self) -> bool:
        """Whether every gap is one to be expected."""
        return all(climb.is_expected for climb in self.climbs)


def judge_file(path: Path) -> Verdict:
    """Read a verdict's file and judge it.

    Raises
    ------
    InputError
        If a file is wrong.
    CannotFinish
        If a build comes to a halt at the power stated.
    """
    written = read_own(path, VerdictFile, "verdict")
    folder = path.parent
    rider = measured_rider(
        load_rider(folder / written.rider if written.rider else None), written.position_factor
    )
    weather = load_weather(folder / written.weather if written.weather else None)
    first, other = load_build(folder / written.first), load_build(folder / written.other)
    if first.name == other.name:
        other = replace(other, name=f"{other.name} (other)")
    courses: dict[str, Course] = {}
    steadies = [
        steady_on(road_of(climb, folder, courses, str(path)), rider, weather)
        for climb in written.climb
    ]
    return judge(written, first, other, steadies)


def judge(written: VerdictFile, first: Build, other: Build, steadies: list[Steady]) -> Verdict:
    """Judge observed gaps; `steadies` are the stretches in the order of ``written.climb``."""
    scatter = fraction_from_pct(written.scatter_pct)
    climbs = tuple(
        climb_gap(entry, steady, first, other, scatter)
        for entry, steady in zip(written.climb, steadies, strict=True)
    )
    usual = {
        "mass": written.believable.mass_kg,
        "air": written.believable.cda_m2,
        "rolling": written.believable.crr,
        "power": written.believable.power_pct,
        "wind": mps_from_kmh(written.believable.wind_kmh),
    }
    answers = {
        kind: tuple(
            answer_of(steady, other, entry.other_power_w or entry.power_w, kind)
            for entry, steady in zip(written.climb, steadies, strict=True)
        )
        for kind in usual
    }
    explanations = [_constant(kind, usual[kind], climbs, answers[kind]) for kind in CONSTANT_KINDS]
    explanations += [_wind(usual["wind"], climbs, answers["wind"]), _one_run(climbs)]
    explanations.sort(key=lambda e: e.misfit)
    return Verdict(
        name=written.name,
        first=first,
        other=other,
        climbs=climbs,
        explanations=tuple(explanations),
        next_run=_next_run(climbs, explanations, answers),
        scatter=scatter,
    )


def climb_gap(
    entry: ClimbEntry, steady: Steady, first: Build, other: Build, scatter: float
) -> ClimbGap:
    """Observed gap with the scatter of its runs, predicted gap with the doubt of the figures."""
    first_s, other_s = float(np.mean(entry.first_times_s)), float(np.mean(entry.other_times_s))
    n_first, n_other = len(entry.first_times_s), len(entry.other_times_s)
    scatter_s = scatter * 0.5 * (first_s + other_s)
    return ClimbGap(
        name=entry.name,
        length_m=steady.road.length_m,
        grade=steady.road.mean_grade,
        n_first=n_first,
        n_other=n_other,
        first_s=first_s,
        other_s=other_s,
        scatter_s=scatter_s,
        observed=Uncertain(other_s - first_s, scatter_s * math.sqrt(1.0 / n_first + 1.0 / n_other)),
        predicted=predicted_gap(
            steady, first, other, entry.power_w, entry.other_power_w or entry.power_w
        ),
    )


def belief_of(times_usual: float) -> str:
    """How believable an error is that is so many times the usual one."""
    size = abs(times_usual)
    if size <= BELIEVABLE_SD:
        return "believable"
    return "a stretch" if size <= STRETCH_SD else "not believable"


def _need(climb: ClimbGap, answer: Answer) -> Need:
    half_s = NINE_IN_TEN * climb.sd_s
    ends = [answer.needed(climb.unexplained_s + sign * half_s) for sign in (-1.0, 1.0)]
    return Need(
        climb=climb.name,
        value=answer.needed(climb.unexplained_s),
        low=min(ends),
        high=max(ends),
    )


def _constant(
    kind: str, usual: float, climbs: tuple[ClimbGap, ...], answers: tuple[Answer, ...]
) -> Explanation:
    """One size for all climbs: the size that leaves least unexplained, and what is left."""
    sizes = np.linspace(answers[0].sizes[0], answers[0].sizes[-1], 4001)
    costs = np.zeros(len(sizes))
    weights = 0.0
    for climb, answer in zip(climbs, answers, strict=True):
        changes = np.interp(sizes, answer.sizes, answer.changes_s)
        costs += ((climb.unexplained_s - changes) / climb.sd_s) ** 2
        step = usual * 0.1
        slope = (answer.change_s(step) - answer.change_s(-step)) / (2.0 * step)
        weights += (slope / climb.sd_s) ** 2
    best = int(np.argmin(costs))
    size = float(sizes[best])
    agree = None
    if len(climbs) > 1:
        agree = float(chi2_law.sf(costs[best], len(climbs) - 1))
    return Explanation(
        kind=kind,
        usual=usual,
        size=size,
        size_sd=1.0 / math.sqrt(weights) if weights > 0.0 else math.inf,
        times_usual=size / usual,
        belief=DISAGREE if agree is not None and agree < AGREE_LEVEL else belief_of(size / usual),
        misfit=float(np.min(costs + (sizes / usual) ** 2)),
        needs=tuple(_need(c, a) for c, a in zip(climbs, answers, strict=True)),
        agree_chance=agree,
    )


def _wind(usual: float, climbs: tuple[ClimbGap, ...], answers: tuple[Answer, ...]) -> Explanation:
    """Each climb may have had its own change of wind between the builds' runs."""
    needs = tuple(_need(c, a) for c, a in zip(climbs, answers, strict=True))
    misfit = 0.0
    for climb, answer in zip(climbs, answers, strict=True):
        slope = (answer.change_s(0.5) - answer.change_s(-0.5)) / 1.0
        misfit += climb.unexplained_s**2 / (climb.sd_s**2 + (slope * usual) ** 2)
    size = max((need.value for need in needs), key=abs)
    i = [need.value for need in needs].index(size)
    slope = answers[i].change_s(0.5) - answers[i].change_s(-0.5)
    return Explanation(
        kind="wind",
        usual=usual,
        size=size,
        size_sd=climbs[i].sd_s / abs(slope) if slope else math.inf,
        times_usual=size / usual,
        belief=belief_of(size / usual),
        misfit=misfit,
        needs=needs,
        agree_chance=None,
    )


def _one_run(climbs: tuple[ClimbGap, ...]) -> Explanation:
    """One single run was off by itself: the one whose climb stands out most."""
    odd = max(climbs, key=lambda climb: abs(climb.score))
    # One run of the build that was ridden less often moves the mean most.
    n = min(odd.n_first, odd.n_other)
    needs = tuple(
        Need(
            climb=climb.name,
            value=m * climb.unexplained_s,
            low=m * (climb.unexplained_s - NINE_IN_TEN * climb.sd_s),
            high=m * (climb.unexplained_s + NINE_IN_TEN * climb.sd_s),
        )
        for climb in climbs
        for m in (min(climb.n_first, climb.n_other),)
    )
    size = n * odd.unexplained_s
    others = sum(climb.score**2 for climb in climbs if climb is not odd)
    return Explanation(
        kind="one run",
        usual=odd.scatter_s,
        size=size,
        size_sd=n * odd.sd_s,
        times_usual=size / odd.scatter_s,
        belief=belief_of(size / odd.scatter_s),
        misfit=others + (size / odd.scatter_s) ** 2,
        needs=needs,
        agree_chance=None,
    )


def _next_run(
    climbs: tuple[ClimbGap, ...],
    explanations: list[Explanation],
    answers: dict[str, tuple[Answer, ...]],
) -> NextRun | None:
    """The climb where one more pair of runs tells most: the odd run against the best lasting one.

    None where nothing is left to explain.
    """
    lasting = [e for e in explanations if e.kind in CONSTANT_KINDS]
    if not lasting or all(climb.is_expected for climb in climbs):
        return None
    best = lasting[0]
    options = []
    for i, climb in enumerate(climbs):
        alone = climb.predicted.value
        expected = [("one run", alone)]
        expected += [(e.kind, alone + answers[e.kind][i].change_s(e.size)) for e in lasting]
        sd_s = math.sqrt(2.0) * climb.scatter_s
        by_best = dict(expected)[best.kind]
        apart = abs(by_best - alone) / sd_s
        options.append(
            NextRun(
                climb=climb.name,
                expected=tuple(expected),
                sd_s=sd_s,
                apart_sd=apart,
                # Both kinds of error below 5 % when the midpoint between the two decides.
                n_pairs=max(1, math.ceil((2.0 * NINE_IN_TEN / apart) ** 2)) if apart > 0.05 else 0,
            )
        )
    return max(options, key=lambda option: option.apart_sd)
