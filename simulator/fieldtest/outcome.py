"""What a fit of a test day says: figures of each build, differences, runs, doubts."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from simulator.fieldtest.fitdoubts import ask_about_fit
from simulator.fieldtest.infer import (
    OWN_ROLES,
    Fit,
    fit_problem,
    make_problem,
    predict_legs,
    without_run,
)
from simulator.fieldtest.legs import RunReading
from simulator.fieldtest.parameters import owner_of
from simulator.fieldtest.questions import ask_about_passes, ask_questions
from simulator.fieldtest.recorded import read_runs
from simulator.fieldtest.roads import FloatArray
from simulator.fieldtest.testday import TestDay, TestedBuild
from simulator.setup import Uncertain

ODD_SD = 3.0
"""Residuals beyond this many standard deviations are told."""

NOTABLE_SD = 2.0

IMPLAUSIBLE_SHARE = 0.15
"""A run this much faster than its power allows was drafted or measured wrongly."""

HARDLY_TOLD = {"cda": 0.04, "crr": 0.0015}
"""Standard uncertainties (m², 1) as wide as what is known without any test: with more than these
the runs hardly told the figure."""

PUBLISHED_CDA_M2 = (0.20, 0.40)
"""0.216 to 0.299 m² in [Grappe1997] (from memory), 0.26 to 0.35 in [Lim2011]; rounded outwards."""

PUBLISHED_CRR = (0.0015, 0.009)
"""Track to training tyres on roads, from memory; rounded outwards."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildFigures:
    """CdA and Crr of one build; ``hardly_told`` names what the runs left almost as open."""

    tested: TestedBuild
    cda_m2: Uncertain
    crr: Uncertain
    correlation: float
    hardly_told: tuple[str, ...]
    doubts: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """Figures of a build minus those of the first one, common errors cancelled."""

    first: str
    other: str
    cda_m2: Uncertain
    crr: Uncertain
    correlation: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RunOutcome:
    """How one run (or leg) agrees: measured and fitted, in s or m; ``score`` in its own doubts.

    ``fitted`` is with wind, start and meter zero as noted for the run, see `as_noted`.
    ``pull_cda`` and ``pull_crr`` say how far the difference between the builds (or the figures
    of the only build) would move without the run, in their standard uncertainties. ``oddities``
    are those of its ``doubts`` that the fit raises.
    """

    number: int
    name: str
    build: str
    kind: str
    measured: float
    fitted: float
    is_stop: bool
    score: float
    pull_cda: float
    pull_crr: float
    doubts: tuple[str, ...]
    oddities: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldOut:
    """A piece of a free ride, predicted by a fit that did not see it."""

    name: str
    measured_s: float
    predicted_s: float
    sd_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldOutPart:
    """The second half of a free ride, predicted from all the rest; ``sd_s`` is that of its sum.

    What its pieces share (wind, the build's figures) errs in all of them alike, so the doubt of
    the sum is larger than that of as many pieces that err by themselves.
    """

    run: str
    pieces: tuple[HeldOut, ...]
    measured_s: float
    predicted_s: float
    sd_s: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outcome:
    """All that `buildgap fieldtest infer` tells."""

    day: TestDay
    fit: Fit
    readings: tuple[RunReading, ...]
    builds: tuple[BuildFigures, ...]
    differences: tuple[Difference, ...]
    runs: tuple[RunOutcome, ...]
    held_out: tuple[HeldOutPart, ...]
    questions: tuple[str, ...]


def infer_day(day: TestDay) -> Outcome:
    """Fit a test day and say what it tells.

    Parameters
    ----------
    day : TestDay
        From `load_testday`.

    Raises
    ------
    InputError
        If a recording cannot be used.
    CannotFinish
        If the fit does not settle.
    """
    readings = read_runs(day)
    problem = make_problem(day, readings)
    fit = fit_problem(problem)
    ridden = [t for t in day.builds if any(leg.run.build is t for leg in problem.legs)]
    builds = tuple(_figures(fit, tested) for tested in ridden)
    return Outcome(
        day=day,
        fit=fit,
        readings=readings,
        builds=builds,
        differences=tuple(difference_of(fit, ridden[0], other) for other in ridden[1:]),
        runs=_run_outcomes(fit, ridden),
        held_out=_held_out(fit),
        questions=(
            *ask_questions(day),
            *ask_about_passes(readings),
            *ask_about_fit(fit),
        ),
    )


def _figures(fit: Fit, tested: TestedBuild) -> BuildFigures:
    i_cda = fit.index("cda", owner_of("cda", tested))
    i_crr = fit.index("crr", owner_of("crr", tested))
    sds = fit.sds
    doubts = []
    for i, (low, high), what in (
        (i_cda, PUBLISHED_CDA_M2, "CdA"),
        (i_crr, PUBLISHED_CRR, "Crr"),
    ):
        value = fit.values[i]
        is_told = sds[i] <= HARDLY_TOLD[fit.problem.parameters[i].role]
        if is_told and not low <= value <= high:
            doubts.append(
                f"{what} of {tested.name} is {value:.4g}, outside the published {low:g} to {high:g}"
            )
    hardly = tuple(
        name
        for i, name, role in ((i_cda, "CdA", "cda"), (i_crr, "Crr", "crr"))
        if sds[i] > HARDLY_TOLD[role]
    )
    return BuildFigures(
        tested=tested,
        cda_m2=Uncertain(float(fit.values[i_cda]), float(sds[i_cda])),
        crr=Uncertain(float(fit.values[i_crr]), float(sds[i_crr])),
        correlation=float(fit.covariance[i_cda, i_crr] / (sds[i_cda] * sds[i_crr])),
        hardly_told=hardly,
        doubts=tuple(doubts),
    )


def contrast(fit: Fit, first: TestedBuild | None, other: TestedBuild, role: str) -> FloatArray:
    """Weights of the unknowns in a build's figure minus the first one's (or alone)."""
    weights = np.zeros(len(fit.values))
    weights[fit.index(role, owner_of(role, other))] += 1.0
    if first is not None:
        weights[fit.index(role, owner_of(role, first))] -= 1.0
    return weights


def difference_of(fit: Fit, first: TestedBuild, other: TestedBuild) -> Difference:
    """Difference of two builds with its own doubt."""
    rows = np.vstack([contrast(fit, first, other, role) for role in ("cda", "crr")])
    values = rows @ fit.values
    spread = rows @ fit.covariance @ rows.T
    sds = np.sqrt(np.maximum(np.diag(spread), 0.0))
    both = float(sds[0] * sds[1])
    return Difference(
        first=first.name,
        other=other.name,
        cda_m2=Uncertain(float(values[0]), float(sds[0])),
        crr=Uncertain(float(values[1]), float(sds[1])),
        correlation=float(spread[0, 1]) / both if both > 0.0 else 0.0,
    )


def _run_outcomes(fit: Fit, ridden: list[TestedBuild]) -> tuple[RunOutcome, ...]:
    first, last = (ridden[0], ridden[1]) if len(ridden) > 1 else (None, ridden[0])
    weights = {role: contrast(fit, first, last, role) for role in ("cda", "crr")}
    doubts_of = {reading.run.number: reading.doubts for reading in fit.problem.readings}
    pulls: dict[int, dict[str, float]] = {}
    outcomes = []
    for i, leg in enumerate(fit.problem.legs):
        number = leg.run.number
        if number not in pulls:
            moved = without_run(fit, number)[0] - fit.values
            pulls[number] = {}
            for role, row in weights.items():
                sd = float(np.sqrt(row @ fit.covariance @ row))
                pulls[number][role] = float(row @ moved) / sd if sd > 0.0 else 0.0
        measured = float(leg.observed[-1])
        fitted, score = as_noted(fit, i)
        oddities = tuple(_odd(measured, fitted, score, leg.stop_m is not None))
        outcomes.append(
            RunOutcome(
                number=number,
                name=leg.name,
                build=leg.run.build.name,
                kind=leg.run.written.kind,
                measured=measured,
                fitted=fitted,
                is_stop=leg.stop_m is not None,
                score=score,
                pull_cda=pulls[number]["cda"],
                pull_crr=pulls[number]["crr"],
                doubts=(*doubts_of[number], *oddities),
                oddities=oddities,
            )
        )
    return tuple(outcomes)


def as_noted(fit: Fit, i: int) -> tuple[float, float]:
    """What a leg should have shown with what it has anew as noted, and how far it was off.

    The fit lets each run have its own wind, start and meter zero, which then explain nearly all
    of it: what is left hides a drafted run. So those stay as noted here, and their doubts count.

    Returns
    -------
    float, float
        Time in s or stop in m; measured minus that in its own doubts.
    """
    leg, root = fit.problem.legs[i], fit.problem.roots[i]
    slopes = root @ fit.jacobians[i]
    own = np.array([p.role in OWN_ROLES for p in fit.problem.parameters])
    moved = fit.values[own] - fit.problem.before[own]
    expected = fit.predictions[i] - slopes[:, own] @ moved
    spread = slopes[:, own] * fit.problem.before_sds[own]
    off = np.linalg.solve(np.linalg.cholesky(root @ root.T + spread @ spread.T),
                          leg.observed - expected)  # fmt: skip
    score = float(np.sqrt(off @ off / len(off)))
    fitted = float(expected[-1])
    return fitted, score if float(leg.observed[-1]) > fitted else -score


def _odd(measured: float, fitted: float, score: float, is_stop: bool) -> list[str]:
    if is_stop:
        return ["does not fit the others"] if abs(score) > ODD_SD else []
    ahead = (fitted - measured) / fitted
    if ahead > IMPLAUSIBLE_SHARE and score < -NOTABLE_SD:
        return [f"{100.0 * ahead:.0f} % faster than its power allows: drafted, or measured wrongly"]
    if score < -ODD_SD:
        return ["faster than the others say: drafted, helped by wind, or measured wrongly"]
    if score > ODD_SD:
        return ["slower than the others say: held up, wind, or measured wrongly"]
    return []


def _held_out(fit: Fit) -> tuple[HeldOutPart, ...]:
    """The second half of every free ride with four legs or more, predicted from all the rest."""
    problem = fit.problem
    found: list[HeldOutPart] = []
    for reading in problem.readings:
        n = len(reading.legs)
        if reading.run.written.kind != "free" or n < 4:
            continue
        hidden = reading.legs[n // 2 :]
        kept = tuple(
            replace(r, legs=tuple(leg for leg in r.legs if leg not in hidden))
            for r in problem.readings
        )
        part = fit_problem(make_problem(problem.day, kept))
        predicted_s, covariance = predict_legs(part, hidden)
        found.append(
            HeldOutPart(
                run=reading.run.name,
                pieces=tuple(
                    HeldOut(
                        name=leg.name,
                        measured_s=float(leg.times_s[-1]),
                        predicted_s=float(predicted_s[i]),
                        sd_s=float(np.sqrt(covariance[i, i])),
                    )
                    for i, leg in enumerate(hidden)
                ),
                measured_s=float(sum(leg.times_s[-1] for leg in hidden)),
                predicted_s=float(predicted_s.sum()),
                sd_s=float(np.sqrt(covariance.sum())),
            )
        )
    return tuple(found)
